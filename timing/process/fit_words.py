"""What a fit says, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from timing.formatting import in_ms, percent_text
from timing.process.settling import ENOUGH_FREE
from timing.process.welds import TestWeld

NONE = 0.005
"""Shares below this are told as none (choice)."""

if TYPE_CHECKING:
    from timing.process.fit import Fit, FitLimits


def limits_text(limits: FitLimits) -> str:
    """Return 95 % limits in words."""
    return f"{in_ms(limits.low)} to {in_ms(limits.high)}"


def fit_sentences(fit: Fit, welds: Sequence[TestWeld]) -> tuple[str, ...]:
    """Return what a fit says, a sentence each: figures, whether to trust them, the setting, what comes next."""
    if not welds:
        return (
            "No test weld yet: what the design says of coast and drop-out is all there is.",
            *_setting_sentences(fit),
        )
    parts = [
        f"Coast {in_ms(fit.coast_s)} (95 %: {limits_text(fit.coast_limits_s)}), contactor drop-out "
        f"{in_ms(fit.contactor_off_s)} (95 %: {limits_text(fit.contactor_off_limits_s)})."
    ]
    if fit.contradicts:
        worst = int(fit.misfits.argmax())
        parts.append(
            "The welds do not agree with each other or with the model: check settings and measurements. Furthest off "
            f"is {welds[worst].sentence!r}: make it again, or leave it out (`wirecue fit --leave-out` "
            "with its number in the list). No setting follows until then."
        )
        return tuple(parts)
    if not fit.fits_well:
        parts.append(
            "No machine of the design's kind makes just these wire ends: wire, gas or source are not what the design "
            "has. So no figure of it is written; the setting rests on the welds that came free."
        )
    elif not fit.told_apart:
        parts.append(
            "Welds alone hardly tell one from the other, nor from wire, arc and source, which nobody measured: the "
            "limits allow for all of that."
        )
    if fit.fits_well and fit.coast_told:
        parts.append(
            f"With everything else as the design has it, a coast of {in_ms(fit.coast_held_s)} leaves just these wire "
            "ends; so that goes into the design" + ("." if fit.coast_measured else ", not as measured.")
        )
    return (*parts, *_setting_sentences(fit))


def _setting_sentences(fit: Fit) -> list[str]:
    found = fit.settled
    where = f"the dial at {found.mark.words}" if found.dial else f"a burnback of {found.mark.words}"
    shares = f"with {where}, {percent_text(found.mean_free)} of welds come free, neither frozen nor fused"
    least = "as few as none" if found.worst_free < NONE else f"as few as {percent_text(found.worst_free)}"
    at_least = f"{percent_text(min(found.worst_free, found.mean_free))} at least"
    expect = f"expect {fit.band.expected_at(found.mark.time_s)}"
    parts = []
    if found.enough:
        parts.append(f"Enough test welds: {shares}, and {at_least}, as far as these welds tell; {expect}.")
    elif found.worst_free >= ENOUGH_FREE:
        parts.append(
            f"Sure enough by the figures: {shares}, and {at_least}; {expect}. Prove it with a weld at that setting."
        )
    else:
        parts.append(
            f"Not sure yet: {shares}, as far as can be told, but it may be {least}. It is enough once at least "
            f"{percent_text(ENOUGH_FREE)} are sure to."
        )
    if fit.more_voltage_v is not None:
        parts.append(
            f"No burnback serves well at this voltage: the arc is too short to let go of the puddle. Turn the voltage "
            f"up, by {fit.more_voltage_v:g} V or so, put the new one into the design, and begin with new test welds."
        )
    if found.beyond is not None:
        parts.append(
            f"The burnback dial's range no longer serves this machine: {found.beyond.words} would, which is not on "
            "it. `wirecue advise` says what range does; `wirecue advise --write --new-ranges` gives the dial new ends, "
            "and it needs a new plate."
        )
    if fit.next_weld is not None:
        weld = fit.next_weld
        turn = f"the dial at {weld.mark.words}" if found.dial else f"burnback {weld.mark.words}"
        parts.append(
            f"Next test weld: {turn}; expect {weld.predicted_mm:.1f} mm of wire to the end of the ball, and the "
            f"welds so far leave {weld.open_mm:.1f} mm open."
        )
    elif not found.enough:
        parts.append(
            "Another test weld would teach little against its own reading error: this machine scatters too much for "
            "one setting. A brake on the drive, a quicker contactor and a steadier gun help."
        )
    return parts
