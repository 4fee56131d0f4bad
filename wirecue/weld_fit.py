"""A fit to the test welds of a logbook, and what it puts into the design: for terminal and page alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from timing.process.welds import RULE_MM, TestWeld, read_weld
from wirecue.weld_log import LoggedWelds

if TYPE_CHECKING:
    from timing.design.saving import Setting
    from timing.process.case import BurnbackCase
    from timing.process.fit import Fit
    from timing.project import Project
    from wirecue.panel_moves import AdvisedText

BAND = "extension_left"
"""Table of the design file for what is left over the dial."""
CONTRADICTS = 4.0
"""A weld that left nothing to measure contradicts the fit from this misfit on: some one in seven or less likely."""


@dataclass(frozen=True)
class LoggedFit:
    """What the test welds of a logbook say of a machine, and the design's text with it put in."""

    case: BurnbackCase
    fit: Fit
    logged: LoggedWelds
    before: str
    text: str
    """The design file with what was found; as before where nothing is to be changed."""
    settings: tuple[Setting, ...]
    """What stands otherwise in it."""

    @property
    def may_write(self) -> bool:
        """False where there is nothing to put in, or the welds contradict each other."""
        return bool(self.settings and self.logged.welds) and not self.fit.contradicts

    def rows(self) -> Iterator[tuple[str, str, str, str]]:
        """Yield number, weld, reading by the fit, and how far off it is, of each weld."""
        fit, case = self.fit, self.case
        every = zip(
            self.logged.numbers, self.logged.welds, fit.predicted_mm, fit.misfits, fit.weld_deviation_mm, strict=True
        )
        for number, weld, predicted_mm, misfit, deviation_mm in every:
            told = replace(
                weld,
                distance_mm=None if weld.distance_mm == case.distance_mm else weld.distance_mm,
                feed_mm_s=None if weld.feed_mm_s == case.feed_mm_s else weld.feed_mm_s,
            )
            if weld.extension_mm is None:
                off = "agrees" if misfit < CONTRADICTS else "does not agree"
            else:
                off = f"{weld.extension_mm - predicted_mm:+.1f} mm (usual: {deviation_mm:.1f} mm)"
            yield str(number), told.sentence, f"{predicted_mm:.1f} mm", off

    def figures(self) -> tuple[tuple[str, str, str, str], ...]:
        """Return coast and drop-out: name, likely, 95 % limits, as the design has it."""
        from timing.formatting import in_ms
        from timing.process.fit_words import limits_text

        fit, case = self.fit, self.case
        return (
            ("coast", in_ms(fit.coast_s), limits_text(fit.coast_limits_s), f"design {in_ms(case.coast_s)}"),
            (
                "contactor drop-out",
                in_ms(fit.contactor_off_s),
                limits_text(fit.contactor_off_limits_s),
                f"design {in_ms(case.contactor_off.typical_s)}",
            ),
        )

    def moved(self, project: Project, source: str) -> AdvisedText:
        """Return what moves on the panel when it is put in. Raises DesignFileError."""
        from timing.process.ranging import out_of_reach
        from wirecue.panel_moves import moved_by

        beyond = self.fit.settled.beyond
        asked = [] if beyond is None else [round(beyond.time_s * 1e6)]
        short = [one for us in asked for one in out_of_reach("burnback", project.design.times.burnback, us)]
        return moved_by(self.before, self.text, source, short)


WELDS_HEAD = ("", "weld", "by the fit", "off")
FIGURES_HEAD = ("", "likely", "95 % limits", "")
BAND_HEAD = ("burnback", "extension left", "nine of ten", "good", "")


def typed_weld(text: str, project: Project) -> TestWeld:
    """Return the weld that a text such as 'mark 90: 9 mm' tells of. Raises WeldError."""
    return read_weld(text, project.dials.get("burnback"))


def fit_of_log(
    project: Project,
    text: str,
    source: str,
    logged: LoggedWelds,
    *,
    feed_mm_s: float | None = None,
    rule_mm: float = RULE_MM,
    hand_mm: float | None = None,
) -> LoggedFit:
    """Return the fit to welds that are in a logbook.

    text: of the design file, named `source` in complaints; feed_mm_s: wire feed speed to find the setting for, None:
    the design's; rule_mm, hand_mm: how far a reading may be off, and how steady the gun was held, None: as test welds
    should be made. Raises ProcessError.
    """
    from codegen.papers.dial_plate import settable_of
    from timing.design.origin import from_welds
    from timing.design.saving import with_values
    from timing.process.case import burnback_case
    from timing.process.fit import BRACED_MM, fit_machine
    from timing.process.measured_band import band_values

    case = burnback_case(project.design)
    if feed_mm_s is not None:
        case = case.at_speed(feed_mm_s)
    dial = project.dials.get("burnback")
    fit = fit_machine(case, logged.welds, settable_of(dial), rule_mm, BRACED_MM if hand_mm is None else hand_mm)
    origin = from_welds(logged.days) if logged.days else ""
    changed, settings = with_values(text, fit.design_values(case), source, origin)
    if fit.band_told and not fit.contradicts and case.feed_mm_s == project.design.process.wire_feed_speed_mm_s:
        # The table says itself what it was found from.
        band = {BAND: band_values(project.design, fit.band, origin.removeprefix("from "))}
        changed, more = with_values(changed, band, source)
        settings += more
    return LoggedFit(case, fit, logged, text, changed, tuple(settings))
