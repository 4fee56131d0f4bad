from __future__ import annotations

from collections.abc import Callable

from timing.design.design import Design
from timing.process.advice import design_curve
from timing.process.case import burnback_case
from timing.process.footing import FOOTING_WORDS, footing_words, inputs
from timing.process.melting import DIAMETER_RANGE_MM

DesignOf = Callable[..., Design]


def footing_of(design: Design) -> dict[str, str]:
    return {one.name: one.footing for one in inputs(design, burnback_case(design))}


def test_what_the_design_states_counts_as_yours_and_the_rest_does_not(design_of: DesignOf) -> None:
    stated, bare = (
        footing_of(design_of()),
        footing_of(design_of({"open_circuit_voltage": "", "slope": "", "coast": ""})),
    )
    assert stated["open-circuit voltage"] == stated["coast"] == "yours"
    assert bare["open-circuit voltage"] != "yours"
    assert bare["coast"] == "practice"
    assert bare["slope of the power source"] == "choice"
    assert bare["volts while welding"] == "published"
    # Open-circuit voltage and slope say what they come to; nobody has read them.
    assert stated["volts while welding"] == "derived"
    assert footing_of(design_of({"load_voltage": '"20 V"'}))["volts while welding"] == "yours"
    assert set(stated.values()) <= set(FOOTING_WORDS)


def test_the_block_is_short_and_tells_middle_band_validity_and_every_input(design_of: DesignOf) -> None:
    design = design_of()
    words = footing_words(design, design_curve(design, 500))
    told = " ".join(words)
    assert len(told) < 1000
    for word in ("middle", "Nine times in ten", "weld-to-weld", "constant-voltage", "not pulsed", "mild-steel"):
        assert word in told, word
    assert all(f"{limit:g} mm" in told for limit in DIAMETER_RANGE_MM)
    assert all(told.count(one) == 1 for one in footing_of(design))
