"""A proof in words and as data."""

from __future__ import annotations

from typing import Any

from timing.design.design import Design
from timing.proof.prove import Proof, Verdict
from timing.proof.witness import Witness
from timing.sequence.script_text import write_script
from timing.sequence.table import Phase

WALKED = (
    "From power-up, from idle and from impossible phases, every pass was taken that can be taken: each phase with each "
    "combination of trigger, buttons, arc, interlock, supply, dial fault, mode and panel switches, with each timer "
    "over or not, with each time that can be zero at zero and not, and with all that the sequence keeps from pass to "
    "pass. Every pass was run by the sequence itself. Nothing was sampled.",
    "A timer may run out at any pass. So the result holds for every position of every dial, and for longer and shorter "
    "limits as well.",
    "Each rule watched every one of these passes. Where a rule speaks of the past, it kept its own memory of it and "
    "was checked against every past as well: hence the larger numbers.",
)
ASSUMED = (
    "Trigger and buttons are what their filters make of the contacts: a release counts one filter time late.",
    "Passes follow each other, the clock runs, and a timer is looked at within 35 minutes of running out. A hung board "
    "is the watchdog's business; it begins again at power-up.",
    "The board does what the phase table says. Whether outputs, wiring and contactor follow is for the bench test. "
    "Whether the times suit the weld is not for this proof.",
)


def as_data(design: Design, proof: Proof) -> dict[str, Any]:
    """Return the proof as data, the same for the same design."""
    return {
        "design": design.name,
        "digest": design.digest(),
        "holds": proof.holds,
        "situations": proof.situations,
        "combinations": proof.combinations,
        "rules": [_rule_data(verdict) for verdict in proof.verdicts],
        "walked": list(WALKED),
        "assumed": list(ASSUMED),
    }


def _rule_data(verdict: Verdict) -> dict[str, Any]:
    data: dict[str, Any] = {
        "rule": verdict.rule.name,
        "says": verdict.rule.sentence,
        "holds": verdict.holds,
        "combinations": verdict.combinations,
    }
    if not verdict.holds:
        data["phases"] = phase_words(verdict)
        shown = verdict.witness
        data["starts"] = None if shown is None else starts(shown)
        data["script"] = None if shown is None else write_script(shown.script)
    return data


def phase_words(verdict: Verdict) -> list[str]:
    """Return the phases on the shortest way to the breach."""
    known = {int(phase): phase.word for phase in Phase}
    return [known.get(phase, "impossible") for phase in verdict.phases]


def starts(shown: Witness) -> str:
    """Return where the script starts."""
    return "in idle" if shown.settled else "at power-up (simulate --power-up)"
