"""What stands beside a circuit of the recorder, on drawing, sheet and screen: its figures in words."""

from __future__ import annotations

from dataclasses import dataclass

from timing.circuit.parts import PartKind
from timing.formatting import ms
from timing.recorder.adapters import Adapter, AdapterKind
from timing.recorder.couplers import AdapterLag
from timing.recorder.presses import PressCircuit


@dataclass(frozen=True)
class CircuitWords:
    """A title and some lines."""

    title: str
    lines: tuple[str, ...]


def lag_words(lag: AdapterLag) -> str:
    """Return how late a record is stamped: 'on 0 to 0.05 ms, off 0.02 to 0.33 ms late'."""
    on, off = (" to ".join(_short_ms(value) for value in ends) for ends in (lag.on_us, lag.off_us))
    return f"on {on} ms, off {off} ms"


def _short_ms(us: float) -> str:
    return f"{us / 1000:.2f}".rstrip("0").rstrip(".") if abs(us) < 10_000 else f"{us / 1000:.1f}"


def adapter_words(adapter: Adapter) -> CircuitWords:
    """Return what an adapter is across, from what voltage on it is seen, and how late."""
    circuit, peak = adapter.circuit, " peak" if adapter.circuit.frequency_hz else ""
    lines = [f"{'by' if adapter.kind is AdapterKind.REFLEX else 'across'} {adapter.across}"]
    if adapter.kind.from_battery:
        lines.append(
            f"its own battery: {1e3 * adapter.low_a:.1f} mA at {circuit.low_v:g} V, {1e3 * adapter.high_a:.1f} mA new"
        )
    else:
        lines.append(
            f"seen from {adapter.on_v:.1f} V{peak}, never up to {adapter.off_v:.1f} V{peak}; stands "
            f"{circuit.high_v * circuit.peak:.0f} V{peak}"
        )
    if adapter.series_ohm and not adapter.kind.from_battery:
        lines.append(
            f"LED {1e3 * adapter.low_a:.1f} to {1e3 * adapter.high_a:.1f} mA, {adapter.heat_w:.2g} W of heat each"
        )
    if adapter.dark_us:
        why = "round each zero" if circuit.frequency_hz else "between pulses, at the slowest"
        lines.append(f"dark up to {ms(adapter.dark_us)} {why}: bridge {ms(adapter.bridge_us)}")
    lines.append(f"stamped late: {lag_words(adapter.steady_lag)}{', and by the dark time' if adapter.dark_us else ''}")
    return CircuitWords(f"Input {adapter.input.number}: {adapter.kind.value}", tuple(lines))


def press_words(press: PressCircuit) -> CircuitWords:
    """Return what a press lies across, its rating, and how late it follows its pin."""
    what = PartKind.RELAY_MODULE.value if press.by_module else PartKind.PHOTO_RELAY.value
    current = "ac or dc, either way round"
    return CircuitWords(
        f"Press: {press.press.key}",
        (
            f"across {press.press.presses}",
            f"{what}, {press.rating_v:g} V, {current}; sees {press.open_v:.0f} V open",
            f"follows its pin: {lag_words(press.lag)}",
            "open without power, and without the jumper",
        ),
    )
