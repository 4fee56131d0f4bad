"""Who a board says it is: the one place that reads the answer to `*IDN?`. No port in here."""

from __future__ import annotations

import re
from dataclasses import dataclass

from bench.message import AnswerError, message, read_answer
from timing.protocol.commands import EDITED_MARK, MAKER

# What a sketch puts there: names of designs, digests, versions. Nothing else reaches a terminal or a report.
_FIELD = re.compile(r"[A-Za-z0-9_.+-]{1,64}")
_DIGEST = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True)
class Identity:
    """Who answered."""

    maker: str
    design: str
    digest: str
    """16 hex digits that stand for the design that the sketch was made from."""
    version: str
    """Version of the tool that made the sketch."""
    edited: bool = False
    """True where a number of the sketch's settings.h was changed after it was made: the board no longer is what the
    digest stands for."""

    @property
    def carries(self) -> str:
        """What the board carries, for people: 'shop with digest 0123456789abcdef, edited in its settings.h'."""
        return f"{self.design} with digest {self.digest}{', edited in its settings.h' if self.edited else ''}"


def read_identity(text: str) -> Identity:
    """Read the answer to `*IDN?`. Raises AnswerError for anything that no sketch of ours would say."""
    answer = read_answer(message("identity").command, text)
    maker, design, digest, version = (answer.fields[name] for name in ("maker", "design", "digest", "version"))
    plain = digest.removesuffix(EDITED_MARK)
    whole = all(_FIELD.fullmatch(field) for field in (design, version)) and _DIGEST.fullmatch(plain)
    if maker != MAKER or not whole:
        raise AnswerError(text)
    return Identity(maker, design, plain, version, edited=digest != plain)
