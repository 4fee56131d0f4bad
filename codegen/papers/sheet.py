"""What a sheet is written from: a project, this tool's version, and the bench run if there was one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from timing.design.board import Board
from timing.design.design import Design
from timing.errors import WirecueError
from timing.process.advice import Advice
from timing.process.errors import ProcessError
from timing.project import Project


@dataclass(frozen=True)
class SheetSource:
    """A project, and what of a sheet is not the design's."""

    project: Project
    version: str
    """Of this tool."""
    bench: BenchRun | None = None
    """None: not run yet."""

    @property
    def design(self) -> Design:
        """The project's design."""
        return self.project.design

    @property
    def board(self) -> Board:
        """The project's board."""
        return self.project.board

    @property
    def advice(self) -> Advice | None:
        """The project's advice; None where the process as described cannot burn, and a finding says why."""
        try:
            return self.project.advice
        except ProcessError:
            return None


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", strict=True)


class BenchCase(_Part):
    """One case with its verdict."""

    name: str
    title: str
    passed: bool
    troubles: list[str]
    earliest_us: int
    latest_us: int


class BenchRun(_Part):
    """The whole run."""

    format: Literal[1]
    digest: str
    """Of the design that was tested."""
    passed: bool
    board: str
    firmware: str
    port: str
    cases: list[BenchCase]


class NoBenchRunError(WirecueError):
    """Data that is no bench run; `where` says in which part."""

    def __init__(self, where: str) -> None:
        super().__init__(where)
        self.where = where

    def __str__(self) -> str:
        return f"no bench run ({self.where}); `wirecue bench DESIGN --json FILE` writes one"


def bench_run(data: object) -> BenchRun:
    """Return the run in JSON data. Raises NoBenchRunError."""
    try:
        return BenchRun.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(map(str, first["loc"])) or "its outermost part"
        raise NoBenchRunError(f"{place}: {first['msg'][:1].lower()}{first['msg'][1:]}") from None
