"""The explorer's map as shapes for SVG: shading, labelled lines, marks, axes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from models.engineering.contours import areas_above, contour_lines, nice_levels
from models.trade.exploring import Design, Offer
from models.trade.exploring_map import GearMap, row_place
from models.units import UnitSystem, convert, display_unit, show

FloatArray = NDArray[np.float64]
Point = tuple[float, float]

RATIO_TICKS = (
    1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5, 7, 8, 9, 10, 11, 12, 13, 14, 16, 18, 20, 22,
    25, 30, 35, 40, 45, 50, 60, 80, 100,
)  # fmt: skip
ROW_UNITS = {"diameter": "m", "stator": "a", "supply": "a"}
MOST_SHADES = 5
SLOWEST_SHADE = 1.5
"""Times beyond so many times the quickest share the darkest shade."""
STRIP = 7.0
SAME_RATIO = 1e-9
FLAT = 0.01
"""A push this near to the greatest of the map has no line of its own [ratio]."""


@dataclass(frozen=True)
class Frame:
    """Where the plot lies in the picture."""

    key: str
    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    letter: float
    """Width of a letter of a label, for keeping labels apart."""
    tick_gap: float
    most_lines: int

    @property
    def x_end(self) -> float:
        """Right edge of the plot."""
        return self.width - self.right

    @property
    def y_end(self) -> float:
        """Lower edge of the plot."""
        return self.height - self.bottom


WIDE = Frame("wide", 800, 500, 70, 18, 44, 66, 7.6, 40, 5)
NARROW = Frame("narrow", 344, 420, 50, 10, 44, 64, 7.6, 40, 3)


@dataclass(frozen=True)
class Shade:
    """One shade of the map and what it means."""

    css: str
    path: str
    words: str


@dataclass(frozen=True)
class Line:
    """A line on which a figure is the same, with its label."""

    css: str
    path: str
    text: str = ""
    x: float = 0.0
    y: float = 0.0
    width: float = 0.0
    """Of what is laid under the label."""


@dataclass(frozen=True)
class Tick:
    """A mark on an axis."""

    at: float
    text: str


@dataclass(frozen=True)
class Mark:
    """A design on the map."""

    css: str
    x: float
    y: float
    text: str


@dataclass(frozen=True)
class OfferLine:
    """A ratio on offer: a line down the map, its number over it where there is room."""

    x: float
    text: str
    css: str


@dataclass(frozen=True)
class MapView:
    """The whole picture in one size."""

    frame: Frame
    description: str
    shades: tuple[Shade, ...]
    brownout: str
    lines: tuple[Line, ...]
    dots: str
    band: tuple[tuple[float, float], ...]
    """Left edge and width of each stretch that is a tie."""
    offers: tuple[OfferLine, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    y_title: str
    marks: tuple[Mark, ...]
    data: Mapping[str, str]
    """What a script needs to turn a place into numbers."""
    strip: float = STRIP


@dataclass
class _Labels:
    """Places that are taken by words."""

    frame: Frame
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)

    def take(self, x: float, y: float, text: str) -> bool:
        """Keep a place for a label about a point; false where it would touch another."""
        half = self.frame.letter * len(text) / 2.0 + 4.0
        box = (x - half, y - 10.0, x + half, y + 10.0)
        inside = (
            box[0] > self.frame.left
            and box[2] < self.frame.x_end
            and box[1] > self.frame.top
            and box[3] < self.frame.y_end - STRIP
        )
        clear = all(
            box[0] > other[2] or box[2] < other[0] or box[1] > other[3] or box[3] < other[1]
            for other in self.boxes
        )
        if inside and clear:
            self.boxes.append(box)
        return inside and clear

    def block(self, x: float, y: float, reach: float) -> None:
        """Keep labels away from a mark."""
        self.boxes.append((x - reach, y - reach, x + reach, y + reach))


class _Placing:
    """Turns ratio and row into places in the picture."""

    def __init__(self, frame: Frame, found: GearMap) -> None:
        self.frame = frame
        self.low, self.high = math.log(found.ratios[0]), math.log(found.ratios[-1])
        self.first, self.last = float(found.rows[0]), float(found.rows[-1])
        self.columns = np.array([self.x(ratio) for ratio in found.ratios])
        self.lines = np.array([self.y(row) for row in found.rows])

    def x(self, ratio: float) -> float:
        """Return how far right a ratio lies."""
        share = (math.log(ratio) - self.low) / (self.high - self.low)
        return self.frame.left + share * (self.frame.x_end - self.frame.left)

    def y(self, row: float) -> float:
        """Return how far down a row's value lies."""
        share = (row - self.first) / (self.last - self.first)
        return self.frame.y_end - share * (self.frame.y_end - self.frame.top)


@dataclass(frozen=True)
class Subject:
    """What the map is of, and what is marked on it."""

    found: GearMap
    chosen: Design
    picked: Design
    letter: str
    css: str
    offers: Sequence[Offer]
    intervals: Sequence[Sequence[float]]
    brownout_v: float
    description: str
    against_words: str


def map_view(frame: Frame, subject: Subject, system: UnitSystem) -> MapView:
    """Return the map in one size."""
    found = subject.found
    place = _Placing(frame, found)
    labels = _Labels(frame)
    marks = _marks(place, subject)
    for mark in marks:
        labels.block(mark.x, mark.y, 18.0)
    return MapView(
        frame=frame,
        description=subject.description,
        shades=tuple(_shades(place, found, system)),
        brownout=_brownout(place, found, subject.brownout_v),
        lines=tuple(_lines(place, found, subject.brownout_v, system, labels)),
        dots=" ".join(
            f"M{place.columns[column]:.1f} {place.lines[row]:.1f}h0"
            for row, column in found.unbeaten.tolist()
        ),
        band=tuple(_band(place, found, subject.intervals)),
        offers=tuple(_offers(place, found, subject.offers, subject.intervals)),
        x_ticks=tuple(_ratio_ticks(place, found)),
        y_ticks=tuple(_row_ticks(place, found, system)),
        y_title=_row_title(subject.against_words, found, system),
        marks=tuple(marks),
        data=_data(place, found, system),
    )


def shade_levels(found: GearMap) -> list[float]:
    """Return the times between the shades, quickest first [s]."""
    known = found.time[np.isfinite(found.time)]
    if not len(known):
        return []
    quickest = float(known.min())
    slowest = min(float(known.max()), SLOWEST_SHADE * quickest)
    return nice_levels(quickest, slowest, most=MOST_SHADES)


def _shades(place: _Placing, found: GearMap, system: UnitSystem) -> Iterable[Shade]:
    levels = shade_levels(found)
    steps = [show(level, "s", system, digits=3).replace(" s", "") for level in levels]
    if not levels:
        yield Shade("shade-0", _whole(place.frame), "the same all over")
        return
    yield Shade("shade-0", _whole(place.frame), f"under {steps[0]} s")
    for number, level in enumerate(levels, start=1):
        outlines = areas_above(found.time, across=place.lines, along=place.columns, level=level)
        upper = f"{steps[number - 1]} to {steps[number]} s" if number < len(steps) else ""
        words = upper or f"{steps[-1]} s and more"
        yield Shade(f"shade-{number}", _paths(outlines, closed=True), words)


def _whole(frame: Frame) -> str:
    return f"M{frame.left} {frame.top}H{frame.x_end}V{frame.y_end}H{frame.left}Z"


def _paths(outlines: Iterable[FloatArray], *, closed: bool) -> str:
    """Return outlines as one path; points are (down, right)."""
    parts = []
    for outline in outlines:
        points = [f"{right:.1f} {down:.1f}" for down, right in outline]
        distinct = [
            one for index, one in enumerate(points) if not index or one != points[index - 1]
        ]
        if len(distinct) > 1:
            parts.append(f"M{'L'.join(distinct)}{'Z' if closed else ''}")
    return "".join(parts)


def _brownout(place: _Placing, found: GearMap, limit: float) -> str:
    """Return the outline of where the bus falls below the brownout voltage."""
    under = np.where(np.isfinite(found.voltage), -found.voltage, -1e3)
    outlines = areas_above(under, across=place.lines, along=place.columns, level=-limit)
    return _paths(outlines, closed=True)


def _lines(
    place: _Placing, found: GearMap, brownout: float, system: UnitSystem, labels: _Labels
) -> Iterable[Line]:
    most = place.frame.most_lines
    words = f"brownout {show(brownout, 'v', system, digits=2)}"
    yield from _family(place, found.voltage, {brownout: words}, labels, css="line-brownout")
    volts = [level for level in _levels(found.voltage, most) if abs(level - brownout) > 0.15]
    said = {level: f"{level:g} V" for level in volts}
    yield from _family(place, found.voltage, said, labels, css="line-voltage")
    factor, unit = convert(1.0, "n", system), display_unit("n", system)
    # Where the tyres hold all of the push, the line would only follow rounding
    under = np.where(found.push < (1.0 - FLAT) * found.push.max(), found.push, np.nan)
    pushes = _levels(under * factor, most)
    said = {level / factor: f"{level:g} {unit}" for level in pushes}
    yield from _family(place, found.push, said, labels, css="line-push")


def _levels(figures: FloatArray, most: int) -> list[float]:
    known = figures[np.isfinite(figures)]
    if not len(known):
        return []
    return nice_levels(float(known.min()), float(known.max()), most=most)


def _family(
    place: _Placing,
    figures: FloatArray,
    levels: Mapping[float, str],
    labels: _Labels,
    *,
    css: str,
) -> Iterable[Line]:
    """Yield the lines of one figure, each labelled once where there is room."""
    for level, text in levels.items():
        found = contour_lines(figures, across=place.lines, along=place.columns, level=level)
        found.sort(key=len, reverse=True)
        spot = next((at for line in found[:3] if (at := _spot(line, text, labels))), None)
        for index, line in enumerate(found):
            path = _paths([line], closed=False)
            if path and index == 0 and spot is not None:
                x, y = (round(one, 1) for one in spot)
                yield Line(css, path, text, x, y, round(place.frame.letter * len(text) + 6.0, 1))
            elif path:
                yield Line(css, path)


def _spot(line: FloatArray, text: str, labels: _Labels) -> Point | None:
    for share in (0.5, 0.35, 0.65, 0.22, 0.78, 0.1, 0.9):
        down, right = line[min(int(share * len(line)), len(line) - 1)]
        if labels.take(float(right), float(down), text):
            return float(right), float(down)
    return None


def _band(
    place: _Placing, found: GearMap, intervals: Sequence[Sequence[float]]
) -> Iterable[tuple[float, float]]:
    for low, high in intervals:
        first, last = max(low, found.ratios[0]), min(high, found.ratios[-1])
        if last > first:
            left = place.x(first)
            yield round(left, 1), round(place.x(last) - left, 1)


def _offers(
    place: _Placing,
    found: GearMap,
    offers: Sequence[Offer],
    intervals: Sequence[Sequence[float]],
) -> Iterable[OfferLine]:
    free = -math.inf
    for offer in offers:
        if not found.ratios[0] <= offer.ratio <= found.ratios[-1]:
            continue
        x = place.x(offer.ratio)
        text = f"{offer.ratio:.2f}" if offer.ratio < 10.0 else f"{offer.ratio:.1f}"
        half = place.frame.letter * len(text) / 2.0
        fits = x - half > free + 4.0
        free = x + half if fits else free
        inside = any(low <= offer.ratio <= high for low, high in intervals)
        yield OfferLine(round(x, 1), text if fits else "", "in-tie" if inside else "out-of-tie")


def _ratio_ticks(place: _Placing, found: GearMap) -> Iterable[Tick]:
    free = -math.inf
    for ratio in RATIO_TICKS:
        if not found.ratios[0] <= ratio <= found.ratios[-1]:
            continue
        x = place.x(ratio)
        if x - free >= place.frame.tick_gap:
            free = x
            yield Tick(round(x, 1), f"{ratio:g}")


def _row_ticks(place: _Placing, found: GearMap, system: UnitSystem) -> Iterable[Tick]:
    unit = ROW_UNITS[found.axis]
    low, high = (convert(float(found.rows[end]), unit, system, small=True) for end in (0, -1))
    limit = found.axis != "diameter"
    for level in nice_levels(low, high, most=8):
        row = found.rows[0] + (level - low) / (high - low) * (found.rows[-1] - found.rows[0])
        y = place.y(float(row))
        if not limit or y > place.frame.top + 14.0:
            yield Tick(round(y, 1), f"{level:g}")
    if limit:
        yield Tick(place.frame.top, "none")


def _row_title(words: str, found: GearMap, system: UnitSystem) -> str:
    unit = display_unit(ROW_UNITS[found.axis], system, small=True)
    return f"{words[:1].upper()}{words[1:]}, {unit}"


def _marks(place: _Placing, subject: Subject) -> list[Mark]:
    """Return the chosen design, where it lies on this map, and the picked one."""
    found, chosen, picked = subject.found, subject.chosen, subject.picked
    field_of = {"diameter": "diameter_m", "stator": "stator_a", "supply": "supply_a"}
    moving = {"ratio", field_of[found.axis]}
    same = all(
        getattr(chosen, name) == getattr(picked, name)
        for name in Design._fields
        if name not in moving
    )
    marks = []
    for design, css, text in (
        (chosen, f"mark-chosen {subject.css}", subject.letter),
        (picked, "mark-picked", "pick"),
    ):
        if (design is chosen and not same) or (design is picked and picked == chosen):
            continue
        row = row_place(getattr(design, field_of[found.axis]), found.rows)
        inside = found.ratios[0] <= design.ratio * (1 + SAME_RATIO) and design.ratio <= (
            found.ratios[-1] * (1 + SAME_RATIO)
        )
        if inside and found.rows[0] <= row <= found.rows[-1]:
            marks.append(Mark(css, round(place.x(design.ratio), 1), round(place.y(row), 1), text))
    return marks


def _data(place: _Placing, found: GearMap, system: UnitSystem) -> dict[str, str]:
    unit = ROW_UNITS[found.axis]
    low, high = (convert(float(found.rows[end]), unit, system, small=True) for end in (0, -1))
    frame = place.frame
    return {
        "left": f"{frame.left}",
        "right": f"{frame.x_end}",
        "top": f"{frame.top}",
        "bottom": f"{frame.y_end}",
        "ratios": f"{found.ratios[0]:.6g} {found.ratios[-1]:.6g}",
        "rows": f"{low:.6g} {high:.6g}",
        "against": found.axis,
    }
