"""A tornado: for each uncertain input a bar from what its low end gives to what its high end does.

All places are percentages of the width, so that one drawing serves phone, screen and paper.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from models.units import decimals_of
from webapp.shared.figures.plots import nice_step

MOST_BARS = 12
MARGIN = 17.0
"""Room on either side for the inputs' ends [%]."""
TICKS = 4


@dataclass(frozen=True)
class Swing:
    """What one input does, in words and in the figure's shown unit."""

    name: str
    about: str
    address: str
    at_low: float
    at_high: float
    low_text: str
    high_text: str
    swing: str
    words: str


@dataclass(frozen=True)
class Piece:
    """One half of a bar: from the present figure towards one end."""

    end: str
    left: float
    width: float


@dataclass(frozen=True)
class TornadoRow:
    """One input's bar."""

    name: str
    about: str
    address: str
    words: str
    swing: str
    pieces: tuple[Piece, ...]
    left: float
    right: float
    left_text: str
    right_text: str


@dataclass(frozen=True)
class Tornado:
    """The whole picture."""

    caption: str
    axis: str
    axis_words: str
    now: float
    now_words: str
    ticks: tuple[tuple[float, str], ...]
    rows: tuple[TornadoRow, ...]


def tornado(swings: Sequence[Swing], value: float, *, caption: str, axis: str, now: str) -> Tornado:
    """Return the picture; `value` is the present figure, `now` its words."""
    ends = [value, *(end for one in swings for end in (one.at_low, one.at_high))]
    least, most = min(ends), max(ends)
    extent = most - least or abs(most) or 1.0
    scale = (100.0 - 2.0 * MARGIN) / extent

    def place(figure: float) -> float:
        return round(MARGIN + (figure - least) * scale, 2)

    step = nice_step(extent * (1.0 - 1e-9), TICKS)
    first, last = math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9)
    decimals = decimals_of(step, 2 if f"{step:.1e}"[2] != "0" else 1)
    ticks = tuple(
        (place(index * step), f"{index * step:.{decimals}f}".replace("-", "\N{MINUS SIGN}"))
        for index in range(first, last + 1)
    )
    return Tornado(
        caption=caption,
        axis=axis,
        axis_words=f"{axis}: from {least:.4g} to {most:.4g}",
        now=place(value),
        now_words=f"as it stands, {now}",
        ticks=ticks,
        rows=tuple(_row(one, place(value), place(one.at_low), place(one.at_high))
                   for one in swings),
    )  # fmt: skip


def _row(one: Swing, now: float, low: float, high: float) -> TornadoRow:
    """Return a bar; where both ends lie on one side, the further one's half is drawn first."""
    halves = sorted((("low", low), ("high", high)), key=lambda half: -abs(half[1] - now))
    pieces = tuple(
        Piece(end, min(now, at), round(abs(at - now), 2)) for end, at in halves if at != now
    )
    left_is_low = low <= high
    return TornadoRow(
        name=one.name,
        about=one.about,
        address=one.address,
        words=one.words,
        swing=one.swing,
        pieces=pieces,
        left=min(low, high, now),
        right=max(low, high, now),
        left_text=one.low_text if left_is_low else one.high_text,
        right_text=one.high_text if left_is_low else one.low_text,
    )
