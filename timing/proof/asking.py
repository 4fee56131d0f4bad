"""Every answer to every question: what a pass asks is answered in all ways, what it does not ask stays open."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

Answers = dict[str, int]
Choices = Mapping[str, tuple[int, ...]]
Result = TypeVar("Result")


class Questions:
    """Stands in for an object whose attributes decide what happens, and notes which of them were asked.

    The first of its choices is the answer to a question for which no answer is given.
    """

    def __init__(self, given: Answers, choices: Choices) -> None:
        self._answers = dict(given)
        self._choices = choices
        self._asked: list[str] = []

    def __getattr__(self, name: str) -> int:
        if name not in self._answers:
            self._answers[name] = self._choices[name][0]
            self._asked.append(name)
        return self._answers[name]


def all_ways(run: Callable[[Questions], Result], choices: Choices, forced: Answers) -> Iterator[tuple[Answers, Result]]:
    """Run `run` once for each way in which its questions can be answered; yield the answers and the result.

    `forced` is answered beforehand. What is missing from the answers was not asked: the result is the same for every
    choice of it. The ways exclude each other, and together they cover every combination of choices.
    """
    open_ways = [forced]
    while open_ways:
        questions = Questions(open_ways.pop(), choices)
        result = run(questions)
        answers, asked = questions._answers, questions._asked
        so_far = {name: value for name, value in answers.items() if name not in asked}
        for name in asked:
            open_ways += [{**so_far, name: other} for other in choices[name][1:]]
            so_far[name] = answers[name]
        yield so_far, result
