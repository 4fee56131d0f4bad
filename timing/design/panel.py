"""[panel]: the front panel as it was made, so that what is glued on stays true."""

from __future__ import annotations

from pydantic import Field, StrictBool

from timing.design.section import Section


class Panel(Section):
    """The front panel."""

    made: StrictBool = Field(
        False,
        description="True once the dial plates are printed and glued on: from then on settings move within their dials "
        "alone, and a dial that gets new ends needs a new plate. When they were made stands in the notes or the "
        "logbook.",
    )
