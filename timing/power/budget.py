"""The 24 VAC budget of a design: corners, phases, pull-in, switching on, hold-up, heat, COMMON against chassis.

COMMON is joined to the winding through the rectifier, not isolated from it. Behind a bridge it is the anode of two
diodes, whose cathodes are the ends of the winding. Where one end is tied to chassis, COMMON lies a diode's drop above
chassis in one half-wave and the reservoir's voltage below it in the other. Tied to chassis itself it shorts the winding
in every second half-wave, through one diode. Behind a half-wave rectifier COMMON is one end of the winding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from timing.design.board import Board
from timing.design.design import Design
from timing.design.supply import Supply
from timing.power.components import Regulator, Winding, regulator, winding
from timing.power.crowbar import Clamp, Crowbar, clamp, crowbar
from timing.power.fuse import FuseChoice, choose_fuse
from timing.power.isolation import Isolation, isolation
from timing.power.loads import AcLoad, PhaseLoad, PullIn, heaviest, loaded_v, phase_loads, pull_ins
from timing.power.periodic import steady_state
from timing.power.rectifier import RectifierCircuit, SteadyState, Values
from timing.power.shorts import SHORTED_A, diode_v, shorted_a, tied_a
from timing.power.transient import SWITCH_ON_RAD, Stage, Trace, sag, surge_a, switch_on
from timing.sequence.core.table import Phase

LOSS_FACTOR = 0.15
"""tan delta of the reservoir at 120 Hz; the parts list asks for no more (choice)."""
LOSS_FACTOR_HZ = 120.0
"""Frequency at which data sheets state it (practice)."""
ASLEEP_A = 0.001
"""What is drawn with the board in reset: next to nothing, the unkindest case for the voltage (choice)."""
INRUSH_S = 0.05
"""A fuse's wire gives off heat after that; later pulses count as continuous current (choice)."""


@dataclass(frozen=True)
class Corner:
    """One corner and its periodic state."""

    key: str
    title: str
    line: float
    """Line voltage as a multiple of nominal."""
    load: PhaseLoad | None
    """The phase; None with the board in reset."""
    circuit: RectifierCircuit
    state: SteadyState
    loss_w: float
    """Heat in the regulator."""
    junction_deg_c: float


@dataclass(frozen=True)
class PhaseState:
    """One phase at nominal line."""

    load: PhaseLoad
    state: SteadyState


@dataclass(frozen=True)
class Sag:
    """The heaviest pull-in at low line with an aged capacitor."""

    change: PullIn
    settled_v: float
    """Lowest reservoir voltage before."""
    lowest_v: float
    """Lowest reservoir voltage from the pull-in on."""
    below_sense_s: float
    """Time that the reservoir spends below the board's low-supply threshold; 0 without one."""
    winding_v: float
    """RMS at the winding during the pull-in, the add-on included."""
    winding_alone_v: float
    """The same without the add-on."""
    winding_best_v: float
    """The same with the add-on and the lowest power factor that the coils may have."""


@dataclass(frozen=True)
class Inrush:
    """Switching on at high line with an empty capacitor at the upper end of its tolerance, at the worst instant."""

    peak_a: float
    """Into the rectifier."""
    a2s: float


@dataclass(frozen=True)
class Budget:
    """Everything computed about the supply of one design."""

    design: Design
    board: Board
    winding: Winding
    isolation: Isolation
    regulator: Regulator
    corners: tuple[Corner, ...]
    phases: tuple[PhaseState, ...]
    sag: Sag | None
    """None where nothing on the control winding is switched, or nothing settles at low line."""
    inrush: Inrush
    hold_up_s: float
    """From the aged capacitor's lowest voltage at low line, all on, to the regulator's dropout, the 24 VAC gone."""
    fuse: FuseChoice
    fuse_proposed: bool
    """True where the design left the fuse open."""
    second_fuse: FuseChoice | None
    """Behind a second transformer, whose resistance hides a short from the first; None without one."""
    crowbar: Crowbar | None
    """What shorts the rail when the regulator fails; None with an isolating module, which does not pass it on, and
    among modules."""
    rail_clamp: Clamp | None
    """What takes its place among modules."""

    @property
    def supply(self) -> Supply:
        """The design's supply."""
        return self.design.supply

    def corner(self, key: str) -> Corner:
        """Return a corner by its key."""
        return next(corner for corner in self.corners if corner.key == key)

    @property
    def settled(self) -> tuple[Corner, ...]:
        """The corners that have a periodic state; with the board in reset there always is one."""
        return tuple(corner for corner in self.corners if corner.state.settled)

    @property
    def capacitor_ripple_a(self) -> float:
        """Highest RMS ripple current of the reservoir over the corners."""
        return max(float(corner.state.capacitor_rms_a) for corner in self.settled)

    @property
    def highest_v(self) -> float:
        """Highest reservoir voltage over the corners."""
        return max(float(corner.state.dc_max_v) for corner in self.settled)

    @property
    def series_heat_w(self) -> float:
        """Heat in the resistor of the rectifier's feed at worst; 0 without one."""
        square = max(float(corner.state.rectifier_rms_a) ** 2 for corner in self.settled)
        return (self.supply.series_resistor_ohm or 0.0) * square

    @property
    def closes(self) -> bool:
        """True where every corner has a periodic state."""
        return len(self.settled) == len(self.corners)


def esr_ohm(supply: Supply) -> float:
    """Return the reservoir's series resistance: the design's, or tan delta / (2 pi f C)."""
    usual = LOSS_FACTOR / (2.0 * np.pi * LOSS_FACTOR_HZ * supply.reservoir_f)
    return usual if supply.reservoir_esr_ohm is None else supply.reservoir_esr_ohm


def aged(supply: Supply) -> tuple[float, float]:
    """Return (F, ohm) of the reservoir at the low end of its tolerance and the end of its life."""
    left = (1.0 - supply.reservoir_tolerance_percent / 100.0) * (1.0 - supply.reservoir_ageing_percent / 100.0)
    return supply.reservoir_f * left, 2.0 * esr_ohm(supply)


def rectifier_circuit(
    supply: Supply,
    source: Winding,
    supplied: Regulator,
    line: Values,
    ac: AcLoad,
    rail_a: Values,
    reservoir: tuple[Values, Values] | None = None,
) -> RectifierCircuit:
    """Return the circuit for a line voltage (multiple of nominal), ac loads and a rail current (A).

    `reservoir` is (F, ohm); the nominal one if left out. Behind an isolating transformer everything is seen from its
    secondary.
    """
    capacitance, series = reservoir or (supply.reservoir_f, esr_ohm(supply))
    load_a, load_w = supplied.input_load(rail_a)
    divider_ohm = np.inf if supply.sense is None else supply.sense.divider_top_ohm + supply.sense.divider_bottom_ohm
    apart = isolation(supply)
    square = apart.ratio**2
    return RectifierCircuit(
        emf_peak_v=source.open_v * np.sqrt(2.0) * line * apart.ratio,
        source_ohm=source.source_ohm * square,
        frequency_hz=supply.line_frequency_hz,
        bridge=supply.rectifier == "bridge",
        capacitance_f=capacitance,
        esr_ohm=series,
        ac_load_s=ac.in_phase_s / square,
        ac_lag_s=ac.lag_s / square,
        series_ohm=(supply.series_resistor_ohm or 0.0) + apart.ohm,
        load_a=load_a,
        load_s=1.0 / divider_ohm,
        load_w=load_w,
    )


def under(circuit: RectifierCircuit, ac: AcLoad, apart: Isolation) -> RectifierCircuit:
    """Return the circuit with other ac loads on the winding."""
    square = apart.ratio**2
    return replace(circuit, ac_load_s=ac.in_phase_s / square, ac_lag_s=ac.lag_s / square)


def solved(circuit: RectifierCircuit, apart: Isolation) -> SteadyState:
    """Return the periodic state, the winding's figures seen from the winding."""
    return apart.seen_from_winding(steady_state(circuit))


def hold_up_s(network: RectifierCircuit, from_v: float, to_v: float) -> float:
    """Return the time that the capacitor alone carries the dc load from one voltage down to another, in s."""
    if from_v <= to_v:
        return 0.0
    levels = np.linspace(to_v, from_v, 201)
    current = network.load_current_a(levels)
    return float(np.trapezoid(network.capacitance_f / current, levels))


def budget(design: Design, board: Board) -> Budget:
    """Compute the budget of a design on a board."""
    supply = design.supply
    source, supplied, apart = winding(supply), regulator(supply, board, design.circuits), isolation(supply)
    loads = phase_loads(design, board)
    heavy = heaviest(loads)
    stray = supply.line_tolerance_percent / 100.0
    old = aged(supply)

    def corner(
        key: str, title: str, line: float, load: PhaseLoad | None, reservoir: tuple[Values, Values] | None = None
    ) -> Corner:
        # Unkind on both sides: a stiff winding for the highest voltages, a soft one with coils that lag least for the
        # lowest.
        wound = source.stiff if line > 1.0 else source.soft if line < 1.0 else source
        if load is None:
            network = rectifier_circuit(supply, wound, supplied, line, AcLoad(), 0.0, reservoir)
            network = replace(network, load_a=ASLEEP_A, load_w=0.0)
        else:
            ac = load.ac_most if line < 1.0 else load.ac
            network = rectifier_circuit(supply, wound, supplied, line, ac, load.rail_a, reservoir)
        state = solved(network, apart)
        loss = float(supplied.loss_w(state.dc_mean_v, 0.0 if load is None else load.rail_a))
        return Corner(key, title, line, load, network, state, loss, float(supplied.junction_deg_c(loss)))

    # The coils of other circuits leave the winding alone, so the rail may be heavy while the winding is not.
    hot = max(loads, key=lambda load: (load.rail_a, -load.ac.in_phase_s))
    corners = (
        corner("high-bare", "high line, board in reset, nothing on", 1.0 + stray, None),
        corner("high-idle", "high line, idle", 1.0 + stray, loads[Phase.IDLE]),
        corner("high-on", f"high line, {hot.phase.word}", 1.0 + stray, hot),
        corner("nominal-on", f"nominal line, {heavy.phase.word}", 1.0, heavy),
        corner("low-on", f"low line, {heavy.phase.word}", 1.0 - stray, heavy),
        corner("low-aged", f"low line, {heavy.phase.word}, aged capacitor", 1.0 - stray, heavy, old),
    )
    phases = tuple(
        PhaseState(load, solved(rectifier_circuit(supply, source, supplied, 1.0, load.ac, load.rail_a), apart))
        for load in loads
    )
    inrush = _inrush(corners[1].circuit, supply)
    continuous = max(float(found.state.rectifier_rms_a) for found in corners if found.state.settled)
    last = corners[-1]
    fuse = FuseChoice(
        rating_a=supply.fuse_a or 0.0,
        continuous_a=apart.fuse_a(continuous),
        inrush_a2s=apart.fuse_a2s(inrush.a2s),
        prospective_a=source.soft.prospective_a(1.0 - stray),
        highest_a=source.stiff.prospective_a(1.0 + stray),
        fault_a=apart.ratio * shorted_a(last.circuit),
    )
    second = None
    if apart.kind == "transformer":
        second = choose_fuse(_behind(continuous, inrush, last.circuit, corners[0].circuit))
        fuse = replace(fuse, fault_a=fuse.prospective_a)
    if supply.fuse_a is None:
        fuse = choose_fuse(fuse)
    modules = design.circuits.build == "modules"
    ends_v = float(last.state.dc_min_v) if last.state.settled else 0.0
    return Budget(
        design=design,
        board=board,
        winding=source,
        isolation=apart,
        regulator=supplied,
        corners=corners,
        phases=phases,
        sag=_sag(design, source, apart, last),
        inrush=inrush,
        hold_up_s=hold_up_s(last.circuit, ends_v, supplied.input_min_v),
        fuse=fuse,
        fuse_proposed=supply.fuse_a is None,
        second_fuse=second,
        crowbar=None if modules or apart.kind == "module" else crowbar(supplied.output_v, last.circuit),
        rail_clamp=None
        if not modules or apart.kind == "module"
        else clamp(supplied.output_v, last.circuit, corners[0].circuit),
    )


def _behind(continuous_a: float, inrush: Inrush, low: RectifierCircuit, high: RectifierCircuit) -> FuseChoice:
    """What the fuse on the secondary of a second transformer is held against."""
    least_a, most_a = shorted_a(low), float(high.emf_peak_v / high.feed_ohm) / 2.0**0.5
    return FuseChoice(0.0, continuous_a, inrush.a2s, least_a, most_a, least_a)


def _inrush(idle: RectifierCircuit, supply: Supply) -> Inrush:
    full = supply.reservoir_f * (1.0 + supply.reservoir_tolerance_percent / 100.0)
    circuit = replace(idle, capacitance_f=full)
    squares = [float(switch_on(circuit, INRUSH_S, angle).let_through_a2s(INRUSH_S)) for angle in SWITCH_ON_RAD]
    return Inrush(float(surge_a(circuit)), max(squares))


def pull_in_stages(
    network: RectifierCircuit, change: PullIn, apart: Isolation
) -> tuple[RectifierCircuit, Stage, Stage]:
    """Return the circuit before a pull-in, the pull-in at its longest, and what follows."""
    square, cycle_s = apart.ratio**2, 1.0 / float(np.max(network.frequency_hz))

    def stage(lasts_s: float, load: AcLoad) -> Stage:
        return Stage(lasts_s, load.in_phase_s / square, load.lag_s / square)

    before = under(network, change.load_before, apart)
    return before, stage(change.lasts_us / 1e6, change.load_during), stage(4.0 * cycle_s, change.load_after)


def pull_in_trace(network: RectifierCircuit, change: PullIn, apart: Isolation) -> Trace:
    """Return the course of a pull-in: a cycle before it (stage 0), its longest duration (1), what follows (2)."""
    return sag(*pull_in_stages(network, change, apart))


def _sag(design: Design, source: Winding, apart: Isolation, last: Corner) -> Sag | None:
    changes = pull_ins(design, "high")
    if not changes or not last.state.settled:
        return None
    change = changes[0]
    best = next(one for one in pull_ins(design, "low") if (one.before, one.after) == (change.before, change.after))
    trace = pull_in_trace(last.circuit, change, apart)
    during = solved(under(last.circuit, change.load_during, apart), apart)
    kindest = solved(under(last.circuit, best.load_during, apart), apart)
    sense = design.supply.sense
    return Sag(
        change=change,
        settled_v=float(trace.lowest_v(0)),
        lowest_v=min(float(trace.lowest_v(1)), float(trace.lowest_v(2))),
        below_sense_s=0.0 if sense is None else float(trace.time_below_s(sense.low_v)),
        winding_v=float(during.winding_rms_v),
        winding_alone_v=loaded_v(source.open_v * last.line, source.most_ohm, change.load_during),
        winding_best_v=float(kindest.winding_rms_v),
    )


@dataclass(frozen=True)
class CommonPotential:
    """COMMON against chassis with one side of the 24 VAC tied to it, and what flows if COMMON is tied as well."""

    lowest_v: float
    highest_v: float
    tied_peak_a: float
    tied_rms_a: float

    @property
    def swing(self) -> str:
        """The range in words."""
        return f"{self.lowest_v:.0f} V to {self.highest_v:+.1f} V"

    @property
    def short(self) -> str:
        """The current of the short in words."""
        return f"{self.tied_peak_a:.0f} A peak, {self.tied_rms_a:.0f} A RMS"


def common_potential(found: Budget) -> CommonPotential:
    """Return the worst of it at high line, with whichever side of the winding is the tied one."""
    idle = found.corner("high-bare").circuit
    emf_v, source_ohm = float(idle.emf_peak_v), float(idle.source_ohm)
    if not idle.bridge:
        # The tied side is the other one: COMMON has all of the winding's voltage, and tied it is a dead short.
        return CommonPotential(-emf_v, emf_v, emf_v / source_ohm, emf_v / source_ohm / 2.0**0.5)
    # The charging pulses are highest with all of the add-on on; the coils' current does not pass the diodes.
    charging = steady_state(replace(found.corner("high-on").circuit, ac_load_s=0.0, ac_lag_s=0.0))
    drop_v = diode_v(idle.diode, float(charging.winding_peak_a) if charging.settled else SHORTED_A)
    return CommonPotential(-(found.highest_v + drop_v), drop_v, *tied_a(idle))
