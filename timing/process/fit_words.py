"""What a fit says, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from timing.formatting import in_ms, percent_text
from timing.process.settling import ENOUGH_FREE
from timing.process.welds import TestWeld

if TYPE_CHECKING:
    from timing.process.fit import Fit, FitLimits


def limits_text(limits: FitLimits) -> str:
    """Return 95 % limits in words."""
    if limits.low is None and limits.high is None:
        return "none from these welds"
    if limits.high is None:
        return f"{in_ms(limits.low or 0.0)} or more"
    if limits.low is None:
        return f"{in_ms(limits.high)} or less"
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
            "No coast and drop-out make just these wire ends: wire, arc or source are not quite as the design has "
            "them. So neither figure is written; the setting rests on the welds that came free."
        )
    if fit.fits_well and not fit.told_apart:
        parts.append(
            "These welds do not tell the two apart: a longer coast with a later drop-out fits as well. With the "
            f"contactor's drop-out left as the design has it, the coast is {in_ms(fit.coast_held_s)} "
            f"(95 %: {limits_text(fit.coast_held_limits_s)}); that serves near the settings welded."
        )
    if fit.fits_well and not fit.coast_measured:
        parts.append("The coast is not yet bounded closely enough to count as measured.")
    return (*parts, *_setting_sentences(fit))


def _setting_sentences(fit: Fit) -> list[str]:
    found = fit.settled
    where = f"the dial at {found.mark.words}" if found.dial else f"a burnback of {found.mark.words}"
    shares = (
        f"{percent_text(found.worst_free)} of welds come free, neither frozen nor fused, on the worst machine that "
        f"these welds allow, {percent_text(found.mean_free)} over all of them, with {where}"
    )
    expect = f"expect {found.extension_mm:.1f} mm of wire"
    parts = []
    if found.enough:
        parts.append(f"Enough test welds: {shares}; {expect}.")
    elif found.worst_free >= ENOUGH_FREE:
        parts.append(f"Sure enough by the figures: {shares}; {expect}. Prove it with a weld at that setting.")
    else:
        parts.append(f"Not sure yet: {shares}; {percent_text(ENOUGH_FREE)} on the worst is enough.")
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
            f"Next test weld: {turn}; expect {weld.predicted_mm:.1f} mm of wire, and the welds so far leave "
            f"{weld.open_mm:.1f} mm open."
        )
    elif not found.enough:
        parts.append(
            "Another test weld would teach little against its own reading error: this machine scatters too much for "
            "one setting. A brake on the drive, a quicker contactor and a steadier gun help."
        )
    return parts
