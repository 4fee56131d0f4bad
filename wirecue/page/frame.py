"""What every screen of the page stands in: style, colours, the notice that the server has gone, and plain fields."""

from __future__ import annotations

from html import escape

from nicegui import ui

from codegen.style import COMMANDED, HOT, INK, WARM
from timing.design.text_file import DesignFileError
from timing.errors import WirecueError
from wirecue.page.screen import body_html, head_html, refusal

CAUTION = (
    "An add-on timer is not a safety function: it replaces no interlock, emergency stop or thermal cut-out. Pull the "
    "mains plug and measure that capacitors are empty before you open a machine. Leave mains work to a licensed "
    "electrician, and local codes come first."
)


def frame(gone: str = "waiting.html") -> None:
    """Dress the page of one tab. gone: what is shown when the server goes, one of our HTML files."""
    ui.add_head_html(head_html())
    ui.add_body_html(body_html(gone))
    ui.colors(primary=COMMANDED, secondary=INK, accent=WARM, negative=HOT, warning=WARM, info=COMMANDED)


def headline(words: str, tag: str = "h2") -> None:
    """Write a headline, escaped."""
    ui.html(escape(words), sanitize=False, tag=tag)


def alert_label(name: str) -> ui.label:
    """Make an empty place that is read out when words come into it."""
    return ui.label().classes("refused-words").props(f'role="alert" id="{name}" data-testid="{name}"')


def complain(place: ui.label, words: str) -> None:
    """Put words into such a place, or take it away without any."""
    place.set_text(words)
    place.set_visibility(bool(words))


def words_of_error(error: WirecueError) -> str:
    """Return an error as one sentence, for the place beside a field."""
    return refusal(error) if isinstance(error, DesignFileError) else str(error)


def plain_input(label: str, name: str, value: str = "", **props: str) -> ui.element:
    """Make a text field of the browser's own. label: what it is called, where no label beside it says so.

    What stands in it belongs to the browser: it comes with an event (`typed_in`), and no answer of the server that
    comes late pulls it back.
    """
    field = ui.element("input").classes("plain")
    field.props["type"] = "text"
    field.props["autocomplete"] = "off"
    # The attribute, not the property: that would be put back at every change of the page.
    field.props["^value"] = value
    if label:
        field.props["aria-label"] = label
    field.props["data-testid"] = field.props["name"] = name
    for key, text in props.items():
        field.props[key.replace("_", "-")] = text
    return field
