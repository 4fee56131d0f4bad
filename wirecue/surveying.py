"""The survey of one feeder on the disk: its answers, kept beside the design to be, and the design written from them.

Terminal and page go through here.
"""

from __future__ import annotations

import json
from pathlib import Path

from codegen import disk
from timing.survey.first_design import design_text
from timing.survey.interview import Interview, kept_text, resumed
from timing.survey.question import Topic
from timing.survey.topics import topics
from wirecue.output_files import OutputError, write_file
from wirecue.projects import board_names, load_board

KEPT_ENDING = ".survey.json"
_LARGEST_KEPT = 1_000_000


def asked_topics() -> tuple[Topic, ...]:
    """Return all topics of the survey, with the boards that there are."""
    return topics(tuple(load_board(name) for name in board_names()))


def kept_path(design: Path) -> Path:
    """Return where the answers are kept until the design is written."""
    return design.with_suffix(KEPT_ENDING)


def taken_up(asked: tuple[Topic, ...], kept: Path, *, afresh: bool = False) -> Interview:
    """Return the survey that the file `kept` goes on with, empty without one or `afresh`.

    Raises OutputError where the file holds something else, UnreadableFileError for what is no text file.
    """
    _require_ours(kept, {question.key for topic in asked for question in topic.questions})
    return Interview(asked, {}) if afresh else resumed(asked, kept)


def keep(interview: Interview, kept: Path) -> None:
    """Write down the answers so far. Raises OutputError."""
    write_file(kept, kept_text(interview))


def forget(kept: Path) -> None:
    """Remove the answers, if any are kept."""
    kept.unlink(missing_ok=True)


def surveyed_text(name: str, interview: Interview) -> str:
    """Return the design file that a survey's answers make. Raises DesignFileError for a bad name."""
    return design_text(name, interview, load_board(interview.answers["board.type"]))


def _require_ours(kept: Path, keys: set[str]) -> None:
    """Refuse to keep answers over a file that holds something else. Raises OutputError."""
    if not disk.is_there(kept):
        return
    try:
        answers = json.loads(disk.read(kept, _LARGEST_KEPT) or b"")
    except (ValueError, RecursionError):
        answers = None
    if not isinstance(answers, dict) or (answers and not answers.keys() & keys):
        allowed = "a name of its own for the answers of the survey: take another NAME, or move this file away"
        raise OutputError(kept, "a file that is not the answers of a survey", allowed)
