"""Attacks that are the same each time."""

from __future__ import annotations

import pytest
from hypothesis.internal.conjecture import providers

from tests.conftest import SOAK


@pytest.fixture
def same_whatever_ran_before(monkeypatch):
    """Hypothesis tries numbers of all our sources that are loaded by then, and these depend on what ran before."""
    if not SOAK:
        monkeypatch.setattr(providers.HypothesisProvider, "_maybe_draw_constant", lambda *_, **__: None, raising=False)
