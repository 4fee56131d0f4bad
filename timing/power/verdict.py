"""Whether the supply carries the add-on, and by what margin: two plain sentences."""

from __future__ import annotations

from dataclasses import dataclass

from timing.checks.finding import Severity
from timing.power.budget import Budget
from timing.power.loads import PULL_IN_SHARE
from timing.power.record import SupplyReport, rated_current_a


@dataclass(frozen=True)
class SupplyVerdict:
    """The two sentences, and whether the first says that the supply carries the add-on."""

    carries: bool
    answer: str
    margin: str

    @property
    def text(self) -> str:
        """Both."""
        return f"{self.answer} {self.margin}"


def supply_verdict(report: SupplyReport) -> SupplyVerdict:
    """Return the verdict on a supply: no load beyond a rating or a voltage too low for a coil passes as carried."""
    answer = _failing(report)
    carries = answer is None
    return SupplyVerdict(carries, answer or "The supply carries the add-on.", _margin(report.budget))


def _failing(report: SupplyReport) -> str | None:
    """What keeps the supply from carrying the add-on, the gravest first; None where nothing does."""
    budget = report.budget
    if not budget.closes:
        return "The supply does not carry the add-on: the reservoir runs empty."
    broken = [finding for finding in report.errors if finding.rule.startswith("supply.")]
    if broken:
        more = f", and {len(broken) - 1} more" if len(broken) > 1 else ""
        return f"The supply does not carry the add-on as it stands: {_small(broken[0].text)}{more}."
    loaded = heaviest_share(budget)
    if loaded.share > 1.0:
        return (
            f"The winding is overloaded: with the add-on it carries {100 * loaded.share:.0f} % of its rating in "
            f"{loaded.phase}, {100 * loaded.alone_share:.0f} % without."
        )
    wanted = PULL_IN_SHARE * budget.supply.nominal_v
    if budget.sag is not None and budget.sag.winding_v < wanted:
        least, best = budget.sag.winding_v, budget.sag.winding_best_v
        return (
            f"At low line the coils may not pull in: the winding falls to {least:.1f} V, or to {best:.1f} V where they "
            f"lag more, and they need {wanted:.1f} V."
        )
    others = [finding for finding in report.findings if finding.severity is Severity.ERROR]
    if others:
        return f"The supply would do, but the add-on's circuits must not be built like this: {_small(others[0].text)}."
    return None


@dataclass(frozen=True)
class WindingShare:
    """The phase in which the winding is loaded most, at nominal line."""

    phase: str
    share: float
    """Of its rated current."""
    alone_share: float
    """The same without the add-on."""


def heaviest_share(budget: Budget) -> WindingShare:
    """Return how far the winding is loaded at most; nothing where no phase settles."""
    rated_a = rated_current_a(budget)
    settled = [phase for phase in budget.phases if phase.state.settled]
    if not settled:
        return WindingShare("no phase", 0.0, 0.0)
    worst = max(settled, key=lambda phase: float(phase.state.winding_rms_a))
    total_a = float(worst.state.winding_rms_a)
    return WindingShare(worst.load.phase.word, total_a / rated_a, worst.load.ac_hold_a / rated_a)


def _margin(budget: Budget) -> str:
    loaded = heaviest_share(budget)
    parts = [f"the winding carries {100 * loaded.share:.0f} % of its rating at most"]
    if budget.closes:
        lowest = float(budget.corner("low-aged").state.dc_min_v)
        lowest = lowest if budget.sag is None else min(lowest, budget.sag.lowest_v)
        above = lowest - budget.regulator.input_min_v
        where = "above" if above >= 0.0 else "below"
        parts.append(f"on a bad day the reservoir stays {abs(above):.1f} V {where} what the regulator needs")
    under = budget.regulator.input_max_v - budget.highest_v
    where = "under" if under >= 0.0 else "over"
    parts.append(f"at its highest it is {abs(under):.1f} V {where} what the regulator is rated for")
    if budget.sag is not None:
        above = budget.sag.winding_v - PULL_IN_SHARE * budget.supply.nominal_v
        where = "above" if above >= 0.0 else "below"
        parts.append(f"and pulling in leaves the winding {abs(above):.1f} V {where} what its coils need at least")
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _small(text: str) -> str:
    """A finding's text within a sentence."""
    return f"{text[0].lower()}{text[1:]}"
