"""A machine of software with both boards, to try measuring without any: nobody's figures, found again by measuring.

Panel and rule are worked for the person: switches and dials stand where a step says, and the wire is read off to a
millimetre.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random
from typing import TYPE_CHECKING, Protocol

from bench.feeder_model.machines import hung_adapters, random_machine
from bench.link import Link
from bench.virtual.pair import TrueTime, VirtualPair
from timing.commission.step import PanelSetup
from timing.project import Project
from timing.protocol.target_of_design import target_of
from timing.sequence.core.script import Change, Dial, Switch
from wirecue import __version__

if TYPE_CHECKING:
    from bench.avr.pair import Pair
    from bench.feeder_model.model import FeederModel
    from timing.measure.quantities import Quantity

SIMULATED_PORT = "a simulated machine"
"""What errors name in place of a port."""
LINE_TAKES_US = 5_003
"""True time that a line takes: quick to play through, and far finer than a press has to be (choice)."""
BOARDS_BOOT_US = 2_000_000
"""Both boards are at rest by then (choice)."""
PANEL_SEEN_US = 200_000
"""From a moved switch to the next press: longer than any filter (choice)."""
CLOCKS_OFF_PPM = 5_000.0
"""Clocks of the two boards are off by up to this (practice: ceramic resonators)."""
RULE_SPREAD_MM = 0.3
"""Standard deviation of where a piece of wire is cut (practice)."""


class SimulatedMachine(Protocol):
    """What a command needs of it."""

    link: Link
    """To the recorder."""

    def make_ready(self, quantity: Quantity) -> None:
        """Hang up the adapters, and move switches and dials where the quantity wants them."""

    def cut_wire(self) -> None:
        """Cut the wire off before a run."""

    def piece_mm(self) -> float:
        """Return the wire that came since, as read from a rule."""


@dataclass
class ModelledMachine:
    """Both boards all model."""

    project: Project
    pair: VirtualPair
    random: Random
    link: Link = field(init=False)
    _cut_mm: float = 0.0

    def __post_init__(self) -> None:
        _, recorder = self.pair.ports()
        self.link = Link(recorder, SIMULATED_PORT, host_s=self._host_s, follows_host=False)
        self.link.identify()
        self.pair.advance_to(BOARDS_BOOT_US)

    def _host_s(self) -> float:
        return self.pair.true.now_us / 1e6

    def make_ready(self, quantity: Quantity) -> None:
        """Hang up the adapters, and move switches and dials where the quantity wants them."""
        self.pair.hang(**hung_adapters(self.project, "flag" if quantity.key == "gas_valve" else "arc"))
        self.pair.clamp(quantity.key == "arc")
        self._set(quantity.setup)

    def _set(self, setup: PanelSetup) -> None:
        machine = self.pair.board.machine
        for change in setup.changes:
            if isinstance(change.what, Dial):
                scale = self.pair.target.scales[change.what.name]
                machine.pin_counts[machine.channel(change.what.name)] = scale.counts_for(change.value)
            else:
                role = f"{change.what.name}_switch" if isinstance(change.what, Switch) else change.what
                machine.move_pin_at(machine.now_us + 1, role, bool(change.value))
        self.pair.advance_to(self.pair.true.now_us + PANEL_SEEN_US)

    def cut_wire(self) -> None:
        """Cut the wire off before a run."""
        self._cut_mm = self._run_mm()

    def piece_mm(self) -> float:
        """Return the wire that came since, as read from a rule."""
        return float(round(self._run_mm() - self._cut_mm + self.random.gauss(0.0, RULE_SPREAD_MM)))

    def _run_mm(self) -> float:
        return self.pair.model.truth.run_mm(self.pair.true.now_us)


@dataclass
class FirmwareMachine:
    """Both boards' firmware in the simulator. Time passes only while somebody waits for an answer."""

    project: Project
    pair: Pair
    model: FeederModel
    random: Random
    link: Link = field(init=False)
    _cut_mm: float = 0.0

    def __post_init__(self) -> None:
        transport = self.pair.transport("recorder")
        self.link = Link(transport, SIMULATED_PORT, host_s=self.pair.time_s, follows_host=False)
        self.link.identify()

    def make_ready(self, quantity: Quantity) -> None:
        """Hang up the adapters, and move switches and dials where the quantity wants them."""
        at_us = max(self.pair.at_us, self.model.now_us)
        self.model.hang(at_us, hung_adapters(self.project, "flag" if quantity.key == "gas_valve" else "arc"))
        self.model.clamp(at_us, quantity.key == "arc")
        for change in quantity.setup.changes:
            self.pair.cue("board", self._cue(change))
        self.pair.run_until(self.pair.at_us + PANEL_SEEN_US)

    def _cue(self, change: Change) -> str:
        """Return what a hand does to the add-on's pins."""
        from bench.avr.simulator import Wiring

        wiring = Wiring(self.project.design, self.project.board)
        if isinstance(change.what, Dial):
            scale = target_of(self.project).scales[change.what.name]
            return wiring.counts(change.what.name, scale.counts_for(change.value), 0).what
        role = f"{change.what.name}_switch" if isinstance(change.what, Switch) else change.what
        return wiring.contact(role, bool(change.value), 0).what

    def cut_wire(self) -> None:
        """Cut the wire off before a run."""
        self._cut_mm = self._run_mm()

    def piece_mm(self) -> float:
        """Return the wire that came since, as read from a rule."""
        return float(round(self._run_mm() - self._cut_mm + self.random.gauss(0.0, RULE_SPREAD_MM)))

    def _run_mm(self) -> float:
        return self.model.truth.run_mm(self.pair.at_us)


@contextlib.contextmanager
def firmware_machine(project: Project, seed: int, say: Callable[[str], None]) -> Iterator[FirmwareMachine]:
    """Compile both sketches, and start them in the simulator with a machine whose figures hang on `seed`.

    Raises as wirecue.firmware.simulated_pair.
    """
    from bench.feeder_model.model import FeederModel
    from wirecue.firmware import simulated_pair

    random, target = Random(seed), target_of(project)
    ppm = [round(random.uniform(-CLOCKS_OFF_PPM, CLOCKS_OFF_PPM)) for _ in range(2)]
    model = FeederModel(random_machine(project, seed), target.fitted, seed)
    with simulated_pair(project, target, model, say, bench_link=False, board_ppm=ppm[0], recorder_ppm=ppm[1]) as pair:
        yield FirmwareMachine(project, pair, model, random)


@contextlib.contextmanager
def modelled_machine(project: Project, seed: int) -> Iterator[SimulatedMachine]:
    """Start a machine whose figures hang on `seed`, and both its boards."""
    random = Random(seed)
    pair = VirtualPair(
        target_of(project),
        random_machine(project, seed),
        seed=seed,
        board_ppm=random.uniform(-CLOCKS_OFF_PPM, CLOCKS_OFF_PPM),
        recorder_ppm=random.uniform(-CLOCKS_OFF_PPM, CLOCKS_OFF_PPM),
        bench_link=False,
        version=__version__,
        true=TrueTime(LINE_TAKES_US),
    )
    yield ModelledMachine(project, pair, random)
