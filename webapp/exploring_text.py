"""A sweep of gearing, wheels and limits as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from models.trade.exploring_words import (
    exchange_words,
    lead_words,
    limit_text,
    limit_words,
    offer_words,
    ratio_text,
    tread_words,
)
from models.units import UnitSystem, display_unit, show

MOST_LINES = 20
MARKS = {"good": "✓", "watch": "!", "bad": "✕"}


def exploring_text(found: Mapping[str, Any], system: UnitSystem) -> str:
    """Return the answer, the ratios on offer, what nothing beats and the limits."""
    lines = [f"{found['name']}, battery: {found['battery']}", *lead_words(found, system), ""]
    lines.append(offer_words(found))
    heads = _heads(system)
    if found["buyable"]:
        rows = [(_tie(one), one) for one in found["buyable"]]
        lines += ["", *_table(heads, rows, system)]
    lines += ["", _count_words(found)]
    rows = [("", one) for one in _spread(found["unbeaten"])]
    lines += ["", *_table(heads, rows, system)]
    if found["unbeaten"]:
        exchange = exchange_words(found["chosen"], found["unbeaten"][0], system)
        lines += ["", f"The first against {found['candidate']} as it is: {exchange}"]
    lines += ["", f"Limits, on {found['limits']['battery']}:"]
    lines += [f"  {MARKS[kind]} {words}" for kind, words in limit_words(found["limits"], system)]
    lines += [f"  {tread_words(found['limits'], system)}", ""]
    lines.append("Mass and inertia of other gears and wheels are left out. All figures: estimates.")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _count_words(found: Mapping[str, Any]) -> str:
    count, listed = found["unbeaten_count"], min(len(found["unbeaten"]), MOST_LINES)
    some = f"; {listed} of them, quickest first" if listed < count else ""
    return (
        f"Of {found['designs']} designs nothing beats {count} on time, push and bus voltage{some}:"
    )


def _spread(designs: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return some designs from the first to the last, evenly apart."""
    if len(designs) <= MOST_LINES:
        return list(designs)
    step = (len(designs) - 1) / (MOST_LINES - 1)
    return [designs[round(number * step)] for number in range(MOST_LINES)]


def _tie(one: Mapping[str, Any]) -> str:
    return "quickest on offer" if one["best"] else "a tie" if one["in_band"] else "outside"


def _heads(system: UnitSystem) -> list[str]:
    return [
        "ratio",
        f"wheel, {display_unit('m', system, small=True)}",
        "stator",
        "supply",
        f"stop, {display_unit('s', system)}",
        f"bus, {display_unit('v', system)}",
        f"push, {display_unit('n', system)}",
        "",
    ]


def _table(
    heads: list[str], rows: Iterable[tuple[str, Mapping[str, Any]]], system: UnitSystem
) -> list[str]:
    body = [heads, *(_cells(words, one, system) for words, one in rows)]
    widths = [max(len(row[column]) for row in body) for column in range(len(heads))]
    return [
        "  "
        + "  ".join(cell.rjust(width) for cell, width in zip(row[:-1], widths, strict=False))
        + f"  {row[-1]}"
        for row in body
    ]


def _cells(words: str, one: Mapping[str, Any], system: UnitSystem) -> list[str]:
    figures = [
        show(one[key], unit, system, decimals=decimals).split(" ")[0] if one[key] is not None
        else "none"
        for key, unit, decimals in (
            ("sprint_stop_time_s", "s", 2),
            ("min_bus_voltage_v", "v", 1),
            ("push_force_n", "n", 0),
        )
    ]  # fmt: skip
    wheel = show(one["diameter_m"], "m", system, small=True, digits=4).split(" ")[0]
    limits = [limit_text(one[key], system) for key in ("stator_limit_a", "supply_limit_a")]
    return [ratio_text(one["ratio"]), wheel, *limits, *figures, words]
