"""wirecue page."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path

import click

from wirecue.terminal import say


class NoPageError(click.ClickException):
    """The library that the page is made with is not installed."""

    exit_code = 2

    def __init__(self) -> None:
        super().__init__("The page needs NiceGUI, which is not installed: pip install 'wirecue[page]' installs it.")


@click.command(name="page", short_help="Turn the dials and look, in the browser.")
@click.argument("design", type=click.Path(path_type=Path), required=False)
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port to serve on.  [default: a free one]")
@click.option("--no-browser", is_flag=True, help="Print the link only; open no browser.")
def command(design: Path | None, port: int, no_browser: bool) -> None:
    """Turn the dials and look, in the browser.

    Times and settings to the left; to the right, at once, the timeline as commanded and as it really is, the wire
    end, the supply and the findings. Hold the trigger and watch it run; save, build and test a board from there.

    \b
      wirecue page                   choose there: the survey, an example, or a design of this folder
      wirecue page my_feeder.toml    go on with that one

    The page is served to this machine alone and opens by the link that is printed, once. It reads and writes design
    files below the folder it is started in, nothing else. Ctrl+C ends it.
    """
    if importlib.util.find_spec("nicegui") is None:
        raise NoPageError
    from wirecue.page.desk import Desk
    from wirecue.page.files import Folder
    from wirecue.page.guard import private_pages
    from wirecue.page.serving import serve

    folder = Folder(Path.cwd())
    desk = Desk(folder)
    if design is not None:
        desk.open(folder.name_of(Path.cwd() / design))

    with private_pages(click.launch) as show:

        def ready(link: str) -> Callable[[], None]:
            click.echo(f"The page is at\n  {link}\nThe link opens it once, on this machine. Ctrl+C ends the page.")
            return (lambda: None) if no_browser else show(link)

        serve(desk, port, ready)
    if desk.shared is not None and desk.shared.document.dirty:
        say(f"{desk.shared.document.name} had changes that were not saved; the open page still shows them.")
