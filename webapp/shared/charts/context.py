"""What the charts need: curves as data for the browser, and the tables of values behind them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from models.study.schema import Study
from models.units import UnitSystem, common_decimals, display_unit, show_bare
from webapp.shared.candidates import COLOURS, DASHES, CandidateMark, marks_of
from webapp.shared.charts.curves import curves_of
from webapp.shared.charts.specs import CHARTS, LIMIT_SHAPES, Chart, Line, chart_spec
from webapp.shared.links import StudyLinks

SHOWN_AT_MOST = 5
TABLE_ROWS = 9
LABEL_DISTANCE = 0.09
"""Least distance of two letters on a chart, as a share of its width and height."""
COINCIDENT = 0.01
"""Curves closer than this share of the chart everywhere are one line to the eye."""
LABEL_PLACES = (0.92, 0.85, 0.78, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05)
"""Shares of a curve's points at which its letter may stand, near the end first."""
CASED_COLOURS = frozenset(COLOURS[5:])
"""Colours under 3:1 on paper: their lines get an edge in ink."""


@dataclass(frozen=True)
class ValueRow:
    """One row of the table behind a chart: where on the x axis, and a text a candidate."""

    at: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class ValueTable:
    """The table of values behind a chart."""

    row_head: str
    cell_head: str
    rows: tuple[ValueRow, ...]


Curve = dict[str, list[Any]]


def shown_marks(
    study: Study, shown: Iterable[str] | None, strong: str | None
) -> list[CandidateMark]:
    """Return the marks of the candidates that charts overlay: those asked for, five at most."""
    marks = marks_of(study)
    asked = {mark.key for mark in marks} if shown is None else set(shown)
    wanted = [mark for mark in marks if mark.key in asked or mark.key == strong] or marks
    first = [m for m in wanted if m.key == strong or m.baseline]
    rest = [m for m in wanted if m not in first]
    kept = {mark.key for mark in [*first, *rest][:SHOWN_AT_MOST]}
    return [mark for mark in marks if mark.key in kept]


def charts_data(
    study: Study,
    system: UnitSystem,
    *,
    strong: str | None = None,
    shown: Iterable[str] | None = None,
) -> dict[str, Any]:
    """Return specifications and curves for charts.js, finite numbers only."""
    marks = shown_marks(study, shown, strong)
    series = [_series(study, mark, system, strong=strong) for mark in marks]
    _place_labels(series)
    lines = [_line(mark, strong) for mark in marks]
    return {
        "series": series,
        "charts": {
            chart.key: {
                "curve": chart.curve,
                "x": chart.x.field,
                "y": chart.y.field,
                "spec": chart_spec(chart, lines, system, brownout_v=float(study.power.brownout_v)),
            }
            for chart in CHARTS
        },
    }


def live_series(study: Study, key: str, system: UnitSystem) -> dict[str, Any]:
    """Return the curves of the one candidate that is being changed, for a chart on the page."""
    mark = next(mark for mark in marks_of(study) if mark.key == key)
    series = [_series(study, mark, system, strong=key)]
    _place_labels(series)
    return {"series": series}


def _series(
    study: Study, mark: CandidateMark, system: UnitSystem, *, strong: str | None
) -> dict[str, Any]:
    return {
        "letter": mark.letter,
        "name": f"{mark.letter} {mark.name}",
        "style": mark.css,
        "cased": _colour(mark) in CASED_COLOURS,
        "strong": mark.key == strong,
        **curves_of(study, mark.key, system),
    }


def _style_index(mark: CandidateMark) -> int:
    return ord(mark.css[-1]) - ord("a")


def _colour(mark: CandidateMark) -> str:
    return COLOURS[_style_index(mark)]


def _line(mark: CandidateMark, strong: str | None) -> Line:
    return Line(
        mark.letter,
        _colour(mark),
        DASHES[_style_index(mark)],
        strong=mark.key == strong,
        cased=_colour(mark) in CASED_COLOURS,
    )


def _place_labels(series: list[dict[str, Any]]) -> None:
    """Give each curve the point at which its letter stands, apart from letters and curves."""
    for one in series:
        one["labels"] = {}
    for chart in CHARTS:
        curves = [_columns(one, chart) for one in series]
        drawn = [(one, curve) for one, curve in zip(series, curves, strict=True) if curve[0]]
        if not drawn:
            continue
        width = max(max(xs) for _, (xs, _) in drawn) or 1.0
        height = max(max(ys) for _, (_, ys) in drawn) or 1.0
        taken: list[tuple[float, float]] = []
        for one, (xs, ys) in drawn:
            others = [
                curve
                for other, curve in drawn
                if other is not one and not _coincide((xs, ys), curve, (width, height))
            ]
            rooms = [
                (index, _room(index, (xs, ys), others, taken, (width, height)))
                for index in (round(share * (len(xs) - 1)) for share in LABEL_PLACES)
            ]
            index = next(
                (index for index, room in rooms if room >= LABEL_DISTANCE),
                max(rooms, key=lambda place: place[1])[0],
            )
            taken.append((xs[index] / width, ys[index] / height))
            one["labels"][chart.key] = index


def _coincide(
    curve: tuple[Sequence[float], Sequence[float]],
    other: tuple[Sequence[float], Sequence[float]],
    extent: tuple[float, float],
) -> bool:
    """Return whether two curves are drawn over each other from one end to the other."""
    (xs, ys), (others_x, others_y) = curve, other
    if abs(xs[-1] - others_x[-1]) > COINCIDENT * extent[0]:
        return False
    places = [round(share * (len(xs) - 1)) for share in LABEL_PLACES]
    apart = (abs(_read_off(others_x, others_y, xs[i]) - ys[i]) for i in places)
    return max(apart) <= COINCIDENT * extent[1]


def _columns(one: dict[str, Any], chart: Chart) -> tuple[list[float], list[float]]:
    return one[chart.curve][chart.x.field], one[chart.curve][chart.y.field]


def _room(
    index: int,
    curve: tuple[Sequence[float], Sequence[float]],
    others: Sequence[tuple[Sequence[float], Sequence[float]]],
    taken: Sequence[tuple[float, float]],
    extent: tuple[float, float],
) -> float:
    """Return how much room a letter has: to other letters, and twice that to other curves."""
    x, y = curve[0][index], curve[1][index]
    to_letters = (max(abs(x / extent[0] - a), abs(y / extent[1] - b)) for a, b in taken)
    to_curves = (
        2 * abs(y - _read_off(xs, ys, x)) / extent[1] for xs, ys in others if xs[0] <= x <= xs[-1]
    )
    return min((*to_letters, *to_curves), default=1.0)


def charts_context(
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
    *,
    strong: str | None = None,
    shown: Sequence[str] | None = None,
    keys: Sequence[str] | None = None,
    choose: bool = False,
) -> dict[str, Any]:
    """Return what `shared/charts/charts.html` shows.

    `strong` is the candidate in hand, `shown` the candidates to overlay, `keys` the charts to show
    (all without it); `choose` adds the form that picks both, for a page that is about charts alone.
    """
    known = {candidate.key for candidate in study.candidates}
    strong = strong if strong in known else None
    marks = shown_marks(study, shown, strong)
    curves = {mark.key: curves_of(study, mark.key, system) for mark in marks}
    charts = [chart for chart in CHARTS if keys is None or chart.key in keys]
    return {
        "chart_marks": marks,
        "chart_strong": strong,
        "chart_data_url": links.charts_data(
            strong=strong, show=None if shown is None else [mark.key for mark in marks]
        ),
        "charts": [
            {"chart": chart, "table": value_table(chart, [curves[m.key] for m in marks], system)}
            for chart in charts
        ],
        "limit_shapes": LIMIT_SHAPES,
        "chart_choices": marks_of(study) if choose else [],
        "chart_choice_url": links.charts(),
        "chart_most": SHOWN_AT_MOST,
        "chart_heading": 2 if choose else 3,
    }


def value_table(chart: Chart, curves: Sequence[dict[str, Any]], system: UnitSystem) -> ValueTable:
    """Return the table behind a chart: values read off each curve at even steps."""
    columns = [curve[chart.curve] for curve in curves]
    drawn = [column for column in columns if column[chart.x.field]]
    end = max((column[chart.x.field][-1] for column in drawn), default=0.0)
    step = _even_step(end)
    places = [step * i for i in range(int(end / step + 1e-9) + 1)] if drawn else []
    decimals = common_decimals(
        [max(column[chart.y.field], key=abs) for column in drawn], "", UnitSystem.SI
    )
    rows = []
    for place in places:
        cells = tuple(_cell(chart, column, place, decimals) for column in columns)
        rows.append(ValueRow(f"{place:g}", cells))
    return ValueTable(_head(chart.x, system), _head(chart.y, system), tuple(rows))


def _head(axis: Any, system: UnitSystem) -> str:
    unit = display_unit(axis.unit, system)
    return f"{axis.name}, {unit}" if unit else str(axis.name)


def _even_step(end: float) -> float:
    """Return a round step that divides the axis into about nine rows."""
    for step in (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0):
        if end / step <= TABLE_ROWS:
            return step
    return end / TABLE_ROWS


def _cell(chart: Chart, column: Curve, place: float, decimals: int) -> str:
    xs, ys = column[chart.x.field], column[chart.y.field]
    if not xs:
        return "does not move"
    if place > xs[-1]:
        return "past the end" if chart.curve == "sprint" else "none left"
    text = show_bare(_read_off(xs, ys, place), "", UnitSystem.SI, decimals=decimals)
    if chart.curve == "force":
        return f"{text} ({column['limit'][min(bisect_left(xs, place), len(xs) - 1)]})"
    return text


def _read_off(xs: Sequence[float], ys: Sequence[float], place: float) -> float:
    """Return the value of a curve between its points, by a straight line."""
    after = bisect_left(xs, place)
    if after in (0, len(xs)):
        return float(ys[0 if after == 0 else -1])
    before = after - 1
    span = xs[after] - xs[before]
    share = (place - xs[before]) / span if span > 0 else 0.0
    return float(ys[before] + share * (ys[after] - ys[before]))
