"""How a figure of the catalogue is shown and typed: its unit, its decimals, its words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.quantities import METRICS, QUESTIONS, metrics_of
from models.units import (
    UnitSystem,
    common_decimals,
    convert,
    display_unit,
    show,
    show_bare,
    small_for,
)
from webapp.shared.formunits import plain

NO_BREAK = "\N{NO-BREAK SPACE}"
NOT_THERE = "none"
TRUTHS = {True: "yes", False: "no"}
FINEST = 3
"""More decimals than this say nothing in a table."""
TYPED_DIGITS = 5
"""Significant figures of a converted number in a box."""


@dataclass(frozen=True)
class Measure:
    """One figure as a page has it."""

    key: str
    name: str
    unit: str
    """Key of the unit."""
    text: str
    """The unit as it is shown."""
    small: bool
    decimals: int
    kind: str
    better: str
    system: UnitSystem

    def words(self, value: Any) -> str:
        """Return a figure with its unit: '2.60 s', 'yes', 'none'."""
        if value is None:
            return NOT_THERE
        if isinstance(value, bool):
            return TRUTHS[value]
        if isinstance(value, str):
            return value
        return show(
            float(value), self.unit, self.system, small=self.small, decimals=self.decimals
        ).replace(" ", NO_BREAK)

    def bare(self, value: float) -> str:
        """Return a figure without its unit."""
        return show_bare(value, self.unit, self.system, small=self.small, decimals=self.decimals)

    def end(self, value: float) -> str:
        """Return a limit that the team has set, without more digits than it needs: '2.6 s'."""
        return f"{self.typed(value)}{NO_BREAK}{self.text}".strip().replace("-", "\N{MINUS SIGN}")

    def typed(self, value: float | None) -> str:
        """Return a number as a box shows it, in the box's unit."""
        if value is None:
            return ""
        there = convert(float(value), self.unit, self.system, small=self.small)
        return plain(float(f"{there:.{TYPED_DIGITS}g}"))

    @property
    def label(self) -> str:
        """The name with the unit, for lists to choose from."""
        return f"{self.name}, {self.text}" if self.text else self.name


def measure_of(metric: str, values: Iterable[Any], system: UnitSystem) -> Measure:
    """Return how a figure is shown; `values` are those of all candidates.

    >>> measure_of("sprint_stop_time_s", [2.1, 2.45], UnitSystem.SI).words(2.6)
    '2.60\\xa0s'
    """
    found = METRICS.get(metric)
    unit = found.unit if found else _route_unit(metric)
    numbers = [
        float(one) for one in values if isinstance(one, int | float) and not isinstance(one, bool)
    ]
    small = bool(numbers) and small_for(numbers, unit)
    whole = not unit and all(one.is_integer() for one in numbers)
    decimals = 0 if whole else min(common_decimals(numbers, unit, system, small=small), FINEST)
    if unit == "share":
        decimals = min(decimals, 1)
    return Measure(
        key=metric,
        name=found.name if found else route_words(metric),
        unit=unit,
        text=display_unit(unit, system, small=small),
        small=small,
        decimals=decimals,
        kind=found.kind if found else "number",
        better=found.better if found else "",
        system=system,
    )


def measures_of(
    metrics: Iterable[str], figures: Mapping[str, Mapping[str, Any]], system: UnitSystem
) -> dict[str, Measure]:
    """Return how some figures are shown, by key; `figures` by candidate and metric."""
    return {
        metric: measure_of(metric, [own.get(metric) for own in figures.values()], system)
        for metric in dict.fromkeys(metrics)
    }


def figures_of(payload: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """Return the figures of an evaluation by candidate and metric."""
    return {str(one["key"]): one["metrics"] for one in payload["candidates"]}


@dataclass(frozen=True)
class ChoiceGroup:
    """Figures to choose from that answer one question."""

    words: str
    choices: tuple[tuple[str, str], ...]


def metric_groups(
    figures: Mapping[str, Mapping[str, Any]], system: UnitSystem, kinds: Sequence[str]
) -> list[ChoiceGroup]:
    """Return the catalogue's figures of some kinds, grouped by question, with their units."""
    groups = []
    for question, words in QUESTIONS:
        keys = [metric.key for metric in metrics_of(question) if metric.kind in kinds]
        measures = measures_of(keys, figures, system)
        if keys:
            choices = tuple((key, measures[key].label) for key in keys)
            groups.append(ChoiceGroup(words, choices))
    return groups


ROUTE_WORDS = {
    "route_s": ("Time for", "s"),
    "route_margin_s": ("Time left after", "s"),
    "route_cycles": ("Cycles in a match of", ""),
}
"""How the figures of routes are called, and their units."""


def route_words(metric: str) -> str:
    """Return the name of a route's figure.

    >>> route_words("route_s:to the pier")
    'Time for “to the pier”'
    """
    figure, _, name = metric.partition(":")
    words = ROUTE_WORDS.get(figure, ("", ""))[0]
    return f"{words} “{name}”" if words else metric


def _route_unit(metric: str) -> str:
    return ROUTE_WORDS.get(metric.partition(":")[0], ("", ""))[1]


def percent(share: float) -> str:
    """Return a share of draws or weightings in percent; what is almost all or none says so.

    >>> [percent(share).replace(NO_BREAK, " ") for share in (0.634, 0.002, 0.998, 1.0)]
    ['63 %', 'under 1 %', 'over 99 %', '100 %']
    """
    if 0.0 < share < 0.005:
        return f"under{NO_BREAK}1{NO_BREAK}%"
    if 0.995 < share < 1.0:
        return f"over{NO_BREAK}99{NO_BREAK}%"
    return f"{100.0 * share:.0f}{NO_BREAK}%"
