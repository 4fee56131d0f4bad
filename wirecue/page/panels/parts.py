"""Parts and wires: what to buy, what to join, and proposals for what the design leaves open: as `wirecue parts`."""

from __future__ import annotations

from dataclasses import dataclass

from nicegui import ui

from codegen.drawings.files import nets_csv, parts_csv, wires_csv
from timing.checks.remedies import applied
from timing.circuit.accessories import accessories
from timing.circuit.lists import parts_list, wire_list
from timing.circuit.modules import ways_of_building
from timing.circuit.proposals import Proposal, proposals
from timing.design.origin import PROPOSED_PART
from timing.design.text_file import DesignFileError
from timing.project import Project
from wirecue.page.cards import Fold, folded_card
from wirecue.page.dialogs import ask_to_put_in
from wirecue.page.screen import Screen, refusal, show_fresh
from wirecue.page.shared import findings_key
from wirecue.page.watched import follow_while_open, watched
from wirecue.page.words import folded, told_html, told_table

_NOTE = "What to buy and what to join, with the reasons; ratings that the design leaves open."
_WAYS = {"modules": "of ready-made modules", "board": "soldered on one board"}


@dataclass(frozen=True)
class Listed:
    """The lists of a design, ready to show and to download."""

    html: str
    offered: tuple[Proposal, ...]
    files: dict[str, str]


def parts_listed(project: Project) -> Listed:
    """Return the lists of a design."""
    offered = tuple(proposals(project))
    files = {
        "parts.csv": parts_csv(project),
        "wires.csv": wires_csv(project.netlist),
        "nets.csv": nets_csv(project.netlist),
    }
    return Listed(parts_html(project, offered), offered, files)


def parts_html(project: Project, offered: tuple[Proposal, ...]) -> str:
    """Return ways of building, proposals, parts and wires as HTML, every text escaped."""
    parts = [*parts_list(project.netlist), *accessories(project)]
    wires = [one for one in wire_list(project.netlist) if not one.on_board]
    part_rows = [
        (str(one.quantity), " ".join(one.refs), one.description, one.value, "; ".join(one.reasons)) for one in parts
    ]
    wire_rows = [
        (str(one.number), one.from_end, one.to_end, one.net, str(one.gauge), f"{one.current_a:.3g}", one.treatment)
        for one in wires
    ]
    ways = [
        (_WAYS.get(way, way) + (" (as in the design)" if way == project.design.circuits.build else ""), str(work))
        for way, work in ways_of_building(project).items()
    ]
    return "".join(
        (
            f"<h3>Two ways to build it</h3>{told_table(('way', 'what it asks of your hands'), ways)}",
            f"<h3>Left open by the design</h3>{_offered(offered)}",
            folded(
                f"Parts to buy ({len(part_rows)} lines)",
                told_table(("number", "refs", "what", "value", "why"), part_rows, (0,), "parts"),
            ),
            folded(
                f"Wires ({len(wire_rows)}; joints on the circuit board are in the file)",
                told_table(("", "from", "to", "net", "wire", "A", "how to run it"), wire_rows, (0, 5), "wires"),
            ),
        )
    )


def parts_panel(screen: Screen) -> None:
    """Show the lists, folded until they are wanted."""
    folded_card("parts", _NOTE, lambda fold: _fill(screen, fold))


def _fill(screen: Screen, fold: Fold) -> None:
    latest: list[Listed] = []
    with ui.element("div").classes("strip no-print"):
        put_in = ui.button("Put the proposals into the design ...", on_click=lambda: _ask(screen, latest[-1]))
        put_in.props('data-testid="parts-put-in"').set_visibility(False)
        downloads = [
            ui.button(name, on_click=lambda name=name: _download(screen, latest, name)).props(
                f'outline dense no-caps aria-label="download {name}"'
            )
            for name in ("parts.csv", "wires.csv", "nets.csv")
        ]
    with ui.element("div"):
        shown = ui.html('<p class="note">computing ...</p>', sanitize=False).props('data-testid="parts-listed"')

    def show(found: Listed, fresh: bool) -> None:
        latest[:] = [found]
        shown.set_content(found.html)
        show_fresh(shown, fresh)
        put_in.set_visibility(bool(found.offered))
        for button in (put_in, *downloads):
            button.set_enabled(fresh)

    for button in downloads:
        button.set_enabled(False)
    follow_while_open(screen, fold, watched(screen.shared, parts_listed, findings_key), show)


def _download(screen: Screen, latest: list[Listed], name: str) -> None:
    with screen.client:
        ui.download.content(latest[-1].files[name], f"{screen.shared.project.design.name}_{name}", "text/csv")


def _ask(screen: Screen, found: Listed) -> None:
    before = screen.shared.document.text
    try:
        after = applied(before, [one.change for one in found.offered], PROPOSED_PART)
    except DesignFileError as refused:
        screen.say(refusal(refused), "warning")
        return
    ask_to_put_in(screen, "Put the proposed parts into the design", before, after, undo="proposed parts")


def _offered(offered: tuple[Proposal, ...]) -> str:
    if not offered:
        nothing = "The design names every part, and each of them is rated for what it meets: nothing to propose."
        return f"<p>{told_html(nothing)}</p>"
    rows = [
        (one.change.line, one.part, one.reason if one.open else f"{one.reason}; what the design says falls short")
        for one in offered
    ]
    return told_table(("line for the design", "part", "why"), rows)
