"""The survey as an interview: which question comes next, what rules the job out, and how it is kept and resumed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from timing.design.text_file import UnreadableFileError, read_text_file
from timing.survey.question import Option, Question, ReplyError, Topic
from timing.survey.replies import read_reply

LARGEST_KEPT_BYTES = 200_000
"""Of the file that keeps a survey's answers: far more than there are questions (choice)."""


@dataclass(frozen=True)
class Interview:
    """Questions with the answers so far, by key, in the order in which they were given."""

    topics: tuple[Topic, ...]
    answers: Mapping[str, str]
    withdrawn: Mapping[str, str] = field(default_factory=dict)
    """Answers gone back on, offered again when their question comes."""
    taken: str = ""
    """What the last answer was taken for, where that is worth a word."""

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

        An optional question offers nothing, so that it can still be left open; what ends the job is not offered either.
        """
        ending = {option.word for option in question.options if option.rules_out}
        withdrawn = self.withdrawn.get(question.key, question.usual)
        return question.usual if question.optional or withdrawn in ending else withdrawn

    def answered(self, question: Question, text: str) -> Interview:
        """Return the interview with one more answer. Raises ReplyError for one that does not do."""
        reply = read_reply(question, text.strip() or self.offered(question), self.answers)
        typed = {question.typed_key: reply.typed} if reply.typed else {}
        return replace(self, answers={**self.answers, **typed, question.key: reply.answer}, taken=reply.taken)

    def back(self) -> Interview:
        """Return the interview without its last answer, which is offered again; unchanged where there is none."""
        if not self.answers:
            return self
        *others, (key, answer) = self.answers.items()
        kept = dict(others)
        typed_key = next(one.typed_key for one in self.questions if one.key == key)
        typed = kept.pop(typed_key, answer)
        return replace(self, answers=kept, withdrawn={**self.withdrawn, key: typed}, taken="")

    def said(self, question: Question) -> str:
        """Return what was answered to a question, as it was typed."""
        return self.answers.get(question.typed_key) or self.answers[question.key]

    def title_before(self, question: Question) -> str:
        """Return the title of the topic that a question opens; empty where it goes on with one."""
        for topic in self.topics:
            asked = [one for one in topic.questions if one.applies(self.answers)]
            if asked and asked[0] == question:
                return topic.title
        return ""


def kept_text(interview: Interview) -> str:
    """Return the answers so far as the text of a file; those gone back on as well, since nothing said is lost."""
    return json.dumps({**interview.withdrawn, **interview.answers}, indent=2, ensure_ascii=False) + "\n"


def resumed(topics: tuple[Topic, ...], path: Path) -> Interview:
    """Return the interview that a file of answers goes on with, up to the first answer that does not do.

    What is kept beyond that is offered again when its question comes. An empty interview where there is no such file,
    or something else in it. Raises UnreadableFileError for what is no text file of a survey's size.
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
            typed = kept.get(question.typed_key)
            further = interview.answered(question, typed if isinstance(typed, str) else kept[question.key])
        except ReplyError:
            break
        if further.ruled_out:
            break
        interview = further
    return replace(interview, withdrawn=dict(_kept_further(interview, kept)))


def _kept_further(interview: Interview, kept: Mapping[object, object]) -> Iterator[tuple[str, str]]:
    """Yield key and text of each answer that is kept for later and can be one by itself."""
    for question in interview.questions:
        text = kept.get(question.typed_key, kept.get(question.key))
        if question.key in interview.answers or not isinstance(text, str) or not text.strip():
            continue
        try:
            reply = read_reply(question, text)
        except ReplyError:
            continue
        if not any(option.rules_out for option in question.options if option.word == reply.answer):
            yield question.key, text
