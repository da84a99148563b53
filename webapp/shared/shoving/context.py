"""What the shoving page needs: a match with an opponent, how long a push lasts, dead parts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from models.study.schema import Candidate, Study
from models.trade.dead_part import Left, whole_and_dead, worst_stuck_angle
from models.trade.driving import base_of
from models.trade.shoving import Encounter, Endurance, Opponent, endurance_of, match_of, opponent_of
from models.units import UnitSystem, display_unit, show, show_bare
from webapp.shared.candidates import marks_of
from webapp.shared.charts.context import SHOWN_AT_MOST, shown_marks
from webapp.shared.figures.asking import Box, Typed, read_box
from webapp.shared.figures.table import FigureCell, FigureRow, Kind, difference_note, figure_row
from webapp.shared.links import StudyLinks
from webapp.shared.shoving.words import (
    EVEN,
    LIMIT_NAMES,
    LOSES,
    STALEMATE,
    WINS,
    Shover,
    dead_words,
    encounter_words,
    first_words,
    grip_words,
    lasts,
    lead_words,
    limit_words,
    merged,
    outcome,
    side_words,
)

MASS = Box("mass", "The other's mass", "kg", 1.0, 500.0, hint="With its battery and bumpers.")
GRIP = Box("grip", "Its grip", "", 0.05, 3.0)
FORCE = Box(
    "push", "Its push, if you know it", "n", 1.0, 20_000.0, optional=True,
    hint="Empty: as hard as its grip passes.",
)  # fmt: skip
STUCK = Box(
    "stuck", "A module stuck at", "deg", -180.0, 180.0, hint="From straight ahead, to the left."
)
USUAL_STUCK = 45.0

SPEED = Kind("mps", "higher", "faster", "slower")
PUSH = Kind("n", "higher", "stronger", "weaker")
TIME = Kind("s", "lower", "slower", "quicker")
CURRENT = Kind("a", "lower", "more", "less")


def shoving_context(
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
    *,
    mass: str | None = None,
    grip: str | None = None,
    push: str | None = None,
    stuck: str | None = None,
    shown: Sequence[str] | None = None,
) -> dict[str, Any]:
    """Return what `shared/shoving/shoving.html` shows."""
    marks = shown_marks(study, shown, None)
    usual = opponent_of(study, base_of(study, study.baseline))
    asked = [
        read_box(MASS, mass, usual.mass, system),
        read_box(GRIP, grip, usual.grip, system),
        read_box(FORCE, push, usual.push_force, system),
    ]
    angle = read_box(STUCK, stuck, USUAL_STUCK, system)
    opponent = Opponent(
        usual.mass if asked[0].value is None else asked[0].value,
        usual.grip if asked[1].value is None else asked[1].value,
        asked[2].value,
    )
    degrees = USUAL_STUCK if angle.value is None else angle.value
    candidates = [study.candidate(mark.key) for mark in marks]
    shovers = [
        _shover(study, candidate, opponent, degrees, place)
        for candidate, place in zip(candidates, marks, strict=True)
    ]
    baseline = next((i for i, mark in enumerate(marks) if mark.baseline), None)
    steered = any(mark.layout == "swerve" for mark in marks)
    return {
        "marks": marks,
        "choices": marks_of(study),
        "most": SHOWN_AT_MOST,
        "asked": [*asked, angle] if steered else asked,
        "faulty": any(typed.fault for typed in [*asked, angle]),
        "address": links.shoving(),
        "lead": f"{lead_words(shovers, opponent, system)} {side_words(shovers)}",
        "first": first_words(shovers),
        "assumed": _assumed(study, opponent, asked, system),
        "match_rows": _match_rows(shovers, opponent, system, baseline),
        "push_rows": _push_rows(shovers, system, baseline),
        "dead": [_dead(one, system) for one in shovers],
        "dead_words": dead_words(shovers, system),
        "dead_heads": _dead_heads(system),
        "rollers": any(mark.layout in ("mecanum", "omni") for mark in marks),
        "tanks": any(mark.layout == "tank" for mark in marks),
        "steered": steered,
    }


def _shover(
    study: Study, candidate: Candidate, opponent: Opponent, degrees: float, mark: Any
) -> Shover:
    base = base_of(study, candidate)
    return Shover(
        mark=mark,
        push=endurance_of(study, candidate, base),
        match=match_of(base, opponent),
        left=tuple(whole_and_dead(study, candidate, stuck_deg=degrees)),
        worst=worst_stuck_angle(base),
    )


def _assumed(study: Study, opponent: Opponent, asked: Sequence[Typed], system: UnitSystem) -> str:
    """Return what is taken for the other robot."""
    mass, hold = show(opponent.mass, "kg", system), show(opponent.hold, "n", system)
    words = f"The other robot weighs {mass} and grips with {opponent.grip:.3g}"
    if study.yardsticks.opponent is None and not any(typed.text for typed in asked if typed.fault):
        words += ", unless you say otherwise as much as today's base"
    words += f": its wheels slide at {hold}, whichever way it is shoved."
    if opponent.push_force is None:
        return f"{words} It pushes as hard as that."
    if opponent.slips:
        return f"{words} It pushes as hard as that, since the push that is given is no less."
    return f"{words} It pushes with {show(opponent.push, 'n', system)}, limited by its motors."


def _match_rows(
    shovers: Sequence[Shover], opponent: Opponent, system: UnitSystem, baseline: int | None
) -> list[FigureRow]:
    def met(
        name: str, pick: Callable[[Shover], Encounter], *, still: str = "stalemate"
    ) -> FigureRow:
        cells = []
        for one in shovers:
            found = pick(one)
            ends = outcome(found)
            sign = {WINS: "✓ ", LOSES: "✕ "}.get(
                ends, "✓ " if ends == STALEMATE and still == "holds" else ""
            )
            words = encounter_words(found, system, still=still)
            cells.append(FigureCell(f"{sign}{words}", missing=ends == EVEN))
        return FigureRow(name, "", tuple(cells))

    return [
        figure_row("Push", PUSH, [one.push.force for one in shovers], system, baseline=baseline),
        met("Both push head-on", lambda one: one.match.head_on),
        FigureRow("Who slips then", "",
                  tuple(FigureCell(grip_words(one, opponent)) for one in shovers)),
        figure_row("Holds sideways", PUSH,
                   [one.match.shoved_from_side.ours for one in shovers], system, baseline=baseline),
        met("It stands, the other shoves its side", lambda one: one.match.shoved_from_side,
            still="holds"),
        met("It shoves the other's side", lambda one: one.match.shoves_side,
            still="does not move it"),
    ]  # fmt: skip


def _slip_words(push: Endurance, system: UnitSystem) -> str:
    if push.most_motor >= push.slip_motor:
        return "reached: the wheels spin"
    if push.limited_by == "traction":
        return "the wheels that carry less spin before"
    return f"not reached: {show(push.most_motor, 'a', system)} at most"


def _push_rows(
    shovers: Sequence[Shover], system: UnitSystem, baseline: int | None
) -> list[FigureRow]:
    pushes = [one.push for one in shovers]
    motors = []
    for push in pushes:
        most = max(push.front_motor, push.rear_motor)
        less = min(push.front_motor, push.rear_motor)
        text = show_bare(most, "a", system)
        if most - less > 0.02 * most:
            places = ("front", "rear") if push.front_motor > push.rear_motor else ("rear", "front")
            text = f"{text} {places[0]}, {show_bare(less, 'a', system)} {places[1]}"
        limit = (
            f"stator limit {show(push.stator_limit, 'a', system)}"
            if push.stator_limit is not None
            else "no stator limit"
        )
        motors.append(
            FigureCell(text, f"{limit}; stalls at {show(push.stall_current, 'a', system)}")
        )
    slips = [
        FigureCell(show_bare(push.slip_motor, "a", system), _slip_words(push, system))
        for push in pushes
    ]
    volts = []
    for push in pushes:
        note = f"below {show(push.brownout_v, 'v', system)}: cuts out" if push.browns_out else ""
        volts.append(FigureCell(show_bare(push.voltage, "v", system), note, "bad"))
    rows = [
        FigureRow("What limits the push", "", tuple(FigureCell(p.limited_by) for p in pushes)),
        FigureRow("Each motor's winding", "A", tuple(motors)),
        FigureRow("At which the wheels slip", "A", tuple(slips)),
        figure_row("From the battery", CURRENT, [p.total for p in pushes], system,
                   baseline=baseline),
        FigureRow("Bus voltage", "V", tuple(volts)),
    ]  # fmt: skip
    for place, key in enumerate(LIMIT_NAMES):
        cells = []
        for push in pushes:
            time, carries = limit_words(push.limits[place], system)
            missing = push.limits[place].holds_s is None
            cells.append(FigureCell(time, carries, "faint", missing))
        rows.append(FigureRow(f"{key.capitalize()} lasts", "", tuple(cells)))
    firsts = []
    for push in pushes:
        if push.browns_out:
            firsts.append(FigureCell("brownout", "at once", "bad"))
        elif push.first is None:
            firsts.append(FigureCell("nothing that is given"))
        else:
            firsts.append(FigureCell(push.first.key, f"after {lasts(push.first.holds_s)}"))
    rows.append(FigureRow("Gives up first", "", tuple(firsts)))
    return rows


def _dead_heads(system: UnitSystem) -> list[tuple[str, str]]:
    return [
        ("Top speed", display_unit("mps", system)),
        ("Push", display_unit("n", system)),
        ("Sprint and stop", "s"),
        ("Quarter turn", "s"),
        ("Leaves a corner", ""),
    ]


def _dead(one: Shover, system: UnitSystem) -> dict[str, Any]:
    """Return the rows of one candidate: whole, then each case with its differences."""
    whole = one.left[0]
    return {
        "mark": one.mark,
        "rows": [
            {"name": name, "where": _where(left), "cells": _dead_cells(left, whole, system)}
            for name, left in merged(one.left)
        ],
    }  # fmt: skip


def _where(left: Left) -> str:
    if left.stuck_deg is not None:
        return f"{left.where}, at {left.stuck_deg:g}°"
    return left.where


def _dead_cells(left: Left, whole: Left, system: UnitSystem) -> list[FigureCell]:
    cells = []
    for kind, value, standard in (
        (SPEED, left.top_speed, whole.top_speed),
        (PUSH, left.push if left.push > 0.0 else None, whole.push),
        (TIME, left.sprint_stop, whole.sprint_stop),
        (TIME, left.turn90, whole.turn90),
    ):
        if value is None:
            cells.append(FigureCell("none", missing=True))
            continue
        note, css = "", ""
        if left.case != "whole" and standard is not None:
            note, css = difference_note(value, standard, kind, system)
        cells.append(FigureCell(show_bare(value, kind.unit, system), note, css))
    if left.leaves_corner:
        cells.append(FigureCell("✓ yes", css="good"))
    else:
        lost = [word for word, able in (("drive", left.drives), ("turn", left.turns)) if not able]
        cells.append(FigureCell("✕ no", f"cannot {' or '.join(lost)}", "bad"))
    return cells
