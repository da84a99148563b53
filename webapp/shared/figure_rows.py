"""Every figure of an evaluation in rows, for files that a spreadsheet opens."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from models.quantities import METRICS
from models.units import UnitSystem, display_unit


class FigureRow(NamedTuple):
    """One figure of all candidates, in SI units and full digits."""

    name: str
    key: str
    unit: str
    values: tuple[Any, ...]
    """A candidate each, in order; None where there is no such figure."""
    ranges: tuple[tuple[float, float] | None, ...]
    """Between what values it lies in eight of ten draws, None where it is sure."""


def figure_rows(candidates: Sequence[Mapping[str, Any]]) -> Iterator[FigureRow]:
    """Yield the figures of the catalogue, then those of the study's own routes."""
    for key, metric in METRICS.items():
        values = tuple(one["metrics"].get(key) for one in candidates)
        unit = display_unit(metric.unit, UnitSystem.SI)
        yield FigureRow(metric.name, key, unit, values, _ranges(candidates, key))
    for name in dict.fromkeys(name for one in candidates for name in one["routes"]):
        timed = [one["routes"].get(name, {}) for one in candidates]
        for member, words, unit in (
            ("time_s", "time", "s"),
            ("cycles", "cycles in a match", ""),
            ("margin_s", "time left", "s"),
        ):
            values = tuple(route.get(member) for route in timed)
            if member == "time_s" or any(value is not None for value in values):
                short = member.removeprefix("time_")
                ranges = _ranges(candidates, f"route_{short}:{name}")
                yield FigureRow(f"{name}: {words}", f"route {member}", unit, values, ranges)


def column_heads(candidates: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return what stands over the column of each candidate."""
    return [f"{one['name']} ({one['key']})" for one in candidates]


def _ranges(
    candidates: Sequence[Mapping[str, Any]], key: str
) -> tuple[tuple[float, float] | None, ...]:
    found = [one.get("ranges", {}).get(key) for one in candidates]
    return tuple(None if span is None else (span[0], span[2]) for span in found)
