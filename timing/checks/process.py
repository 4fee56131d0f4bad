"""Rules on what times do at the wire: the end that burnback leaves, and spots that strike.

They compute with few draws, enough to tell a good setting from a bad one; `wirecue advise` computes with many.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from timing.checks.finding import Figure, Finding, Remedy, error, info, time_figure, warning
from timing.checks.remedies import set_duration, stand_at, start_time_at, whole_ms
from timing.design.design import Design
from timing.design.units import speed_text
from timing.elementwise import Floats, percentiles
from timing.formatting import ms, percent_text
from timing.once import once
from timing.process.ball import CLIP_DIAMETERS, MOST_WELDS_SHARE
from timing.process.braking import BrakeFirst, brake_first
from timing.process.burnback import FROZEN, FUSED, GOOD, OUTCOMES, QUICK_STEP_S, SHORT, BurnbackRun
from timing.process.burnback_curve import (
    LIKELY,
    TIE,
    BurnbackCurve,
    burnback_curve,
    curve_settings_s,
    dial_cover,
    low_middle_high,
    run_scatter,
)
from timing.process.case import BurnbackCase, burnback_case, run_likely, scatter, together, wire_speeds_mm_s
from timing.process.coast import LONG_COAST_S
from timing.process.errors import ProcessError
from timing.process.measured_band import ExtensionBand, measured_band, stale_because
from timing.process.spot import spot_scatter, spot_timing
from timing.project import Project

RULE_DRAWS = 500
"""Draws for the rules: as close as 1000 random ones (measured: by a test)."""
ENOUGH = LIKELY - 0.02
"""Share of good ends from which a setting passes: two standard errors of 1000 draws below what is likely good
(derived)."""
DIAL_POINTS = 8
"""Points of a dial that the rules look at (choice)."""
# Own judgement: a setting this close to the best there is cannot be called wrong, however unsure all of them are.
COARSE = 4
"""The rules look at each fourth setting of a curve: a share changes little from one to the next (choice)."""
AS_GOOD = 0.05
"""Shares of good ends that count as alike (choice)."""
# Own judgement: where not one weld in twenty keeps a free wire end, the function does not work at all.
HOPELESS = 0.05
"""Share of good ends below which a setting is hopeless (choice)."""
NEEDLESS = 1.5
"""A burnback is needlessly long when one shorter by this factor leaves as many good ends (choice)."""
# Common practice, no source: a spot that varies by more than this from one to the next shows.
SPOT_SCATTER_PERCENT = 8.0
"""Scatter of spots from which the rule speaks (choice)."""


def arc_can_burn(project: Project) -> Iterator[Finding]:
    """Tell where the wire, gas and machine settings of the design leave no steady arc to calculate with."""
    try:
        case = burnback_case(project.design)
        for speed_mm_s in [case.feed_mm_s, *wire_speeds_mm_s(project.design, 2)]:
            case.at_speed(float(speed_mm_s)).operating_point()
    except ProcessError as impossible:
        yield warning(
            "arc-can-burn",
            "process",
            impossible.what,
            f"allowed is {impossible.allowed}; until then burnback, postflow and spot cannot be checked against the "
            "arc",
            impossible.remedy,
        )


def wire_stops_soon(project: Project) -> Iterator[Finding]:
    """Tell where the wire coasts for so long that the drive needs a brake, and not another burnback."""
    brake = _brake_first(project)
    if brake is not None:
        coast_us, setting_us = (
            project.design.feeder.wire_drive.likely_coast_us,
            project.design.times.burnback.setting_us,
        )
        yield (error if _hopeless(_dial_runs(project)[0][1]) else warning)(
            "wire-stops-soon",
            "feeder.wire_drive.coast",
            brake.found,
            brake.reason,
            Remedy(brake.remedy),
            figures=(time_figure("coast", coast_us), time_figure("burnback", setting_us)),
        )


def burnback_leaves_a_good_end(project: Project) -> Iterator[Finding]:
    """Check the burnback setting against the window in which the wire ends neither frozen, short nor fused."""
    rule, key = "burnback-leaves-a-good-end", "times.burnback"
    settings_s = _dial_points_s(project.design)
    setting_s = project.design.times.burnback.setting_us / 1e6
    row = int(np.searchsorted(settings_s, setting_s))
    band = measured_band(project.design)
    if band is not None and band.covers(setting_s):
        yield _measured_end(project.design, band)
        return
    if _brake_first(project) is not None:
        return
    try:
        case, run = _dial_runs(project)[0]
        # Draws settle somewhere even where the likely machine has no arc; of that `arc-can-burn` tells.
        case.operating_point()
        good = _share(run, GOOD)
        if good[row] >= ENOUGH:
            reason = f"{percent_text(LIKELY)} of welds should end good, machine and hand as unsure as they are"
            yield info(rule, key, _wire_end(case, run, row), reason, figures=_end_figures(run, row))
            return
        whole = burnback_curve(case, draws=RULE_DRAWS)
    except ProcessError:
        return
    says, best = _wire_end(case, run, row), whole.best
    remedy = Remedy(
        f"a burnback of {ms(best.setting_s * 1e6)}; `wirecue burnback` shows the whole curve",
        stand_at(key, project.design.times.burnback, round(best.setting_s * 1e6)),
    )
    figures = _end_figures(run, row)
    if _hopeless(run):
        reason = "no time that can be set leaves the wire free: each weld ends with a wire to cut"
        yield error(rule, key, says, reason, remedy, figures=figures)
    elif good[row] < best.chance_good - AS_GOOD:
        reason = f"the wire should end free of the puddle and clear of the contact tip{_likely_where(whole)}"
        yield warning(rule, key, says, reason, remedy, figures=figures)
    else:
        reason = "no setting is sure before the machine is measured: make test welds, then `wirecue fit`"
        yield info(rule, key, says, reason, figures=figures)


def _measured_end(design: Design, band: ExtensionBand) -> Finding:
    """The same by what test welds found."""
    rule, key, time = "burnback-leaves-a-good-end", "times.burnback", design.times.burnback
    one, found = band.at(time.setting_us / 1e6), design.extension_left
    troubles = {FROZEN: one.frozen[0], SHORT: one.short[0], FUSED: one.fused[0]}
    trouble, share = max(troubles.items(), key=lambda item: item[1])
    says = f"a burnback of {ms(time.setting_us)} leaves {band.expected_at(time.setting_us / 1e6)}" + (
        f"; {percent_text(float(share))} of welds end {OUTCOMES[trouble]}" if share >= 0.01 else ""
    )
    good = float(one.good[0])
    figures = (
        time_figure("burnback", time.setting_us),
        Figure("welds that end good", 100 * good, "%"),
        Figure("extension left, middle", float(one.middle_mm[0]), "mm"),
    )
    reason = f"found from {'test welds' if found is None else found.found_from} on this machine"
    best = int(np.argmax(band.good >= band.good.max() - TIE))
    best_us = round(float(band.settings_s[best]) * 1e6)
    remedy = Remedy(f"a burnback of {ms(best_us)}", stand_at(key, time, best_us))
    if (band.frozen + band.fused >= 1 - HOPELESS).all():
        return error(rule, key, says, f"{reason}: no time on the dial leaves the wire free", remedy, figures=figures)
    if good < min(ENOUGH, float(band.good[best]) - AS_GOOD):
        return warning(rule, key, says, reason, remedy, figures=figures)
    return info(rule, key, says, reason, figures=figures)


def extension_left_holds(project: Project) -> Iterator[Finding]:
    """Tell where what test welds found stands for another process, or not for the whole of the dial."""
    rule, key = "extension-left-holds", "extension_left"
    stale, time = stale_because(project.design), project.design.times.burnback
    if stale:
        yield warning(
            rule,
            key,
            f"test welds found the extension left with another {' and another '.join(stale)} than the design has",
            "another process leaves another wire end; until then burnback is checked by what is usual",
            Remedy("make test welds as the design is now, then `wirecue fit --write`"),
        )
        return
    band = measured_band(project.design)
    missing = [] if band is None else [us for us in (time.low_us, time.high_us) if not band.covers(us / 1e6)]
    if band is not None and missing:
        ends = f"{ms(float(band.settings_s[0]) * 1e6)} to {ms(float(band.settings_s[-1]) * 1e6)}"
        yield info(
            rule,
            key,
            f"what test welds found of the extension left goes from {ends}, the dial to {ms(missing[-1])}",
            "the dial had other ends when it was found",
            Remedy("`wirecue fit --write` works it out anew, without another weld"),
            figures=(
                time_figure("shortest burnback with a band", float(band.settings_s[0]) * 1e6),
                time_figure("longest burnback with a band", float(band.settings_s[-1]) * 1e6),
                time_figure("end of the dial", missing[-1]),
            ),
        )


def ball_is_clipped(project: Project) -> Iterator[Finding]:
    """Tell where most welds leave a ball too large to start on, and whether less burnback would do."""
    rule, key, setting = "ball-is-clipped", "times.burnback", project.design.times.burnback
    settings_s = _dial_points_s(project.design)
    row = int(np.searchsorted(settings_s, setting.setting_us / 1e6))
    try:
        case, run = _dial_runs(project)[0]
        case.operating_point()
    except ProcessError:
        return
    share = float(run.share_to_clip[row])
    if share < MOST_WELDS_SHARE:
        return
    ball_mm = float(run.melt.ball_mm(_middle_hanging_mm(run, row)))
    says = (
        f"a burnback of {ms(setting.setting_us)} leaves a ball of {ball_mm:.1f} mm on wire of "
        f"{case.wire.diameter_mm:g} mm; after {percent_text(share)} of welds it is above {CLIP_DIAMETERS:g} wire "
        "diameters"
    )
    figures = (
        time_figure("burnback", setting.setting_us),
        Figure("ball, middle", ball_mm, "mm"),
        Figure("welds that leave a ball to clip", 100 * share, "%"),
    )
    reason = "the next arc would have to melt the ball before it melts wire: it starts cold, or not at all"
    good = _share(run, GOOD)
    enough = int(np.flatnonzero(good >= min(ENOUGH, float(good[row])))[0])
    if settings_s[row] <= NEEDLESS * settings_s[enough]:
        yield info(rule, key, says, reason, "clip the wire's end before each start", figures=figures)
        return
    shorter_us = round(float(settings_s[enough]) * 1e6)
    yield warning(
        rule,
        key,
        says,
        f"{reason}; {ms(shorter_us)} would leave the wire free as well",
        Remedy(f"a burnback of {ms(shorter_us)}, its ball smaller", stand_at(key, setting, shorter_us)),
        "clip the wire's end before each start",
        figures=figures,
    )


def burnback_serves_all_speeds(project: Project) -> Iterator[Finding]:
    """The burnback time must reach a good wire end at the slowest and the fastest wire as well."""
    design, setting = project.design, project.design.times.burnback
    speeds_mm_s = wire_speeds_mm_s(design, 2)
    if len(speeds_mm_s) < 2 or _brake_first(project) is not None:
        return
    try:
        case = burnback_case(design)
        reached = {one: float(_share(run, GOOD).max()) for one, run in _dial_runs(project)[1:]}
        missed = {one.feed_mm_s: share for one, share in reached.items() if not _enough(one, share)}
        if not missed:
            return
        cover = dial_cover(case, wire_speeds_mm_s(design), RULE_DRAWS // 2)
    except ProcessError:
        return
    what = f"the burnback dial, {ms(setting.low_us)} to {ms(setting.high_us)}," if setting.dial else "a fixed burnback"
    where = " and ".join(speed_text(speed) for speed in missed)
    from_us, to_us = round(cover.from_s * 1e6), round(cover.to_s * 1e6)
    ends = (set_duration("times.burnback.from", from_us), set_duration("times.burnback.to", to_us))
    within_us = min(max(setting.setting_us, from_us), to_us)
    changes = (*ends, set_duration("times.burnback.setting", within_us)) if setting.dial else ()
    yield warning(
        "burnback-serves-all-speeds",
        "times.burnback",
        f"at {where} {what} leaves a good wire end in {percent_text(max(missed.values()))} of welds at best",
        "another wire feed speed, with the voltage turned to suit, needs a different burnback",
        Remedy(f"a burnback dial from {ms(from_us)} to {ms(to_us)}", changes),
        "a narrower range of wire feed speeds",
        figures=(
            time_figure("shortest burnback", setting.low_us),
            time_figure("longest burnback", setting.high_us),
            Figure("welds that end good, at best", 100 * max(missed.values()), "%"),
        ),
    )


def spot_outlasts_the_start(project: Project) -> Iterator[Finding]:
    """A spot must be longer than wire, contactor and arc take to start; one near that scatters."""
    spot = project.design.spot
    if spot is None:
        return
    timing = spot_timing(project.design)
    shortest_us = timing.shortest_s * 1e6
    shortest = time_figure("shortest spot", spot.time.low_us)
    if spot.time.low_us < shortest_us:
        pull_in_us = max(timing.wire_on.max_s, timing.contactor_on.max_s) * 1e6
        broken = timing.arc_seen_s is None and spot.time.setting_us <= pull_in_us
        after = "" if timing.arc_seen_s is None else " once it is seen"
        yield (error if broken else warning)(
            "spot-outlasts-the-start",
            "spot.time",
            f"the shortest spot is {ms(spot.time.low_us)}, the arc takes up to {ms(shortest_us)} to burn{after}",
            "the spot may be over before wire, contactor and arc have started",
            Remedy(
                f"a spot time from {ms(whole_ms(2 * shortest_us))} on",
                start_time_at("spot.time", spot.time, whole_ms(2 * shortest_us)),
            ),
            figures=(shortest, time_figure("latest start of the arc", shortest_us)),
        )
        return
    scatter_percent = spot_scatter(timing, spot.time.low_us / 1e6, RULE_DRAWS).timer_percent
    if scatter_percent > SPOT_SCATTER_PERCENT:
        yield info(
            "spot-outlasts-the-start",
            "spot.time",
            f"the metal of the shortest spot, {ms(spot.time.low_us)}, scatters by {scatter_percent:.0f} % (one "
            "standard deviation)",
            "pull-in, drop-out and coast differ from spot to spot",
            figures=(shortest, Figure("scatter, one standard deviation", scatter_percent, "%")),
        )


@once
def _brake_first(project: Project) -> BrakeFirst | None:
    """Why the drive must be braked before burnback is set; None where it stands at a good one, or may."""
    if project.design.feeder.wire_drive.likely_coast_us < LONG_COAST_S * 1e6:
        return None
    try:
        case, run = _dial_runs(project)[0]
        case.operating_point()
        row = int(np.searchsorted(run.settings_s, project.design.times.burnback.setting_us / 1e6))
        if _share(run, GOOD)[row] >= ENOUGH:
            return None
        return brake_first(burnback_curve(case, draws=RULE_DRAWS))
    except ProcessError:
        return None


def _dial_points_s(design: Design) -> Floats:
    """Settings spread over the burnback dial, the one it stands at among them; that one alone if it is fixed."""
    setting = design.times.burnback
    ends_us = (setting.low_us, setting.high_us)
    points_us = [*np.linspace(*ends_us, DIAL_POINTS), setting.setting_us] if setting.dial else [setting.setting_us]
    # Not np.unique, which loads the whole of numpy.ma.
    return np.array(sorted(set(points_us))) / 1e6


def _quick_run(case: BurnbackCase, settings_s: Floats) -> BurnbackRun:
    return run_scatter(case, scatter(case, RULE_DRAWS), settings_s, QUICK_STEP_S)


def _share(run: BurnbackRun, code: int) -> Floats:
    """Share of the draws with an outcome, for each setting."""
    share: Floats = (run.outcome == code).mean(axis=1)
    return share


def _middle_hanging_mm(run: BurnbackRun, row: int) -> float:
    """Wire that hangs on as a ball after half of the welds, or more."""
    return float(percentiles(run.hanging_mm[row], (50.0,))[0])


def _hopeless(run: BurnbackRun) -> bool:
    """Tell whether no place of the dial leaves the wire free, save in a few welds."""
    return bool((_share(run, FROZEN) + _share(run, FUSED) >= 1 - HOPELESS).all())


@once
def _dial_runs(project: Project) -> tuple[tuple[BurnbackCase, BurnbackRun], ...]:
    """Return the places of the dial at the wire feed speed that is set, then at the slowest and the fastest, if any.

    All in one run: what it costs is its steps, not its draws. Raises ProcessError.
    """
    design, set_speed = project.design, burnback_case(project.design)
    speeds_mm_s = wire_speeds_mm_s(design, 2)
    try:
        others = [set_speed.at_speed(float(speed)) for speed in speeds_mm_s] if len(speeds_mm_s) > 1 else []
    except ProcessError:
        # Of a speed without an arc `arc-can-burn` tells; the one that is set has its own answer.
        others = []
    cases = (set_speed, *others)
    drawn = together([scatter(case, RULE_DRAWS) for case in cases])
    run = run_scatter(set_speed, drawn, _dial_points_s(design), QUICK_STEP_S)
    return tuple((case, _draws_of(run, slice(RULE_DRAWS * at, RULE_DRAWS * (at + 1)))) for at, case in enumerate(cases))


def _draws_of(run: BurnbackRun, some: slice) -> BurnbackRun:
    whole = ("settings_s", "melt")
    parts = {name: value if name in whole else value[..., some] for name, value in vars(run).items()}
    return BurnbackRun(**parts)


def _best_share(case: BurnbackCase) -> float:
    """Share of good ends at about the best setting there is, of the dial or not."""
    return float(_share(_quick_run(case, curve_settings_s(case)[::COARSE]), GOOD).max())


def _enough(case: BurnbackCase, share: float) -> bool:
    """Whether that is likely good, or nearly as good as can be had at all."""
    return share >= ENOUGH or share >= _best_share(case) - AS_GOOD


def likely_end_mm(design: Design) -> float:
    """Return the extension that the burnback of a design likely leaves. Raises ProcessError."""
    return run_likely(burnback_case(design), [design.times.burnback.setting_us / 1e6])[0].extension_mm


def _likely_where(curve: BurnbackCurve) -> str:
    window = curve.sure_window or curve.window
    if window is None:
        return ""
    if window.open_above:
        return f"; that is likely from {ms(window.low_s * 1e6)} on"
    return f"; that is likely between {ms(window.low_s * 1e6)} and {ms(window.high_s * 1e6)}"


def _end_figures(run: BurnbackRun, row: int) -> tuple[Figure, ...]:
    return (
        time_figure("burnback", float(run.settings_s[row]) * 1e6),
        Figure("welds that end good", 100 * float(_share(run, GOOD)[row]), "%"),
        Figure("extension left, middle", float(percentiles(run.extension_mm[row], (50.0,))[0]), "mm"),
    )


def _wire_end(case: BurnbackCase, run: BurnbackRun, row: int) -> str:
    low, middle, high = low_middle_high(run.extension_mm[row])
    hanging_mm = _middle_hanging_mm(run, row)
    trouble = max((FROZEN, SHORT, FUSED), key=lambda code: _share(run, code)[row])
    share = float(_share(run, trouble)[row])
    setting = f"a burnback of {ms(run.settings_s[row] * 1e6)}"
    if middle + run.melt.length_mm(hanging_mm) >= case.distance_mm - case.end.sticking_gap_mm:
        return f"{setting} lets the wire run into the puddle and freeze there in {percent_text(share)} of welds"
    return (
        f"{setting} leaves {middle:.0f} mm of solid wire ({low:.0f} mm to {high:.0f} mm) and a ball of "
        f"{run.melt.ball_mm(hanging_mm):.1f} mm on it, the work {case.distance_mm:.0f} mm from the contact tip"
    ) + (f"; {percent_text(share)} of welds end {OUTCOMES[trouble]}" if share >= 0.01 else "")
