"""The survey as an interview: which question comes next, what rules the job out, and the design file in the end."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import tomlkit

from codegen.papers.question import SPREAD_PARTS, YES, AnswerError, Option, Question, Topic, check_against, read_answer
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.design.text_file import UnreadableFileError, read_text_file
from timing.design.units import format_duration
from timing.sequence.of_design import time_settings
from wirecue.first_design import Value, computed_times, supply_parts, usual_parts, usual_times
from wirecue.projects import load_board

LARGEST_KEPT_BYTES = 200_000
"""Of the file that keeps a survey's answers: far more than there are questions."""
OWN = "from the survey"
USUAL = "a usual value: measure it, unless you did"
FITTED = "a usual value for the add-on"
COMPUTED = "computed to start from; `wirecue advise` says why"
PROPOSED = "proposed for this supply; `wirecue supply` says why"
Remarked = tuple[Value, str]
"""A value with its origin."""


@dataclass(frozen=True)
class Interview:
    """Questions with the answers so far, by key, in the order in which they were given."""

    topics: tuple[Topic, ...]
    answers: Mapping[str, str]
    withdrawn: Mapping[str, str] = field(default_factory=dict)
    """Answers gone back on, offered again when their question comes."""

    @property
    def questions(self) -> tuple[Question, ...]:
        """All questions that may be asked."""
        return tuple(question for topic in self.topics for question in topic.questions)

    @property
    def next_question(self) -> Question | None:
        """The first question that applies and has no answer; None when all have one."""
        still = (one for one in self.questions if one.key not in self.answers and one.applies(self.answers))
        return next(still, None)

    @property
    def left(self) -> int:
        """How many questions can still come; an answer never makes it more."""
        return sum(one.key not in self.answers and self._may_come(one) for one in self.questions)

    def _may_come(self, question: Question) -> bool:
        condition = question.when
        if condition is None or condition.key in self.answers:
            return question.applies(self.answers)
        return self._may_come(next(one for one in self.questions if one.key == condition.key))

    @property
    def ruled_out(self) -> str:
        """Why the job cannot be done; empty where nothing says so."""
        return next((option.rules_out for option in self._chosen() if option.rules_out), "")

    @property
    def to_do(self) -> tuple[str, ...]:
        """What the answers ask for before the add-on goes in."""
        return tuple(option.to_do for option in self._chosen() if option.to_do)

    def _chosen(self) -> Iterator[Option]:
        """Yield the options that were answered with."""
        for question in self.questions:
            yield from (one for one in question.options if one.word == self.answers.get(question.key))

    def offered(self, question: Question) -> str:
        """Return the answer that an empty one stands for: the one gone back on, else the usual one.

        An optional question offers nothing, so that it can still be left open.
        """
        return question.usual if question.optional else self.withdrawn.get(question.key, question.usual)

    def answered(self, question: Question, text: str) -> Interview:
        """Return the interview with one more answer. Raises AnswerError for one that does not do."""
        answer = read_answer(question, text.strip() or self.offered(question))
        check_against(question, answer, self.answers)
        return replace(self, answers={**self.answers, question.key: answer})

    def back(self) -> Interview:
        """Return the interview without its last answer, which is offered again; unchanged where there is none."""
        if not self.answers:
            return self
        *others, (key, answer) = self.answers.items()
        return replace(self, answers=dict(others), withdrawn={**self.withdrawn, key: answer})

    def title_before(self, question: Question) -> str:
        """Return the title of the topic that a question opens; empty where it goes on with one."""
        for topic in self.topics:
            asked = [one for one in topic.questions if one.applies(self.answers)]
            if asked and asked[0] == question:
                return topic.title
        return ""


def kept_text(interview: Interview) -> str:
    """Return the answers so far as the text of a file."""
    return json.dumps(interview.answers, indent=2, ensure_ascii=False) + "\n"


def resumed(topics: tuple[Topic, ...], path: Path) -> Interview:
    """Return the interview that a file of answers goes on with, up to the first answer that does not do.

    An empty one where there is no such file, or something else in it. Raises UnreadableFileError for what is no text
    file of a survey's size.
    """
    interview = Interview(topics, {})
    try:
        kept = json.loads(read_text_file(path, LARGEST_KEPT_BYTES))
    except UnreadableFileError as error:
        if error.missing:
            return interview
        raise
    except (ValueError, RecursionError):
        return interview
    if not isinstance(kept, dict):
        return interview
    while (question := interview.next_question) is not None and isinstance(kept.get(question.key), str):
        try:
            further = interview.answered(question, kept[question.key])
        except AnswerError:
            break
        if further.ruled_out:
            break
        interview = further
    return interview


def design_text(name: str, interview: Interview) -> str:
    """Return the design file that the answers make, a remark on every key. Raises DesignFileError for a bad name.

    What was not asked is filled in: times from the computation of wire, gas and arc, parts from that of the supply.
    """
    board = load_board(interview.answers["board.type"])
    values: dict[str, Remarked] = {"format": (1, ""), "name": (name, "")}
    values |= {key: (value, OWN if own else USUAL) for key, value, own in _answers(interview)}
    values |= _remarked(FITTED, usual_parts(interview.answers))
    values |= _remarked(FITTED, usual_times(interview.answers))
    # Twice: postflow and pause depend on the spot time that the first round gives.
    for _ in range(2):
        values |= _remarked(COMPUTED, computed_times(parse_design(_text(values, interview), f"{name}.toml"), board))
    values |= _remarked(PROPOSED, supply_parts(parse_design(_text(values, interview), f"{name}.toml"), board))
    text = _text(values, interview)
    parse_design(text, f"{name}.toml")
    return text


def dials_told(text: str) -> Iterator[str]:
    """Yield sentences on which times of a design have a dial and which have none."""
    design = parse_design(text)
    settings = time_settings(design)
    dials = [name for name, setting in settings.items() if setting.dial]
    fixed = [
        f"{name} {format_duration(setting.setting_us)}"
        for name, setting in settings.items()
        if not setting.dial and setting.setting_us
    ]
    if not dials:
        yield "No time has a dial yet: no arc could be computed to say what it should span. `wirecue advise` says why."
        return
    yield f"Dials on the panel: {', '.join(dials)}."
    if fixed:
        yield (
            f"Fixed in the program: {', '.join(fixed)}. Each dial takes an analog pin, and the {design.board.type} has "
            "no more of them; `wirecue boards` lists boards that have."
        )


def _remarked(origin: str, values: Iterable[tuple[str, Value]]) -> dict[str, Remarked]:
    return {key: (value, origin) for key, value in values}


def _text(values: Mapping[str, Remarked], interview: Interview) -> str:
    tables: dict[str, list[str]] = {"": []}
    for key, (value, origin) in values.items():
        table, _, short = key.rpartition(".")
        tables.setdefault(table, []).append(_line(key, short, value, origin))
    parts = [_heading(interview)]
    for table in sorted(tables, key=_place):
        head = f"[{table}]\n" if table else ""
        parts.append(head + "".join(tables[table]))
    return "\n".join(parts)


def _heading(interview: Interview) -> str:
    told = {one.key: one.ask for one in interview.questions if one.key.startswith("survey.")}
    lines = ["Written by `wirecue survey`. What the design has no key for:"]
    lines += [f"  {told[key]} {answer}" for key, answer in interview.answers.items() if key in told]
    lines += [f"To do first: {what}" for what in interview.to_do]
    return "".join(f"# {line}\n" for line in lines)


def _line(key: str, short: str, value: Value, origin: str) -> str:
    remark = _description(key)
    told = " ".join(filter(None, [remark, f"[{origin}]" if origin else ""]))
    return f"{short} = {_toml(value)}" + (f"  # {told}\n" if told else "\n")


def _toml(value: Value) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_toml(part)}" for key, part in value.items()) + " }"
    return str(tomlkit.item(value).as_string())


def _place(table: str) -> list[int]:
    """Where a table stands in the schema, its own keys before the tables in it."""
    model: Any = Design
    place = []
    for step in table.split(".") if table else []:
        keys = [field.alias for field in model.model_fields.values()]
        place.append(keys.index(step))
        model = _model_of(list(model.model_fields.values())[place[-1]].annotation)
    return place


def _model_of(annotation: Any) -> Any:
    arguments = (annotation, *getattr(annotation, "__args__", ()))
    return next((one for one in arguments if hasattr(one, "model_fields")), None)


def _description(key: str) -> str:
    model: Any = Design
    description = ""
    for step in key.split("."):
        field = next(found for found in model.model_fields.values() if found.alias == step)
        description = field.description or ""
        model = _model_of(field.annotation)
    return description


def _answers(interview: Interview) -> Iterator[tuple[str, Value, bool]]:
    """Yield key, value and whether somebody said so, for each answer that goes into the design."""
    answers = interview.answers
    for question in interview.questions:
        answer = answers.get(question.key, "")
        if answer and not question.key.startswith("survey."):
            own = question.kind in ("choice", "yes-no") or answer != question.usual
            yield question.key, _value(question, answer), own
    yield from ((key, value, True) for key, value in _implied(answers))


def _value(question: Question, answer: str) -> Value:
    if question.kind == "yes-no":
        return answer == YES
    if question.kind == "spread":
        return dict(zip(SPREAD_PARTS, answer.split(", "), strict=True))
    return answer


def _implied(answers: Mapping[str, str]) -> Iterator[tuple[str, Value]]:
    """What follows from answers that are not values of the design themselves."""
    if answers["process.wire"] == "self-shielded":
        yield "process.gas", "none"
    place = {"feeder": "control"}.get(answers["survey.contactor_place"], "elsewhere")
    yield "feeder.contactor.coil.fed_from", place
    yield "feeder.wire_drive.coil.fed_from", answers["survey.wire_drive_place"]
