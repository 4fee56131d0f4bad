"""wirecue survey."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.text_file import shown
from wirecue.design_names import check_design_name
from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, write_file
from wirecue.terminal import paragraph, say

if TYPE_CHECKING:
    from timing.survey.interview import Interview
    from timing.survey.question import Question, ReplyError, UnclearReplyError


@click.command(
    name="survey", cls=WritingCommand, short_help="Ask what to measure at the feeder, and write the design from it."
)
@click.argument("name", required=False)
@click.option(
    "--sheet",
    type=OutputOption("survey sheet", Form.XML),
    metavar="FILE",
    help="Write the blank sheet, HTML or PDF, and stop.",
)
@click.option("--afresh", is_flag=True, help="Forget the answers of a survey that was stopped.")
@click.option("--force", is_flag=True, help="Replace a design file that is there.")
@click.pass_context
def command(ctx: click.Context, name: str | None, sheet: Destination | None, afresh: bool, force: bool) -> None:
    """Ask what to measure at the feeder, one question at a time, and write NAME.toml.

    The first questions are those that can rule the job out. Each says how to find the answer safely. A number alone is
    taken in the unit that is shown; wire and gas are answered as spool and cylinder name them, ER70S-6 or 75/25. Enter
    takes the usual answer where there is one; `back` returns to the question before, and Enter then takes what you
    said there. `stop` or Ctrl-C stops: the answers are kept in NAME.survey.json, beside the design to be, and the same
    command goes on from there.

    \b
      wirecue survey --sheet survey.pdf     the same questions on paper, to take to the machine
      wirecue survey my_feeder              writes my_feeder.toml

    Exit codes: 0 design written, 1 the job is ruled out or was stopped, 2 a file or command is bad.
    """
    if sheet is not None:
        _write_sheet(sheet)
        return
    if name is None:
        raise click.UsageError("a NAME for the design, such as my_feeder; or --sheet FILE for the blank sheet")
    path = Path(name).with_name(Path(name).name.removesuffix(".toml") + ".toml")
    check_design_name(path.stem, str(path))
    if not path.parent.is_dir():
        raise click.UsageError(f"there is no folder {path.parent}")
    if os.path.lexists(path) and not force:
        raise click.UsageError(f"{shown(path)} is there already; --force replaces it, or take another name")
    from wirecue.surveying import kept_path

    kept = kept_path(path)
    interview = _begin(kept, afresh)
    interview = _ask_all(ctx, interview, kept)
    _finish(path, interview, kept)


def _write_sheet(sheet: Destination) -> None:
    from codegen.papers.blocks import paper_file
    from codegen.papers.survey_sheet import survey_paper
    from wirecue import __version__
    from wirecue.projects import board_names, load_board

    boards = tuple(load_board(name) for name in board_names())
    sheet.give(paper_file(survey_paper(boards, __version__), sheet.path))
    say("Print it, take it to the machine; then `wirecue survey NAME`.", err=sheet.printed)


def _begin(kept: Path, afresh: bool) -> Interview:
    from codegen.papers.survey_sheet import SURVEY_CAUTIONS
    from wirecue.surveying import asked_topics, taken_up

    interview = taken_up(asked_topics(), kept, afresh=afresh)
    for text in SURVEY_CAUTIONS:
        say(_wrapped(text, "  - ", "    "))
    if interview.answers:
        say(f"\nGoing on after {_counted(interview)} kept in {shown(kept)}; --afresh forgets them.")
    return interview


def _ask_all(ctx: click.Context, interview: Interview, kept: Path) -> Interview:
    from timing.survey.question import ReplyError, UnclearReplyError
    from wirecue.surveying import forget, keep

    shown_already = None
    try:
        while (question := interview.next_question) is not None:
            if question != shown_already:
                _show(interview, question)
            shown_already = None
            text = _typed()
            if text == "back":
                if not interview.answers:
                    say("    This is the first question.")
                interview = interview.back()
                continue
            try:
                interview = interview.answered(question, text)
            except UnclearReplyError as error:
                meant = _which(error)
                if not meant:
                    continue
                interview = interview.answered(question, meant)
            except ReplyError as error:
                _refuse(error)
                shown_already = question
                continue
            if interview.taken:
                say(_wrapped(interview.taken, "    ", "    "))
            if interview.ruled_out:
                if _stays_ruled_out(interview.ruled_out):
                    forget(kept)
                    ctx.exit(1)
                interview = interview.back()
                continue
            keep(interview, kept)
    except click.Abort:
        where = f"kept in {shown(kept)}; the same command goes on from there" if interview.answers else "to keep"
        say(f"\nStopped, no design written. {_counted(interview)} {where}.", err=True)
        ctx.exit(1)
    return interview


def _typed() -> str:
    """Return what is typed; the words that are commands in small letters. Raises click.Abort where that ends it."""
    text: str = click.prompt("  >", default="", show_default=False, prompt_suffix=" ")
    word = text.strip().lower()
    if word in ("stop", "quit", "exit"):
        raise click.Abort
    return word if word == "back" else text


def _which(error: UnclearReplyError) -> str:
    """Ask which of its meanings an answer has; empty where it was none of them."""
    say(f"    {error.found} is sold in more than one way. Which is it?")
    for number, option in enumerate(error.options, start=1):
        say(f"    {number}  {option.word}: {option.meaning}")
    text = _typed()
    if text.isascii() and text.isdigit() and 1 <= int(text) <= len(error.options):
        return error.options[int(text) - 1].word
    if text not in ("", "back"):
        say(f"    a number from 1 to {len(error.options)}; or answer the question again, in full")
    return ""


def _stays_ruled_out(reason: str) -> bool:
    """Say why the job is ruled out; False where the answer was a slip."""
    say("\n" + _wrapped(f"The job is ruled out. {reason}", "", ""), err=True)
    say("    Enter ends the survey; `back` returns to the question.")
    try:
        return _typed() != "back"
    except click.Abort:
        return True


def _counted(interview: Interview) -> str:
    count = len(interview.answers)
    return f"{count or 'No'} answer{'' if count == 1 else 's'}"


def _show(interview: Interview, question: Question) -> None:
    title = interview.title_before(question)
    if title:
        say("\n" + click.style(title, bold=True))
    say("\n" + _wrapped(f"{question.ask}  (at most {interview.left} to go)", "", ""))
    say(_wrapped(question.how, "    ", "    "))
    for number, option in enumerate(question.options, start=1):
        say(f"    {number}  {option.word}" + (f": {option.meaning}" if option.meaning else ""))
    if interview.offered(question):
        say(f"    Enter: {interview.offered(question)}")
    elif question.optional:
        say("    Enter: not measured, left out")
    if question.unit:
        others = f", or with its unit: {', '.join(question.other_units)}" if question.other_units else ""
        say(_wrapped(f"In {question.unit}{others}. Allowed: {question.allowed}", "    ", "    "))
    elif question.kind in ("wire", "gas"):
        say(_wrapped(f"Allowed: {question.allowed}", "    ", "    "))


def _refuse(error: ReplyError) -> None:
    say(click.style(f"    found    {error.found}", fg="red"))
    say(f"    allowed  {error.allowed}")
    if error.hint:
        say(f"    hint     {error.hint}")


def _finish(path: Path, interview: Interview, kept: Path) -> None:
    from timing.survey.first_design import dials_told
    from wirecue.surveying import forget, surveyed_text

    text = surveyed_text(path.stem, interview)
    write_file(path, text)
    forget(kept)
    say(f"\n{shown(path)}: written from your answers. Usual and computed values are marked; try them on scrap.")
    for told in dials_told(text):
        say(_wrapped(told, "", "  "))
    for what in interview.to_do:
        say(_wrapped(f"To do first: {what}", "", "  "))
    say(f"Next: `wirecue advise {shown(path)}` says where to start with every time, and why.")


def _wrapped(text: str, first: str, other: str) -> str:
    return paragraph(text, first=first, then=other)
