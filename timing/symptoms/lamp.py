"""What the status lamp tells, as symptoms: a code for each fault that the design can show, and each kind of reset."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from timing.project import Project
from timing.protocol.resets import RESET_ROWS, Reset
from timing.sequence.core.table import Fault
from timing.sequence.faults import EXPLANATIONS, faults_of
from timing.symptoms.evidence import Evidence
from timing.symptoms.symptom import Cause, Standing, Symptom


def lamp_symptoms(project: Project) -> Iterator[Symptom]:
    """Give a symptom for each number that the lamp of this design can blink, and each that it can wink."""
    for fault in faults_of(project.table):
        number = int(fault)
        yield Symptom(
            f"lamp-{number}",
            f"The lamp, dark, blinks {number} {'time' if number == 1 else 'times'} and rests: {fault.word}",
            (f"lamp code {number}", f"{number} blinks", f"blinks {number}", fault.word),
            (_fault_cause(fault),),
        )
    for cause in Reset:
        if cause.on_lamp:
            number = int(cause)
            yield Symptom(
                f"winks-{number}",
                f"The lamp, lit, goes dark {number} times and rests: {cause.word}",
                (f"{number} winks", f"winks {number}", f"dark {number} times", cause.word),
                (_reset_cause(cause),),
            )


def _fault_cause(fault: Fault) -> Callable[[Evidence], Cause]:
    explained = EXPLANATIONS[fault]

    def cause(_evidence: Evidence) -> Cause:
        return Cause(
            Standing.LIKELY, explained.means, "", "Count the blinks once more, from rest to rest.", explained.remedy
        )

    return cause


def _reset_cause(reset: Reset) -> Callable[[Evidence], Cause]:
    row = RESET_ROWS[reset]

    def cause(_evidence: Evidence) -> Cause:
        return Cause(
            Standing.LIKELY,
            f"The board started anew: {row.means}.",
            "It is told until the first press.",
            "Count once more, from rest to rest.",
            f"Look for {row.remedy}.",
        )

    return cause
