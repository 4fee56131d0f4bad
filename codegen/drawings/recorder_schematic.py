"""The recorder's schematic: an adapter a row, machine on the left of the barrier and laptop on the right; then presses
and board. Each row has beside it what its input sees, and how late."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from codegen.drawings.sheet import LETTER, SMALL, Point, Sheet, wrapped
from codegen.drawings.symbols import coupler, npn, part_box, two
from codegen.style import COMMANDED, HOT
from timing.circuit.parts import Terminal
from timing.recorder.adapters import Adapter
from timing.recorder.adapters import AdapterKind as Kind
from timing.recorder.builder import COMMON, LOGIC, CircuitRefs
from timing.recorder.circuit_words import adapter_words, press_words
from timing.recorder.fitting import RecorderCircuits
from timing.recorder.netlist import RecorderWiring

TOP_Y, BOTTOM_Y = 27.0, 160.0
"""Between these stand the rows."""
ABOVE, APART, ROW_BELOW, REFLEX_BELOW = 14.0, 12.0, 7.5, 16.0
"""From a row's top to its upper wire, from that to the lower, and what stands below that."""
LEADS_LEFT, LEADS_RIGHT, FUSE_LEFT, BLOCK_X = 12.0, 26.0, 30.0, 50.0
SERIES_LEFT, SERIES_LONG = 57.0, 17.0
LED_X, OUT_X = 138.0, 172.0
"""Where the couplers' pins come out on either side."""
PULL_X, PIN_X, TEXT_X = 182.0, 190.0, 222.0
TEXT_WIDTH = 66.0
BARRIER_DASH = "3 1.5"


@dataclass(frozen=True)
class RecorderDrawing:
    """What the recorder's drawings are made from."""

    circuits: RecorderCircuits
    wiring: RecorderWiring
    title: str
    """Of the design."""
    foot: str

    def sheet(self, title: str) -> Sheet:
        """Return an empty sheet."""
        return Sheet(self.wiring.netlist, title, self.title, self.foot)


def recorder_schematic(drawing: RecorderDrawing) -> tuple[str, ...]:
    """Return the sheets of the recorder's schematic as SVG documents."""
    pages = _pages(drawing)
    count = len(pages) + 1
    sheets = []
    for number, page in enumerate(pages, start=1):
        names = ", ".join(str(adapter.input.number) for adapter, _ in page)
        sheets.append(_inputs(drawing, f"Recorder, schematic {number} of {count}: inputs {names}", page))
    return (*sheets, _presses(drawing, f"Recorder, schematic {count} of {count}: presses and board"))


DrawnRow = tuple[Adapter, float]
"""An adapter and where its upper wire lies."""


def _pages(drawing: RecorderDrawing) -> list[list[DrawnRow]]:
    pages: list[list[DrawnRow]] = [[]]
    y = TOP_Y
    for adapter in drawing.circuits.adapters.values():
        height = ABOVE + APART + (REFLEX_BELOW if adapter.kind is Kind.REFLEX else ROW_BELOW)
        if y + height > BOTTOM_Y:
            pages.append([])
            y = TOP_Y
        pages[-1].append((adapter, y + ABOVE))
        y += height
    return pages


def _inputs(drawing: RecorderDrawing, title: str, page: list[DrawnRow]) -> str:
    sheet = drawing.sheet(title)
    middle = (LED_X + OUT_X) / 2
    barrier(sheet, middle, ("machine's side", "laptop's side"))
    for adapter, y in page:
        refs = drawing.wiring.circuits[adapter.input.key]
        (_channel_row if adapter.by_module else _ROWS[adapter.kind])(sheet, adapter, refs, y)
        _barrier_piece(sheet, middle, y - ABOVE, y - 6.0)
        below = y + APART + (REFLEX_BELOW if adapter.kind is Kind.REFLEX else ROW_BELOW)
        _barrier_piece(sheet, middle, y - ABOVE if adapter.by_module else y + APART + 4.0, below)
        words = adapter_words(adapter)
        beside(sheet, (TEXT_X, y - 6.0), words.title, words.lines)
        block = refs.terminals
        sheet.caution(block, (TEXT_X + 63.0, y - 7.0))
    return sheet.finish()


def barrier(sheet: Sheet, x: float, sides: tuple[str, str]) -> None:
    """Name the two sides of the barrier at its top."""
    for side, anchor, shift in zip(sides, ("end", "start"), (-3.0, 3.0), strict=True):
        sheet.text((x + shift, TOP_Y - 3.0), side, LETTER, anchor, bold=True, colour=HOT)
    _barrier_piece(sheet, x, TOP_Y - 6.0, TOP_Y)


def _barrier_piece(sheet: Sheet, x: float, top: float, bottom: float) -> None:
    sheet.line((x, top), (x, bottom), dash=BARRIER_DASH, width=0.8, colour=HOT)


def beside(sheet: Sheet, at: Point, title: str, lines: tuple[str, ...]) -> None:
    """Write what a row is for, and its figures."""
    sheet.text(at, title, LETTER, bold=True, colour=COMMANDED)
    shown = [piece for line in lines for piece in wrapped(line, TEXT_WIDTH)]
    sheet.lines((at[0], at[1] + 4.0), shown, SMALL)


# ---- pieces of a row


def _nets(sheet: Sheet, ref: str) -> dict[str, str]:
    """The nets of a part by its terminals."""
    return {name: sheet.net(ref, name) for name in sheet.wiring.part(ref).terminals}


def _leads(sheet: Sheet, refs: CircuitRefs, y: float) -> None:
    """Test leads, fuses, terminal block: up to the block's two poles."""
    low = y + APART
    part_box(
        sheet,
        refs.leads,
        (LEADS_LEFT, y - 3.5, LEADS_RIGHT, low + 3.5),
        {"A": (LEADS_RIGHT, y), "B": (LEADS_RIGHT, low)},
    )
    block = sheet.wiring.part(refs.terminals)
    fused = {sheet.net(ref, "1"): ref for ref in refs.fuses}
    for pole, name, at in zip("AB", block.terminals, (y, low), strict=True):
        lead, behind = sheet.net(refs.leads, pole), sheet.net(block.ref, name)
        fuse = fused.get(lead)
        if fuse is None:
            sheet.wire(lead, (LEADS_RIGHT, at), (BLOCK_X, at))
        else:
            sheet.wire(lead, (LEADS_RIGHT, at), (FUSE_LEFT, at))
            two(sheet, fuse, lead, (FUSE_LEFT, at), (BLOCK_X - 4.0, at))
            sheet.wire(behind, (BLOCK_X - 4.0, at), (BLOCK_X, at))
    _block(sheet, block.ref, dict(zip(block.terminals, ((BLOCK_X, y), (BLOCK_X, low)), strict=True)))
    sheet.text((BLOCK_X, y - 5.4), block.ref, SMALL, "middle")


def _block(sheet: Sheet, ref: str, places: dict[str, Point], *, label_below: bool = False) -> None:
    """Mark the poles of a terminal block on their wires."""
    for name, at in places.items():
        sheet.terminal(ref, name, at, 0.9)
        sheet.text((at[0], at[1] + (3.4 if label_below else -1.8)), name, SMALL, "middle")


def _series(sheet: Sheet, refs: CircuitRefs, first: str, left: float, y: float) -> float:
    """The series resistors along the upper wire, from x `left`; returns where they end."""
    x = left
    net = first
    for ref in refs.series:
        two(sheet, ref, net, (x, y), (x + SERIES_LONG, y))
        nets = _nets(sheet, ref)
        net = next(other for other in nets.values() if other != net)
        x += SERIES_LONG
    return x


def _coupler(sheet: Sheet, adapter: Adapter, refs: CircuitRefs, y: float) -> None:
    """The coupler, and behind it pull-up, pin and common."""
    coupler(sheet, refs.coupler, LED_X + 2, OUT_X - 2, y, y + APART, ("C", "E"))
    pin = sheet.net(refs.coupler, "C")
    two(sheet, refs.pull, LOGIC, (PULL_X, y - 10.5), (PULL_X, y))
    sheet.flag(LOGIC, (PULL_X, y - 10.5), "up", LOGIC)
    sheet.wire(pin, (OUT_X, y), (PULL_X, y), (PIN_X, y))
    sheet.flag(pin, (PIN_X, y), "right", f"input {adapter.input.number}")
    sheet.wire(COMMON, (OUT_X, y + APART), (OUT_X + 4, y + APART), (OUT_X + 4, y + APART + 1.5))
    sheet.common((OUT_X + 4, y + APART + 1.5))


# ---- rows


def _ac_row(sheet: Sheet, adapter: Adapter, refs: CircuitRefs, y: float) -> None:
    low = y + APART
    _leads(sheet, refs, y)
    nets = _nets(sheet, refs.coupler)
    first = sheet.net(refs.series[0], "1")
    sheet.wire(first, (BLOCK_X, y), (SERIES_LEFT, y))
    end = _series(sheet, refs, first, SERIES_LEFT, y)
    sheet.wire(nets["A"], (end, y), (LED_X, y))
    sheet.wire(nets["K"], (BLOCK_X, low), (LED_X, low))
    if refs.diode:
        two(sheet, refs.diode, nets["K"], (LED_X - 12, low), (LED_X - 12, y), "left")
    _coupler(sheet, adapter, refs, y)


def _supply_row(sheet: Sheet, adapter: Adapter, refs: CircuitRefs, y: float) -> None:
    low = y + APART
    _leads(sheet, refs, y)
    first = sheet.net(refs.series[0], "1")
    sheet.wire(first, (BLOCK_X, y), (SERIES_LEFT, y))
    end = _series(sheet, refs, first, SERIES_LEFT, y)
    right = _bridge(sheet, refs, (end, y), (BLOCK_X, low))
    nets, led = _nets(sheet, refs.bridge), _nets(sheet, refs.coupler)
    sheet.wire(nets["+"], (right, y), (right + 4, y))
    two(sheet, refs.zener, nets["+"], (right + 4, y), (right + 16, y))
    sheet.wire(led["A"], (right + 16, y), (LED_X, y))
    sheet.wire(nets["-"], (right, low), (LED_X, low))
    _coupler(sheet, adapter, refs, y)


def _bridge(sheet: Sheet, refs: CircuitRefs, upper: Point, lower: Point) -> float:
    """The bridge behind two wires; returns the x of its dc terminals."""
    left, y, low = upper[0] + 6.0, upper[1], lower[1]
    right = left + 16.0
    nets = _nets(sheet, refs.bridge)
    sheet.wire(nets["~1"], upper, (left - 2, y))
    sheet.wire(nets["~2"], lower, (left - 2, low))
    places = {"~1": (left - 2, y), "~2": (left - 2, low), "+": (right + 2, y), "-": (right + 2, low)}
    part_box(sheet, refs.bridge, (left, y - 3.5, right, low + 3.5), places)
    return right + 2


def _channel_row(sheet: Sheet, adapter: Adapter, refs: CircuitRefs, y: float) -> None:
    """Up to the terminals of the input module, which stands on the last sheet."""
    low, module_x = y + APART, 112.0
    _leads(sheet, refs, y)
    live, other = (sheet.net(refs.terminals, name) for name in sheet.wiring.part(refs.terminals).terminals)
    if refs.bridge:
        right = _bridge(sheet, refs, (BLOCK_X, y), (BLOCK_X, low))
        nets = _nets(sheet, refs.bridge)
        ends = ((nets["+"], right, y), (nets["-"], right, low))
    else:
        sheet.wire(live, (BLOCK_X, y), (SERIES_LEFT, y))
        two(sheet, refs.diode, live, (SERIES_LEFT, y), (SERIES_LEFT + 14, y))
        ends = ((sheet.net(refs.diode, "K"), SERIES_LEFT + 14, y), (other, BLOCK_X, low))
    for (net, x, at), pole in zip(ends, "+-", strict=True):
        sheet.wire(net, (x, at), (module_x, at))
        sheet.flag(net, (module_x, at), "right", f"module IN{refs.channel}{pole}")
    pin = f"PIN-input_{adapter.input.number}"
    sheet.flag(pin, (PIN_X, y), "right", f"input {adapter.input.number}")
    sheet.flag(pin, (PIN_X, y), "left", f"module OUT{refs.channel}")


def _loop_row(sheet: Sheet, adapter: Adapter, refs: CircuitRefs, y: float) -> None:
    """Battery, resistor, LED, and in the lower wire the contact or the reed."""
    low, left = y + APART, 20.0
    plus, minus = sheet.net(refs.battery, "+"), sheet.net(refs.battery, "-")
    nets = _nets(sheet, refs.coupler)
    two(sheet, refs.battery, plus, (left, y), (left, low))
    sheet.wire(plus, (left, y), (SERIES_LEFT, y))
    end = _series(sheet, refs, plus, SERIES_LEFT, y)
    sheet.wire(nets["A"], (end, y), (LED_X, y))
    first, second = sheet.wiring.part(refs.terminals).terminals
    ends = (112.0, 66.0)
    sheet.wire(nets["K"], (LED_X, low), (ends[0], low))
    sheet.wire(minus, (ends[1], low), (left, low))
    _block(sheet, refs.terminals, {first: (ends[0], low), second: (ends[1], low)}, label_below=True)
    sheet.text((ends[0] + 6.0, low + 3.4), refs.terminals, SMALL, "start")
    out = (ends[0] - 8.0, ends[1] + 8.0)
    sheet.wire(nets["K"], (ends[0], low), (out[0], low))
    sheet.wire(minus, (out[1], low), (ends[1], low))
    if refs.switch:
        two(sheet, refs.switch, nets["K"], (out[0], low), (out[1], low))
    else:
        places = {"A": (out[0], low), "B": (out[1], low)}
        part_box(sheet, refs.leads, (out[1] + 2, low - 3, out[0] - 2, low + 3), places)
    _coupler(sheet, adapter, refs, y)


def _reflex_row(sheet: Sheet, adapter: Adapter, refs: CircuitRefs, y: float) -> None:
    """Battery, sensor, transistor: plus above, minus below."""
    plus, minus = sheet.net(refs.battery, "+"), sheet.net(refs.battery, "-")
    sensor, nets = _nets(sheet, refs.switch), _nets(sheet, refs.coupler)
    rail, left, mid, low = y + 26.0, 18.0, y + 11.0, y + 17.0
    two(sheet, refs.battery, plus, (left, y), (left, rail))
    end = 96.0
    sheet.wire(plus, (left, y), (end, y))
    led_end = _series(sheet, refs, plus, end, y)
    sheet.wire(nets["A"], (led_end, y), (LED_X, y))
    two(sheet, refs.sensor_ohm, plus, (32, y), (32, y + 13), "left")
    sheet.wire(sensor["A"], (32, y + 13), (32, low), (48, low))
    sheet.wire(plus, (40, y), (40, mid), (48, mid))
    places = {"C": (48.0, mid), "A": (48.0, low), "E": (70.0, mid), "K": (70.0, low)}
    part_box(sheet, refs.switch, (50, mid - 3.5, 68, low + 3.5), places)
    base_x, at = 78.0, (92.0, mid)
    sheet.wire(sensor["E"], (70, mid), (base_x, mid), at)
    two(sheet, refs.base_ohm, sensor["E"], (base_x, mid), (base_x, rail))
    sheet.wire(minus, (70, low), (73, low), (73, rail))
    ends = npn(sheet, refs.transistor, at)
    sheet.wire(nets["K"], ends["C"], (ends["C"][0], y + 4.5), (116, y + 4.5), (116, y + APART), (LED_X, y + APART))
    sheet.wire(minus, ends["E"], (ends["E"][0], rail))
    sheet.wire(minus, (left, rail), (ends["E"][0], rail))
    number = adapter.input.number
    for name, place, anchor, shift in (
        (f"{number}+", (40.0, y + 6.0), "start", (1.4, 0.8)), (f"{number}L", (40.0, low), "middle", (0.0, 3.4)),
        (f"{number}E", (74.0, mid), "middle", (0.0, -1.8)), (f"{number}-", (73.0, y + 22.0), "end", (-1.4, 0.8)),
    ):  # fmt: skip
        sheet.terminal(refs.terminals, name, place, 0.9)
        sheet.text((place[0] + shift[0], place[1] + shift[1]), name, SMALL, anchor)
    sheet.text((60.0, rail - 1.5), f"terminals {refs.terminals}", SMALL, "middle")
    _coupler(sheet, adapter, refs, y)


_ROWS: dict[Kind, Callable[[Sheet, Adapter, CircuitRefs, float], None]] = {
    Kind.AC_COIL: _ac_row, Kind.DC_COIL: _ac_row, Kind.MOTOR: _ac_row, Kind.WELDING: _ac_row, Kind.SUPPLY: _supply_row,
    Kind.CONTACT: _loop_row, Kind.CURRENT: _loop_row, Kind.REFLEX: _reflex_row,
}  # fmt: skip


# ---- presses and board

PRESS_LED_X, PRESS_OUT_X, PRESS_BLOCK_X, PRESS_LEADS_X = 150.0, 184.0, 192.0, 199.0
PRESS_ROW = 36.0
BOARD_LEFT, BOARD_RIGHT, BOARD_PITCH = 14.0, 50.0, 6.5


def _presses(drawing: RecorderDrawing, title: str) -> str:
    sheet, wiring = drawing.sheet(title), drawing.wiring
    middle = (PRESS_LED_X + PRESS_OUT_X) / 2
    barrier(sheet, middle, ("laptop's side", "machine's side"))
    _board(sheet, drawing)
    y = TOP_Y + ABOVE
    for key, press in drawing.circuits.presses.items():
        refs = wiring.circuits[f"press_{key}"]
        _press_row(sheet, key, refs, wiring.relay_module, y)
        _barrier_piece(sheet, middle, y - ABOVE, y - 6.0)
        _barrier_piece(sheet, middle, y + APART + 4.0 if refs.coupler else y - ABOVE, y + PRESS_ROW - ABOVE)
        words = press_words(press)
        beside(sheet, (TEXT_X, y - 6.0), words.title, words.lines)
        sheet.caution(refs.terminals, (TEXT_X + 63.0, y - 7.0))
        y += PRESS_ROW
    jumper_y = y - 4.0
    pin = sheet.net(wiring.jumper, "1")
    sheet.flag(pin, (112, jumper_y), "left", "press jumper")
    two(sheet, wiring.jumper, pin, (112, jumper_y), (130, jumper_y))
    sheet.wire(COMMON, (130, jumper_y), (134, jumper_y), (134, jumper_y + 2))
    sheet.common((134, jumper_y + 2))
    _modules(sheet, drawing, jumper_y + 16.0)
    return sheet.finish()


def _board(sheet: Sheet, drawing: RecorderDrawing) -> None:
    """The board with a flag for each of its terminals."""
    ref = drawing.wiring.board
    names = sheet.wiring.part(ref).terminals
    top = TOP_Y + 10.0
    places = {name: (BOARD_RIGHT + 2, top + index * BOARD_PITCH) for index, name in enumerate(names)}
    bottom = top + (len(names) - 1) * BOARD_PITCH + 4.0
    part_box(sheet, ref, (BOARD_LEFT, top - 4.0, BOARD_RIGHT, bottom), places, f"{ref} recorder's board")
    sheet.caution(ref, (BOARD_LEFT + 6.0, top))
    for name, at in places.items():
        net = sheet.net(ref, name)
        sheet.flag(net, at, "right", _told(net))
    sheet.text((BOARD_LEFT + 3, bottom - 3.0), "USB to the laptop", SMALL)


def _told(net: str) -> str:
    """A net as people read it: pins by what they are for, poles of the machine's side by their terminal."""
    if net.startswith("PIN-"):
        return net.removeprefix("PIN-").replace("_", " ")
    if net.startswith("PRESS-"):
        _, key, pole = net.split("-")
        return f"{key[0]}{pole}"
    if net.startswith("IN"):
        number, _, rest = net.removeprefix("IN").partition("-")
        return f"input {number} {rest[-1]}"
    # Capitals are wider than most letters.
    return f" {net} "


def _press_row(sheet: Sheet, key: str, refs: CircuitRefs, module: str, y: float) -> None:
    low, pin = y + APART, f"PIN-press_{key}"
    pull_x = 120.0
    sheet.flag(pin, (112, y), "left", _told(pin))
    two(sheet, refs.pull, pin, (pull_x, y), (pull_x, low), "left")
    sheet.wire(COMMON, (pull_x, low), (pull_x, low + 1.5))
    sheet.common((pull_x, low + 1.5))
    block = sheet.wiring.part(refs.terminals).terminals
    nets = [sheet.net(refs.terminals, name) for name in block]
    if refs.coupler:
        sheet.wire(pin, (112, y), (pull_x, y), (126, y))
        two(sheet, refs.series[0], pin, (126, y), (143, y))
        led = _nets(sheet, refs.coupler)
        sheet.wire(led["A"], (143, y), (PRESS_LED_X, y))
        coupler(sheet, refs.coupler, PRESS_LED_X + 2, PRESS_OUT_X - 2, y, low, ("1", "2"))
        sheet.wire(COMMON, (PRESS_LED_X, low), (144, low), (144, low + 1.5))
        sheet.common((144, low + 1.5))
    else:
        number = next(name[-1] for name in sheet.wiring.part(module).terminals if sheet.net(module, name) == pin)
        sheet.wire(pin, (112, y), (pull_x, y), (126, y))
        sheet.flag(pin, (126, y), "right", f"{module} IN{number}")
        for net, at, name in zip(nets, (y, low), ("COM", "NO"), strict=True):
            sheet.flag(net, (PRESS_OUT_X, at), "left", f"{module} {name}{number}")
    for name, net, at in zip(block, nets, (y, low), strict=True):
        sheet.wire(net, (PRESS_OUT_X, at), (PRESS_LEADS_X, at))
        _block(sheet, refs.terminals, {name: (PRESS_BLOCK_X, at)})
    sheet.text((PRESS_BLOCK_X, y - 5.4), refs.terminals, SMALL, "middle")
    right = PRESS_LEADS_X + 16.0
    part_box(
        sheet, refs.leads, (PRESS_LEADS_X, y - 3.5, right, low + 3.5),
        {"A": (PRESS_LEADS_X, y), "B": (PRESS_LEADS_X, low)},
    )  # fmt: skip


def _modules(sheet: Sheet, drawing: RecorderDrawing, y: float) -> None:
    """Ready-made modules as boxes, each terminal with its flag: inputs of the machine's side apart."""
    x = 112.0
    for ref in filter(None, (drawing.wiring.relay_module, drawing.wiring.input_module)):
        names = sheet.wiring.part(ref).terminals
        laptop = [name for name in names if not _of_machine(ref, name, drawing)]
        machine = [name for name in names if name not in laptop]
        left, right, pitch = x + 24.0, x + 56.0, 5.0
        places = {name: (left - 2, y + index * pitch) for index, name in enumerate(laptop)}
        places |= {name: (right + 2, y + index * pitch) for index, name in enumerate(machine)}
        bottom = y + (max(len(laptop), len(machine)) - 1) * pitch + 3.0
        part_box(sheet, ref, (left, y - 3.0, right, bottom), places, f"{ref} {sheet.wiring.part(ref).kind.value}")
        for name, at in places.items():
            net = sheet.net(ref, name)
            sheet.flag(net, at, "left" if name in laptop else "right", _told(net))
        x += 92.0


def _of_machine(ref: str, name: str, drawing: RecorderDrawing) -> bool:
    net = drawing.wiring.netlist.net_of(Terminal(ref, name)).name
    return net.startswith(("IN", "PRESS-"))
