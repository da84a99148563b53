"""The charts as drawings of the server, for a file that has nobody to ask for figures."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from models.study.schema import Study
from models.units import UnitSystem, display_unit
from webapp.shared.charts.context import charts_data
from webapp.shared.charts.specs import CHARTS, Chart
from webapp.shared.figures.plots import Label, Plot, Stroke, nice_step

WIDE, HIGH = 560.0, 320.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 18.0, 36.0, 58.0
OVER_LINE = 8.0


def chart_plots(study: Study, system: UnitSystem, *, mark: str) -> list[tuple[Chart, Plot]]:
    """Return each chart with its drawing; `mark` keeps the ids of two systems apart."""
    series = charts_data(study, system)["series"]
    brownout = float(study.power.brownout_v)
    return [(chart, _plot(chart, series, system, mark, brownout)) for chart in CHARTS]


def _plot(
    chart: Chart,
    series: Sequence[Mapping[str, Any]],
    system: UnitSystem,
    mark: str,
    brownout_v: float,
) -> Plot:
    curves = [(one, *_columns(one, chart)) for one in series]
    drawn = [(one, xs, ys) for one, xs, ys in curves if xs]
    end = max((max(xs) for _, xs, _ in drawn), default=1.0) or 1.0
    marked = [brownout_v] if chart.y.unit == "v" else []
    values = [*marked, *(y for _, _, ys in drawn for y in ys)]
    low, high, step = _reach(values, from_zero=chart.y.from_zero)
    across, up = (WIDE - LEFT - RIGHT) / end, (HIGH - TOP - BOTTOM) / (high - low)

    def place(x: float, y: float) -> tuple[float, float]:
        return round(LEFT + x * across, 1), round(HIGH - BOTTOM - (y - low) * up, 1)

    rules, labels = [], []
    step_x = nice_step(end, 6)
    for count in range(int(end / step_x + 1e-9) + 1):
        x, y = place(count * step_x, low)
        rules.append(f"M{x:g} {y:g}V{TOP:g}")
        labels.append(Label(x, y + 22.0, f"{count * step_x:.3g}", "plot-tick"))
    for count in range(round((high - low) / step) + 1):
        x, y = place(0.0, low + count * step)
        rules.append(f"M{x:g} {y:g}H{WIDE - RIGHT:g}")
        labels.append(Label(x - 8.0, y + 5.0, f"{low + count * step:.4g}", "plot-tick", "end"))
    labels.append(Label(WIDE - RIGHT, HIGH - 8.0, _axis(chart.x, system), "plot-word", "end"))
    labels.append(Label(4.0, 16.0, _axis(chart.y, system), "plot-word", "start"))
    strokes = []
    for one, xs, ys in drawn:
        points = [place(x, y) for x, y in zip(xs, ys, strict=True)]
        path = "M" + "L".join(f"{x:g} {y:g}" for x, y in points)
        strokes.append(Stroke(str(one["style"]), path, _changes(one, chart, place)))
        x, y = points[one["labels"][chart.key]]
        labels.append(Label(x, y - OVER_LINE, str(one["letter"]), "plot-letter"))
    corner = place(0.0, low)
    axes = [f"M{LEFT:g} {TOP:g}L{corner[0]:g} {corner[1]:g}H{WIDE - RIGHT:g}"]
    for value in marked:
        y = place(0.0, value)[1]
        axes.append(f"M{LEFT:g} {y:g}H{WIDE - RIGHT:g}")
        words = f"brownout {value:g} V"
        labels.append(Label(WIDE - RIGHT, y - OVER_LINE, words, "plot-tick", "end"))
    return Plot(
        f"{mark}-{chart.key}", chart.title, chart.sentence, WIDE, HIGH,
        rules=tuple(rules), circles=(), axes=tuple(axes), strokes=tuple(strokes),
        labels=tuple(labels),
    )  # fmt: skip


def _changes(
    one: Mapping[str, Any], chart: Chart, place: Callable[[float, float], tuple[float, float]]
) -> tuple[tuple[float, float], ...]:
    """Return where another limit takes over along a curve of force."""
    if chart.curve != "force":
        return ()
    return tuple(place(change["speed"], change["force"]) for change in one["changes"])


def _columns(one: Mapping[str, Any], chart: Chart) -> tuple[list[float], list[float]]:
    curve = one[chart.curve]
    return curve[chart.x.field], curve[chart.y.field]


def _reach(values: Sequence[float], *, from_zero: bool) -> tuple[float, float, float]:
    """Return round ends of an axis and its step."""
    high, low = max(values, default=1.0), min(values, default=0.0)
    low = 0.0 if from_zero else low
    step = nice_step(max(high - low, 1e-9), 5)
    first = math.floor(low / step + 1e-9) * step
    count = max(math.ceil((high - first) / step - 1e-9), 1)
    return first, first + count * step, step


def _axis(axis: Any, system: UnitSystem) -> str:
    unit = display_unit(axis.unit, system)
    return f"{axis.name}, {unit}" if unit else str(axis.name)
