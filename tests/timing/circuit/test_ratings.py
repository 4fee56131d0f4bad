"""What the parts round a load are rated for: computed from the corners of the circuit, the peak where it counts."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.timing.conftest import SHOP
from timing.circuit.parts import Netlist, PartKind
from timing.circuit.ratings import (
    BRIDGES,
    COUPLER_PULSE_A,
    DC_BREAKING,
    RELAY_SIZES,
    TRIAC_RATINGS_V,
    highest_v,
    rectifier_rating,
    relay_size,
    surge_a2s,
    triac_ratings,
    usual_dc_breaking_a,
    varistor_v,
)
from timing.design.feeder import Actuator, Coil, DcRating, Spread
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

DESIGN = parse_design(SHOP)
BOARD = load_board("uno")
AC, DC = "ac", "dc"
LAG = Spread(min="1 ms", typical="2 ms", max="3 ms")
CONTACTOR = 'coil = { hold = "0.6 A", inrush = "3.5 A" }'
MOTOR = 'coil = { kind = "dc", fed_from = "elsewhere", voltage = "24 V", hold = "2.5 A", inrush = "8 A" }'


def coil(volts: float, hold: float, inrush: float | None = None, kind: str = AC, fed_from: str = "elsewhere") -> Coil:
    given_inrush = {} if inrush is None else {"inrush": f"{inrush} A"}
    return Coil(kind=kind, fed_from=fed_from, voltage=f"{volts} V", hold=f"{hold} A", **given_inrush)


def actuator(load: Coil, stated_a: float | None = None) -> Actuator:
    stated = None if stated_a is None else DcRating(voltage="250 V", current=f"{stated_a} A", category="DC-13")
    return Actuator(on_delay=LAG, off_delay=LAG, coil=load, contact_dc=stated)


def netlist_of(*changes: tuple[str, str]) -> Netlist:
    text = SHOP
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return Project(parse_design(text), BOARD).netlist


@pytest.mark.parametrize(
    ("load", "stated_a", "contact_a"),
    [
        # B300: 360 VA broken, 3600 VA made; A300: 720 and 7200; below 120 V the making current stays.
        (coil(24, 0.6, 3.5), None, 5.0),
        (coil(24, 5.0), None, 5.0),
        (coil(24, 5.1), None, 10.0),
        (coil(24, 3.0, 31.0), None, 10.0),
        (coil(230, 1.5), None, 5.0),
        (coil(230, 3.0, 31.0), None, 10.0),
        (coil(24, 0.5, kind=DC), None, 5.0),
        (coil(24, 3.0, kind=DC), 10.0, 10.0),
        (coil(90, 3.0, kind=DC), 12.0, 40.0),
    ],
)
def test_a_relay_is_as_large_as_its_load_asks(load: Coil, stated_a: float | None, contact_a: float) -> None:
    size = relay_size(actuator(load, stated_a))
    assert size is not None
    assert size.contact_a == contact_a


def test_what_is_too_much_for_small_relays_has_no_size() -> None:
    assert relay_size(actuator(coil(230, 3.2))) is None
    assert relay_size(actuator(coil(230, 1.0, 32.0))) is None
    assert relay_size(actuator(coil(110, 3.0, kind=DC), 100.0)) is None


def test_a_large_relay_has_a_large_coil_and_the_budget_counts_it() -> None:
    """A relay for 25 A to 40 A takes 100 mA to 200 mA at 9 V."""
    assert 0.1 <= RELAY_SIZES[-1].coil_w / 9.0 <= 0.2
    large = SHOP.replace('voltage = "30 V", current = "10 A"', 'voltage = "30 V", current = "30 A"')
    small, heavy = (Project(parse_design(text), BOARD).budget for text in (SHOP, large))
    rail = [max(phase.load.rail_a for phase in one.phases) for one in (small, heavy)]
    assert rail[1] - rail[0] == pytest.approx((1.5 - 0.53) / small.regulator.output_v)


@given(st.floats(5.0, 250.0), st.floats(5.0, 250.0))
def test_what_a_contact_breaks_of_dc_falls_with_the_voltage(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert usual_dc_breaking_a(low) >= usual_dc_breaking_a(high) > 0.0
    for volts, amps in DC_BREAKING:
        assert usual_dc_breaking_a(volts) == pytest.approx(amps)
    # A few tenths of an ampere at 110 V.
    assert 0.2 < usual_dc_breaking_a(110.0) < 0.5


@given(
    st.floats(5.0, 250.0), st.sampled_from([AC, DC]), st.sampled_from(["control", "elsewhere"]), st.floats(0.0, 20.0)
)  # fmt: skip
def test_no_varistor_is_rated_below_the_highest_line(volts: float, kind: str, fed_from: str, tolerance: float) -> None:
    supply = DESIGN.supply.model_copy(update={"line_tolerance_percent": tolerance})
    design = DESIGN.model_copy(update={"supply": supply})
    load = coil(round(volts, 1), 0.3, kind=kind, fed_from=fed_from)
    highest, rated = highest_v(design, load), varistor_v(design, load)
    assert highest >= (1.0 + tolerance / 100.0) * load.voltage_v * (1.0 - 1e-9)
    # A varistor's dc rating is a quarter above its RMS rating, at the least.
    assert rated * (1.24 if kind == DC and fed_from == "elsewhere" else 1.0) >= highest * (1.0 - 1e-9)


@pytest.mark.parametrize(("volts", "blocking"), [(24.0, 400.0), (115.0, 400.0), (200.0, 600.0), (230.0, 800.0)])
def test_an_opto_triac_blocks_the_peak_and_fires_within_its_couplers_pulse(volts: float, blocking: float) -> None:
    rated = triac_ratings(DESIGN, coil(volts, 0.3))
    assert rated.peak_v >= math.sqrt(2.0) * 1.1 * volts
    assert rated.blocking_v == blocking
    assert rated.peak_v / rated.gate_ohm <= COUPLER_PULSE_A
    assert rated.blocking_v in TRIAC_RATINGS_V


def test_a_hot_triac_asks_for_a_heat_sink() -> None:
    assert triac_ratings(DESIGN, coil(24, 0.6)).k_per_w is None
    wanted = triac_ratings(DESIGN, coil(24, 3.0)).k_per_w
    assert wanted == pytest.approx((110.0 - DESIGN.supply.box_air_deg_c) / 3.0)


@given(st.floats(0.1, 1000.0), st.floats(0.001, 50.0), st.floats(0.01, 3.0))
def test_a_rectifier_survives_its_inrush_or_is_the_largest(peak_a: float, a2s: float, dc_a: float) -> None:
    rated = rectifier_rating(bridge=True, peak_v=45.0, dc_a=dc_a, inrush_a=peak_a, inrush_a2s=a2s)
    survives = rated.surge_a >= peak_a and surge_a2s(rated.surge_a) >= a2s and rated.amps >= 2 * dc_a
    assert survives or (rated.amps, rated.surge_a) == BRIDGES[-1]
    # Nothing smaller would have done.
    for amps, surge in BRIDGES:
        if amps < rated.amps:
            assert amps < 2 * dc_a or surge < peak_a or surge_a2s(surge) < a2s


def test_what_takes_the_spike_lies_across_the_load_and_never_across_the_contact() -> None:
    wiring = netlist_of((CONTACTOR, f'snubber_capacitor = "47 nF"\n{CONTACTOR}'))
    for word in ("GAS", "WIRE", "CONT"):
        assert not wiring.between(f"{word}-FEED", f"{word}-COIL", PartKind.VARISTOR, PartKind.CAPACITOR)
    assert wiring.between("FEEDER-GAS-COIL", "FEEDER-GAS-RETURN", PartKind.VARISTOR)
    assert wiring.between("FEEDER-CONT-COIL", "CONT-SNUBBER", PartKind.CAPACITOR)
    assert wiring.between("CONT-SNUBBER", "FEEDER-CONT-RETURN", PartKind.RESISTOR)


@pytest.mark.parametrize(("volts", "klass"), [("24 V", "film"), ("115 V", "class X2 (IEC 60384-14), 275 V ac"),
                                              ("230 V", "class X2 (IEC 60384-14), 310 V ac")])  # fmt: skip
def test_a_capacitor_across_mains_level_is_of_class_x2(volts: str, klass: str) -> None:
    load = f'coil = {{ fed_from = "elsewhere", voltage = "{volts}", hold = "0.3 A" }}'
    wiring = netlist_of((CONTACTOR, f'snubber_capacitor = "47 nF"\n{load}'))
    part = wiring.part(wiring.only_between("FEEDER-CONT-COIL", "CONT-SNUBBER"))
    assert klass in part.description


@pytest.mark.parametrize("pole", ["plus", "minus"])
@pytest.mark.parametrize("kind", ["zener", "diode", "varistor"])
@pytest.mark.parametrize("drive", ["relay", "mosfet"])
def test_a_dc_load_has_its_flyback_the_right_way_round(pole: str, kind: str, drive: str) -> None:
    load = MOTOR.replace("{ kind", f'{{ switched_pole = "{pole}", kind')
    key = "suppression" if drive == "mosfet" else "load_suppression"
    wiring = netlist_of((MOTOR, f'drive = "{drive}"\n{key} = "{kind}"\n{load}'))
    switched, other = "FEEDER-WIRE-COIL", "FEEDER-WIRE-RETURN"
    plus, minus = (switched, other) if pole == "plus" else (other, switched)
    nets = {net.name: net for net in wiring.nets}
    assert (nets[plus].pole, nets[minus].pole) == ("+", "-")
    if kind == "varistor":
        assert wiring.between(plus, minus, PartKind.VARISTOR)
        return
    inner = minus if kind == "diode" else "WIRE-AT-LOAD"
    across = (plus, minus) if kind == "diode" else ("WIRE-AT-LOAD", minus)
    diode = wiring.only_between(*across, PartKind.DIODE)
    # It blocks the supply: its anode lies at the minus.
    assert f"{diode}.A" in map(str, nets[minus].terminals)
    if kind == "zener":
        zener = wiring.only_between(inner, plus, PartKind.ZENER)
        assert f"{zener}.A" in map(str, nets[plus].terminals)
    if drive == "mosfet":
        relay = next(part for part in wiring.parts if part.kind is PartKind.DC_RELAY)
        at = {str(terminal): net.name for net in wiring.nets for terminal in net.terminals}
        feed, coil_way = "WIRE-FEED", "WIRE-COIL"
        assert at[f"{relay.ref}.+"] == (feed if pole == "plus" else coil_way)
        assert at[f"{relay.ref}.-"] == (coil_way if pole == "plus" else feed)
