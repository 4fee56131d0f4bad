"""What the computation says when the numbers of a design describe something that cannot burn, flow or fill."""

from __future__ import annotations

from timing.errors import WirecueError


class ProcessError(WirecueError):
    """The process as described is impossible. Keeps what was found, what is allowed and what to do."""

    exit_code = 1

    def __init__(self, what: str, allowed: str, remedy: str) -> None:
        super().__init__(what, allowed, remedy)
        self.what = what
        self.allowed = allowed
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.what}\n  allowed  {self.allowed}\n  do       {self.remedy}"


def require_positive(name: str, value: float, unit: str, remedy: str) -> None:
    """Raise ProcessError unless `value` is a number above zero."""
    if not value > 0 or value == float("inf"):
        raise ProcessError(f"{name} is {value:g} {unit}", f"{name} above 0 {unit}", remedy)
