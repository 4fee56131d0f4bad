"""The machine between the boards: outputs and presses in, changes of the boards' lines out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from random import Random

from bench.feeder_model.agenda import Agenda, OnOff
from bench.feeder_model.arc import Arc, WeldingOutput
from bench.feeder_model.couplers import LitCoupler, Sine, Voltage
from bench.feeder_model.disc import Disc, Slots
from bench.feeder_model.drive import WireRun
from bench.feeder_model.hidden import RIDES, HiddenCoupler, HiddenLoad, HiddenMachine, HiddenPress, Switching
from bench.feeder_model.switching import Follower
from bench.feeder_model.truth import Truth
from bench.feeder_model.winding import SaggingWinding
from timing.protocol.recorder import RECORDER_INPUTS, RECORDER_PRESSES

USUAL_ADAPTERS: Mapping[str, str] = {one.key: one.key for one in RECORDER_INPUTS} | {"sensor": "arc"}
"""What hangs on each input of the recorder, by its key, with the arc sensor on the sixth (choice)."""
FLAG_ADAPTERS: Mapping[str, str] = {**USUAL_ADAPTERS, "sensor": "flag"}
"""The same with the flag at the nozzle (choice)."""

LIT = partial(float, math.inf)
"""What a sensor that is fed by a battery of its own gives a coupler: enough (exact)."""


@dataclass(frozen=True)
class LineChange:
    """One line of one board that changed."""

    at_us: int
    line: str
    """'board.trigger', 'board.purge', 'board.arc', or 'recorder.' and the key of an input."""
    on: bool
    """Closed, or lit: the pin is low."""


@dataclass(frozen=True)
class _Thing:
    """Something that a coupler can be put across."""

    signal: OnOff
    volts: Voltage
    sine: Sine | None = None


@dataclass
class FeederModel:
    """One machine, at rest at 0.

    fitted: roles that the add-on has a pin for; a line of the add-on that is not fitted never changes.
    adapters: what hangs on each input of the recorder, by the input's key; nothing on those left out.
    """

    hidden: HiddenMachine
    fitted: frozenset[str]
    seed: int = 0
    adapters: Mapping[str, str] = field(default_factory=lambda: USUAL_ADAPTERS)
    lines: dict[str, bool] = field(init=False, default_factory=dict)
    """How every line stands."""
    truth: Truth = field(init=False)
    _agenda: Agenda = field(init=False, default_factory=Agenda)
    _changes: list[LineChange] = field(init=False, default_factory=list)
    _couplers: list[LitCoupler] = field(init=False, default_factory=list)
    _inputs: dict[str, LitCoupler] = field(init=False)
    """Those of the recorder, by its inputs' keys."""
    _arc: Arc | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._sine = Sine(self.hidden.line.frequency_hz, self._stream("line").uniform(0.0, math.pi))
        self._winding = SaggingWinding(self.hidden.line)
        self._signals: dict[str, OnOff] = {}
        self._things: dict[str, _Thing] = {}
        self._add_loads()
        drive = self._add_feeder() if self.hidden.drive is not None else None
        self.truth = Truth(self._signals, self._winding.sags, self.hidden.line.open_v, drive)
        self._add_presses()
        self._inputs = {
            one.key: self._coupler(f"recorder.{one.key}", self.hidden.coupler(one.key)) for one in RECORDER_INPUTS
        }
        self.hang(0, self.adapters)

    @property
    def now_us(self) -> int:
        """The instant up to which all has happened."""
        return self._agenda.now_us

    def output(self, at_us: int, role: str, on: bool) -> None:
        """Be told that an output pin of the add-on changed: gas_valve, wire_drive or contactor.

        Raises ValueError for an instant that has passed, KeyError for what the machine does not have.
        """
        self._agenda.run_to(self._not_passed(at_us))
        self._signals[f"pin.{role}"].set(at_us, on)

    def press(self, at_us: int, key: str, on: bool) -> None:
        """Be told that an output of the recorder changed: trigger or purge. Raises as `output`."""
        self._agenda.run_to(self._not_passed(at_us))
        self._signals[f"press.{key}"].set(at_us, on)

    def hang(self, at_us: int, adapters: Mapping[str, str]) -> None:
        """Hang the recorder's inputs on other things, as a person does between two measurements. Raises as `output`."""
        self._agenda.run_to(self._not_passed(at_us))
        self.adapters = dict(adapters)
        for key, coupler in self._inputs.items():
            thing = self._things.get(self.adapters.get(key, ""))
            coupler.hang(at_us, *((None, float, None) if thing is None else (thing.signal, thing.volts, thing.sine)))

    def clamp(self, at_us: int, on: bool) -> None:
        """Put the work clamp on or off: without it no arc strikes. Raises as `output`."""
        self._agenda.run_to(self._not_passed(at_us))
        if self._arc is not None:
            self._arc.clamp(at_us, on)

    def next_us(self) -> int | None:
        """Return an instant before which nothing changes if nothing is switched; None where nothing will at all."""
        return self._agenda.next_us()

    def take(self, until_us: int) -> list[LineChange]:
        """Let all happen up to an instant, it included; return the changes since the latest asking, in order."""
        self._agenda.run_to(until_us)
        taken, self._changes = self._changes, []
        return taken

    def _not_passed(self, at_us: int) -> int:
        if at_us < self.now_us:
            raise ValueError(f"{at_us} us lies before {self.now_us} us, up to which all has happened")
        return at_us

    def _stream(self, name: str) -> Random:
        """Return the chance of one thing: its own, so that what happens elsewhere does not shift it."""
        return Random(f"{self.seed} {name}")

    def _signal(self, name: str, signal: OnOff | None = None) -> OnOff:
        self._signals[name] = signal = signal or OnOff()
        return signal

    def _thing(self, name: str, signal: OnOff, volts: Voltage, sine: Sine | None = None) -> None:
        """Let couplers be put across something: they look whenever it changes."""
        self._things[name] = _Thing(signal, volts, sine)
        signal.followers.append(partial(self._changed, signal))

    def _changed(self, signal: OnOff, at_us: int, _: bool) -> None:
        for coupler in self._couplers:
            if coupler.source is signal:
                coupler.look(at_us)

    def _follower(self, source: OnOff, how: Switching, name: str, signal: OnOff | None = None) -> OnOff:
        """Return a signal, entered by that name, that follows another."""
        follows = self._signal(name, signal)
        source.followers.append(Follower(self._agenda, self._stream(name), how, follows).follow)
        return follows

    def _coupler(self, line: str, hidden: HiddenCoupler) -> LitCoupler:
        """Return a coupler behind which a line changes."""
        light = OnOff(keeps=False)
        self._line(line, self._follower(light, hidden.lag, line, OnOff(keeps=False)))
        coupler = LitCoupler(self._agenda, hidden.threshold_v, light.set)
        self._couplers.append(coupler)
        return coupler

    def _line(self, line: str, signal: OnOff) -> None:
        """Let a line be as a signal is."""
        self.lines[line] = False
        signal.followers.append(partial(self._line_changed, line))

    def _line_changed(self, line: str, at_us: int, on: bool) -> None:
        self.lines[line] = on
        self._changes.append(LineChange(at_us, line, on))

    def _add_loads(self) -> None:
        for role, load in self.hidden.loads.items():
            fed = self._follower(self._signal(f"pin.{role}"), load.relay, f"fed.{role}")
            volts = self._winding.rms_v if load.from_winding else partial(float, load.volts)
            self._thing(role, fed, volts, self._sine if load.ac else None)
            if self.hidden.drive is not None:
                acts = self._acting(role, load, fed)
                for signal in (fed, acts):
                    signal.followers.append(partial(self._drawn, role, fed, acts))

    def _acting(self, role: str, load: HiddenLoad, fed: OnOff) -> OnOff:
        how = load.acts
        if min(how.off.mean_us - RIDES.off.mean_us, how.on.mean_us - RIDES.on.mean_us) > 0:
            fed, how = self._follower(fed, RIDES, f"flux.{role}"), how.after(RIDES)
        return self._follower(fed, how, f"acts.{role}")

    def _drawn(self, role: str, fed: OnOff, acts: OnOff, at_us: int, _: bool) -> None:
        """Let the winding sag, and every coupler on it look again."""
        if self._winding.draw(at_us, role, self.hidden.loads[role], fed.on, acts.on):
            for coupler in self._couplers:
                if coupler.sine is not None:
                    coupler.look(at_us)

    def _add_feeder(self) -> WireRun:
        hidden, agenda = self.hidden, self._agenda
        assert hidden.drive is not None
        drive = WireRun(agenda, hidden.drive, hidden.coupler("motor").threshold_v)
        self._signals["acts.wire_drive"].followers.append(drive.power)
        motor = self._signal("motor", drive.volts_on)
        self._signal("turning", drive.turning)
        self._thing("motor", motor, partial(float, hidden.drive.volts))
        if hidden.drive.direct:
            self._things["wire_drive"] = self._things["motor"]
        disc = Disc(agenda, drive, Slots(hidden.disc, self._stream("disc").random() / hidden.disc.slots))
        self._thing("disc", self._signal("disc", disc.light), LIT)
        main = self._signals["acts.contactor"]
        self._thing("main_contact", main, LIT)
        self._arc = arc = Arc(agenda, self._stream("arc"), hidden.arc, drive, main)
        output = WeldingOutput(agenda, hidden.arc.holds_us, arc)
        self._thing("welding_voltage", self._signal("welding_voltage", output.live), partial(float, hidden.arc.open_v))
        burning = self._signal("arc", arc.burning)
        self._thing("arc", self._follower(burning, hidden.arc.reed, "reed"), LIT)
        sensed = self._follower(burning, hidden.arc.sensor, "arc_sensor")
        if "arc" in self.fitted:
            self._line("board.arc", sensed)
        if "gas_valve" in hidden.loads:
            self._thing("flag", self._follower(self._signals["acts.gas_valve"], hidden.flag, "flag"), LIT)
        self._thing("supply", OnOff(on=True), self._winding.rms_v, self._sine)
        return drive

    def _add_presses(self) -> None:
        for one in RECORDER_PRESSES:
            line, hidden = f"board.{one.key}", self.hidden.presses.get(one.key, HiddenPress())
            pressed = self._follower(self._signal(f"press.{one.key}"), hidden.lag, f"pressed.{one.key}")
            if one.key in self.fitted:
                sine = replace(self._sine, both_ways=hidden.both_ways) if hidden.sensed_ac else None
                volts: Voltage = self._winding.rms_v if hidden.sensed_ac else LIT
                self._thing(line, pressed, volts, sine)
                self._coupler(line, hidden.sense).hang(0, pressed, volts, sine)
