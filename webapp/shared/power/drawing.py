"""Parts of a drawing over time: panels under each other on one axis, at any width.

Across, everything stands at percentages of the width; down, at pixels. Curves lie in squares of 100
by 100 that are stretched, with strokes that keep their width; so one drawing serves a phone, a
screen and paper, and its letters stay readable.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from webapp.shared.figures.plots import nice_step

VOLTAGE_HEIGHT, CURRENT_HEIGHT = 200.0, 110.0
TITLE_ROOM = 24.0
BETWEEN = 32.0
FOOT = 42.0


@dataclass(frozen=True)
class Text:
    """Words on a picture: x in per cent, y and offsets in pixels."""

    x: float
    y: float
    words: str
    css: str = ""
    anchor: str = "middle"
    dx: float = 0.0


@dataclass(frozen=True)
class Limit:
    """A voltage that counts, as a line across."""

    y: float
    css: str


@dataclass(frozen=True)
class Curve:
    """One line in a panel's square of 100 by 100."""

    css: str
    path: str


@dataclass(frozen=True)
class Spot:
    """A dot, and the stem up to it."""

    x: float
    y: float
    css: str
    open: bool = False
    stem_to: float | None = None


@dataclass(frozen=True)
class Strip:
    """An upright strip over the panels."""

    x: float
    width: float
    y: float
    height: float
    css: str
    words: str = ""


@dataclass(frozen=True)
class Panel:
    """One quantity over time."""

    title: str
    top: float
    height: float
    rules: tuple[float, ...]
    curves: tuple[Curve, ...]
    limits: tuple[Limit, ...] = ()
    cut: tuple[float, float] | None = None
    """Where the controller cuts: from y, so high."""


@dataclass(frozen=True)
class Picture:
    """One drawing: panels over each other on one time axis."""

    id: str
    words: str
    """What it shows, for those who do not see it."""
    height: float
    panels: tuple[Panel, ...]
    scale: tuple[Text, ...]
    """Words left of the drawing."""
    texts: tuple[Text, ...]
    strips: tuple[Strip, ...] = ()
    uprights: tuple[float, ...] = ()
    spots: tuple[Spot, ...] = ()


@dataclass(frozen=True)
class Axis:
    """A scale from low to high, in even steps."""

    low: float
    high: float
    step: float

    def share(self, value: float) -> float:
        """Return where a value lies, 0 at the low end and 100 at the high one."""
        return round(100.0 * (value - self.low) / (self.high - self.low), 3)

    @property
    def ticks(self) -> list[float]:
        """The values that are written."""
        count = math.floor((self.high - self.low) / self.step + 1e-9)
        return [self.low + i * self.step for i in range(count + 1)]


@dataclass
class Drawing:
    """A drawing in the making: panels are put under each other."""

    top: float
    across: Axis
    panels: list[Panel] = field(default_factory=list)
    scale: list[Text] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)

    def y(self, axis: Axis, value: float, height: float) -> float:
        return round(self.top + height * (1.0 - axis.share(value) / 100.0), 1)

    def begin(self, title: str, axis: Axis, height: float, unit: str) -> None:
        """Write the title and the scale of the panel that comes next."""
        self.texts.append(Text(0.0, self.top - 8.0, title, "sag-title", "start"))
        for value in axis.ticks:
            at = self.y(axis, value, height)
            self.scale.append(Text(100.0, at + 4.0, f"{value:g} {unit}", "", "end", -6.0))

    def foot(self, title: str, ticks: Sequence[tuple[float, str]]) -> None:
        """Write the axis across under the last panel."""
        for x, words in ticks:
            anchor = "start" if x < 1.0 else "end" if x > 99.0 else "middle"
            self.texts.append(Text(x, self.top + 18.0, words, "sag-tick", anchor))
        if title:
            self.texts.append(Text(100.0, self.top + 36.0, title, "sag-tick", "end"))


def volt_axis(lowest: float, highest: float) -> Axis:
    """Return the scale of the bus voltage, in steps of whole volts.

    >>> volt_axis(6.4, 12.8).ticks
    [6.0, 8.0, 10.0, 12.0, 14.0]
    """
    step = nice_step(highest - lowest, 5)
    low = max(math.floor((lowest - 0.2 * step) / step) * step, 0.0)
    return Axis(low, max(math.ceil(highest / step) * step, low + step), step)


def zero_axis(greatest: float, most: int) -> Axis:
    """Return a scale from nothing."""
    step = nice_step(max(greatest, 1e-9), most)
    return Axis(0.0, max(math.ceil(greatest / step - 1e-9), 1) * step, step)


TIME_STEPS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0)


def time_axis(until: float) -> Axis:
    """Return the scale of time, which ends where the picture does.

    >>> time_axis(150.0).ticks
    [0.0, 30.0, 60.0, 90.0, 120.0, 150.0]
    """
    step = next((step for step in TIME_STEPS if until / step <= 6.0), nice_step(until, 5))
    return Axis(0.0, until, step)


def smooth_path(xs: Sequence[float], ys: Sequence[float]) -> str:
    """Return a path through points that bends smoothly and never swings beyond them.

    Where a point comes twice the path has a corner. Tangents are the harmonic means of the slopes
    on both sides, level at a turning point (F. N. Fritsch, R. E. Carlson, Monotone Piecewise Cubic
    Interpolation, 1980).

    >>> smooth_path([0, 3, 6], [0, 3, 0])
    'M0 0C1 1 2 3 3 3C4 3 5 1 6 0'
    """
    cut = [place + 1 for place, (a, b) in enumerate(pairwise(xs)) if b - a < 1e-9]
    path = f"M{xs[0]:g} {ys[0]:g}"
    for start, end in pairwise([0, *cut, len(xs)]):
        x, y = np.array(xs[start:end]), np.array(ys[start:end])
        if len(x) == 1:
            continue
        slope = np.diff(y) / np.diff(x)
        before, after = slope[:-1], slope[1:]
        turns = before * after <= 0.0
        both = np.where(turns, 1.0, before + after)
        inner = np.where(turns, 0.0, 2.0 * before * after / both)
        tangent = np.concatenate([slope[:1], inner, slope[-1:]])
        third = np.diff(x) / 3.0
        for i, step in enumerate(third):
            points = (
                (x[i] + step, y[i] + tangent[i] * step),
                (x[i + 1] - step, y[i + 1] - tangent[i + 1] * step),
                (x[i + 1], y[i + 1]),
            )
            path += "C" + " ".join(f"{round(a, 3):g} {round(b, 3):g}" for a, b in points)
    return path


def straight_path(xs: Sequence[float], ys: Sequence[float]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in zip(xs, ys, strict=True))


def curve(
    css: str,
    across: Axis,
    axis: Axis,
    times: Sequence[float],
    values: Sequence[float],
    *,
    draw: Callable[[Sequence[float], Sequence[float]], str] = straight_path,
) -> Curve:
    xs = [round(across.share(max(time, 0.0)), 3) for time in times]
    ys = [round(100.0 - axis.share(value), 2) for value in values]
    return Curve(css, draw(xs, ys))


def limit_lines(
    drawing: Drawing, axis: Axis, brownout: float, warning: float | None, *, right: bool = False
) -> tuple[tuple[Limit, ...], tuple[float, float]]:
    """Return the lines of brownout and warning, and write their words, left or right."""
    at = drawing.y(axis, brownout, VOLTAGE_HEIGHT)
    found = [Limit(at, "sag-brownout")]
    x, anchor, dx = (100.0, "end", -5.0) if right else (0.0, "start", 5.0)
    words = f"brownout {brownout:g} V"
    drawing.texts.append(Text(x, at + 15.0, words, "sag-limit bad", anchor, dx))
    if warning is not None and axis.low <= warning <= axis.high and warning > brownout:
        up = drawing.y(axis, warning, VOLTAGE_HEIGHT)
        found.append(Limit(up, "sag-warning"))
        words = f"warning {warning:g} V"
        drawing.texts.append(Text(x, up - 5.0, words, "sag-limit watch", anchor, dx))
    return tuple(found), (at, round(drawing.top + VOLTAGE_HEIGHT - at, 1))


def rules_of(drawing: Drawing, axis: Axis, height: float) -> tuple[float, ...]:
    return tuple(drawing.y(axis, value, height) for value in axis.ticks)


def time_foot(drawing: Drawing, title: str) -> None:
    across = drawing.across
    drawing.foot(title, [(across.share(value), f"{value:g}") for value in across.ticks])


def picture_of(name: str, words: str, drawing: Drawing, strips: tuple[Strip, ...] = ()) -> Picture:
    timed = drawing.across.step < drawing.across.high
    return Picture(
        id=name,
        words=words,
        height=drawing.top + FOOT,
        panels=tuple(drawing.panels),
        scale=tuple(drawing.scale),
        texts=tuple(drawing.texts),
        strips=strips,
        uprights=tuple(drawing.across.share(value) for value in drawing.across.ticks)
        if timed
        else (),
        spots=tuple(drawing.spots),
    )
