"""Slow results that are worked out only while somebody looks at them: those of cards that are folded away."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, Generic, TypeVar

from timing.project import Project
from wirecue.page.shared import Signal, Slow

if TYPE_CHECKING:
    from wirecue.page.cards import Fold
    from wirecue.page.screen import Screen
    from wirecue.page.shared import Shared

Found = TypeVar("Found")
LATER_S = 0.5
"""After what is always in view was asked for, so that a slider that moves on is not slowed down by them (choice)."""


class Watched(Generic[Found]):
    """One such result, kept up with the design as long as it is watched.

    shared: whose design it follows; work: what works it out, in a thread; key: all that it depends on.
    """

    def __init__(self, shared: Shared, work: Callable[[Project], Found], key: Callable[[Project], str]) -> None:
        self._shared = shared
        self._slow = Slow(key, work, self._came)
        self._watchers = 0
        self.found: Found | None = None
        """None until it was worked out for the first time."""
        self.came = Signal()
        """Told when there is a result, and when what there was may no longer hold."""
        self._waiting: asyncio.TimerHandle | None = None
        shared.settled.follow(self._settled)
        shared.changed.follow(self._changed)

    @property
    def is_fresh(self) -> bool:
        """False while the result is that of an earlier state."""
        return self.found is not None and self._slow.is_fresh(self._shared.project)

    def watch(self) -> Callable[[], None]:
        """Keep it up with the design from now on; return what ends that."""
        self._watchers += 1
        self.refresh()

        def end() -> None:
            self._watchers -= 1

        return end

    async def settled(self) -> None:
        """Wait until nothing is being worked out any more."""
        await self._slow.settled()

    def refresh(self) -> None:
        """Ask for it as the design is now, if anybody looks."""
        if self._watchers:
            self._slow.want(self._shared.project)

    def _settled(self) -> None:
        if self._watchers:
            self._waiting = asyncio.get_running_loop().call_later(LATER_S, self.refresh)

    def _changed(self) -> None:
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None
        self.came.tell()

    def _came(self, project: Project, found: Found) -> None:
        self.found = found
        self.came.tell()


def watched(
    shared: Shared, work: Callable[[Project], Found], key: Callable[[Project], str], name: str = ""
) -> Watched[Found]:
    """Return the result of that work; all tabs look at the same one. name: of work that each tab makes anew."""
    kept_as = name or work
    if kept_as not in shared.kept:
        shared.kept[kept_as] = Watched(shared, work, key)
    found: Watched[Found] = shared.kept[kept_as]
    return found


def follow_while_open(screen: Screen, fold: Fold, result: Watched[Found], show: Callable[[Found, bool], None]) -> None:
    """Keep a result up while a card is open; `show` gets it, and whether it is fresh, whenever that changes."""
    ends: list[Callable[[], None]] = []
    shown: list[tuple[Found, bool]] = []

    def turned() -> None:
        if fold.is_open and not ends:
            ends.append(result.watch())
        elif not fold.is_open:
            stop()
        came()

    def came() -> None:
        if not fold.is_open or result.found is None:
            return
        now = (result.found, result.is_fresh)
        if not shown or shown[-1][0] is not now[0] or shown[-1][1] != now[1]:
            shown[:] = [now]
            show(*now)

    def stop() -> None:
        while ends:
            ends.pop()()

    screen.follow(fold.turned, turned)
    screen.follow(result.came, came)
    screen.on_close(stop)
