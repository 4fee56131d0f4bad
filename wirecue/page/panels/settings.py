"""All other keys of the design, by table; the main ones of the process stand open."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

from nicegui import ui

from timing.design.saving import Value
from timing.design.times import TIME_KEYS
from wirecue.page.cards import card
from wirecue.page.fields import MAIN_KEYS, Field, all_fields, nearest_key, tables_in, values_in
from wirecue.page.screen import Screen
from wirecue.projects import board_names

GROUP_TITLES = {
    "process": "Process: more",
    "feeder.as_found": "The machine as found",
    "feeder.gas_valve": "Gas valve",
    "feeder.wire_drive": "Wire drive",
    "feeder.contactor": "Contactor",
    "trigger": "Trigger",
    "buttons": "Panel buttons",
    "interlock": "Interlock",
    "arc_sensor": "Arc sensor",
    "spot": "Spot",
    "limits": "Limits",
    "panel": "Front panel",
    "supply": "24 VAC supply",
    "circuits": "Circuits",
    "board": "Board",
}
"""Tables of the design file that have a group here, in its order."""
OPTIONAL = ("feeder.as_found", "feeder.gas_valve", "arc_sensor", "spot", "supply.sense")
"""Tables that a design may be without; they are put in and taken out as text."""
NOT_SET = "(left out)"


@dataclass(repr=False)
class _Control:
    """One field on the screen."""

    screen: Screen
    about: Field
    widget: Any = None
    beside: ui.label | None = None
    """Says why a checkbox was refused; other fields have a place of their own for that."""
    _shown: tuple[int, str | bool | None] | None = None
    """Which opening of a design, and the value in it, as it was shown last."""

    def build(self) -> None:
        label, key = self.about.label, self.about.key
        if self.about.section.count(".") > 1 or self.about.section in ("supply.sense", "board.on_level"):
            label = f"{self.about.section.rpartition('.')[2].replace('_', ' ')}: {label}"
        if self.about.kind == "yes-no":
            with ui.element("div"):
                self.widget = ui.checkbox(label)
                self.beside = ui.label().classes("refused-words").props('role="alert"')
                self.beside.set_visibility(False)
        elif self.about.kind == "choice" or key == "board.type":
            choices = list(board_names() if key == "board.type" else self.about.choices)
            unset = [] if self.about.required or self.about.default else [NOT_SET]
            self.widget = ui.select([*unset, *choices], label=label)
            self.widget.props("dense options-dense outlined hide-bottom-space")
        else:
            self.widget = ui.input(label).props("dense outlined hide-bottom-space")
            if self.about.default:
                self.widget.props["placeholder"] = self.about.default
                self.widget.props["stack-label"] = True
        self.widget.props["data-key"] = key
        self.widget.tooltip(self._help())
        if self.about.kind == "yes-no" or isinstance(self.widget, ui.select):
            self.widget.on("update:model-value", lambda: self._changed(self.widget.value))
        else:
            # What the event brings, not the field's own value: before the line stands, events may overtake each other.
            self.widget.on("change", lambda event: self._changed(event.args))

    def _help(self) -> str:
        parts = [self.about.description]
        if self.about.allowed:
            parts.append(f"Allowed: {self.about.allowed}.")
        if self.about.default:
            parts.append(f"Left out: {self.about.default}.")
        return " ".join(parts)

    def _changed(self, value: str | bool | None) -> None:
        document, key = self.screen.shared.document, self.about.key
        if value in (None, "", NOT_SET):
            why = self.screen.attempt(lambda: document.take_out(key))
        else:
            plain: Value = bool(value) if self.about.kind == "yes-no" else str(value).strip()
            why = self.screen.attempt(lambda: document.set_values({key: plain}))
        self.complain(why)

    def complain(self, why: str) -> None:
        """Say beside the field why its value was refused; an empty `why` takes that back."""
        if self.beside is None:
            self.widget.props["error"] = bool(why)
            self.widget.props["error-message"] = why
        else:
            self.beside.set_text(why)
            self.beside.set_visibility(bool(why))
        self.screen.note_refusal(self.about.key, why)

    def show(self, values: dict[str, str | bool]) -> None:
        """Show the value as it stands in the file, or what holds without it.

        Where it stands as before, the field is left alone: somebody may be typing in it.
        """
        found = values.get(self.about.key)
        shown: str | bool | None
        if self.about.kind == "yes-no":
            shown = found if found is not None else self.about.default == "true"
        elif self.about.kind == "choice":
            shown = found if found is not None else self.about.default or NOT_SET
        else:
            shown = found or ""
        if (self.screen.shared.document.openings, shown) == self._shown:
            return
        self._shown = self.screen.shared.document.openings, shown
        self.complain("")
        if self.widget.value != shown:
            self.widget.set_value(shown)


@dataclass(repr=False)
class _Group:
    """One table, folded; its fields are made when it is first opened."""

    screen: Screen
    section: str
    fields: list[Field]
    box: ui.expansion = field(init=False)
    controls: dict[str, _Control] = field(default_factory=dict)

    def build(self) -> None:
        self.box = (
            ui.expansion(GROUP_TITLES[self.section]).props("dense header-class=text-weight-bold").classes("w-full")
        )
        self.box.props["data-group"] = self.section
        self.box.on_value_change(lambda event: self.fill() if event.value else None)

    def fill(self) -> None:
        """Make the fields, once."""
        if not self.controls:
            with self.box, ui.element("div").classes("fields"):
                self.controls = _build_controls(self.screen, self.fields)
            self.show(values_in(self.screen.shared.document.text))

    def withdraw(self) -> None:
        """Forget what was refused in a table that the design no longer has."""
        for control in self.controls.values():
            control.complain("")

    def show(self, values: dict[str, str | bool]) -> None:
        for control in self.controls.values():
            control.show(values)


def settings_panel(screen: Screen) -> None:
    """Show the main process settings, and every other table folded."""
    fields = all_fields()
    with card("settings"):
        with ui.element("div").classes("fields"):
            main = _build_controls(screen, [fields[key] for key in MAIN_KEYS])
        groups = []
        for section in GROUP_TITLES:
            inside = [one for one in fields.values() if _group_of(one) == section and one.key not in MAIN_KEYS]
            groups.append(_Group(screen, section, inside))
            groups[-1].build()

        def show() -> None:
            text = screen.shared.document.text
            values, tables = values_in(text), tables_in(text)
            for control in main.values():
                control.show(values)
            for group in groups:
                there = group.section not in OPTIONAL or group.section in tables
                group.box.set_visibility(there)
                group.show(values)
                if not there:
                    group.withdraw()

        screen.follow(screen.shared.changed, show)
    screen.show_field = lambda key: _show_field(screen, key, groups)


def _build_controls(screen: Screen, fields: list[Field]) -> dict[str, _Control]:
    controls = {one.key: _Control(screen, one) for one in fields}
    for control in controls.values():
        control.build()
    return controls


def _group_of(about: Field) -> str:
    return next(
        (section for section in sorted(GROUP_TITLES, key=len, reverse=True) if about.key.startswith(section)), ""
    )


def _show_field(screen: Screen, key: str, groups: list[_Group]) -> None:
    for name, time_key in TIME_KEYS.items():
        if key == time_key or key.startswith(f"{time_key}."):
            _bring(screen, f'[data-testid="{name}-number"]', f"#time-{name}")
            return
    if key == "times":
        _bring(screen, '[data-testid="preflow-number"]', "#time-preflow")
        return
    near = nearest_key(key, all_fields())
    for group in groups:
        if any(one.key == near for one in group.fields):
            group.fill()
            group.box.set_value(True)
    _bring(screen, f'[data-key="{near}"]', f'[data-key="{near}"]')


def _bring(screen: Screen, focus: str, flash: str) -> None:
    """Scroll to a field, put the focus on it and let it light up; it may still be on its way to the browser."""
    screen.run_script(f"""
      (function bring(tries) {{
        const found = document.querySelector({json.dumps(focus)});
        const room = found?.getBoundingClientRect().height;
        if (!room) {{ if (tries) setTimeout(() => bring(tries - 1), 60); return; }}
        const inner = found.matches("input") ? found : found.querySelector("input, [tabindex='0']") || found;
        const shown = found.closest({json.dumps(flash)}) || found.closest(".q-field") || found;
        inner.focus(); shown.scrollIntoView({{ block: "center" }});
        shown.classList.remove("flash"); void shown.offsetWidth; shown.classList.add("flash");
      }})(40);
    """)
