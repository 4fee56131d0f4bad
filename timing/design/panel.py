"""[panel]: how the front panel is made, and whether it was, so that what is glued on stays true."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, StrictBool

from timing.design.section import Section


class Panel(Section):
    """The front panel."""

    selector: Literal["toggles", "three-position"] = Field(
        "toggles",
        description="How spot and stitch are chosen. toggles: each by the off switch of its dial; three-position: by "
        "one switch, SPOT / CONTINUOUS / STITCH, in place of those two.",
    )
    made: StrictBool = Field(
        False,
        description="True once the dial plates are printed and glued on: from then on settings move within their dials "
        "alone, and a dial that gets new ends needs a new plate. When they were made stands in the notes or the "
        "logbook.",
    )

    @property
    def has_selector(self) -> bool:
        """True where one three-position switch chooses between continuous, spot and stitch."""
        return self.selector == "three-position"
