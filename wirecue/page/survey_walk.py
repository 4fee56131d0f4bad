"""A survey on the page: what stands in its fields, a topic at a time, kept after every answer. No screen.

All tabs on the survey of one name share it. What the answers mean and make is in `timing.survey`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from codegen import disk
from timing.survey.filling import FilledSurvey, filled
from timing.survey.first_design import dials_told
from timing.survey.interview import LARGEST_KEPT_BYTES, Interview
from timing.survey.question import Topic
from wirecue.page.files import Folder
from wirecue.surveying import asked_topics, forget, keep, kept_path, surveyed_text, taken_up


class SurveyWalk:
    """One survey on its way to a design.

    folder: where answers and design go; name: of the design to be, checked already. Goes on where kept answers end.
    Raises OutputError and UnreadableFileError as `surveying.taken_up` does.
    """

    def __init__(self, folder: Folder, name: str) -> None:
        self.folder, self.name = folder, name
        self.kept: Path = kept_path(folder.root / f"{name}.toml")
        self.topics: tuple[Topic, ...] = asked_topics()
        interview = taken_up(self.topics, self.kept)
        said = {one.key: interview.said(one) for one in interview.questions if one.key in interview.answers}
        self.typed: dict[str, str] = {**interview.withdrawn, **said}
        """What stands in the fields, by the question's key."""
        self.at = self._first_open(interview)
        """Place of the topic that is asked; behind the last one all is answered."""
        self._on_disk = self._read()

    @property
    def is_current(self) -> bool:
        """False where the kept answers are not those of this walk any more: the terminal went on, or they are gone."""
        return self._read() == self._on_disk

    @property
    def topic(self) -> Topic | None:
        """The topic that is asked; None where all of them are answered."""
        return self.topics[self.at] if self.at < len(self.topics) else None

    @property
    def filled(self) -> FilledSurvey:
        """What the fields make, up to the present topic."""
        return filled(self.topics, self.typed, self.at + 1)

    def take(self, fields: dict[str, str]) -> None:
        """Take what stands in fields now, good or not, and keep it. Raises OutputError."""
        known = {question.key for topic in self.topics for question in topic.questions}
        self.typed |= {key: text.strip() for key, text in fields.items() if key in known}
        self._keep()

    def go_on(self) -> bool:
        """Go to the next topic, if all of the present one is answered; tell whether it is. Raises OutputError."""
        if self.topic is None or not self.filled.good:
            return False
        self.at += 1
        self._keep()
        return True

    def go_back(self) -> None:
        """Go to the topic before, if there is one. What was answered stays."""
        self.at = max(self.at - 1, 0)

    def finish(self) -> tuple[str, tuple[str, ...]]:
        """Write the design; return the name of its file and what is to be said of it.

        Raises DesignFileError and TakenNameError as `Folder.make` does, and OutputError; the answers stay kept then.
        """
        interview = self.filled.interview
        written: list[str] = []

        def text(name: str) -> str:
            written.append(surveyed_text(name, interview))
            return written[-1]

        file = self.folder.make(self.name, text)
        forget(self.kept)
        return file, (*dials_told(written[-1]), *(f"To do first: {what}" for what in interview.to_do))

    def forget(self) -> None:
        """Drop all answers and begin at the first topic."""
        forget(self.kept)
        self._on_disk = None
        self.typed.clear()
        self.at = 0

    def _read(self) -> bytes | None:
        return disk.read(self.kept, LARGEST_KEPT_BYTES)

    def _first_open(self, interview: Interview) -> int:
        question = interview.next_question
        if question is None:
            return len(self.topics)
        return next(place for place, topic in enumerate(self.topics) if question in topic.questions)

    def _keep(self) -> None:
        """Keep the answers. A usual one counts once its topic is done: before that nobody has let it stand."""
        interview = self.filled.interview
        untouched = {
            name
            for question in (() if self.topic is None else self.topic.questions)
            if not self.typed.get(question.key)
            for name in (question.key, question.typed_key)
        }
        given = {key: text for key, text in interview.answers.items() if key not in untouched}
        others = {key: text for key, text in self.typed.items() if text and key not in given}
        keep(replace(interview, answers=given, withdrawn=others), self.kept)
        self._on_disk = self._read()
