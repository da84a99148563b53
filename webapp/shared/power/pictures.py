"""Bus voltage and battery current through a sprint, a push and a match, drawn on the server."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from webapp.shared.power.drawing import (
    BETWEEN,
    CURRENT_HEIGHT,
    TITLE_ROOM,
    VOLTAGE_HEIGHT,
    Axis,
    Drawing,
    Panel,
    Picture,
    Spot,
    Strip,
    Text,
    curve,
    limit_lines,
    picture_of,
    rules_of,
    smooth_path,
    time_axis,
    time_foot,
    volt_axis,
    zero_axis,
)
from webapp.shared.power.words import Driven

PERIODS_ROOM = 56.0
MOST_NUMBERED = 16
"""More cycles than that are numbered only every few."""
NARROWEST = 0.8
"""Width under which a mark would not be seen, in per cent."""
TITLE_SHARE, END_SHARE = 35.0, 70.0
"""Left of the first a panel's title may stand; right of the second words end at their place."""
SAME_CURVE = 0.015
"""Curves that lie closer everywhere are one line to the eye, as a share of the panel's height."""


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
    drawing = Drawing(TITLE_ROOM, time_axis(until))
    groups = _together(drawn, volts)
    _sprint_panel(drawing, "voltage_v", volts, groups, brownout=brownout, warning=warning)
    drawing.top += VOLTAGE_HEIGHT + BETWEEN
    _sprint_panel(drawing, "current_a", amperes, groups)
    drawing.top += CURRENT_HEIGHT
    time_foot(drawing, "Time since the start, s")
    lowest = [f"{one.mark.letter} {one.row['sprint_min_v']:.1f} V" for one in drawn]
    words = f"Bus voltage and battery current in the sprint. Lowest: {', '.join(lowest)}."
    return picture_of("sprint-picture", words, drawing)


def _sprint_panel(
    drawing: Drawing,
    name: str,
    axis: Axis,
    groups: Sequence[list[Driven]],
    *,
    brownout: float | None = None,
    warning: float | None = None,
) -> None:
    """Add a panel with a curve a candidate, its letter on it; limits where brownout is given."""
    volts = brownout is not None
    height = VOLTAGE_HEIGHT if volts else CURRENT_HEIGHT
    title, unit = ("Bus voltage", "V") if volts else ("Battery current", "A")
    drawing.begin(title, axis, height, unit)
    limits, cut = (
        ((), None)
        if brownout is None
        else limit_lines(drawing, axis, brownout, warning, right=True)
    )
    curves = [
        curve(one.mark.css, drawing.across, axis, one.figures["sprint"]["series"]["time_s"],
              one.figures["sprint"]["series"][name], draw=smooth_path)
        for group in groups for one in group
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
        Panel(
            title, drawing.top, height, rules_of(drawing, axis, height), tuple(curves), limits, cut
        )
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
    drawing = Drawing(TITLE_ROOM, Axis(0.0, 1.0, 1.0))
    # The left third is left to the words of the limits
    places = [round(34.0 + 66.0 * (i + 0.5) / len(ones), 2) for i in range(len(ones))]
    drawing.begin("Bus voltage", volts, VOLTAGE_HEIGHT, "V")
    limits, cut = limit_lines(drawing, volts, brownout, warning)
    rules = rules_of(drawing, volts, VOLTAGE_HEIGHT)
    for one, x in zip(ones, places, strict=True):
        push = one.figures["push"]
        at = drawing.y(volts, push["voltage_v"], VOLTAGE_HEIGHT)
        low = drawing.y(volts, push["min_voltage_v"], VOLTAGE_HEIGHT)
        drawing.spots.append(Spot(x, at, one.mark.css))
        drawing.texts.append(Text(x, at - 10.0, one.mark.letter, "sag-letter"))
        if low > at + 1.0:
            drawing.spots.append(Spot(x, low, one.mark.css, open=True, stem_to=at + 5.0))
    drawing.panels.append(Panel("Bus voltage", drawing.top, VOLTAGE_HEIGHT, rules, (), limits, cut))
    drawing.top += VOLTAGE_HEIGHT + BETWEEN
    drawing.begin("Battery current", amperes, CURRENT_HEIGHT, "A")
    for one, x in zip(ones, places, strict=True):
        at = drawing.y(amperes, one.figures["push"]["bus_current_a"], CURRENT_HEIGHT)
        drawing.spots.append(Spot(x, at, one.mark.css, stem_to=drawing.top + CURRENT_HEIGHT))
    drawing.panels.append(
        Panel("Battery current", drawing.top, CURRENT_HEIGHT,
              rules_of(drawing, amperes, CURRENT_HEIGHT), ())
    )  # fmt: skip
    drawing.top += CURRENT_HEIGHT
    drawing.foot("", [(x, one.mark.letter) for one, x in zip(ones, places, strict=True)])
    said = [f"{one.mark.letter} {one.figures['push']['voltage_v']:.1f} V" for one in ones]
    words = f"Bus voltage and battery current in a push, which do not change: {', '.join(said)}."
    return picture_of("push-picture", words, drawing)


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
    drawing = Drawing(TITLE_ROOM + PERIODS_ROOM, time_axis(until))
    strips = _periods(drawing, payload)
    full = VOLTAGE_HEIGHT + CURRENT_HEIGHT + BETWEEN
    strips += _drives(drawing, match["marks"], full)
    drawing.begin("", volts, VOLTAGE_HEIGHT, "V")
    drawing.texts.append(Text(0.0, TITLE_ROOM - 8.0, "Bus voltage", "sag-title", "start"))
    limits, cut = limit_lines(drawing, volts, brownout, payload["warning_v"])
    times, voltage = series["time_s"], series["voltage_v"]
    curves = [curve("sag-line", drawing.across, volts, times, voltage)]
    curves += [
        curve("sag-below", drawing.across, volts, *piece)
        for piece in below_pieces(times, voltage, brownout)
    ]
    strips += _lowest(drawing, match, volts)
    drawing.panels.append(
        Panel("Bus voltage", drawing.top, VOLTAGE_HEIGHT,
              rules_of(drawing, volts, VOLTAGE_HEIGHT), tuple(curves), limits, cut)
    )  # fmt: skip
    drawing.top += VOLTAGE_HEIGHT + BETWEEN
    drawing.begin("Battery current", amperes, CURRENT_HEIGHT, "A")
    drawing.panels.append(
        Panel("Battery current", drawing.top, CURRENT_HEIGHT,
              rules_of(drawing, amperes, CURRENT_HEIGHT),
              (curve("sag-line", drawing.across, amperes, times, series["current_a"]),))
    )  # fmt: skip
    drawing.top += CURRENT_HEIGHT
    time_foot(drawing, "Time in the match, s")
    words = (
        f"Bus voltage and battery current of {one.mark.letter} through the match: lowest "
        f"{match['min_voltage_v']:.1f} V at {match['min_at_s']:.0f} s."
    )
    return picture_of("match-picture", words, drawing, tuple(strips))


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


def _periods(drawing: Drawing, payload: dict[str, Any]) -> list[Strip]:
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


def _drives(drawing: Drawing, marks: Sequence[dict[str, Any]], height: float) -> list[Strip]:
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


def _lowest(drawing: Drawing, match: dict[str, Any], axis: Axis) -> list[Strip]:
    """Mark the lowest voltage and the leg in which it lies."""
    where = match["min_where"]
    x = drawing.across.share(match["min_at_s"])
    y = drawing.y(axis, match["min_voltage_v"], VOLTAGE_HEIGHT)
    words = f"{match['min_voltage_v']:.2f} V"
    if where["leg"] is not None:
        words += f", leg {where['leg']}"
    drawing.spots.append(Spot(x, y, "sag-lowest", open=True))
    floor = drawing.top + VOLTAGE_HEIGHT
    if x > TITLE_SHARE:  # under the panel, right of the next one's title
        end, at = x > END_SHARE, floor + 16.0
    else:
        end, at = False, y + (22.0 if y + 24.0 <= floor else -10.0)
    anchor, dx = ("end", 8.0) if end else ("start", -8.0)
    drawing.texts.append(Text(x, at, words, "sag-letter", anchor, dx))
    start, until = (drawing.across.share(where[name]) for name in ("from_s", "until_s"))
    if where["leg"] is None:
        return []
    width = max(until - start, NARROWEST)
    return [Strip(start, width, drawing.top, VOLTAGE_HEIGHT, "sag-leg", f"leg {where['leg']}")]
