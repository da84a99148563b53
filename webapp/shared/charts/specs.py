"""The charts as Vega-Lite specifications: plain dicts, data apart.

Every specification names its data (`curves`, `labels`, `changes`); the values are put in by
charts.js. Colours of text, axes and rules are set there too, from the style sheet, so that the
same specification reads on paper and on a dark screen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from models.units import UnitSystem, display_unit

Spec = dict[str, Any]

PLOT_HEIGHT = 260
STRONG_WIDTH = 4
THIN_WIDTH = 2


@dataclass(frozen=True)
class Axis:
    """One axis: the field of the curve, its words and its unit key."""

    field: str
    name: str
    unit: str
    from_zero: bool = True


@dataclass(frozen=True)
class Chart:
    """One chart: what it is called, what it shows and of which curve."""

    key: str
    title: str
    sentence: str
    curve: str
    x: Axis
    y: Axis


_TIME = Axis("time", "Time", "s")

CHARTS: tuple[Chart, ...] = (
    Chart(
        "speed",
        "Speed over the sprint",
        "From rest until it passes the end of the yardstick distance.",
        "sprint",
        _TIME,
        Axis("speed", "Speed", "mps"),
    ),
    Chart(
        "distance",
        "Distance over the sprint",
        "The curve further to the left is there first.",
        "sprint",
        _TIME,
        Axis("distance", "Distance", "m"),
    ),
    Chart(
        "voltage",
        "Bus voltage over the sprint",
        "Below the marked line the controller cuts its outputs: a brownout.",
        "sprint",
        _TIME,
        Axis("voltage", "Bus voltage", "v", from_zero=False),
    ),
    Chart(
        "current",
        "Battery current over the sprint",
        "All motors and accessories together.",
        "sprint",
        _TIME,
        Axis("current", "Battery current", "a"),
    ),
    Chart(
        "force",
        "Force against speed",
        "What drives the robot on at each speed. A mark stands where another limit takes over.",
        "force",
        Axis("speed", "Speed", "mps"),
        Axis("force", "Force on the floor", "n"),
    ),
)
"""Every chart in page order."""

LIMIT_SHAPES: dict[str, str] = {
    "traction": "square",
    "stator limit": "triangle-up",
    "supply limit": "diamond",
    "voltage": "circle",
    "tip": "cross",
}
"""The mark with which a governing limit begins."""


@dataclass(frozen=True)
class Line:
    """How the curve of one candidate is drawn."""

    letter: str
    colour: str
    dash: tuple[int, ...]
    strong: bool = False
    cased: bool = False
    """Drawn with an edge in ink, because its colour alone is too light on paper."""


def axis_title(axis: Axis, system: UnitSystem) -> str:
    """Return an axis title with its unit.

    >>> axis_title(Axis("speed", "Speed", "mps"), UnitSystem.SI)
    'Speed, m/s'
    """
    unit = display_unit(axis.unit, system)
    return f"{axis.name}, {unit}" if unit else axis.name


def chart_spec(
    chart: Chart, lines: Sequence[Line], system: UnitSystem, *, brownout_v: float | None = None
) -> Spec:
    """Return the Vega-Lite specification of a chart, its data named but not in it.

    Lines carry colour, dash pattern, width and a letter at their end, so that none hangs on
    colour alone.
    """
    layers = [_line_layer(chart, lines, system, cased=False)]
    if any(line.cased for line in lines):
        layers.insert(0, _line_layer(chart, lines, system, cased=True))
    if chart.key == "voltage" and brownout_v is not None:
        layers[:0] = _brownout_layers(brownout_v)
    if chart.key == "force":
        layers.append(_change_layer(chart, lines, system))
        if any(line.strong for line in lines):
            layers.append(_limit_words_layer(chart, system))
    layers.append(_letter_layer(chart, system))
    layers.append(_hover_layer(chart, system))
    return {
        "width": "container",
        "height": PLOT_HEIGHT,
        "autosize": {"type": "fit-x", "contains": "padding"},
        "description": f"{chart.title}. {chart.sentence}",
        "layer": layers,
        "config": {
            "aria": False,
            "mark": {"aria": False},
            "range": {"category": [line.colour for line in lines]},
        },
    }


def _position(axis: Axis, system: UnitSystem) -> Spec:
    return {
        "field": axis.field,
        "type": "quantitative",
        "title": axis_title(axis, system),
        "scale": {"zero": axis.from_zero, "nice": True},
        "axis": {"tickCount": 6},
    }


def _xy(chart: Chart, system: UnitSystem) -> Spec:
    return {"x": _position(chart.x, system), "y": _position(chart.y, system)}


def _line_layer(chart: Chart, lines: Sequence[Line], system: UnitSystem, *, cased: bool) -> Spec:
    """Return the curves; `cased` draws a wider line in ink below them, for the light colours."""
    letters = [line.letter for line in lines]
    strong = [line.letter for line in lines if line.strong]
    extra = 1.6 if cased else 0.0
    encoding: Spec = _xy(chart, system) | {
        "detail": {"field": "letter", "type": "nominal"},
        "strokeDash": {
            "field": "letter",
            "type": "nominal",
            "scale": {"domain": letters, "range": [list(line.dash) for line in lines]},
            "legend": None,
        },
        "strokeWidth": {
            "condition": {
                "test": {"field": "letter", "oneOf": strong},
                "value": STRONG_WIDTH + extra,
            },
            "value": THIN_WIDTH + extra,
        },
    }
    mark: Spec = {"type": "line", "strokeCap": "butt", "strokeJoin": "round"}
    if cased:
        return {
            "data": {"name": "curves"},
            "transform": [{"filter": {"field": "cased", "equal": True}}],
            "mark": mark | {"style": ["casing"]},
            "encoding": encoding,
        }
    encoding["color"] = {
        "field": "letter",
        "type": "nominal",
        "scale": {"domain": letters},
        "legend": None,
    }
    return {"data": {"name": "curves"}, "mark": mark, "encoding": encoding}


def _letter_layer(chart: Chart, system: UnitSystem) -> Spec:
    return {
        "data": {"name": "labels"},
        "mark": {"type": "text", "style": ["letter"], "align": "center", "baseline": "middle"},
        "encoding": _xy(chart, system) | {"text": {"field": "letter", "type": "nominal"}},
    }


def _hover_layer(chart: Chart, system: UnitSystem) -> Spec:
    tooltip: list[Spec] = [{"field": "name", "type": "nominal", "title": "Candidate"}]
    for axis in (chart.x, chart.y):
        title = axis_title(axis, system)
        tooltip.append(
            {"field": axis.field, "type": "quantitative", "title": title, "format": ".3~r"}
        )
    if chart.key == "force":
        tooltip.append({"field": "limit", "type": "nominal", "title": "Limited by"})
    return {
        "data": {"name": "curves"},
        "params": [
            {
                "name": "under_pointer",
                "select": {
                    "type": "point",
                    "nearest": True,
                    "on": "pointerover",
                    "clear": "pointerout",
                },
            }
        ],
        "mark": {"type": "point", "style": ["reading"], "filled": True, "size": 60},
        "encoding": _xy(chart, system)
        | {
            "opacity": {
                "condition": {"param": "under_pointer", "empty": False, "value": 1},
                "value": 0,
            },
            "tooltip": tooltip,
        },
    }


def _brownout_layers(brownout_v: float) -> list[Spec]:
    datum: Spec = {"y": {"datum": brownout_v}}
    words: Spec = {"type": "text", "style": ["limit-words"], "align": "right"}
    return [
        {
            "data": {"values": [{}]},
            "mark": {"type": "rule", "style": ["limit"], "strokeDash": [6, 3]},
            "encoding": datum,
        },
        {
            "data": {"values": [{"words": f"brownout, {brownout_v:.3g} V"}]},
            "mark": words | {"dx": -4, "dy": -9},
            "encoding": datum
            | {"x": {"value": "width"}, "text": {"field": "words", "type": "nominal"}},
        },
    ]


def _change_layer(chart: Chart, lines: Sequence[Line], system: UnitSystem) -> Spec:
    return {
        "data": {"name": "changes"},
        "mark": {"type": "point", "style": ["change"], "filled": True, "size": 90, "opacity": 1},
        "encoding": _xy(chart, system)
        | {
            "shape": {
                "field": "limit",
                "type": "nominal",
                "scale": {
                    "domain": list(LIMIT_SHAPES),
                    "range": list(LIMIT_SHAPES.values()),
                },
                "legend": None,
            },
            "color": {
                "field": "letter",
                "type": "nominal",
                "scale": {"domain": [line.letter for line in lines]},
                "legend": None,
            },
        },
    }


def _limit_words_layer(chart: Chart, system: UnitSystem) -> Spec:
    return {
        "data": {"name": "changes"},
        "transform": [{"filter": {"field": "strong", "equal": True}}],
        "mark": {"type": "text", "style": ["words"], "align": "left", "dx": 8, "dy": -10},
        "encoding": _xy(chart, system) | {"text": {"field": "limit", "type": "nominal"}},
    }
