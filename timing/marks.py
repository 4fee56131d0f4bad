"""What a value rests on: the marks beside constants, and what each means. docs/sources.md is made from them."""

from __future__ import annotations

from typing import Literal

Mark = Literal["exact", "published", "practice", "measured", "derived", "choice", "remembered"]

MARK_MEANINGS: dict[Mark, str] = {
    "exact": "true by definition or arithmetic",
    "published": "stands in a standard, book, paper or data sheet; *seen quoted*: the work itself was not at hand",
    "practice": "common in the trade, without a source; *seen quoted* where somebody else was found to say the same",
    "measured": "measured by this project, with its own tests",
    "derived": "computed from other values of this list",
    "choice": "this project's own decision: what a part is asked for, how finely is computed, where a rule speaks",
    "remembered": "recalled from a work that was not at hand, and found nowhere else",
}
