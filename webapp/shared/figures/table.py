"""A table of figures with candidates as columns: values, differences from the baseline, ties."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from models.trade.comparison import closeness
from models.units import UnitSystem, common_decimals, convert, display_unit, show_bare, small_for


@dataclass(frozen=True)
class FigureCell:
    """One cell: its text, and under it what it is against the baseline."""

    text: str
    note: str = ""
    css: str = ""
    """Style class of the note: good, watch, bad, faint."""
    missing: bool = False


@dataclass(frozen=True)
class FigureRow:
    """One row: its name, the unit of its cells, and a cell a candidate."""

    name: str
    unit: str
    cells: tuple[FigureCell, ...]
    hint: str = ""


@dataclass(frozen=True)
class Kind:
    """How a row's figures read: unit key, which way is better, words of a difference."""

    unit: str
    better: str = "none"
    """higher, lower or none."""
    more: str = "more"
    less: str = "less"


def figure_row(
    name: str,
    kind: Kind,
    values: Sequence[float | None],
    system: UnitSystem,
    *,
    baseline: int | None = None,
    none: str = "none",
    hint: str = "",
    small: bool | None = None,
) -> FigureRow:
    """Return a row of numbers, one number of decimals for all.

    `baseline` is the place of today's base among the values: the others carry their difference
    from it, or say that it is a tie; without it no cell has a note.
    """
    if small is None:
        small = any(value is not None for value in values) and small_for(values, kind.unit)
    decimals = min(common_decimals(values, kind.unit, system, small=small), 3)
    standard = None if baseline is None else values[baseline]
    cells = []
    for place, value in enumerate(values):
        if value is None:
            cells.append(FigureCell(none, missing=True))
            continue
        text = show_bare(value, kind.unit, system, small=small, decimals=decimals)
        note, css = "", ""
        if standard is not None and place != baseline:
            note, css = difference_note(value, standard, kind, system, small=small)
        cells.append(FigureCell(text, note, css))
    return FigureRow(name, display_unit(kind.unit, system, small=small), tuple(cells), hint)


def difference_note(
    value: float, standard: float, kind: Kind, system: UnitSystem, *, small: bool = False
) -> tuple[str, str]:
    """Return how a figure differs from another in words, and the style class of that."""
    near = closeness(value, standard, kind.unit)
    if near != "apart":
        return near, "faint"
    rise = value - standard
    amount = convert(abs(rise), kind.unit, system, small=small)
    unit = display_unit(kind.unit, system, small=small)
    word = kind.more if rise > 0 else kind.less
    text = show_bare(amount, "", UnitSystem.SI, digits=2)
    gap = "" if unit in ("", "°") else " "
    better = {"higher": rise > 0, "lower": rise < 0}.get(kind.better)
    css = "" if better is None else "good" if better else "watch"
    return f"{text}{gap}{unit} {word}", css
