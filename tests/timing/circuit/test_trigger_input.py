"""The trigger's input against an own model of it, drawn over age, sort, warmth and tolerances of all its parts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.support.ngspice import simulated
from timing.circuit.senses import HIGH_SHARE, LOW_SHARE
from timing.circuit.spice import Coupler, trigger_circuit
from timing.circuit.trigger_input import LED_MAX_A, TriggerSense, leak_a, trigger_sense
from timing.design.board import Board
from timing.design.design import Design
from wirecue.projects import load_board

Changed = Callable[..., Design]
DRAWS = 2_000
CIRCUITS = [("24 VAC", "ac"), ("24 V", "dc"), ("5 V", "dc"), ("12 V", "dc"), ("36 VAC", "ac"), ("60 V", "dc")]


def of(changed: Changed, voltage: str, sense: str, *more: str) -> Design:
    lines = "\n".join((f'circuit_voltage = "{voltage}"', *more))
    return changed(('circuit_voltage = "24 VAC"', lines), ('sense = "ac"', f'sense = "{sense}"'))


@dataclass
class Drawn:
    """Inputs built from parts of every sort."""

    sense: TriggerSense
    logic_v: float
    resistor_ohm: np.ndarray
    bleed_ohm: np.ndarray
    led_5ma_v: np.ndarray
    led_slope_v: np.ndarray
    transfer_ratio: np.ndarray
    fall: np.ndarray
    pull_ohm: np.ndarray

    @classmethod
    def of(cls, sense: TriggerSense, logic_v: float, seed: int = 13) -> Drawn:
        rng = np.random.default_rng(seed)

        def spread(least: float, most: float) -> np.ndarray:
            return rng.uniform(least, most, DRAWS)

        # A new one of the best sort, or any sort as years and warmth left it.
        ratio = np.exp(spread(math.log(0.5), math.log(6.0))) * spread(0.5, 1.0) * spread(0.8, 1.0)
        # An LED of 1.05 V to 1.25 V at 5 mA, its voltage falling by 1.5 mV a kelvin, from 0 to 50 degC.
        led_v = spread(1.05, 1.25) - 0.0015 * (spread(0.0, 50.0) - 25.0)
        share = spread(0.95, 1.05), spread(0.95, 1.05)
        return cls(
            sense, logic_v, sense.resistor_ohm * share[0], sense.bleed_ohm * share[1], led_v, spread(0.040, 0.048),
            ratio, spread(0.2, 0.3), 22e3 * spread(0.95, 1.05),
        )  # fmt: skip

    def led_a(self, volts: float | np.ndarray, source_ohm: float = 0.0) -> np.ndarray:
        """The LED's current, by halving its voltage; volts: at the peak, behind a source resistance."""
        low, high = np.zeros(DRAWS), np.full(DRAWS, 1.8)
        for _ in range(50):
            middle = (low + high) / 2
            through = (volts - middle) / (self.resistor_ohm + source_ohm)
            lit = 0.005 * np.exp((middle - self.led_5ma_v) / self.led_slope_v)
            more = through > middle / self.bleed_ohm + lit
            low, high = np.where(more, middle, low), np.where(more, high, middle)
        return 0.005 * np.exp((low - self.led_5ma_v) / self.led_slope_v)

    def pin_v(self, led_a: np.ndarray, own_pull_up: bool) -> np.ndarray:
        ratio = self.transfer_ratio * np.minimum(led_a / 0.005, 1.0) ** self.fall
        pulled = 1.0 / (1.0 / self.pull_ohm + (1.0 / 20e3 if own_pull_up else 0.0))
        return np.maximum(self.logic_v - ratio * led_a * pulled, 0.0)

    def open(self, led_a: np.ndarray) -> np.ndarray:
        return self.pin_v(led_a, own_pull_up=False) > HIGH_SHARE * self.logic_v

    def closed(self, led_a: np.ndarray) -> np.ndarray:
        return self.pin_v(led_a, own_pull_up=True) < LOW_SHARE * self.logic_v

    def level(self, reads: Callable[[np.ndarray], np.ndarray], peak: float) -> np.ndarray:
        """The voltage (RMS with ac) from which each of the inputs reads so."""
        low, high = np.zeros(DRAWS), np.full(DRAWS, 200.0)
        for _ in range(40):
            middle = (low + high) / 2
            does = reads(self.led_a(middle))
            low, high = np.where(does, low, middle), np.where(does, middle, high)
        return high / peak


@pytest.mark.parametrize("board_type", ["uno", "pico"])
@pytest.mark.parametrize(("voltage", "sense"), CIRCUITS)
def test_no_input_of_two_thousand_reads_a_leak_as_pressed_or_a_press_as_open(
    voltage: str, sense: str, board_type: str, changed: Changed
) -> None:
    board = load_board(board_type)
    found = trigger_sense(of(changed, voltage, sense), board)
    assert found.holds
    peak, drawn = math.sqrt(2.0) if sense == "ac" else 1.0, Drawn.of(found, board.logic_v)
    # Up to the OFF level, and with 1 mA through a leak from the highest voltage there is.
    assert drawn.open(drawn.led_a(found.wanted.off_v * peak)).all()
    highest_v = found.low_v / 0.9 * 1.1 * 1.15 * peak
    assert drawn.open(drawn.led_a(highest_v, source_ohm=highest_v / (0.001 * peak))).all()
    assert drawn.closed(drawn.led_a(found.wanted.on_v * peak)).all()
    assert drawn.closed(drawn.led_a(found.low_v * peak)).all()
    # The levels of the middle nine tenths, between OFF and ON.
    begins = drawn.level(lambda led_a: ~drawn.open(led_a), peak)
    surely = drawn.level(drawn.closed, peak)
    least, most = np.percentile(begins, 5), np.percentile(surely, 95)
    assert found.wanted.off_v <= begins.min() <= least < most <= surely.max() <= found.wanted.on_v


@pytest.mark.debian("ngspice")
@pytest.mark.parametrize(("voltage", "sense"), CIRCUITS[:2])
def test_ngspice_reads_the_worst_of_the_draws_as_they_should_be_read(
    voltage: str, sense: str, changed: Changed, board: Board, tmp_path: Path
) -> None:
    found = trigger_sense(of(changed, voltage, sense), board)
    peak, drawn = math.sqrt(2.0) if sense == "ac" else 1.0, Drawn.of(found, board.logic_v)
    begins, surely = drawn.level(lambda led_a: ~drawn.open(led_a), peak), drawn.level(drawn.closed, peak)
    for index, volts, pressed in (
        (int(np.argmin(begins)), found.wanted.off_v, False),
        (int(np.argmax(surely)), found.wanted.on_v, True),
    ):
        coupler = Coupler(float(drawn.led_5ma_v[index]), float(drawn.transfer_ratio[index]))
        hertz = 60.0 if sense == "ac" else 0.0
        contact = "Rtrigger s live 1"
        one = trigger_circuit("worst", "", found, board.logic_v, hertz, volts, contact, pressed, coupler)
        file = tmp_path / "worst.cir"
        file.write_text(one.text)
        assert one.expected[0].holds(simulated(file, {"low"})["low"])


@pytest.mark.parametrize(("voltage", "sense"), CIRCUITS)
def test_without_the_bleed_a_leak_of_a_milliampere_is_read_as_a_press(
    voltage: str, sense: str, changed: Changed, board: Board
) -> None:
    """The model can tell: nearly every input would start by itself."""
    drawn = Drawn.of(trigger_sense(of(changed, voltage, sense), board), board.logic_v)
    drawn.bleed_ohm = np.full(DRAWS, 1e9)
    assert drawn.open(drawn.led_a(30.0, source_ohm=30e3)).mean() < 0.1


@pytest.mark.parametrize("board_type", ["uno", "pico"])
@pytest.mark.parametrize("sense", ["ac", "dc"])
@pytest.mark.parametrize("volts", [4, 5, 9, 12, 24, 28, 36, 48, 60])
def test_a_pair_of_resistors_is_found_for_every_circuit(
    volts: int, sense: str, board_type: str, changed: Changed
) -> None:
    found = trigger_sense(of(changed, f"{volts} V", sense), load_board(board_type))
    assert found.holds
    assert found.margin > 1.0
    assert found.high_a <= LED_MAX_A
    assert found.dissipation_w <= 0.5 * found.rating_w + 1e-9
    # The contact is wetted: type 1 asks for 2 mA.
    assert found.wetting_a >= 0.002


def test_the_levels_are_those_of_an_input_of_type_1(changed: Changed, board: Board) -> None:
    """IEC 61131-2: off up to 5 V and 1 mA, on from 15 V; with ac RMS."""
    found = trigger_sense(of(changed, "24 V", "dc"), board)
    assert (found.wanted.off_v, found.wanted.off_a, found.wanted.on_v) == (5.0, 0.001, 15.0)
    assert trigger_sense(changed(), board).wanted == found.wanted


def test_an_rc_left_across_the_contact_gets_a_smaller_bleed(changed: Changed, board: Board) -> None:
    """100 nF on 24 VAC of 60 Hz, 10 % high and lightly loaded: 30.4 V times 37.7 microsiemens is 1.14 mA."""
    plain = trigger_sense(changed(), board)
    usual = trigger_sense(of(changed, "24 VAC", "ac", 'snubber_capacitor = "100 nF"'), board)
    assert usual.leak_a == pytest.approx(1.145e-3, rel=0.01)
    assert usual.holds
    large = trigger_sense(of(changed, "24 VAC", "ac", 'snubber_capacitor = "220 nF"'), board)
    assert large.holds
    assert large.bleed_ohm <= plain.bleed_ohm
    assert not trigger_sense(of(changed, "24 VAC", "ac", 'snubber_capacitor = "1 uF"'), board).holds
    # Direct voltage does not pass a capacitor.
    assert trigger_sense(of(changed, "24 V", "dc", 'snubber_capacitor = "1 uF"'), board).leak_a == 0.0


def test_a_damp_cable_is_a_leak_of_its_own(changed: Changed, board: Board) -> None:
    damp = trigger_sense(of(changed, "24 VAC", "ac", 'leak = "100 kohm"'), board)
    assert damp.leak_a == pytest.approx(30.36 / 100e3)
    assert damp.holds
    assert not trigger_sense(of(changed, "24 VAC", "ac", 'leak = "3 kohm"'), board).holds
    assert leak_a(10.0, 0.0, 1e-6, None) == 0.0


@pytest.mark.parametrize("keys", [{"trigger_resistor_ohm": 2000.0}, {"trigger_bleed_ohm": 200.0}, {}])
def test_what_the_design_leaves_open_is_chosen_to_fit(keys: dict[str, float], changed: Changed, board: Board) -> None:
    design = changed()
    found = trigger_sense(design.model_copy(update={"supply": design.supply.model_copy(update=keys)}), board)
    assert found.holds
    assert found.resistor_ohm == keys.get("trigger_resistor_ohm", found.resistor_ohm)
    assert found.bleed_ohm == keys.get("trigger_bleed_ohm", found.bleed_ohm)


def test_a_single_optocoupler_leaves_gaps_of_more_than_half_a_cycle(changed: Changed, board: Board) -> None:
    ac_input = trigger_sense(changed(), board)
    single = trigger_sense(changed(('optocoupler = "ac-input"', 'optocoupler = "single"')), board)
    assert ac_input.gap_us < 1e6 / 120
    assert single.gap_us == pytest.approx(ac_input.gap_us + 1e6 / 120)
    assert trigger_sense(changed(('sense = "ac"', 'sense = "dc"')), board).gap_us == 0.0


@pytest.mark.parametrize(("voltage", "sense"), [one for one in CIRCUITS if one[0] != "5 V"])
def test_what_is_remembered_of_couplers_does_not_decide(
    voltage: str, sense: str, changed: Changed, board: Board, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pair that was chosen, from 12 V on, with every remembered value off in the unkind direction at once."""
    design = of(changed, voltage, sense)
    chosen = trigger_sense(design, board)
    pair = {"trigger_resistor_ohm": chosen.resistor_ohm, "trigger_bleed_ohm": chosen.bleed_ohm}
    fitted = design.model_copy(update={"supply": design.supply.model_copy(update=pair)})
    for name, value in (("LED_DARK_V", 0.65), ("LED_LIT_V", 1.40), ("CTR_FALL", 0.5)):
        monkeypatch.setattr(f"timing.circuit.trigger_input.{name}", value)
    kept = trigger_sense(fitted, board).kept
    assert kept != chosen.kept
    assert kept.off_a > 0.001
    assert kept.on_v < chosen.low_v
