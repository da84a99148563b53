"""Figures that were frozen with ballots and decisions, in words, and the marks of candidates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.units import UnitSystem, common_decimals, display_unit, show_bare, small_for
from webapp.shared.candidates import CandidateMark, style_of

TIGHT = "\N{NO-BREAK SPACE}"
MOST_DECIMALS = 3
WORDS = {True: "yes", False: "no"}


@dataclass(frozen=True)
class Scale:
    """How the figures of one row read: unit, size of it, decimals, currency."""

    unit: str
    system: UnitSystem
    small: bool
    decimals: int
    currency: str = ""

    @classmethod
    def of(cls, values: Iterable[Any], unit: str, system: UnitSystem, currency: str = "") -> Scale:
        """Return the scale on which all of some figures read."""
        numbers = [float(value) for value in values if is_number(value)]
        small = small_for(numbers, unit) if numbers else False
        decimals = common_decimals(numbers, unit, system, small=small)
        if not unit and all(number.is_integer() for number in numbers):
            decimals = 0
        return cls(unit, system, small, min(decimals, MOST_DECIMALS), currency)

    @property
    def unit_words(self) -> str:
        """The unit as it is shown, the currency of sums of money."""
        return display_unit(self.unit, self.system, small=self.small) or self.currency

    def bare(self, value: Any) -> str:
        """Return a figure without its unit; "none" for what does not exist."""
        if value is None:
            return "none"
        if isinstance(value, bool):
            return WORDS[value]
        if isinstance(value, str):
            return value
        if self.currency and not self.unit:
            return f"{float(value):,.{min(self.decimals, 2)}f}"
        return show_bare(
            float(value), self.unit, self.system, small=self.small, decimals=self.decimals
        )

    def text(self, value: Any) -> str:
        """Return a figure with its unit, the two kept together."""
        words = self.bare(value)
        unit = self.unit_words
        if not unit or not is_number(value):
            return words
        return f"{words}{unit}" if unit == "°" else f"{words}{TIGHT}{unit}"


def is_number(value: Any) -> bool:
    """Return whether a figure is a number and neither a word nor a truth."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def frozen_marks(candidates: Sequence[Mapping[str, Any]]) -> list[CandidateMark]:
    """Return the marks of candidates as they were frozen, in their order."""
    return [
        CandidateMark(
            key=str(one["key"]),
            name=str(one["name"]),
            letter=str(one["letter"]),
            css=style_of(place),
            baseline=bool(one.get("baseline")),
            layout=str(one.get("layout", "")),
        )
        for place, one in enumerate(candidates)
    ]


def per_cent(share: float | None) -> str:
    """Return a share in whole per cent; what is neither none nor all never reads 0 or 100.

    >>> per_cent(0.427), per_cent(0.0004), per_cent(None), per_cent(1.0)
    ('43\xa0%', 'under 1\xa0%', '–', '100\xa0%')
    """
    if share is None:
        return "–"
    if 0.0 < share < 0.01:
        return f"under 1{TIGHT}%"
    if 0.99 < share < 1.0:
        return f"over 99{TIGHT}%"
    return f"{100 * share:.0f}{TIGHT}%"
