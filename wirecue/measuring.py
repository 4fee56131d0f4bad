"""Measuring at one machine with a recorder: what is measured already, by the logbook, and what goes into the design."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from timing.design.origin import from_recorder
from timing.design.saving import Setting, with_values
from timing.logbook.entry import Entry, EntryKind, EntryValue
from timing.measure.found import DesignValue, MeasuredResult, measured, told_figures
from timing.measure.quantities import MeasuringPlan, Quantity, measuring_plan
from timing.measure.repeats import RepeatTextError, SeenRepeat, fitting, repeats_of_text, repeats_text
from timing.process.burnback_curve import burnback_curve
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.project import Project
from timing.recorder.disc import DISC_SLOTS
from wirecue.logbooks import append_entry, logbook_path, read_logbook
from wirecue.projects import parse_project

NOT_MEASURED = "-"
"""Stands in an entry for the length of a run that nobody measured (choice)."""


@dataclass(frozen=True)
class DatedResult:
    """A result, and the day on which it was measured (ISO 8601)."""

    result: MeasuredResult
    day: str


@dataclass(frozen=True)
class MeasuredDesign:
    """A design file's text with what was measured put in."""

    before: str
    text: str
    settings: tuple[Setting, ...]
    """What stands otherwise in it."""


@dataclass
class Measuring:
    """One design whose machine is measured."""

    design: Path
    text: str
    project: Project
    plan: MeasuringPlan

    @classmethod
    def of(cls, design: Path, text: str) -> Measuring:
        """Return the measuring of a design file that was read. Raises DesignFileError."""
        project = parse_project(text, str(design))
        return cls(design, text, project, measuring_plan(project))

    @property
    def log(self) -> Path:
        """Where results are kept."""
        return logbook_path(self.design)

    def entries(self) -> dict[str, Entry]:
        """Return the latest entry of each quantity, by its key. Raises UnreadableFileError."""
        found = read_logbook(self.log).of(EntryKind.MEASURE)
        return {str(one.values.get("quantity")): one for one in found}

    def days(self) -> dict[str, str]:
        """Return the day (ISO 8601) on which each quantity was measured last. Raises UnreadableFileError."""
        return {key: entry.at[:10] for key, entry in self.entries().items()}

    def kept(self, quantity: Quantity) -> DatedResult | None:
        """Return what the logbook's latest entry of a quantity tells, computed again; None where there is none.

        Raises RepeatTextError for an entry whose edges were changed by hand, UnreadableFileError.
        """
        entry = self.entries().get(quantity.key)
        return None if entry is None else self._again(quantity, entry)

    def _again(self, quantity: Quantity, entry: Entry) -> DatedResult:
        values = entry.values
        slots = values.get("slots", DISC_SLOTS)
        repeats = repeats_of_text(str(values.get("edges", "")))
        result = measured(
            self.project,
            quantity,
            repeats,
            _lengths_of(str(values.get("lengths_mm", ""))),
            slots if isinstance(slots, int) and not isinstance(slots, bool) and slots > 0 else DISC_SLOTS,
        )
        return DatedResult(result, entry.at[:10])

    def enter(
        self,
        result: MeasuredResult,
        repeats: Sequence[SeenRepeat],
        lengths_mm: Sequence[float | None],
        slots: int,
    ) -> None:
        """Enter a result with its edges into the logbook, through to the disk. Raises OutputError."""
        append_entry(self.log, EntryKind.MEASURE, self._values(result, repeats, lengths_mm, slots))

    def _values(
        self,
        result: MeasuredResult,
        repeats: Sequence[SeenRepeat],
        lengths_mm: Sequence[float | None],
        slots: int,
    ) -> Mapping[str, EntryValue]:
        kept = fitting(repeats)
        values: dict[str, EntryValue] = {
            "text": f"{result.quantity.title}, {result.repeats} repeats",
            "quantity": result.quantity.key,
            **{
                figure.key: f"{middle} ({limits})"
                for figure, (_, middle, limits, _) in zip(result.figures, told_figures(result), strict=True)
            },
        }
        if result.left_out:
            values["left_out"] = "; ".join(result.left_out)[:2_000]
        if result.trouble:
            values["trouble"] = " ".join(result.trouble)[:1_000]
        if any(length is not None for length in lengths_mm):
            values["lengths_mm"] = " ".join(NOT_MEASURED if one is None else f"{one:g}" for one in lengths_mm)
        if len(kept) < len(repeats):
            values["edges_of"] = f"the first {len(kept)} repeats: more find no room here"
        return values | {"slots": slots, "digest": self.project.design.digest(), "edges": repeats_text(kept)}

    def put_in(self, results: Sequence[DatedResult]) -> MeasuredDesign:
        """Return the design's text with what was measured put in. Raises DesignFileError."""
        text, settings = self.text, list[Setting]()
        for one in results:
            values: Mapping[str, DesignValue] = one.result.values
            if values:
                origin = from_recorder(one.result.repeats, one.day)
                text, more = with_values(text, values, str(self.design), origin)
                settings += more
        return MeasuredDesign(self.text, text, tuple(settings))

    def bands_mm(self, changed: MeasuredDesign) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """Return what the burnback to start with leaves of the wire in nine welds of ten, before and after.

        None where it cannot be computed.
        """
        try:
            before, after = (_band_mm(parse_project(text, str(self.design))) for text in (self.text, changed.text))
        except ProcessError:
            return None
        return before, after


def _band_mm(project: Project) -> tuple[float, float]:
    band = burnback_curve(burnback_case(project.design)).best.extension_mm
    return band.low, band.high


def _lengths_of(text: str) -> tuple[float | None, ...]:
    """Return lengths as an entry has them. Raises RepeatTextError."""
    try:
        return tuple(None if word == NOT_MEASURED else float(word) for word in text.split())
    except ValueError:
        raise RepeatTextError(text[:60]) from None
