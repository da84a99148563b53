"""A breaker's curve drawn on log axes, with the currents of the candidates under it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from webapp.shared.figures.plots import Label, Plot, Stroke

WIDE, HIGH = 328.0, 280.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 10.0, 30.0, 64.0
MULTIPLES = (0.1, 0.2, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Multiples of the rating that may be written under the axis."""
NEAR = 15.0
"""Letters closer than this stand together."""


def breaker_plot(
    name: str, breaker: dict[str, Any], pushes: Sequence[tuple[str, float]]
) -> Plot | None:
    """Return a breaker's curve with its points; none where no curve is typed.

    Parameters
    ----------
    name : str
        Of the breaker in words, such as "Main breaker".
    breaker : dict
        As `models.trade.wiring` tells it.
    pushes : sequence of (letter, current in a push)
        What stands under the curve [A].
    """
    curve, rating = breaker["curve"], breaker["rating_a"]
    if not curve or rating is None:
        return None
    shares = [(letter, amperes / rating) for letter, amperes in pushes]
    low = min(0.5, *(0.8 * multiple for multiple, _ in curve), 1.0)
    low = max(min([low, *(0.9 * share for _, share in shares if share > 0.2)]), 0.1)
    high = 1.25 * max(curve[-1][0], *(share for _, share in shares), 2.0)
    decades = (
        math.floor(math.log10(min(seconds for _, seconds in curve)) - 1e-9),
        math.ceil(math.log10(max(seconds for _, seconds in curve)) + 1e-9),
    )
    across = (WIDE - LEFT - RIGHT) / math.log(high / low)
    up = (HIGH - TOP - BOTTOM) / (decades[1] - decades[0])

    def x_at(multiple: float) -> float:
        return round(LEFT + across * math.log(multiple / low), 1)

    def y_at(seconds: float) -> float:
        return round(HIGH - BOTTOM - up * (math.log10(seconds) - decades[0]), 1)

    floor, first = HIGH - BOTTOM, x_at(curve[0][0])
    points = [(x_at(multiple), y_at(seconds)) for multiple, seconds in curve]
    rules, labels = [], []
    for power in range(decades[0], decades[1] + 1):
        y = y_at(10.0**power)
        rules.append(f"M{LEFT:g} {y:g}H{WIDE - RIGHT:g}")
        labels.append(Label(LEFT - 6.0, y + 5.0, f"{10.0**power:g} s", "plot-tick", "end"))
    for multiple in MULTIPLES:
        if low <= multiple <= high:
            x = x_at(multiple)
            rules.append(f"M{x:g} {TOP:g}V{floor:g}")
            labels.append(Label(x, floor + 20.0, f"{multiple:g}", "plot-tick"))
    labels += [
        Label(4.0, 16.0, "Opens after", "plot-word", "start"),
        Label(WIDE - RIGHT, HIGH - 6.0, f"Times its {rating:g} A", "plot-word", "end"),
        Label((LEFT + first) / 2.0, TOP + 18.0, "holds", "plot-word"),
    ]
    strokes = [
        Stroke("breaker-curve", "M" + "L".join(f"{x:g} {y:g}" for x, y in points), tuple(points)),
        Stroke("breaker-holds", f"M{first:g} {TOP:g}V{floor:g}"),
    ]
    for letters, share in _together(shares, across, low, high):
        x = x_at(share)
        strokes.append(Stroke("breaker-push", f"M{x:g} {floor:g}v-10"))
        labels.append(Label(x, floor - 15.0, letters, "plot-letter"))
    said = ", ".join(f"{seconds:g} s at {multiple:g} times" for multiple, seconds in curve)
    under = ", ".join(f"{letter} {share:.2f} times" for letter, share in shares)
    return Plot(
        f"{breaker_id(name)}-plot", f"{name}, {rating:g} A",
        f"As typed: {said} its rating; below the first it holds. In a push: {under}.",
        WIDE, HIGH, rules=tuple(rules), circles=(),
        axes=(f"M{LEFT:g} {TOP:g}V{floor:g}H{WIDE - RIGHT:g}",), strokes=tuple(strokes),
        labels=tuple(labels),
    )  # fmt: skip


def breaker_id(name: str) -> str:
    """Return a breaker's name as an id.

    >>> breaker_id("Main breaker")
    'main-breaker'
    """
    return name.lower().replace(" ", "-")


def _together(
    shares: Sequence[tuple[str, float]], across: float, low: float, high: float
) -> list[tuple[str, float]]:
    """Return letters whose currents lie close, together, at their middle."""
    groups: list[list[tuple[str, float]]] = []
    for letter, share in sorted(shares, key=lambda one: one[1]):
        if not low <= share <= high:
            continue
        if groups and across * math.log(share / groups[-1][-1][1]) < NEAR:
            groups[-1].append((letter, share))
        else:
            groups.append([(letter, share)])
    return [
        (", ".join(sorted(letter for letter, _ in group)),
         math.exp(sum(math.log(share) for _, share in group) / len(group)))
        for group in groups
    ]  # fmt: skip
