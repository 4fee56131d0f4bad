"""The reference pages are those that the code makes now."""

from __future__ import annotations

import pytest

from codegen.reference import PAGES
from tests.conftest import ROOT


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_up_to_date(name):
    assert (ROOT / "docs" / name).read_text() == PAGES[name](), "`make docs` writes it anew"
