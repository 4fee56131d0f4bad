"""The virtual board's inside: pins, forced states, passes over the phase table, edge trace.

Passes fall on a grid, like those of a loop that takes `PASS_US` each; those in which nothing can change are left
out, so that a board may run through minutes in no time.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from bench.forcing import SUPPLY_CHANNEL
from bench.virtual.link_status import BegunConditions, kept_bits
from timing.protocol.commands import LAPSE_US, TRACE_RECORDS
from timing.protocol.resets import Reset
from timing.protocol.target import ANALOG_CHANNELS, LEVEL_BIT, OUTPUT_BIT, RAW_BIT, SEEN, Target
from timing.sequence.core.engine import due_instants_us
from timing.sequence.core.filters import ContactFilter, SupplyFilter, SupplyLevel
from timing.sequence.core.scan import Inputs, State, start, step, time_fields
from timing.sequence.core.table import Fault, Output, Phase


@dataclass(frozen=True)
class Faults:
    """Nothing is wrong by default."""

    dead: frozenset[Output] = frozenset()
    """Outputs that never come on."""
    stuck: frozenset[Output] = frozenset()
    """Outputs that are always on."""
    swapped: tuple[Output, Output] | None = None
    """Two outputs wired crosswise."""
    stretched_us: Mapping[str, int] = field(default_factory=dict)
    """Times, by name, that last this much longer than they should."""
    slow_filter_us: int = 0
    """The trigger's filter takes this much longer."""
    digest: str | None = None
    """The board carries this design instead."""
    keeps: int | None = None
    """Its receive buffer keeps this many characters of what comes in at once; more are lost. None: any number, as over
    USB, where the host waits."""
    reset: Reset = Reset.POWER_UP
    """Why it says that it started."""
    edited: bool = False
    """A number of its settings.h was changed after the build."""
    mute: bool = False
    """It never answers."""
    noisy: bool = False
    """It answers noise."""
    clock_stands: bool = False
    """Its clock is frozen."""

    def on_pins(self, outputs: int) -> int:
        """Return what the pins show when the sequence commands `outputs`."""
        if self.swapped is not None:
            first, second = (output.value for output in self.swapped)
            kept = outputs & ~(first | second)
            outputs = kept | second * bool(outputs & first) | first * bool(outputs & second)
        for output in self.dead:
            outputs &= ~output.value
        for output in self.stuck:
            outputs |= output.value
        return outputs


NO_FAULTS = Faults()


PASS_US = 48
"""One pass; a multiple of the clock's step of 4 us, and about what an 8-bit board takes."""
WATCHDOG_US = 60_000


@dataclass(frozen=True)
class TraceRecord:
    """How things stood after a pass."""

    time_us: int
    levels: int
    phase: int
    fault: int


@dataclass
class Machine:
    """One board, switched on at 0."""

    target: Target
    faults: Faults = NO_FAULTS
    pin_contacts: int = field(init=False)
    pin_counts: dict[int, int] = field(init=False)
    forced_contacts: int | None = None
    left_contacts: int = 0
    """Those that come from their pins while others are forced."""
    forced_since_us: int = 0
    forced_counts: dict[int, int] = field(default_factory=dict)
    state: State = field(init=False)
    pins: int = 0
    """Outputs as their pins show them."""
    trace: list[TraceRecord] = field(default_factory=list)
    lost: int = 0
    now_us: int = 0
    """Instant of the latest pass."""
    last_line_us: int = 0
    hung_until_us: int | None = None
    conditions: BegunConditions = field(default_factory=BegunConditions)
    """Of the status registers."""
    restarts: int = 0
    """How often the watchdog has bitten."""
    reset: Reset = field(init=False)
    """Why it last started."""
    last_fault: Fault = Fault.NONE
    """The latest that was shown since power-up."""
    told: Callable[[int, str, bool], None] | None = None
    """Is told of every change of an output's pin: when, which role, to what."""
    _levels: int = 0
    _recorded: tuple[int, int, int] = (0, Phase.HOLD_OFF, Fault.NONE)
    _filters: dict[str, ContactFilter] = field(init=False)
    _times_us: dict[str, int] = field(init=False)
    _supply_filter: SupplyFilter = field(init=False)
    _moved: bool = True
    _pin_moves: list[tuple[int, str, bool]] = field(default_factory=list)
    _wired_outputs: int = field(init=False)
    _told_pins: int = 0

    def __post_init__(self) -> None:
        rig = self.target.rig
        self._wired_outputs = sum(bit for role, bit in OUTPUT_BIT.items() if role in self.target.fitted)
        self.pin_contacts = RAW_BIT["interlock"] | RAW_BIT["four_step"] * rig.four_step
        for name, on in rig.switches.items():
            self.pin_contacts |= RAW_BIT[f"{name}_switch"] * on
        scales = self.target.scales
        self.pin_counts = {self.channel(name): scale.counts_for(rig.times_us[name]) for name, scale in scales.items()}
        if self.target.supply is not None:
            self.pin_counts[SUPPLY_CHANNEL] = self.target.supply.good
        self._times_us = dict(rig.times_us)
        self.reset = self.faults.reset
        self.restart()
        self._pass()

    @staticmethod
    def channel(name: str) -> int:
        """Return the number of an analog channel."""
        return ANALOG_CHANNELS.index(name)

    @property
    def wired_contacts(self) -> int:
        """Bits of the contacts that have a pin."""
        return sum(bit for role, bit in RAW_BIT.items() if role in self.target.fitted)

    def run_to(self, now_us: int) -> None:
        """Run all passes that are due up to `now_us`, and the last one before it."""
        last_us = now_us - now_us % PASS_US
        while (due_us := self.next_due_us()) is not None and due_us < last_us:
            self.pass_at(due_us)
        if last_us > self.now_us:
            self.pass_at(last_us)

    def restart(self) -> None:
        """Start the sequence as at power-up; nothing is forced."""
        self.release()
        self.state = start(self.target.rig.settings, self.now_us)
        self._filters = {role: ContactFilter(*times_us) for role, times_us in self.target.rig.filters_us.items()}
        self._filters["trigger"].filter_us += self.faults.slow_filter_us
        self._supply_filter = SupplyFilter(self.target.rig.supply_filter_us)

    def force_contacts(self, contacts: int) -> None:
        """Put contacts in the place of the pins."""
        self.forced_contacts, self.forced_since_us, self._moved = contacts, self.now_us, True
        self.watch()

    def leave_contacts(self, contacts: int) -> None:
        """Leave contacts to their pins while others are forced."""
        self.left_contacts, self._moved = contacts, True

    def force_analog(self, channel: int, counts: int) -> None:
        """Put a reading in the place of a channel's."""
        self.forced_counts[channel] = counts
        self._moved = True
        self.watch()

    def release(self) -> None:
        """End all forced states."""
        self.forced_contacts, self.forced_since_us, self._moved = None, 0, True
        self.left_contacts = 0
        self.forced_counts.clear()

    def hang(self) -> None:
        """Hold the loop until the watchdog bites."""
        self.hung_until_us = self.now_us + WATCHDOG_US

    def move_pin(self, contact: str, closed: bool, after_us: int = 0) -> None:
        """Move a real contact in the next pass, or some time from now."""
        self.move_pin_at(self.now_us + max(after_us, PASS_US), contact, closed)

    def move_pin_at(self, at_us: int, contact: str, closed: bool) -> None:
        """Move a real contact at an instant, for the first pass from then on that has not been."""
        insort(self._pin_moves, (max(at_us, self.now_us + 1), contact, closed), key=lambda move: move[0])

    def contacts(self) -> int:
        """Return the contacts that count: the pins, or what is forced."""
        if self.forced_contacts is None:
            return self.pin_contacts
        return (self.forced_contacts & ~self.left_contacts) | (self.pin_contacts & self.left_contacts)

    @property
    def forces(self) -> bool:
        """Tell whether anything is forced."""
        return self.forced_contacts is not None or bool(self.forced_counts)

    def counts(self, channel: int) -> int:
        """Return the reading of an analog channel that counts."""
        return self.forced_counts.get(channel, self.pin_counts[channel])

    def time_us(self, name: str) -> int:
        """Return the time that a dial gives now, or the fixed one."""
        scale = self.target.scales.get(name)
        if scale is not None and not scale.is_fault(counts := self.counts(self.channel(name))):
            self._times_us[name] = scale.time_us(counts)
        return self._times_us[name]

    def standing_fault(self) -> Fault:
        """Return the fault that stands at this moment."""
        inputs = self._inputs()
        if inputs.interlock_open:
            return Fault.INTERLOCK
        held_off = self.state.phase == Phase.HOLD_OFF
        if inputs.supply_low or (held_off and inputs.supply_poor):
            return Fault.SUPPLY
        if held_off and self.state.fault == Fault.ARC_STAYS and inputs.arc:
            return Fault.ARC_STAYS
        return Fault.DIAL if inputs.dial_fault else Fault.NONE

    def next_due_us(self) -> int | None:
        """Return when the next pass is due that may change something if nothing is told to the board before."""
        due = list(self._due_us())
        if self._moved:
            return self.now_us + PASS_US
        soonest = min((each for each in due if each > self.now_us), default=None)
        return None if soonest is None else -(-soonest // PASS_US) * PASS_US

    def _due_us(self) -> Iterator[int]:
        if self.hung_until_us is not None:
            yield self.hung_until_us
            return
        yield from due_instants_us(self.state, self.target.rig.table, self.target.rig.settings)
        contacts = self.contacts()
        for role, contact in self._filters.items():
            if (deadline_us := contact.deadline_us(bool(contacts & RAW_BIT[role]))) is not None:
                yield deadline_us
        if (low_us := self._supply_filter.deadline_us()) is not None:
            yield low_us
        if self.forces or self.left_contacts:
            yield self.last_line_us + LAPSE_US
        if self._pin_moves:
            at_us, _, closes = self._pin_moves[0]
            if not closes:
                # The pass before it reads the contact closed once more: filters count from there.
                yield at_us - PASS_US
            yield at_us

    def pass_at(self, now_us: int) -> None:
        """Run one pass, and none of those before it that are due."""
        self.now_us, self._moved = now_us, False
        if self.hung_until_us is not None:
            if now_us < self.hung_until_us:
                return
            self._watchdog_bites()
        while self._pin_moves and self._pin_moves[0][0] <= now_us:
            _, contact, closed = self._pin_moves.pop(0)
            bit = RAW_BIT[contact]
            self.pin_contacts = self.pin_contacts | bit if closed else self.pin_contacts & ~bit
        if now_us - self.last_line_us >= LAPSE_US and (self.forces or self.left_contacts):
            self.release()
        self._pass()

    def _watchdog_bites(self) -> None:
        self.hung_until_us = None
        self.trace.clear()
        self.lost, self._recorded, self.pins = 0, (0, Phase.HOLD_OFF, Fault.NONE), 0
        self.conditions, self._levels = BegunConditions(), 0
        self.restarts += 1
        self.reset = Reset.LOOP
        self.restart()

    def _pass(self) -> None:
        inputs = self._inputs()
        outputs = step(self.target.rig.table, self.target.rig.settings, self.state, inputs, self.now_us)
        before, self.pins = self._told_pins, self.faults.on_pins(outputs) & self._wired_outputs
        if self.told is not None and before != self.pins:
            self._told_pins = self.pins
            for role, bit in OUTPUT_BIT.items():
                if (before ^ self.pins) & bit:
                    self.told(self.now_us, role, bool(self.pins & bit))
        levels = self._levels = self.pins | sum(LEVEL_BIT[name] for name in SEEN if getattr(inputs, name))
        latest = (levels, int(self.state.phase), int(self.state.fault))
        if latest != self._recorded:
            self._recorded = latest
            self.last_fault = Fault(self.state.fault) or self.last_fault
            if len(self.trace) < TRACE_RECORDS:
                self.trace.append(TraceRecord(self.now_us, *latest))
            else:
                self.lost += 1
        self.watch()

    def watch(self) -> None:
        """Make an event of every condition that began."""
        self.conditions.watch(self.standing())

    def standing(self) -> int:
        """Return what stands at this moment, as kept bits of the status registers."""
        standing = {name.upper() for name in SEEN if self._levels & LEVEL_BIT[name]}
        if self.forces:
            standing.add("FORCED")
        if self.state.phase is Phase.HOLD_OFF:
            standing.add("HOLD_OFF")
        elif self.state.phase is not Phase.IDLE:
            standing.add("SEQUENCE")
        return kept_bits(standing)

    def _inputs(self) -> Inputs:
        rig, contacts, fitted = self.target.rig, self.contacts(), self.target.fitted
        seen = {
            role: contact.read(bool(contacts & RAW_BIT[role]), self.now_us) for role, contact in self._filters.items()
        }
        times_us = {name: self.time_us(name) for name in rig.times_us}
        for name, stretch_us in self.faults.stretched_us.items():
            times_us[name] += stretch_us

        def on(name: str) -> bool:
            switch = f"{name}_switch"
            return bool(contacts & RAW_BIT[switch]) if switch in fitted else rig.switches.get(name, False)

        self._supply_filter.read(self._supply_level(), self.now_us)
        return Inputs(
            **seen,
            interlock_open="interlock" in fitted and not contacts & RAW_BIT["interlock"],
            supply_low=self._supply_filter.low,
            supply_poor=self._supply_filter.poor,
            dial_fault=any(
                scale.is_fault(self.counts(self.channel(name))) for name, scale in self.target.scales.items()
            ),
            four_step=bool(contacts & RAW_BIT["four_step"]) if "four_step" in fitted else rig.four_step,
            spot=on("spot"),
            stitch=on("pause"),
            **time_fields(times_us, {name: on(name) for name in times_us}),
        )

    def _supply_level(self) -> SupplyLevel:
        limits = self.target.supply
        if limits is None:
            return SupplyLevel.GOOD
        counts = self.counts(SUPPLY_CHANNEL)
        if counts >= limits.good:
            return SupplyLevel.GOOD
        return SupplyLevel.BETWEEN if counts > limits.low else SupplyLevel.LOW
