"""What the turning page needs: turns of all candidates overlaid, and all directions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from models.study.schema import Study
from models.trade.driving import base_of
from models.trade.headings import rose_of
from models.trade.turning_curves import turn_curve, turn_figures
from models.units import UnitSystem, convert, display_unit
from webapp.shared.candidates import marks_of
from webapp.shared.charts.context import SHOWN_AT_MOST, shown_marks
from webapp.shared.figures.asking import Box, read_box
from webapp.shared.figures.plots import Series, Words, over_time, rose
from webapp.shared.figures.table import FigureCell, FigureRow, Kind, figure_row
from webapp.shared.links import StudyLinks
from webapp.shared.turning.words import (
    Turner,
    computed_words,
    lead_words,
    percent,
    reasons,
    rose_lead,
    track_words,
)

ANGLE = Box("angle", "Turn by", "deg", 5.0, 720.0)
USUAL_ANGLE = 90.0
TABLE_ANGLES = (0.0, 45.0, 90.0)
ANGLE_NAMES = {0.0: "Forward", 45.0: "45°, forward left", 90.0: "Sideways, 90°"}

TIME = Kind("s", "lower", "slower", "quicker")
SPEED = Kind("mps", "higher", "faster", "slower")
FORCE = Kind("n", "higher", "stronger", "weaker")


def turning_context(
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
    *,
    angle: str | None = None,
    shown: Sequence[str] | None = None,
) -> dict[str, Any]:
    """Return what `shared/turning/turning.html` shows."""
    typed = read_box(ANGLE, angle, USUAL_ANGLE, system)
    degrees = USUAL_ANGLE if typed.value is None else typed.value
    marks = shown_marks(study, shown, None)
    bases = [base_of(study, study.candidate(mark.key)) for mark in marks]
    turners = [
        Turner(mark, turn_figures(base, degrees=[degrees, 90.0, 180.0]), rose_of(base))
        for mark, base in zip(marks, bases, strict=True)
    ]
    curves = [turn_curve(base, degrees=degrees) for base in bases]
    baseline = next((i for i, mark in enumerate(marks) if mark.baseline), None)
    return {
        "marks": marks,
        "choices": marks_of(study),
        "most": SHOWN_AT_MOST,
        "asked": [typed],
        "faulty": bool(typed.fault),
        "address": links.turning(),
        "lead": lead_words(turners, degrees),
        "reasons": reasons(turners, degrees, system),
        "turn_plot": over_time(
            Words(
                "turn-plot",
                f"Heading while turning by {degrees:g}°",
                "From rest to rest, a curve a candidate; the one further to the left is done "
                "first. The times are in the table below.",
                "°",
                "Time, s",
                "Heading, °",
            ),
            [
                Series(mark, [float(t) for t in curve.time], [float(d) for d in curve.degrees])
                for mark, curve in zip(marks, curves, strict=True)
            ],
            top=degrees,
        ),
        "turn_rows": _turn_rows(turners, degrees, system, baseline),
        "tracks": _tracks(turners, links, system),
        "roses": [
            _rose_plot(turners, system, speed=True),
            _rose_plot(turners, system, speed=False),
        ],
        "rose_lead": rose_lead(turners),
        "rose_rows": _rose_rows(turners, system, baseline),
    }


def _turn_rows(
    turners: Sequence[Turner], degrees: float, system: UnitSystem, baseline: int | None
) -> list[FigureRow]:
    figures = [one.figures for one in turners]
    turns = [("Quarter turn", 1), ("Half turn", 2)]
    if degrees not in (90.0, 180.0):
        turns.insert(0, (f"Turn by {degrees:g}°", 0))
    rows = []
    for name, place in turns:
        times = [one.times[place] for one in figures]
        rows.append(figure_row(name, TIME, times, system, none="cannot", baseline=baseline))
    return [
        *rows,
        figure_row("Of it, steering", Kind("s"),
                   [one.steer_time or None for one in figures], system),
        figure_row("Steady spin", Kind("radps", "higher", "faster", "slower"),
                   [one.spin_rate for one in figures], system, none="cannot", baseline=baseline),
        figure_row("Resistance at the wheels", Kind("n", "lower", "more", "less"),
                   [one.resistance for one in figures], system, baseline=baseline),
        _shares("Share of the grip that it takes", [one.grip_spent for one in figures]),
        figure_row("Effective track", Kind("m", "lower", "wider", "narrower"),
                   [one.effective_track for one in figures], system, small=False,
                   hint="Wheel travel, left and right together, for each radian turned."),
        figure_row("Track between the wheels", Kind("m"),
                   [one.geometric_track for one in figures], system, small=False),
    ]  # fmt: skip


def _shares(name: str, shares: Sequence[float]) -> FigureRow:
    return FigureRow(name, "", tuple(FigureCell(percent(share)) for share in shares))


def _tracks(
    turners: Sequence[Turner], links: StudyLinks, system: UnitSystem
) -> list[dict[str, Any]]:
    """Return what is known of each tank's track, measured or computed."""
    tracks = []
    for one in turners:
        if one.mark.layout != "tank":
            continue
        measured = one.figures.measured
        name = f"{one.mark.letter} {one.mark.name}"
        words = (
            track_words(name, measured, system)
            if measured is not None
            else [computed_words(name, one.figures, system)]
        )
        address = ""
        if links.can_edit:
            address = f"{links.candidate(one.mark.key)}#f-wheels-effective_track_m"
        tracks.append({"words": words, "measured": measured is not None, "address": address,
                       "name": one.mark.name})  # fmt: skip
    return tracks


def _rose_plot(turners: Sequence[Turner], system: UnitSystem, *, speed: bool) -> Any:
    unit = "mps" if speed else "n"
    what = "Top speed" if speed else "Pushing force"
    return rose(
        Words(
            "speed-rose" if speed else "push-rose",
            f"{what} against direction, {display_unit(unit, system)}",
            "Seen from above, forward up. Further out is more; the values at 0, 45 and 90 degrees "
            "are in the table below.",
            display_unit(unit, system),
        ),
        [
            Series(
                one.mark,
                [float(at) for at in one.rose.degrees],
                [
                    convert(float(value), unit, system)
                    for value in (one.rose.speed if speed else one.rose.force)
                ],
            )
            for one in turners
        ],
    )


def _rose_rows(
    turners: Sequence[Turner], system: UnitSystem, baseline: int | None
) -> list[FigureRow]:
    rows = []
    for what, place, kind in (("Top speed", 0, SPEED), ("Push", 1, FORCE)):
        for angle in TABLE_ANGLES:
            values = [one.rose.at(angle) for one in turners]
            rows.append(
                figure_row(
                    f"{what}, {ANGLE_NAMES[angle].lower()}",
                    kind,
                    [None if pair is None else pair[place] for pair in values],
                    system,
                    baseline=baseline,
                )
            )
    return rows
