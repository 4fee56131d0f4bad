"""The reference pages of the documentation, made from the tables and the schema that they describe."""

from __future__ import annotations

import inspect
import textwrap

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from timing.checks.registry import RULES, Rule
from timing.design.board import ROLES
from timing.design.design import Design
from timing.design.units import Measure, format_quantity
from timing.proof.prove import COVERED, NOT_WALKED, WALKED
from timing.protocol.reference import serial_page
from timing.protocol.resets import RESET_ROWS, Reset
from timing.sequence.core.table import TABLE, Fault, Guard, Output, Row, Transition
from timing.sequence.faults import EXPLANATIONS

_MADE = "<!-- Made by `make docs` from the code; changes here are lost. -->\n\n"
_OUTPUTS = {Output.GAS: "G", Output.WIRE: "W", Output.CONTACTOR: "C"}
_MANY = 3
"""Places of one table from which its heading no longer names them all."""


def sequence_page() -> str:
    """Return docs/sequence.md: the phase table in words."""
    lines = [
        _MADE + "# The sequence",
        "",
        "What is on in each phase, and how the phase ends. G gas valve, W wire drive, C contactor. Exits are tested",
        "from top to bottom; the first whose conditions all hold is taken. A *fresh* press is a change from open to",
        "closed, after the filter; a trigger or button merely found closed is not one. A zero time passes straight",
        "through.",
        "",
        "![Two stitches: what is on in each phase, as commanded and as it really happens](timeline.svg)",
        "",
        "What the lamp's blinks mean stands under [faults](#faults) and [resets](#resets).",
        "",
        "Where an arc sensor is fitted, an arc *stays* when it is sensed although the contactor has been off for",
        "longer than its longest off-delay and the sensor's filter.",
        "",
    ]
    for phase, row in TABLE.items():
        lines += [f"## {phase.word}", "", _head(row), ""]
        lines += [f"- {_note(note.when, note.do, note.fault)}" for note in row.notes]
        lines += [f"- {_way(transition)}" for transition in row.transitions]
        lines.append("")
    lines += _proof_lines()
    lines += ["## Faults", "", "The lamp blinks the number.", ""]
    lines += ["| number | fault | what it means | what to do |", "|---|---|---|---|"]
    lines += [f"| {int(fault)} | {fault.word} | {told.means} | {told.remedy} |" for fault, told in EXPLANATIONS.items()]
    lines += ["", "## Resets", ""]
    lines += [
        "After a reset that was a fault of board or supply the lamp tells it in idle, until the first press: it is",
        "lit, goes dark for a moment as often as the number says, then stays lit for a second. A fault blinks out of",
        "the dark; a reset winks out of the light. After any other start the lamp is steady.",
        "",
    ]
    lines += ["| number | reset | what happened | what to do |", "|---|---|---|---|"]
    lines += [f"| {int(one)} | {one.word} | {one.means} | {RESET_ROWS[one].remedy} |" for one in Reset if one.on_lamp]
    return "\n".join(lines) + "\n"


def _proof_lines() -> list[str]:
    return [
        "## What is proved of it",
        "",
        f"`wirecue prove` and every build cover {COVERED}.",
        "",
        *(textwrap.fill(text, 110) + "\n" for text in WALKED),
        "What is not covered:",
        "",
        *(textwrap.fill(text, 110, initial_indent="- ", subsequent_indent="  ") for text in NOT_WALKED),
        "",
    ]


def _head(row: Row) -> str:
    on = " ".join(letter for output, letter in _OUTPUTS.items() if output in row.outputs) or "nothing"
    lasts = "" if row.time.value == "none" else f" Time: {row.time.value}."
    entering = f" On entering: {', '.join(action.value for action in row.enter)}." if row.enter else ""
    return f"On: {on}.{lasts}{entering}"


def _when(when: tuple[Guard, ...]) -> str:
    return ", ".join(str(question) for question in when)


def _way(transition: Transition) -> str:
    extra = [action.value for action in transition.do]
    if transition.fault is not None:
        extra.append(
            "nothing is shown any more" if transition.fault is Fault.NONE else f"shows *{transition.fault.word}*"
        )
    return f"{_when(transition.when)} → **{transition.to.word}**" + (f" ({'; '.join(extra)})" if extra else "")


def _note(when: tuple[Guard, ...], do: tuple[object, ...], fault: Fault | None) -> str:
    extra = [str(getattr(action, "value", action)) for action in do]
    if fault is not None:
        extra.append(f"shows *{fault.word}*")
    return f"{_when(when)}: {'; '.join(extra)}"


def design_file_page() -> str:
    """Return docs/design-file.md: every table and key of the design file."""
    lines = [
        _MADE + "# The design file",
        "",
        "One TOML file describes one add-on for one feeder. Quantities stand in quotes with their unit, metric or US:",
        '`"250 ms"`, `"200 in/min"`, `"14 L/min"`, `"30 ft3/h"`. `wirecue schema` prints the same as JSON Schema, so',
        'that editors complete keys. A time is fixed, `preflow = "250 ms"`, or on a dial,',
        '`preflow = { from = "0 ms", to = "1.5 s", setting = "300 ms" }`.',
        "",
    ]
    for model, names in _names_by_table().items():
        lines += [f"## {_heading(names)}", "", inspect.getdoc(model) or "", "", *_where_it_stands(names)]
        lines += ["| key | what it is | allowed | if left out |", "|---|---|---|---|"]
        lines += [_key_row(field) for field in model.model_fields.values() if _inner(field) is None]
        lines.append("")
    lines += ["## Roles of pins", "", "For `board.pins`.", "", "| role | what it is | kind |", "|---|---|---|"]
    lines += [f"| `{role.key}` | {role.meaning} | {role.kind.value} |" for role in ROLES.values()]
    return "\n".join(lines) + "\n"


def _names_by_table() -> dict[type[BaseModel], list[str]]:
    """Return each kind of table with the names under which it stands in a design file."""
    found: dict[type[BaseModel], list[str]] = {}
    for name, model in _tables(Design, ""):
        found.setdefault(model, []).append(name or "top level")
    return found


def _heading(names: list[str]) -> str:
    """Return one heading for all places of a table: their names, or what these end in where there are many."""
    return ", ".join(names if len(names) < _MANY else dict.fromkeys(name.rpartition(".")[2] for name in names))


def _where_it_stands(names: list[str]) -> list[str]:
    """Return where a table of many places stands, as a paragraph."""
    if len(names) < _MANY:
        return []
    places = ", ".join(f"`{name}`" for name in names)
    return [textwrap.fill(f"The same for each of {places}.", 110, break_on_hyphens=False), ""]


def _tables(model: type[BaseModel], name: str) -> list[tuple[str, type[BaseModel]]]:
    found = [(name, model)]
    for field in model.model_fields.values():
        inner = _inner(field)
        if inner is not None:
            found += _tables(inner, f"{name}.{field.alias}" if name else str(field.alias))
    return found


def _inner(field: FieldInfo) -> type[BaseModel] | None:
    candidates = [field.annotation, *getattr(field.annotation, "__args__", ())]
    return next((c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel)), None)


def _key_row(field: FieldInfo) -> str:
    return f"| `{field.alias}` | {field.description or ''} | {_allowed(field)} | {_default(field)} |".replace(
        " | |", " | – |"
    )


def _measure(field: FieldInfo) -> Measure | None:
    arguments = getattr(field.annotation, "__args__", ())
    metadata = [*field.metadata, *(item for argument in arguments for item in getattr(argument, "__metadata__", ()))]
    return next((item for item in metadata if isinstance(item, Measure)), None)


def _allowed(field: FieldInfo) -> str:
    measure = _measure(field)
    if measure is not None:
        return measure.allowed
    outer = getattr(field.annotation, "__args__", ())
    inner = (argument for one in outer for argument in getattr(one, "__args__", ()))
    arguments = [argument for argument in (*outer, *inner) if isinstance(argument, str | int)]
    if arguments:
        return ", ".join(f"`{argument}`" for argument in arguments)
    return "true or false" if field.annotation is bool else "text"


def _default(field: FieldInfo) -> str:
    if field.default is PydanticUndefined:
        return "must be there" if field.is_required() else "empty"
    if field.default is None or field.default == "":
        return ""
    measure = _measure(field)
    if measure is not None and isinstance(field.default, int | float):
        return format_quantity(field.default, measure.unit)
    return str(field.default).lower() if isinstance(field.default, bool) else str(field.default)


RULE_GROUPS = {
    "board": "Board and pins",
    "controls": "Trigger and dials",
    "times": "Times, limits and repeated work",
    "plates": "Plates that are made",
    "gas": "Gas",
    "power_source": "Power source",
    "process": "Wire and arc",
    "spots": "Spots without a hole",
    "supply": "The 24 VAC supply",
    "isolation": "COMMON and isolation",
    "feeder": "What comes from the feeder",
    "as_found": "The machine as found",
    "trigger_levels": "The trigger's input",
    "circuits": "Circuits",
    "loads": "Loads",
    "load_wires": "Wires of loads",
    "modules": "Ready-made modules",
}
"""Headings of docs/rules.md by module of the rules."""


def rules_page() -> str:
    """Return docs/rules.md: every rule of the registry."""
    lines = [
        _MADE + "# Rules",
        "",
        f"The {len(RULES)} rules that `wirecue check` holds a design to. A finding adds the figures of your design,",
        "and what to do. An *error* breaks the design: it is not built. A *warning* means that it will work, not",
        "well or not always; an *info* asks for nothing. What the marks under *rests on* mean stands in",
        "[sources](sources.md).",
        "`wirecue schema --findings` prints the form that findings have as JSON.",
    ]
    for module, heading in RULE_GROUPS.items():
        rows = [rule for rule in RULES if rule.function.__module__ == f"timing.checks.{module}"]
        lines += ["", f"## {heading}", "", "| rule | looks at | can be | why | to do | rests on |"]
        lines += ["|---|---|---|---|---|---|"]
        lines += [_rule_row(rule) for rule in rows]
    return "\n".join(lines) + "\n"


def _rule_row(rule: Rule) -> str:
    severities = ", ".join(severity.word for severity in rule.severities)
    cells = (f"`{rule.name}`", rule.about, severities, rule.reason, rule.remedy or "nothing", rule.source)
    return f"| {' | '.join(cells)} |"


PAGES = {
    "rules.md": rules_page,
    "sequence.md": sequence_page,
    "design-file.md": design_file_page,
    "serial.md": serial_page,
}
"""File below docs/, and what makes it."""
