"""What the templates of the sketch are told: a design on its board, in the terms of C."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from codegen.link_names import link_names
from codegen.owner_settings import PORTS
from codegen.sequence_c import SequenceCore, sequence_core, time_varies
from timing.circuit.drives import Drive
from timing.circuit.senses import supply_thresholds
from timing.design.board import ROLES, SUPPLY_SENSE, Board, Kind, Pin, Role
from timing.design.design import Design
from timing.design.features import Features
from timing.design.units import format_duration, format_quantity
from timing.errors import WirecueError
from timing.project import Project
from timing.protocol import commands, status, target
from timing.sequence.core import filters
from timing.sequence.core.columns import BY_NAME, TIME_NAMES
from timing.sequence.core.dial_scale import TIME_FRACTION_BITS, DialScale
from timing.sequence.core.settings import SHORTEST_OPEN_US, Settings
from timing.sequence.core.table import Fault, Output, Phase

_MADE_FROM = "Made from the design file: change that and build again, so that board, bench and papers keep agreeing."


class UnplacedRoleError(WirecueError):
    """A role of the design has no pin that its board could give. `check` says so first, and with a remedy."""

    exit_code = 1

    def __init__(self, role: Role, board: Board, pin_name: str | None) -> None:
        super().__init__(role.key, board.type, pin_name)
        self.role, self.board, self.pin_name = role, board, pin_name

    def __str__(self) -> str:
        where = "no pin" if self.pin_name is None else f"pin {self.pin_name!r}, which is not on {self.board.title}"
        return f"the {self.role.meaning} has {where}: set board.pins.{self.role.key} to one of its pins"


@dataclass(frozen=True)
class PinUse:
    """One role on one pin."""

    role: Role
    pin: Pin
    on_high: bool
    """Outputs: which level switches on."""

    @property
    def place(self) -> str:
        """Where it is on the chip, as what PIN_OF takes: 'D, 5' for PD5, '26' for GPIO26."""
        return ", ".join(self._parts())

    @property
    def port(self) -> str:
        """The letter of its port, where the chip's ports have letters: 'D' for PD5; else empty."""
        return "".join(self._parts()[:-1])

    @property
    def bit(self) -> int:
        """Its bit of that port, or its number where there are no letters: 5 for PD5, 26 for GPIO26."""
        return int(self._parts()[-1])

    def _parts(self) -> list[str]:
        return re.findall(r"(?<=^P)[A-Z]|\d+", self.pin.port)


@dataclass(frozen=True)
class TimeUse:
    """One of the times."""

    name: str
    setting_us: int
    text: str
    scale: DialScale | None
    switched: bool
    varies: bool
    """True where it is an input of the sequence rather than a constant."""

    @property
    def macro(self) -> str:
        """Beginning of its names in C."""
        return self.name.upper()


@dataclass(frozen=True)
class ContactUse:
    """One contact that the sequence or the panel has."""

    name: str
    bit: int
    filter_us: int | None
    bridge_us: int

    @property
    def macro(self) -> str:
        """Its bit's name in C."""
        return f"CONTACT_{self.name.upper()}"


@dataclass(frozen=True)
class ReadingUse:
    """One analog channel."""

    name: str
    number: int
    """Its number on the link."""
    mux: int
    """Its channel of the converter."""

    @property
    def macro(self) -> str:
        """Its name in C."""
        return f"READING_{self.name.upper()}"


@dataclass(frozen=True)
class SupplyUse:
    """Thresholds of the supply sense, in counts of the converter."""

    low_counts: int
    good_counts: int
    low_text: str
    good_text: str
    filter_us: int


@dataclass(frozen=True)
class SketchFacts:
    """A design on its board, ready for the templates. Times in microseconds."""

    design: Design
    board: Board
    drives: tuple[Drive, ...]
    version: str
    digest: str
    core: SequenceCore
    settings: Settings
    pins: tuple[PinUse, ...]
    times: tuple[TimeUse, ...]
    contacts: tuple[ContactUse, ...]
    readings: tuple[ReadingUse, ...]
    supply: SupplyUse | None

    @property
    def dials(self) -> tuple[TimeUse, ...]:
        """Return the times that are on a dial."""
        return tuple(time for time in self.times if time.scale is not None)

    @property
    def outputs(self) -> tuple[PinUse, ...]:
        """Return the pins that drive a load."""
        return tuple(use for use in self.pins if use.role.kind is Kind.OUTPUT and use.role.key != "lamp")

    @property
    def pulls(self) -> dict[str, str]:
        """Return the external resistor that holds each output off, by role, as a text: '3.3 kohm'."""
        return {one.role: format_quantity(one.pull_ohm, "ohm") for one in self.drives if one.pull_ohm is not None}

    @property
    def lamp(self) -> PinUse:
        """Return the pin of the lamp."""
        return next(use for use in self.pins if use.role.key == "lamp")

    @property
    def inputs(self) -> tuple[PinUse, ...]:
        """Return the pins that read a contact, the bench link among them."""
        return tuple(use for use in self.pins if use.role.kind is Kind.INPUT)

    @property
    def filtered(self) -> tuple[ContactUse, ...]:
        """Return the contacts that have a filter."""
        return tuple(contact for contact in self.contacts if contact.filter_us is not None)

    @property
    def time_switches(self) -> tuple[TimeUse, ...]:
        """Return the times that an off switch makes zero; spot and stitch have a say of their own in the sequence."""
        return tuple(time for time in self.times if time.varies and time.switched and BY_NAME[time.name].off_is_zero)

    @property
    def panel(self) -> tuple[ContactUse, ...]:
        """Return the contacts without a filter of their own: switches of the panel, and the interlock."""
        return tuple(contact for contact in self.contacts if contact.filter_us is None)

    def has(self, contact: str) -> bool:
        """Tell whether the design has that contact."""
        return any(use.name == contact for use in self.contacts)

    @property
    def commands(self) -> tuple[commands.Command, ...]:
        """Return the serial commands that this design can carry out."""
        lacking = set()
        if not self.readings:
            lacking |= {"analog", "force_analog"}
        if not self.dials:
            lacking.add("time")
        return tuple(command for command in commands.COMMANDS if command.name not in lacking)

    def names(self) -> dict[str, object]:
        """Return the names that the templates may use."""
        made_for = f"{self.design.name}, design {self.digest}"
        return link_names(self.commands, status.STATUS_CONDITIONS, made_for, _MADE_FROM, self.version) | {
            "facts": self,
            "design": self.design,
            "board": self.board,
            "core": self.core,
            "settings": self.settings,
            "fraction_bits": TIME_FRACTION_BITS,
            "shortest_open_us": SHORTEST_OPEN_US,
            "ports": PORTS if any(not use.place.isdigit() for use in self.pins) else "",
            "level_bit": target.LEVEL_BIT,
            "seen_bit": target.SEEN,
            "raw_all": target.RAW_ALL,
            "Output": Output,
            "Phase": Phase,
            "Fault": Fault,
            "filters": filters,
            "duration": format_duration,
            "keeps_fault": True,
        }


def sketch_facts(project: Project, version: str) -> SketchFacts:
    """Return a project in the terms of C. Raises UnplacedRoleError."""
    design, board = project.design, project.board
    return SketchFacts(
        design=design,
        board=board,
        drives=project.drives,
        version=version,
        digest=design.digest(),
        core=sequence_core(design),
        settings=project.settings,
        pins=tuple(_pins(project)),
        times=tuple(_times(project)),
        contacts=tuple(_contacts(project.features)),
        readings=tuple(_readings(project)),
        supply=_supply(design, board),
    )


def _pins(project: Project) -> Iterator[PinUse]:
    board = project.board
    for key, name in project.pins.items():
        pin = None if name is None else board.pin(name)
        if pin is None:
            raise UnplacedRoleError(ROLES[key], board, name)
        yield PinUse(ROLES[key], pin, getattr(project.design.board.on_level, key, "high") == "high")


def _times(project: Project) -> Iterator[TimeUse]:
    dials = project.dials
    for name, setting in project.features.times.items():
        if setting.dial:
            text = f"dial, {format_duration(setting.low_us)} to {format_duration(setting.high_us)}"
        else:
            text = format_duration(setting.setting_us)
        yield TimeUse(
            name=name,
            setting_us=setting.setting_us,
            text=text,
            scale=dials[name].scale if name in dials else None,
            switched=setting.off_switch,
            varies=time_varies(BY_NAME[name], setting),
        )


def _contacts(features: Features) -> Iterator[ContactUse]:
    fitted = features.fitted
    for name, bit in target.RAW_BIT.items():
        filter_us = features.filters_us.get(name)
        if filter_us is not None or fitted.get(name, False):
            yield ContactUse(name, bit, filter_us, 0 if filter_us is None else features.bridge_us(name))


def _readings(project: Project) -> Iterator[ReadingUse]:
    names, board = project.pins, project.board
    for number, channel in enumerate(target.ANALOG_CHANNELS):
        role = f"{channel}_dial" if channel in TIME_NAMES else SUPPLY_SENSE.key
        name = names.get(role)
        pin = None if name is None else board.pin(name)
        if pin is not None and pin.analog_channel is not None:
            yield ReadingUse(channel, number, pin.analog_channel)
        elif role in names:
            raise UnplacedRoleError(ROLES[role], board, name)


def _supply(design: Design, board: Board) -> SupplyUse | None:
    sense = design.supply.sense
    if sense is None:
        return None
    thresholds = supply_thresholds(sense, board)
    return SupplyUse(
        low_counts=thresholds.low_counts,
        good_counts=thresholds.good_counts,
        low_text=f"{sense.low_v:g} V",
        good_text=f"{sense.good_v:g} V",
        filter_us=sense.filter_us,
    )
