"""Which ends of the machine's own wires come to the connector, and how the bypass plug joins them again.

Netlist, ladders and bypass plug are all made from what stands here: every wire that is cut has both its ends on the
connector, so that links in a plug put the machine back as found. Where the trigger itself worked the coils, the ends
between trigger and coils stay apart in the machine: from its live side the plug feeds the same coils.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from timing.circuit.builder import TWISTED, CircuitBuilder
from timing.circuit.drives import Drive, load_treatment, short_name, switched_apart
from timing.circuit.parts import BypassLink, Mate, PartKind
from timing.design.design import Design

Works = Literal["coils", "relay", "electronics"]

SAME_CIRCUIT = 0.25
"""Share by which two readings of one circuit may differ: line, load and meter (practice)."""
TRIGGER_RELAY_A = 0.3
"""What the coil of a relay takes that a gun's trigger works, at the most (practice)."""
FOUND = "-FOUND"
"""Ends the name of a way for an end as found; it is in the feeder's half of the connector alone."""
SWITCHED_AS_FOUND: dict[Works, tuple[PartKind, str]] = {
    "coils": (PartKind.FEEDER_CONTROL, "wiring to the coils"),
    "relay": (PartKind.FEEDER_RELAY, "relay of the trigger"),
    "electronics": (PartKind.FEEDER_CONTROL, "control circuit board"),
}
"""What stood between the trigger and the coils that it worked."""


@dataclass(frozen=True)
class FoundEnds:
    """What the trigger worked, and the ways that follow from it."""

    works: Works
    direct: bool
    """True where the plug feeds the coils from the trigger's live side."""

    @property
    def dry(self) -> bool:
        """True for a trigger cut off a control circuit board: a dry contact, which the add-on feeds."""
        return self.works == "electronics"

    @property
    def trigger(self) -> tuple[str, str]:
        """The two wires of the trigger, in both halves of the connector."""
        return ("TRIG-FEED", "TRIG-LIVE") if self.dry else ("TRIG-LIVE", "TRIG-RETURN")

    @property
    def trigger_found(self) -> tuple[str, ...]:
        """The other ends of the wires cut at the trigger."""
        if self.dry:
            return (f"TRIG{FOUND}1", f"TRIG{FOUND}2")
        return () if self.direct else (f"TRIG{FOUND}",)

    def load_found(self, one: Drive) -> tuple[str, ...]:
        """The ends at what switched a load as found: two at a contact in a circuit of its own, else one or none."""
        word = short_name(one)
        if switched_apart(one):
            return (f"{word}{FOUND}1", f"{word}{FOUND}2")
        return () if self.direct else (f"{word}{FOUND}",)


def found_ends(design: Design, outputs: Sequence[Drive]) -> FoundEnds:
    """Return what follows from the survey; where the design does not say how it was wired, from the circuits alone."""
    trigger, as_found = design.trigger, design.feeder.as_found
    loads = [one.actuator.coil for one in outputs if not switched_apart(one)]
    works: Works = "coils" if as_found is None else as_found.trigger
    if works == "coils" and as_found is not None and (trigger.sense == "dc" or not loads):
        # It cannot work what hangs on the 24 VAC itself, or there is nothing there: a relay stands between.
        works = "relay"
    alike = all(
        trigger.sense == coil.kind and abs(trigger.circuit_voltage_v / coil.voltage_v - 1) <= SAME_CIRCUIT
        for coil in loads
    )
    return FoundEnds(works, works == "coils" and bool(loads) and alike)


def ends_as_found(wiring: CircuitBuilder, socket: str, ends: FoundEnds, outputs: Sequence[Drive]) -> None:
    """What the trigger worked, with the ends that come from it to the fixed connector."""
    ways = dict.fromkeys(ends.trigger_found, ("trigger", TRIGGER_RELAY_A, TWISTED))
    for one in outputs:
        if not switched_apart(one):
            ways |= {way: ("load", one.protection.wire_a, load_treatment(one)) for way in ends.load_found(one)}
    if not ways:
        return
    kind, value = SWITCHED_AS_FOUND[ends.works]
    terminals = tuple(way.replace(FOUND, "") for way in ways)
    ref = wiring.add(kind, value, "", terminals, "feeder")
    for (way, (family, amps, treatment)), name in zip(ways.items(), terminals, strict=True):
        net = wiring.build.net(f"FEEDER-{way}", "load" if family == "load" else "trigger", amps, treatment)
        wiring.build.join(net, f"{ref}.{name}", f"{socket}.{way}")


def bypass_links(ends: FoundEnds, usual: Mate, at: Sequence[tuple[Drive, Mate]]) -> Iterator[BypassLink]:
    """Links of the bypass plugs: together they join what every cut has parted."""
    worked = SWITCHED_AS_FOUND[ends.works][1]
    if not ends.direct:
        for live, found in zip(ends.trigger if ends.dry else ("TRIG-LIVE",), ends.trigger_found, strict=True):
            yield BypassLink(usual.fixed, live, found, f"the trigger's wire, on to the {worked} as found")
    for one, mate in at:
        word, found_ways = short_name(one), ends.load_found(one)
        if switched_apart(one):
            note = "through the contact that switched it as found"
            yield BypassLink(mate.fixed, f"{word}-FEED", found_ways[0], note)
            yield BypassLink(mate.fixed, found_ways[1], f"{word}-COIL", note)
        elif ends.direct:
            note = "the trigger's live side fed this coil as found; check against your survey and photographs"
            yield BypassLink(mate.fixed, "TRIG-LIVE", f"{word}-COIL", note)
        else:
            yield BypassLink(mate.fixed, found_ways[0], f"{word}-COIL", f"the coil's wire, from the {worked} as found")
