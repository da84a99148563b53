"""Bus voltage and battery current over time: drawn on the server at any width.

Across, everything stands at percentages of the width; down, at pixels. Curves lie in squares of 100
by 100 that are stretched, with strokes that keep their width; so one drawing serves a phone, a
screen and paper, and its letters stay readable.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np

from webapp.shared.figures.plots import nice_step
from webapp.shared.power.words import Driven

VOLTAGE_HEIGHT, CURRENT_HEIGHT = 200.0, 110.0
TITLE_ROOM = 24.0
FOOT = 42.0
PERIODS_ROOM = 56.0
MOST_NUMBERED = 16
"""More cycles than that are numbered only every few."""
NARROWEST = 0.8
"""Width under which a mark would not be seen, in per cent."""
SAME_CURVE = 0.015
"""Curves that lie closer everywhere are one line to the eye, as a share of the panel's height."""


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
class _Drawing:
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


def time_axis(until: float) -> Axis:
    """Return the scale of time, which ends where the picture does."""
    return Axis(0.0, until, nice_step(until, 5))


def _path(xs: Sequence[float], ys: Sequence[float]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in zip(xs, ys, strict=True))


def _curve(css: str, across: Axis, axis: Axis, times: Sequence[float],
           values: Sequence[float]) -> Curve:  # fmt: skip
    xs = [round(across.share(max(time, 0.0)), 3) for time in times]
    ys = [round(100.0 - axis.share(value), 2) for value in values]
    return Curve(css, _path(xs, ys))


def _limits(
    drawing: _Drawing, axis: Axis, brownout: float, warning: float | None
) -> tuple[tuple[Limit, ...], tuple[float, float]]:
    """Return the lines of brownout and warning, and write their words."""
    at = drawing.y(axis, brownout, VOLTAGE_HEIGHT)
    found = [Limit(at, "sag-brownout")]
    drawing.texts.append(
        Text(0.0, at + 15.0, f"brownout {brownout:g} V", "sag-limit bad", "start", 5.0)
    )
    if warning is not None and axis.low <= warning <= axis.high and warning > brownout:
        up = drawing.y(axis, warning, VOLTAGE_HEIGHT)
        found.append(Limit(up, "sag-warning"))
        drawing.texts.append(
            Text(0.0, up - 5.0, f"warning {warning:g} V", "sag-limit watch", "start", 5.0)
        )
    return tuple(found), (at, round(drawing.top + VOLTAGE_HEIGHT - at, 1))


def sag_axis(ones: Sequence[Driven], brownout: float, full: float) -> Axis:
    """Return one scale of voltage for all pictures of a page."""
    lows = [one.row[key] for one in ones for key in ("sprint_min_v", "push_min_v", "match_min_v")]
    lowest = min([brownout, *(low for low in lows if low is not None)])
    return volt_axis(lowest, full)


def current_axis(ones: Sequence[Driven]) -> Axis:
    """Return one scale of current for all pictures of a page."""
    currents = [one.figures["push"]["bus_current_a"] for one in ones]
    currents += [one.figures["sprint"]["peak_current_a"] for one in ones]
    currents += [one.figures["match"]["peak_current_a"] for one in ones]
    return zero_axis(max((value for value in currents if value is not None), default=1.0), 3)


# The sprint


def sprint_picture(
    ones: Sequence[Driven], volts: Axis, amperes: Axis, *, brownout: float, warning: float | None
) -> Picture | None:
    """Return the sprint of several candidates over each other; none where none gets going."""
    drawn = [one for one in ones if one.figures["sprint"]["series"]["time_s"]]
    if not drawn:
        return None
    until = max(one.figures["sprint"]["time_s"] for one in drawn)
    drawing = _Drawing(TITLE_ROOM, time_axis(until))
    groups = _together(drawn, volts)
    _line_panel(drawing, "Bus voltage", "V", "voltage_v", drawn, groups, volts,
                brownout=brownout, warning=warning)  # fmt: skip
    drawing.top += VOLTAGE_HEIGHT + TITLE_ROOM + 8.0
    _line_panel(drawing, "Battery current", "A", "current_a", drawn, groups, amperes)
    drawing.top += CURRENT_HEIGHT
    _time_foot(drawing, "Time since the start, s")
    lowest = [f"{one.mark.letter} {one.row['sprint_min_v']:.1f} V" for one in drawn]
    words = f"Bus voltage and battery current in the sprint. Lowest: {', '.join(lowest)}."
    return _picture("sprint-picture", words, drawing)


def _line_panel(
    drawing: _Drawing,
    title: str,
    unit: str,
    name: str,
    drawn: Sequence[Driven],
    groups: Sequence[list[Driven]],
    axis: Axis,
    *,
    brownout: float | None = None,
    warning: float | None = None,
) -> None:
    """Add a panel with a curve a candidate, its letter on it."""
    height = CURRENT_HEIGHT if brownout is None else VOLTAGE_HEIGHT
    drawing.begin(title, axis, height, unit)
    limits, cut = ((), None) if brownout is None else _limits(drawing, axis, brownout, warning)
    curves = [
        _curve(one.mark.css, drawing.across, axis, one.figures["sprint"]["series"]["time_s"],
               one.figures["sprint"]["series"][name])
        for one in drawn
    ]  # fmt: skip
    for place, group in enumerate(groups):
        series = group[0].figures["sprint"]["series"]
        end = float(series["time_s"][-1])
        at = end * (0.34 + 0.56 * place / max(len(groups) - 1, 1))
        value = float(np.interp(at, series["time_s"], series[name]))
        letters = ", ".join(one.mark.letter for one in group)
        drawing.texts.append(
            Text(drawing.across.share(at), drawing.y(axis, value, height) + 5.0, letters,
                 "sag-letter")
        )  # fmt: skip
    drawing.panels.append(
        Panel(title, drawing.top, height, _rules(drawing, axis, height), tuple(curves), limits, cut)
    )


def _together(drawn: Sequence[Driven], axis: Axis) -> list[list[Driven]]:
    """Return candidates whose sprints lie over each other, together."""
    groups: list[list[Driven]] = []
    for one in drawn:
        for group in groups:
            if _coincide(one, group[0], axis):
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def _coincide(one: Driven, other: Driven, axis: Axis) -> bool:
    first, second = one.figures["sprint"]["series"], other.figures["sprint"]["series"]
    end = float(first["time_s"][-1])
    if abs(end - float(second["time_s"][-1])) > SAME_CURVE * end:
        return False
    at = np.linspace(0.0, end, 24)
    apart = np.interp(at, first["time_s"], first["voltage_v"]) - np.interp(
        at, second["time_s"], second["voltage_v"]
    )
    return bool(np.max(np.abs(apart)) <= SAME_CURVE * (axis.high - axis.low))


# The push


def push_picture(
    ones: Sequence[Driven], volts: Axis, amperes: Axis, *, brownout: float, warning: float | None
) -> Picture:
    """Return where voltage and current stand in a push, a dot a candidate."""
    drawing = _Drawing(TITLE_ROOM, Axis(0.0, 1.0, 1.0))
    places = [round(100.0 * (i + 0.75) / (len(ones) + 0.5), 2) for i in range(len(ones))]
    drawing.begin("Bus voltage", volts, VOLTAGE_HEIGHT, "V")
    limits, cut = _limits(drawing, volts, brownout, warning)
    rules = _rules(drawing, volts, VOLTAGE_HEIGHT)
    for one, x in zip(ones, places, strict=True):
        push = one.figures["push"]
        at = drawing.y(volts, push["voltage_v"], VOLTAGE_HEIGHT)
        low = drawing.y(volts, push["min_voltage_v"], VOLTAGE_HEIGHT)
        drawing.spots.append(Spot(x, at, one.mark.css))
        drawing.texts.append(Text(x, at - 10.0, one.mark.letter, "sag-letter"))
        if low > at + 1.0:
            drawing.spots.append(Spot(x, low, one.mark.css, open=True, stem_to=at + 5.0))
    drawing.panels.append(Panel("Bus voltage", drawing.top, VOLTAGE_HEIGHT, rules, (), limits, cut))
    drawing.top += VOLTAGE_HEIGHT + TITLE_ROOM + 8.0
    drawing.begin("Battery current", amperes, CURRENT_HEIGHT, "A")
    for one, x in zip(ones, places, strict=True):
        at = drawing.y(amperes, one.figures["push"]["bus_current_a"], CURRENT_HEIGHT)
        drawing.spots.append(Spot(x, at, one.mark.css, stem_to=drawing.top + CURRENT_HEIGHT))
    drawing.panels.append(
        Panel("Battery current", drawing.top, CURRENT_HEIGHT,
              _rules(drawing, amperes, CURRENT_HEIGHT), ())
    )  # fmt: skip
    drawing.top += CURRENT_HEIGHT
    drawing.foot("", [(x, one.mark.letter) for one, x in zip(ones, places, strict=True)])
    said = [f"{one.mark.letter} {one.figures['push']['voltage_v']:.1f} V" for one in ones]
    words = f"Bus voltage and battery current in a push, which do not change: {', '.join(said)}."
    return _picture("push-picture", words, drawing)


# The match


def match_picture(
    one: Driven,
    volts: Axis,
    amperes: Axis,
    *,
    payload: dict[str, Any],
) -> Picture | None:
    """Return a candidate's whole match, with its periods, its drives and its lowest voltage."""
    match = one.figures["match"]
    series = match["series"]
    if not series["time_s"]:
        return None
    until, brownout = float(payload["match_s"]), float(payload["brownout_v"])
    drawing = _Drawing(TITLE_ROOM + PERIODS_ROOM, time_axis(until))
    strips = _periods(drawing, payload)
    full = VOLTAGE_HEIGHT + CURRENT_HEIGHT + TITLE_ROOM + 8.0
    strips += _drives(drawing, match["marks"], full)
    drawing.begin("", volts, VOLTAGE_HEIGHT, "V")
    drawing.texts.append(Text(0.0, TITLE_ROOM - 8.0, "Bus voltage", "sag-title", "start"))
    limits, cut = _limits(drawing, volts, brownout, payload["warning_v"])
    times, voltage = series["time_s"], series["voltage_v"]
    curves = [_curve("sag-line", drawing.across, volts, times, voltage)]
    curves += [
        _curve("sag-below", drawing.across, volts, *piece)
        for piece in below_pieces(times, voltage, brownout)
    ]
    strips += _lowest(drawing, match, volts)
    drawing.panels.append(
        Panel("Bus voltage", drawing.top, VOLTAGE_HEIGHT,
              _rules(drawing, volts, VOLTAGE_HEIGHT), tuple(curves), limits, cut)
    )  # fmt: skip
    drawing.top += VOLTAGE_HEIGHT + TITLE_ROOM + 8.0
    drawing.begin("Battery current", amperes, CURRENT_HEIGHT, "A")
    drawing.panels.append(
        Panel("Battery current", drawing.top, CURRENT_HEIGHT,
              _rules(drawing, amperes, CURRENT_HEIGHT),
              (_curve("sag-line", drawing.across, amperes, times, series["current_a"]),))
    )  # fmt: skip
    drawing.top += CURRENT_HEIGHT
    _time_foot(drawing, "Time in the match, s")
    words = (
        f"Bus voltage and battery current of {one.mark.letter} through the match: lowest "
        f"{match['min_voltage_v']:.1f} V at {match['min_at_s']:.0f} s."
    )
    return _picture("match-picture", words, drawing, tuple(strips))


def below_pieces(
    times: Sequence[float], voltage: Sequence[float], limit: float
) -> list[tuple[list[float], list[float]]]:
    """Return the pieces of a line that lie below a voltage, cut where it crosses it.

    >>> below_pieces([0, 1, 2], [8, 6, 8], 7)
    [([0.5, 1, 1.5], [7, 6, 7])]
    """
    pieces: list[tuple[list[float], list[float]]] = []
    inside = False
    for (t0, v0), (t1, v1) in pairwise(zip(times, voltage, strict=True)):
        if v0 >= limit and v1 >= limit:
            inside = False
            continue
        cross = t0 + (t1 - t0) * (limit - v0) / (v1 - v0) if v1 != v0 else t0
        if not inside:
            pieces.append(([t0], [v0]) if v0 < limit else ([cross], [limit]))
        xs, ys = pieces[-1]
        if v1 < limit:
            xs.append(t1)
            ys.append(v1)
        else:
            xs.append(cross)
            ys.append(limit)
        inside = v1 < limit
    return pieces


def _periods(drawing: _Drawing, payload: dict[str, Any]) -> list[Strip]:
    """Write the two periods over the panels, each with its line."""
    auto, until = float(payload["autonomous_s"]), float(payload["match_s"])
    edge = drawing.across.share(auto)
    top = TITLE_ROOM
    found = []
    for start, end, words, y in (
        (0.0, edge, f"autonomous, {auto:g} s", top + 10.0),
        (edge, 100.0, f"driver period, {until - auto:g} s", top + 29.0),
    ):
        if end - start <= 0.0:
            continue
        drawing.texts.append(Text(start, y, words, "sag-period", "start", 2.0))
        found.append(Strip(start, max(end - start, NARROWEST), y + 3.0, 3.0, "sag-period-line"))
    return found


def _drives(drawing: _Drawing, marks: Sequence[dict[str, Any]], height: float) -> list[Strip]:
    """Return the drives of a match as strips; cycles carry their number."""
    cycles = [mark for mark in marks if mark["kind"] == "cycle"]
    each = math.ceil(len(cycles) / MOST_NUMBERED) if cycles else 1
    found = []
    number = 0
    for mark in marks:
        x = drawing.across.share(mark["time_s"])
        width = round(drawing.across.share(mark["until_s"]) - x, 3)
        css = {"idle": "sag-idle", "autonomous": "sag-auto"}.get(mark["kind"], "sag-even")
        if mark["kind"] == "cycle":
            number += 1
            if (number - 1) % each == 0:
                middle = round(x + width / 2.0, 2)
                drawing.texts.append(Text(middle, drawing.top - 6.0, f"{number}", "sag-number"))
            if number % 2 == 0:
                continue
        found.append(Strip(x, max(width, 0.0), drawing.top, height, css, mark["route"] or "waits"))
    return found


def _lowest(drawing: _Drawing, match: dict[str, Any], axis: Axis) -> list[Strip]:
    """Mark the lowest voltage and the leg in which it lies."""
    where = match["min_where"]
    x = drawing.across.share(match["min_at_s"])
    y = drawing.y(axis, match["min_voltage_v"], VOLTAGE_HEIGHT)
    words = f"{match['min_voltage_v']:.2f} V"
    if where["leg"] is not None:
        words += f", leg {where['leg']}"
    end = x > 55.0
    drawing.spots.append(Spot(x, y, "sag-lowest", open=True))
    under = y + 22.0 <= drawing.top + VOLTAGE_HEIGHT - 2.0
    drawing.texts.append(
        Text(x, y + (22.0 if under else -10.0), words, "sag-letter", "end" if end else "start",
             8.0 if end else -8.0)
    )  # fmt: skip
    start, until = (drawing.across.share(where[name]) for name in ("from_s", "until_s"))
    if where["leg"] is None:
        return []
    width = max(until - start, NARROWEST)
    return [Strip(start, width, drawing.top, VOLTAGE_HEIGHT, "sag-leg", f"leg {where['leg']}")]


def _rules(drawing: _Drawing, axis: Axis, height: float) -> tuple[float, ...]:
    return tuple(drawing.y(axis, value, height) for value in axis.ticks)


def _time_foot(drawing: _Drawing, title: str) -> None:
    across = drawing.across
    drawing.foot(title, [(across.share(value), f"{value:g}") for value in across.ticks])


def _picture(name: str, words: str, drawing: _Drawing, strips: tuple[Strip, ...] = ()) -> Picture:
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
