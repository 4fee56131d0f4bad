"""Three machines of our own, walked as a new user would: survey, build, commissioning, test welds, a good setting.

Each is played by a script that hides its coast, drop-outs, ball, scatter and reading error. The person reads the
screen, answers the survey from the machine, turns the dial to the mark asked for, and says what is left of the wire.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.conftest import SOAK, gate_share
from tests.support.person import at_the_terminal
from tests.support.scripted_machine import SIXTEENTH_MM, Hidden, ScriptedMachine
from timing.commission.step import CommissionStep, ReadingAsked
from timing.commission.steps import commission_plan
from timing.design.loading import load_design
from timing.logbook.entry import EntryKind
from timing.process.case import burnback_case
from timing.project import Project
from timing.survey.interview import Interview
from timing.survey.topics import topics
from wirecue.logbooks import logbook_path, read_logbook
from wirecue.projects import board_names, load_board, load_project

MOST_WELDS = 8
"""Six are enough in ten of eleven walks of the slow machine; one, whose readings are unlucky, takes eight."""
ALL_GOOD = 0.95


@dataclass(frozen=True)
class Play:
    """A machine, and what its owner answers to the survey."""

    name: str
    answers: Mapping[str, str]
    hidden: Hidden
    set_error_s: float = 0.002
    """How far the hand sets the dial beyond the mark."""


SUPPLY = {
    "survey.feeder_power": "24vac",
    "survey.drive_and_contactor": "apart",
    "survey.contactor_place": "115v",
    "feeder.contactor.coil.voltage": "115 V",
    "feeder.contactor.coil.hold": "0.2 A",
    "supply.measured_open": "27.4 V",
    "supply.measured_loaded": "25.2 V",
    "supply.measured_load": "2.1 A",
    "supply.grounded": "no",
    "feeder.as_found.trigger": "relay",
    "trigger.sense": "ac",
    "feeder.wire_drive.coil.hold": "2.5 A",
    "board.type": "nano",
}
BRAKED = Play(
    "braked_shop",
    {
        **SUPPLY,
        "feeder.wire_drive.braked": "yes",
        "feeder.gas_valve.coil.hold": "330 mA",
        "process.open_circuit_voltage": "23 V",
        "survey.spot": "y",
    },
    Hidden(
        coast_s=0.032,
        friction=0.4,
        wire_off_s=(0.011, 0.001),
        contactor_off_s=(0.027, 0.002),
        ball_diameters=(1.5, 0.15),
        tells_ball="ball size",
    ),
)
SLOW = Play(
    "unbraked_slow",
    {
        **SUPPLY,
        "feeder.gas_valve.coil.hold": "330 mA",
        "process.wire_diameter": "0.8 mm",
        "process.wire_feed_speed": "3.5 m/min",
        "process.open_circuit_voltage": "22 V",
    },
    # A greasy gearbox: slower to the end than friction alone, which is what the survey supposes without a brake.
    Hidden(
        coast_s=0.105,
        friction=1.0,
        wire_off_s=(0.014, 0.002),
        contactor_off_s=(0.016, 0.002),
        ball_diameters=(1.3, 0.2),
        reading_mm=0.6,
        off={"slope_ohm": 1.2},
    ),
)
GASLESS = Play(
    "gasless_cored",
    {
        **SUPPLY,
        "process.wire": "self-shielded",
        "process.wire_feed_speed": "170 in/min",
        "process.contact_tip_to_work": "1/2 in",
        "process.open_circuit_voltage": "22 V",
    },
    Hidden(
        coast_s=0.068,
        friction=0.05,
        wire_off_s=(0.007, 0.001),
        contactor_off_s=(0.031, 0.003),
        ball_diameters=(1.6, 0.2),
        rule_mm=SIXTEENTH_MM,
        tells_ball="ball",
        off={"alpha_mm_per_a_s": 1.06, "gradient_v_per_mm": 0.9},
    ),
)


def survey_lines(answers: Mapping[str, str]) -> list[str]:
    """What the owner types into the survey: the answers, and Enter where nothing was measured."""
    interview, lines = Interview(topics(tuple(map(load_board, board_names()))), {}), []
    while (question := interview.next_question) is not None:
        lines.append(answers.get(question.key, ""))
        interview = interview.answered(question, lines[-1])
    return lines


def typing(lines: list[str]) -> Callable[[str], str]:
    """Type lines one after the other, whatever stands on the screen."""
    left = iter(lines)
    return lambda _screen: next(left)


def passing(step: CommissionStep) -> str:
    """An answer for a sound build."""
    if not isinstance(step.ask, ReadingAsked):
        return "yes"
    ends = [end for end in (step.ask.low, step.ask.high) if end is not None]
    middle = sum(ends) / len(ends) if ends else 1.0
    return {"ohm": f"{middle} ohm", "us": f"{middle} us"}.get(step.ask.unit, f"{middle:.3f} {step.ask.shown}")


WELDS = "weld.burnback"
ASKED_MARK = re.compile(r"next weld\s+burnback dial at mark\s+([\d.]+)\s+(ms|s)\b")


@dataclass
class Owner:
    """At the machine with the laptop: answers steps, and makes the test welds that are asked for."""

    project: Project
    machine: ScriptedMachine
    set_error_s: float
    welds: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.steps = {step.key: step for step in commission_plan(self.project).steps}
        self.asked = ""

    def answer(self, screen: str) -> str:
        """Return what to type, from what appeared on the screen."""
        shown = max(self.steps, key=lambda key: screen.rfind(f"({key})"))
        if f"({shown})" in screen:
            self.asked = shown
        elif self.asked != WELDS:
            raise AssertionError(f"{self.asked} is asked again: {screen}")
        if self.asked != WELDS:
            return passing(self.steps[self.asked])
        found = ASKED_MARK.findall(screen)
        assert found, screen
        number, unit = found[-1]
        # A hand does not hit the mark; what stands there is what is told.
        set_s = float(number) * {"ms": 1e-3, "s": 1.0}[unit] + self.set_error_s
        low_us, high_us = self.project.dials["burnback"].reach_us
        assert low_us <= float(number) * {"ms": 1e3, "s": 1e6}[unit] <= high_us
        self.welds.append(self.machine.weld(set_s))
        assert len(self.welds) <= MOST_WELDS, self.welds
        return self.welds[-1]


def walked(play: Play, folder: Path, *, build: bool, seed: int = 1) -> tuple[int, float]:
    """Walk one machine from the survey to its setting; return test welds made, and the share that comes free after."""
    path = folder / f"{play.name}.toml"
    surveyed = at_the_terminal(["survey", play.name], typing(survey_lines(play.answers)))
    assert surveyed.exit_code == 0, surveyed.screen
    made = at_the_terminal(["build" if build else "check", path.name], typing([]))
    assert made.exit_code == 0, made.screen
    project = load_project(path)
    owner = Owner(project, ScriptedMachine(burnback_case(project.design), play.hidden, seed), play.set_error_s)
    commissioned = at_the_terminal(["commission", path.name], owner.answer)
    assert commissioned.exit_code == 0, commissioned.screen
    assert "every step that was asked passed" in " ".join(commissioned.screen.split())
    fitted = at_the_terminal(["fit", path.name, "--write"], typing([]))
    assert fitted.exit_code == 0, fitted.screen
    assert "Enough test welds" in fitted.screen
    assert len(read_logbook(logbook_path(path)).of(EntryKind.WELD)) == len(owner.welds)
    setting_s = load_design(path).times.burnback.setting_us / 1e6
    return len(owner.welds), owner.machine.share_free(setting_s)


@pytest.mark.parametrize("seed", range(1, 12 if SOAK else 2))
@pytest.mark.parametrize("play", gate_share([BRAKED, SLOW, GASLESS], 2), ids=lambda play: play.name)
def test_a_new_user_comes_to_a_good_setting_in_a_few_test_welds(play, seed, tmp_path, monkeypatch):
    """Whatever the luck with readings and scatter; one of the three is built in full, the others checked."""
    monkeypatch.chdir(tmp_path)
    _, share = walked(play, tmp_path, build=play is BRAKED and seed == 1, seed=seed)
    assert share >= ALL_GOOD
