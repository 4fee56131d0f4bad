"""Writes trigger scripts for one design: knows how long its phases last and which modes it offers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from timing.protocol.target import Target
from timing.sequence.core.columns import Condition
from timing.sequence.core.script import Change, Dial, Script, Switch, What
from timing.sequence.core.table import Phase

WELD_TIMES = ("preflow", "burnback", "postflow")
"""The times of every weld; spot and pause are of some."""
START_US = 100_000
"""When the first thing happens; dials and switches are set at 0."""
MARGIN_US = 30_000
"""Distance kept from whatever else is due: more than a computer's usual delay in sending."""
HOLD_US = 300_000
"""An ordinary weld's length on the bench."""
STRIKE_US = 20_000
"""From contactor on to arc, where an arc sensor is fitted (our choice; a real arc takes about as long)."""


class NotOfferedError(Exception):
    """The design cannot do this: there is no such case for it."""


@dataclass
class ScriptWriter:
    """A script being written. `at_us` is now; everything happens there."""

    target: Target
    at_us: int = 0
    changes: list[Change] = field(default_factory=list)
    times_us: dict[str, int] = field(init=False)
    spot: bool = False

    def __post_init__(self) -> None:
        rig = self.target.rig
        self.times_us = {name: self.target.dialled_us(name, time_us) for name, time_us in rig.times_us.items()}

    def written(self) -> Script:
        """Return what was written."""
        return Script(tuple(self.changes))

    def set(self, what: What, value: int) -> None:
        """Let an input change."""
        self.changes.append(Change(self.at_us, what, value))

    def set_after_start(self, what: What) -> None:
        """Close a contact as the first thing that happens."""
        self.wait(START_US)
        self.set(what, 1)

    @property
    def closed(self) -> frozenset[str]:
        """Contacts and inputs that stand at 1."""
        latest = {str(change.what): change.value for change in self.changes}
        return frozenset(what for what, value in latest.items() if value == 1)

    def wait(self, duration_us: int) -> None:
        """Let time pass."""
        self.at_us += duration_us

    @property
    def filter_us(self) -> int:
        """The trigger's filter time."""
        return self.target.rig.filters_us["trigger"][0]

    def choose(self, *, spot: bool = False, stitch: bool = False, four_step: bool = False) -> None:
        """Set the panel's switches for a way of working. Raises NotOfferedError."""
        for what, value in _selection(self.target, spot, stitch, four_step):
            self.set(what, value)
        self.spot = spot

    def two_step(self) -> None:
        """Choose two-step work, timed or not. Raises NotOfferedError."""
        try:
            self.choose()
        except NotOfferedError:
            self.spot_alone()

    def any_way(self) -> bool:
        """Choose whatever the design offers; tell whether that is four-step."""
        try:
            self.two_step()
        except NotOfferedError:
            self.choose(four_step=True)
            return True
        return False

    def spot_alone(self) -> None:
        """Choose timed welds, without stitches where they can be left out. Raises NotOfferedError."""
        try:
            self.choose(spot=True)
        except NotOfferedError:
            self.choose(spot=True, stitch=True)

    def dial(self, name: str, time_us: int) -> None:
        """Turn a dial."""
        self.set(Dial(name), time_us)
        self.times_us[name] = self.target.dialled_us(name, time_us)

    def need(self, name: str, least_us: int) -> int:
        """Return a time, after turning its dial up where it is shorter than `least_us`. Raises NotOfferedError."""
        if self.times_us.get(name, 0) < least_us:
            scale = self.target.scales.get(name)
            if scale is None or scale.high_us < least_us:
                raise NotOfferedError(name)
            self.dial(name, min(2 * least_us, scale.high_us))
        return self.times_us[name]

    def require(self, *roles: str) -> None:
        """Raise NotOfferedError unless the design has all these."""
        if not self.target.fitted.issuperset(roles):
            raise NotOfferedError(*roles)

    def press(self) -> None:
        """Close the trigger, and wait until that counts."""
        if self.at_us == 0:
            self.wait(START_US)
        self.set("trigger", 1)
        self.wait(self.filter_us)

    def release(self) -> None:
        """Open the trigger, and wait until that counts."""
        self.set("trigger", 0)
        self.wait(self.filter_us)

    def pull(self) -> None:
        """Press and release, in four-step."""
        self.press()
        self.wait(MARGIN_US)
        self.release()

    def strike(self) -> None:
        """Let the arc be established, at the beginning of a weld."""
        if "arc" in self.target.fitted:
            self.wait(STRIKE_US)
            self.set("arc", 1)
            self.wait(self.target.rig.filters_us["arc"][0])

    def break_arc(self) -> None:
        """Let the arc go out, if it burns: with the contactor off it must not stay."""
        if "arc" in self.closed:
            self.set("arc", 0)

    def spot_over(self) -> None:
        """Let a spot run out, and come to the end of its burnback."""
        self.wait(self.times_us["spot"])
        self.break_arc()
        self.wait(self.times_us["burnback"])

    def next_stitch(self) -> None:
        """Let pause follow on a burnback, and strike anew."""
        self.wait(self.times_us["pause"])
        self.strike()

    def start_weld(self, four_step: bool = False) -> None:
        """Press, let preflow pass, strike. In four-step the trigger is let go meanwhile."""
        self.press()
        pressed_us = self.at_us
        if four_step:
            self.wait(MARGIN_US)
            self.release()
        self.at_us = max(self.at_us, pressed_us + self.times_us["preflow"])
        self.strike()

    def end_weld(self, four_step: bool = False) -> None:
        """End a weld by hand and come to the beginning of burnback."""
        if four_step:
            self.press()
            burnback_us = self.at_us
            self.break_arc()
            self.wait(MARGIN_US)
            self.release()
            self.at_us = burnback_us
        else:
            self.release()
            self.break_arc()

    def hold(self, share: int) -> None:
        """Go on welding for a while; of a spot, for one part in `share`."""
        self.wait(min(HOLD_US, self.times_us["spot"] // share) if self.spot else HOLD_US)

    def whole_weld(self, four_step: bool = False) -> None:
        """Do one weld, up to the beginning of burnback."""
        self.start_weld(four_step)
        self.hold(2)
        self.end_weld(four_step)

    def way_to(self, phase: Phase) -> bool:
        """Choose a way of working that gets to a phase; tell whether it is four-step."""
        if phase is Phase.PAUSE:
            self.choose(spot=True, stitch=True)
        elif phase is Phase.AWAIT_RELEASE:
            return self._way_to_await_release()
        else:
            return self.any_way()
        return False

    def come_to(self, phase: Phase, four_step: bool, stay_us: int) -> None:
        """Come to the middle of a phase that lasts at least `stay_us` more. Raises NotOfferedError."""
        if phase in (Phase.PURGE, Phase.INCH):
            self.require(phase.word)
            self.set_after_start(phase.word)
            self.wait(self.target.rig.filters_us[phase.word][0])
        elif phase is Phase.PREFLOW:
            self.need("preflow", stay_us + 2 * MARGIN_US)
            self.press()
        elif phase in (Phase.WELD, Phase.PAUSE):
            if phase is Phase.PAUSE:
                self.need("pause", stay_us + 2 * MARGIN_US)
            self.start_weld(four_step)
        elif phase is Phase.AWAIT_RELEASE:
            self._hold_to_await_release(four_step)
        elif phase in (Phase.BURNBACK, Phase.POSTFLOW):
            self.need(phase.word, self.filter_us + stay_us + 3 * MARGIN_US)
            self.start_weld(four_step)
            self.wait(MARGIN_US)
            self.press() if four_step else self.release()
            if phase is Phase.POSTFLOW:
                self.break_arc()
                self.wait(self.times_us["burnback"])
        else:
            self.wait(START_US)
        if phase is Phase.PAUSE:
            self.spot_over()
        self.wait(MARGIN_US)

    def weld_limit_us(self) -> int:
        """Return the weld limit. Raises NotOfferedError."""
        limit_us = self.target.rig.settings.weld_limit_us
        if limit_us is None:
            raise NotOfferedError("limit")
        return limit_us

    def _way_to_await_release(self) -> bool:
        try:
            self.choose(spot=True)
        except NotOfferedError:
            return self.any_way()
        return False

    def _hold_to_await_release(self, four_step: bool) -> None:
        """Hold the trigger until postflow is over: after a spot, a press that ends, or the weld limit."""
        self.start_weld(four_step)
        if self.spot:
            self.wait(self.times_us["spot"])
        elif four_step:
            self.wait(MARGIN_US)
            self.press()
        else:
            self.wait(self.weld_limit_us())
        self.break_arc()
        self.wait(self.times_us["burnback"] + self.times_us["postflow"])


Writer = Callable[[ScriptWriter], None]
"""Writes the script of one case. Raises NotOfferedError."""
NamedWriter = tuple[str, str, Writer]
"""Name of a case, its title, and what writes it."""


def _selection(target: Target, spot: bool, stitch: bool, four_step: bool) -> Iterator[tuple[What, int]]:
    fixed, fitted = target.rig.settings.fixed, target.fitted
    if fixed.get(Condition.SPOT, spot) != spot:
        raise NotOfferedError("spot")
    if "spot_switch" in fitted:
        yield Switch("spot"), spot
    if spot:
        if "pause_switch" in fitted:
            yield Switch("pause"), stitch
        elif stitch != ("pause" in target.rig.times_us):
            raise NotOfferedError("stitch")
    elif fixed.get(Condition.FOUR_STEP, four_step) != four_step:
        raise NotOfferedError("four-step" if four_step else "two-step")
    elif "four_step" in fitted:
        yield "four_step", four_step
    elif target.rig.four_step != four_step:
        raise NotOfferedError("four-step" if four_step else "two-step")
