"""wirecue commission."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from timing.design.text_file import shown
from wirecue.terminal import json_text, paragraph, say, working

if TYPE_CHECKING:
    from timing.commission.reply import StepReply
    from timing.commission.step import Ask, CommissionStage, CommissionStep
    from timing.commission.steps import CommissionPlan
    from timing.commission.walk import CommissionWalk
    from timing.process.welds import TestWeld
    from timing.survey.question import ReplyError
    from wirecue.commissioning import Commissioning, WeldTurn

STEPS_FORMAT = 1
_LABEL = 13


@click.command(name="commission", short_help="Walk through commissioning at the machine, step by step.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--steps", "listed", is_flag=True, help="Print every step, with what became of it, and stop.")
@click.option(
    "--answer",
    "answers",
    nargs=2,
    multiple=True,
    metavar="KEY TEXT",
    help='Enter one answer without asking: --answer power.tap "27.1 V". May be given several times.',
)
@click.option("--json", "as_json", is_flag=True, help="Print the steps as JSON; with --steps or --answer.")
@click.pass_context
def command(
    ctx: click.Context, design: Path, listed: bool, answers: tuple[tuple[str, str], ...], as_json: bool
) -> None:
    """Walk through commissioning at the machine, one step at a time.

    From the last look before power to the hand-over: readings, dry runs, gas, first arc, test welds, dial marks. Each
    step says where every switch and dial stands, what to do, what should happen, and what to do if it does not.

    \b
      yes, no         it happened as it should, or it did not
      27.1, 27.1 V    a reading; a bare number is taken in the unit shown, but ohms need theirs
      skip            leave a step out; what is not safe without it cannot be left out
      back            return to the step before, and answer it again
      later           stop here
      ?               show the cautions of this stage again

    Every answer goes into the logbook beside the design, NAME.log, the moment it is given. Ctrl-C, a flat battery or
    `later` lose nothing: the same command goes on from there. When the wiring, the sequence or the wire changes, the
    steps that rest on it are asked anew.

    \b
      wirecue commission my_feeder.toml
      wirecue commission my_feeder.toml --steps
      wirecue commission my_feeder.toml --answer power.tap "27.1 V" --answer dry.start yes

    The commissioning sheet of `wirecue sheet` has the same steps on paper.

    Exit codes: 0 every step passed or was left out, 1 steps are left or failed, 2 a file or command is bad.
    """
    from wirecue.commissioning import Commissioning

    if as_json and not (listed or answers):
        raise click.UsageError("--json goes with --steps or --answer")
    going = Commissioning.of(design, ctx.obj)
    failed = False
    if answers:
        failed = _enter_all(going, answers)
    elif not listed:
        walk_through(ctx, going)
        return
    if as_json:
        click.echo(json_text(report(going)), nl=False)
    elif listed:
        say(text_of(going.plan, going.walk))
    if failed:
        ctx.exit(1)


def _enter_all(going: Commissioning, answers: tuple[tuple[str, str], ...]) -> bool:
    """Enter answers given on the command line, all or none; tell whether one of them is a failure."""
    from timing.commission.reply import StepReply
    from timing.commission.walk import StepOutcome

    read = [_read_option(going, key, text) for key, text in answers]
    for step, reply in read:
        if not isinstance(reply, StepReply):
            going.enter_weld(reply)
            continue
        going.enter(step, reply)
        say(f"{step.key}: {reply.outcome.value}{f', {reply.reading}' if reply.reading else ''}", err=True)
        if reply.outcome is StepOutcome.FAILED:
            say(paragraph(reply.means or step.if_not, first="  ", then="  "), err=True)
    say(f"entered in {shown(going.log)}", err=True)
    return any(isinstance(reply, StepReply) and reply.outcome is StepOutcome.FAILED for _, reply in read)


def _read_option(going: Commissioning, key: str, text: str) -> tuple[CommissionStep, StepReply | TestWeld]:
    from timing.errors import meant
    from timing.survey.question import ReplyError

    keys = [step.key for step in going.plan.steps]
    if key not in keys:
        near = meant(key, keys)
        hint = f"; {near}" if near else "; --steps shows them"
        raise click.BadParameter(f"no step {key!r} in this design{hint}", param_hint="'--answer'")
    step = going.plan.step(key)
    try:
        return step, going.read(step, text)
    except ReplyError as error:
        raise click.BadParameter(f"{key}: {error}", param_hint="'--answer'") from None


def walk_through(ctx: click.Context, going: Commissioning) -> None:
    """Ask step after step until none is left, or somebody stops."""
    say(_where(going))
    told: set[CommissionStage] = set()
    stage: CommissionStage | None = None
    passed_over: frozenset[str] = frozenset()
    before, step = None, going.walk.next_step()
    try:
        while step is not None:
            if step.stage is not stage:
                _show_stage(going.plan, step.stage, cautions=step.stage not in told)
                stage = step.stage
                told.add(stage)
            if step is not before:
                _show_step(going, step)
            before, (step, passed_over) = step, _ask(going, step, passed_over)
    except (click.Abort, KeyboardInterrupt, _LaterError):
        say(f"\nStopped. {_kept(going)}", err=True)
        ctx.exit(1)
    say("\n" + _finished(going))


class _LaterError(Exception):
    """Somebody stops for today."""


def _ask(
    going: Commissioning, step: CommissionStep, passed_over: frozenset[str]
) -> tuple[CommissionStep | None, frozenset[str]]:
    """Ask one step until there is an answer to go on from; return what comes next."""
    from timing.commission.reply import StepReply, WalkWord, answers_of, walk_word
    from timing.commission.step import WeldsAsked
    from timing.commission.walk import StepOutcome
    from timing.survey.question import ReplyError

    turn = _fitted(going) if isinstance(step.ask, WeldsAsked) else None
    _show_turn(turn)
    while True:
        text = click.prompt(f"  {answers_of(step)} >", default="", show_default=False, prompt_suffix=" ")
        word = walk_word(text)
        if word is WalkWord.LATER:
            raise _LaterError
        if word is WalkWord.HELP:
            _show_stage(going.plan, step.stage)
            _show_step(going, step)
            continue
        if word is WalkWord.BACK:
            earlier = going.walk.before(step)
            if earlier is not None:
                return earlier, passed_over
            say("    This is the first step.")
            continue
        try:
            reply = going.read(step, text, turn)
        except ReplyError as error:
            _refuse(error)
            continue
        if not isinstance(reply, StepReply):
            going.enter_weld(reply)
            turn = _fitted(going)
            _show_turn(turn)
            if not turn.enough:
                continue
            reply = StepReply(StepOutcome.PASSED)
        going.enter(step, reply)
        if reply.outcome is StepOutcome.FAILED:
            _tell_failed(step, reply)
        if reply.outcome is StepOutcome.SKIPPED:
            passed_over |= {step.key}
        return going.walk.next_step(passed_over), passed_over


def _fitted(going: Commissioning) -> WeldTurn:
    with working("fitting"):
        return going.weld_turn()


def _where(going: Commissioning) -> str:
    """Say where the walk stands, before the first question."""
    from timing.commission.walk import StepState

    walk, steps = going.walk, going.plan.steps
    head = f"Commissioning {going.project.design.name}, design {going.project.design.digest()}: {len(steps)} steps."
    if not walk.started:
        return paragraph(f"{head} Every answer is kept in {shown(going.log)} as it is given.")
    counted = {state: len(walk.in_state(state)) for state in StepState}
    told = [f"{counted[state]} {_STATES[state.value]}" for state in StepState if counted[state]]
    lines = [f"{head} Going on from {shown(going.log)}: {', '.join(told)}."]
    anew = walk.in_state(StepState.ANEW)
    if anew:
        titles = "; ".join(step.title for step in anew)
        lines.append(f"To be done anew, since what they rest on has changed: {titles}.")
    return "\n".join(paragraph(line) for line in lines)


_STATES = {
    "open": "to do",
    "anew": "to do anew",
    "failed": "failed",
    "skipped": "left out",
    "passed": "passed",
}


def _kept(going: Commissioning) -> str:
    walk = going.walk
    count = len(walk.plan.steps) - walk.left
    kept = f"{count} of {len(walk.plan.steps)} steps done, kept in {shown(going.log)}"
    return f"{kept if walk.started else 'No answer yet'}; the same command goes on from there."


def _finished(going: Commissioning) -> str:
    from timing.commission.walk import StepState

    left_out = going.walk.in_state(StepState.SKIPPED)
    lines = [f"Commissioned: every step that was asked passed. {shown(going.log)} has the record."]
    if left_out:
        titles = "; ".join(step.title for step in left_out)
        lines.append(f"Left out: {titles}. The same command asks them again.")
    settings = going.settings_found()
    if settings:
        words = ", ".join(f"`{line}`" for line in settings.values())
        lines.append(
            f"Dials found good elsewhere than the design has them; put that into {shown(going.design)}: {words}."
        )
    lines.append(f"Next: `wirecue sheet {shown(going.design)}`, and keep papers and logbook with the machine.")
    return "\n".join(paragraph(line, first="", then="  ") for line in lines)


def _show_stage(plan: CommissionPlan, stage: CommissionStage, *, cautions: bool = True) -> None:
    say("\n" + click.style(stage.title, bold=True))
    for text in plan.cautions.get(stage, ()) if cautions else ():
        say(click.style(paragraph(text, first="  ! ", then="    "), fg="yellow"))


def _show_step(going: Commissioning, step: CommissionStep) -> None:
    number = going.plan.steps.index(step) + 1
    head = f"{number} of {len(going.plan.steps)}  {step.title}"
    say(f"\n{click.style(head, bold=True)}  ({step.key})")
    for text in step.cautions:
        say(click.style(paragraph(text, first="  ! ", then="    "), fg="yellow"))
    if step.setup.words:
        say(_labelled("set", ", ".join(step.setup.words)))
    for place, text in enumerate(step.do):
        say(_labelled("" if place else "do", text))
    say(_labelled("expect", step.expect))
    if _band(step) not in step.expect:
        say(_labelled("passes", _band(step)))
    say(_labelled("if not", step.if_not))


def _show_turn(turn: WeldTurn | None) -> None:
    if turn is None:
        return
    for sentence in turn.sentences:
        say(_labelled("", sentence))
    if turn.enough:
        say(_labelled("enough", "These welds tell what they can."))
    else:
        say(_labelled("next weld", f"{turn.words}."))


def _band(step: CommissionStep) -> str:
    """The readings that pass; empty where no reading is asked."""
    from timing.commission.step import ReadingAsked

    return step.ask.band if isinstance(step.ask, ReadingAsked) else ""


def _labelled(label: str, text: str) -> str:
    return paragraph(text, first=f"  {label}".ljust(_LABEL), then=" " * _LABEL)


def _refuse(error: ReplyError) -> None:
    say(click.style(paragraph(error.found, first="    found    ", then=" " * 13), fg="red"))
    say(paragraph(error.allowed, first="    allowed  ", then=" " * 13))
    if error.hint:
        say(paragraph(error.hint, first="    hint     ", then=" " * 13))


def _tell_failed(step: CommissionStep, reply: StepReply) -> None:
    what = f"{reply.reading} is outside {_band(step)}" if reply.means else "Failed"
    say(click.style(f"    {what}; it is kept.", fg="red"))
    say(paragraph(reply.means or step.if_not, first="    ", then="    "))
    say("    Put it right, and answer again.")


def text_of(plan: CommissionPlan, walk: CommissionWalk) -> str:
    """Return every step as text, with what became of it."""
    return "\n".join(_lines(plan, walk))


def _lines(plan: CommissionPlan, walk: CommissionWalk) -> Iterator[str]:
    for stage in plan.stages:
        yield from (("",) if stage is not plan.stages[0] else ())
        yield stage.title
        for text in plan.cautions.get(stage, ()):
            yield paragraph(text, first="  ! ", then="    ")
        for step in plan.of(stage):
            yield from _step_lines(step, walk)


def _step_lines(step: CommissionStep, walk: CommissionWalk) -> Iterator[str]:
    record = walk.records.get(step.key)
    state = _STATES[walk.state(step).value]
    told = "" if record is None else f", {' '.join(filter(None, (shown(record.reading), record.when)))}"
    yield f"\n  {step.key}  {step.title} ({state}{told})"
    for text in step.cautions:
        yield paragraph(text, first="    ! ", then="      ")
    if step.setup.words:
        yield _labelled("  set", ", ".join(step.setup.words))
    for place, text in enumerate(step.do):
        yield _labelled("" if place else "  do", text)
    yield _labelled("  expect", step.expect)
    if _band(step) not in step.expect:
        yield _labelled("  passes", _band(step))
    yield _labelled("  if not", step.if_not)


def report(going: Commissioning) -> dict[str, Any]:
    """Return every step with what became of it, as data."""
    walk = going.walk
    return {
        "format": STEPS_FORMAT,
        "design": going.project.design.name,
        "digest": going.project.design.digest(),
        "finished": walk.finished,
        "next": None if (following := walk.next_step()) is None else following.key,
        "cautions": {stage.value: list(texts) for stage, texts in going.plan.cautions.items()},
        "steps": [_step_record(step, walk) for step in going.plan.steps],
    }


def _asked_record(asked: Ask) -> dict[str, Any] | None:
    from timing.commission.step import ReadingAsked

    return {"unit": asked.unit, "low": asked.low, "high": asked.high} if isinstance(asked, ReadingAsked) else None


def _step_record(step: CommissionStep, walk: CommissionWalk) -> dict[str, Any]:
    from timing.commission.reply import answers_of

    record, asked = walk.records.get(step.key), step.ask
    return {
        "key": step.key,
        "stage": step.stage.value,
        "title": step.title,
        "set": list(step.setup.words),
        "do": list(step.do),
        "expect": step.expect,
        "if_not": step.if_not,
        "cautions": list(step.cautions),
        "needed": step.needed,
        "answers": answers_of(step),
        "reading": _asked_record(asked),
        "state": walk.state(step).value,
        "outcome": None if record is None else {"at": record.when, "reading": record.reading, "digest": record.digest},
    }
