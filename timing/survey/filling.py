"""The survey as a form: what stands in its fields, read in the order of the questions, without a question asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from timing.survey.interview import Interview
from timing.survey.question import Question, ReplyError, Topic


@dataclass(frozen=True)
class FilledSurvey:
    """What the fields of the first topics make of the interview."""

    interview: Interview
    """With every answer that does."""
    asked: tuple[Question, ...]
    """The questions of these topics that apply after the answers before them."""
    refused: Mapping[str, ReplyError]
    """By the question's key, why its field does not do: what stands in it, or that nothing does."""
    taken: Mapping[str, str]
    """By the question's key, what its field was taken for, where that is worth a word."""

    @property
    def good(self) -> bool:
        """True where every question that applies has an answer and none ends the job."""
        return not self.refused and not self.interview.ruled_out


def filled(topics: tuple[Topic, ...], typed: Mapping[str, str], count: int) -> FilledSurvey:
    """Read the fields of the first `count` topics; `typed` has what stands in them by the question's key.

    An empty field stands for the usual answer where there is one.
    """
    interview = Interview(topics, {})
    asked: list[Question] = []
    refused: dict[str, ReplyError] = {}
    taken: dict[str, str] = {}
    for question in (one for topic in topics[:count] for one in topic.questions):
        if not question.applies(interview.answers):
            continue
        asked.append(question)
        try:
            interview = interview.answered(question, typed.get(question.key, ""))
        except ReplyError as error:
            refused[question.key] = error
            continue
        if interview.taken:
            taken[question.key] = interview.taken
    return FilledSurvey(interview, tuple(asked), refused, taken)
