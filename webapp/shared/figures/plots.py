"""Drawings of curves on the server: round a centre, and over an axis; letters on the curves.

Curves that lie over each other share one label with all their letters, so that a print without
colour still says which is which.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from webapp.shared.candidates import CandidateMark

COINCIDENT = 0.012
"""Curves closer than this share of the drawing everywhere are one line to the eye."""


@dataclass(frozen=True)
class Label:
    """Words on a drawing."""

    x: float
    y: float
    text: str
    css: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Stroke:
    """The curve of one candidate, and the dots at its ends where it is a line of two points."""

    css: str
    path: str
    ends: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Plot:
    """One drawing."""

    id: str
    title: str
    description: str
    width: float
    height: float
    rules: tuple[str, ...]
    """Paths of the rings or grid lines."""
    circles: tuple[tuple[float, float, float], ...]
    """Rings, as x, y, radius."""
    axes: tuple[str, ...]
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]


@dataclass(frozen=True)
class Series:
    """The points of one candidate's curve in the units of the page."""

    mark: CandidateMark
    xs: Sequence[float]
    """Angles to the left of straight ahead in degrees, or the x axis."""
    ys: Sequence[float]


@dataclass(frozen=True)
class Words:
    """What a plot is called and says of itself."""

    id: str
    title: str
    description: str
    unit: str
    """Of the rings or of the y axis."""
    x_title: str = ""
    y_title: str = ""


def nice_step(greatest: float, most: int = 4) -> float:
    """Return a round step that takes a value in at most so many steps.

    >>> nice_step(5.2), nice_step(690.0), nice_step(0.5)
    (2.0, 200.0, 0.2)
    """
    if greatest <= 0.0:
        return 1.0
    rough = greatest / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in (1.0, 2.0, 2.5, 5.0, 10.0) if step * power >= rough)


LETTER_ANGLES = (115.0, 150.0, 212.0, 245.0, 65.0)
"""Where the letters of curves stand, back left first, clear of the axis fore and aft."""

SIZE, CENTRE, REACH = 328.0, 164.0, 122.0
"""Width and height of a rose, its middle, the radius of its outermost ring."""


def rose(words: Words, series: Sequence[Series]) -> Plot:
    """Return curves round a centre: forward up, rings labelled with their unit."""
    greatest = max((max(one.ys, default=0.0) for one in series), default=0.0)
    step = nice_step(greatest)
    count = max(math.ceil(greatest / step - 1e-9), 1)
    scale = REACH / (count * step)
    rings = [(CENTRE, CENTRE, REACH * ring / count) for ring in range(1, count + 1)]
    labels = [
        Label(
            *_rose_point(-24.0, ring * step, scale),
            f"{ring * step:g} {words.unit}",
            "plot-tick",
            "start",
        )
        for ring in range(1, count + 1)
    ]
    edge = REACH + 12.0
    labels += [
        Label(CENTRE, CENTRE - edge, "forward", "plot-word"),
        Label(CENTRE, CENTRE + edge + 10.0, "back", "plot-word"),
        Label(CENTRE - edge + 4.0, CENTRE + 5.0, "left", "plot-word", "end"),
        Label(CENTRE + edge - 4.0, CENTRE + 5.0, "right", "plot-word", "start"),
    ]
    spokes = []
    for degrees in range(0, 180, 45):
        one, other = (_rose_point(at, count * step, scale) for at in (degrees, degrees + 180))
        spokes.append(_path([one, other]))
    strokes = [_rose_stroke(one, scale) for one in series if len(one.xs)]
    labels += _rose_letters([one for one in series if len(one.xs)], scale, greatest)
    return Plot(
        words.id, words.title, words.description, SIZE, SIZE,
        rules=tuple(spokes), circles=tuple(rings), axes=(), strokes=tuple(strokes),
        labels=tuple(labels),
    )  # fmt: skip


def _rose_point(degrees: float, value: float, scale: float) -> tuple[float, float]:
    angle = math.radians(degrees)
    radius = value * scale
    return (
        round(CENTRE - radius * math.sin(angle), 1),
        round(CENTRE - radius * math.cos(angle), 1),
    )


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def _rose_stroke(one: Series, scale: float) -> Stroke:
    points = [_rose_point(x, y, scale) for x, y in zip(one.xs, one.ys, strict=True)]
    return Stroke(one.mark.css, _path(points), tuple(points) if len(points) == 2 else ())


def _rose_letters(series: Sequence[Series], scale: float, greatest: float) -> list[Label]:
    """Return the letters: lines at their forward end, the others spread from back left round."""
    labels = []
    lines = _together([one for one in series if len(one.xs) == 2], greatest)
    for place, (letters, one) in enumerate(lines):
        x, y = _rose_point(one.xs[0], one.ys[0], scale)
        aside = 14.0 + 9.0 * (letters.count(",")) + 22.0 * place
        labels.append(Label(x - aside, y + 5.0, letters, "plot-letter"))
    for place, (letters, one) in enumerate(
        _together([one for one in series if len(one.xs) != 2], greatest)
    ):
        wanted = LETTER_ANGLES[place % len(LETTER_ANGLES)]
        index = min(range(len(one.xs)), key=lambda i: abs(one.xs[i] - wanted))
        x, y = _rose_point(one.xs[index], one.ys[index], scale)
        labels.append(Label(x, y + 5.0, letters, "plot-letter"))
    return labels


def _together(series: Sequence[Series], extent: float) -> list[tuple[str, Series]]:
    """Return curves that lie over each other with their letters joined."""
    groups: list[tuple[list[str], Series]] = []
    for one in series:
        for letters, other in groups:
            if _coincide(one, other, extent):
                letters.append(one.mark.letter)
                break
        else:
            groups.append(([one.mark.letter], one))
    return [(", ".join(letters), one) for letters, one in groups]


def _coincide(one: Series, other: Series, extent: float) -> bool:
    if len(one.xs) != len(other.xs):
        return False
    return all(abs(a - b) <= COINCIDENT * extent for a, b in zip(one.ys, other.ys, strict=True))


WIDE, HIGH = 560.0, 348.0
LEFT, RIGHT, TOP, BOTTOM = 58.0, 18.0, 62.0, 56.0
SAME_END = 6.0
"""Ends of curves closer than this share a label."""
LETTER_WIDTH = 30.0
"""Room that one letter and the comma after it take on a narrow screen."""
LETTER_ROWS = 2


def _end_letters(ends: Sequence[tuple[float, str]], limit: float) -> list[Label]:
    """Return the letters over the ends of curves, in a second row where the first has no room."""
    groups: list[list[tuple[float, str]]] = []
    for at, letter in sorted(ends):
        if groups and at - groups[-1][-1][0] < SAME_END:
            groups[-1].append((at, letter))
        else:
            groups.append([(at, letter)])
    labels: list[Label] = []
    free = [limit + LETTER_WIDTH / 3.0] * LETTER_ROWS
    for group in reversed(groups):
        half = LETTER_WIDTH * len(group) / 2.0
        wanted = min(sum(at for at, _ in group) / len(group), limit + LETTER_WIDTH / 3.0 - half)
        row = next((i for i in range(LETTER_ROWS) if wanted + half <= free[i]), LETTER_ROWS - 1)
        at = min(wanted, free[row] - half)
        free[row] = at - half
        text = ", ".join(sorted(letter for _, letter in group))
        labels.append(Label(round(at, 1), TOP - 10.0 - 24.0 * row, text, "plot-letter"))
    return labels[::-1]


def over_time(words: Words, series: Sequence[Series], *, top: float) -> Plot:
    """Return curves over an axis from zero; all that are drawn end at the same height."""
    drawn = [one for one in series if len(one.xs)]
    end = max((one.xs[-1] for one in drawn), default=1.0)
    step_x, step_y = nice_step(end, 5), 30.0 if top > 45.0 else nice_step(top, 4)
    while top / step_y > 6.5:
        step_y *= 2.0
    reach_x = math.ceil(end / step_x - 1e-9) * step_x
    across, up = (WIDE - LEFT - RIGHT) / reach_x, (HIGH - TOP - BOTTOM) / top

    def place(x: float, y: float) -> tuple[float, float]:
        return round(LEFT + x * across, 1), round(HIGH - BOTTOM - y * up, 1)

    rules, labels = [], []
    for i in range(int(reach_x / step_x + 1.5)):
        x, y = place(i * step_x, 0.0)
        rules.append(_path([(x, y), (x, TOP)]))
        labels.append(Label(x, y + 24.0, f"{i * step_x:.3g}", "plot-tick"))
    for i in range(int(top / step_y + 1e-9) + 1):
        x, y = place(0.0, i * step_y)
        rules.append(_path([(x, y), (WIDE - RIGHT, y)]))
        labels.append(Label(x - 8.0, y + 6.0, f"{i * step_y:g}{words.unit}", "plot-tick", "end"))
    labels += [
        Label(WIDE - RIGHT, HIGH - 6.0, words.x_title, "plot-word", "end"),
        Label(4.0, 18.0, words.y_title, "plot-word", "start"),
    ]
    strokes = []
    for one in drawn:
        points = [place(x, y) for x, y in zip(one.xs, one.ys, strict=True)]
        strokes.append(Stroke(one.mark.css, _path(points), (points[-1],)))
    labels += _end_letters(
        [(place(one.xs[-1], top)[0], one.mark.letter) for one in drawn], WIDE - RIGHT
    )
    corner = place(0.0, 0.0)
    axes = _path([(LEFT, TOP), corner, (WIDE - RIGHT, corner[1])])
    return Plot(
        words.id, words.title, words.description, WIDE, HIGH,
        rules=tuple(rules), circles=(), axes=(axes,), strokes=tuple(strokes), labels=tuple(labels),
    )  # fmt: skip
