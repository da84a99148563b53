"""What the turning page says in sentences: who turns quicker and why; a measured track."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from models.trade.comparison import closeness
from models.trade.headings import Rose
from models.trade.phrases import capitalised, listed
from models.trade.turning_curves import MeasuredTrack, TurnFigures
from models.units import UnitSystem, show
from webapp.shared.candidates import CandidateMark

USUAL_FACTORS = (1.2, 2.4)
"""Measured track of skid bases over the geometric one; common practice, no source."""

CLOSE_TRACK = 0.05
"""Share within which a measured and a computed track say the same."""


@dataclass(frozen=True)
class Turner:
    """One candidate on the page."""

    mark: CandidateMark
    figures: TurnFigures
    rose: Rose

    @property
    def time(self) -> float | None:
        """For the angle asked for [s]."""
        return self.figures.times[0]

    @property
    def called(self) -> str:
        """How sentences call it."""
        return f"today's {self.mark.letter}" if self.mark.baseline else self.mark.letter


NO_BREAK = "\N{NO-BREAK SPACE}"


def percent(share: float) -> str:
    """Return a share in percent.

    >>> percent(0.634).replace(NO_BREAK, " ")
    '63 %'
    """
    return f"{100.0 * share:.0f}{NO_BREAK}%"


def angle_words(degrees: float) -> str:
    """Return how an angle reads in a sentence.

    >>> angle_words(90.0), angle_words(35.5)
    ('a quarter turn', 'a turn by 35.5°')
    """
    known = {90.0: "a quarter turn", 180.0: "a half turn", 360.0: "a whole turn"}
    return known.get(degrees, f"a turn by {degrees:g}°")


def lead_words(turners: Sequence[Turner], degrees: float) -> str:
    """Return who turns quickest, and how far today's base is from that."""
    able = sorted((one for one in turners if one.time is not None), key=lambda one: one.time or 0.0)
    turn = angle_words(degrees)
    if not able:
        return f"None of these can make {turn} in place."
    first = able[0]
    ties = [one for one in able if closeness(one.time or 0.0, first.time or 0.0, "s") != "apart"]
    best = f"{first.time or 0.0:.2f} s"
    if len(ties) == len(turners) and len(turners) > 1:
        return f"All of these need about {best} for {turn}: a tie."
    who = listed([one.called for one in turners if one in ties])
    tied = "share the quickest" if len(ties) > 1 else "makes the quickest"
    sentence = f"{capitalised(who)} {tied} {turn.removeprefix('a ')}, {best}."
    others = [one for one in able if one not in ties]
    if others:
        last = others[-1]
        slow = [
            one for one in others if closeness(one.time or 0.0, last.time or 0.0, "s") != "apart"
        ]
        more = (last.time or 0.0) - (first.time or 0.0)
        verb = "needs" if len(slow) == 1 else "need"
        who = capitalised(listed([one.called for one in turners if one in slow]))
        sentence += f" {who} {verb} {more:.2f} s more"
        why = {_handicap(one) for one in slow}
        sentence += f": {why.pop()}." if len(why) == 1 and "" not in why else "."
    stuck = [one.called for one in turners if one.time is None]
    if stuck:
        sentence += f" {capitalised(listed(stuck))} cannot turn in place."
    return sentence


def _handicap(one: Turner) -> str:
    """Return what costs a candidate the most time in a turn, "" where nothing stands out."""
    figures = one.figures
    if figures.grip_spent >= 0.2:
        return f"the wheels skid, which takes {percent(figures.grip_spent)} of their grip"
    if one.time and figures.steer_time >= 0.15 * one.time:
        return f"modules first steer for {figures.steer_time:.2f} s"
    if figures.effective_track >= 1.25 * figures.geometric_track:
        return "the wheels travel further for the same turn"
    return ""


def reasons(turners: Sequence[Turner], degrees: float, system: UnitSystem) -> list[str]:
    """Return for each candidate what its turn is made of; like ones share a sentence."""
    said: dict[str, list[str]] = {}
    for one in turners:
        said.setdefault(_reason(one, degrees, system), []).append(one.called)
    return [f"{capitalised(listed(who))}: {what}" for what, who in said.items()]


def _reason(one: Turner, degrees: float, system: UnitSystem) -> str:
    figures = one.figures
    travel = figures.effective_track / 2.0 * math.radians(degrees)
    rolls = one.mark.layout != "tank" or figures.grip_spent < 0.05
    against = show(figures.resistance, "n", system, digits=2)
    share = f"{percent(figures.grip_spent)} of the grip"
    if one.time is None:
        why = "grip" if figures.cap <= figures.resistance else "motors"
        return (
            f"cannot turn in place. Skidding resists with {against} at the wheels, more than the "
            f"{why} can overcome."
        )
    parts = []
    if figures.steer_time > 0.0:
        parts.append(f"steering takes {figures.steer_time:.2f} s first")
    skid = "rolling resists with" if rolls else "skidding resists with"
    parts.append(
        f"each wheel then drives {show(travel, 'm', system)}"
        if parts
        else f"each wheel drives {show(travel, 'm', system)}"
    )
    parts.append(f"{skid} {against}, {share}")
    return f"{'; '.join(parts)}."


def computed_words(name: str, figures: TurnFigures, system: UnitSystem) -> str:
    """Return what the model computes for the track of a skid base that nobody measured."""
    track = show(figures.effective_track, "m", system, small=False)
    factor = figures.effective_track / figures.geometric_track
    if factor < 1.02:
        return (
            f"{name}: not measured. The model computes {track}, no more than the track between "
            "its wheels: it hardly skids along."
        )
    return (
        f"{name}: not measured. The model computes {track}, {factor:.2f} times the track between "
        "its wheels."
    )


def track_words(name: str, measured: MeasuredTrack, system: UnitSystem) -> list[str]:
    """Return what a measured track says about the model of a skid base."""
    track, model = (
        show(value, "m", system, small=False)
        for value in (measured.measured_m, measured.computed_m)
    )
    apart = measured.measured_m / measured.computed_m - 1.0
    sentence = f"{name}: measured {track} against {model} computed: "
    if abs(apart) < CLOSE_TRACK:
        words = [f"{sentence}they agree. The grips that were typed explain the turn."]
    else:
        wider = apart > 0.0
        sentence += f"{percent(abs(apart))} {'wider' if wider else 'narrower'}."
        if wider and measured.side_share is None:
            sentence += (
                " More weight rests on the outer axles than the model takes, as on soft carpet: no "
                "grip sideways would explain it."
            )
        elif wider:
            sentence += (
                " The carpet grips the wheels sideways more than typed, or more weight rests on "
                "the outer axles."
            )
        else:
            sentence += (
                " The wheels slide sideways more easily than typed, or more weight rests on the "
                "middle axles."
            )
        if measured.side_share is not None:
            sentence += (
                f" {measured.side_share:.2g} times the typed grip sideways would explain it."
            )
        words = [sentence]
    factor = measured.measured_m / measured.geometric_m
    low, high = USUAL_FACTORS
    usual = f"{low:g} to {high:g} is common practice, no source"
    if factor < 1.0:
        words.append(
            f"It is narrower than the {show(measured.geometric_m, 'm', system)} between its "
            "wheels, which no skid turn can be: measure again."
        )
    elif low <= factor <= high:
        words.append(f"It is {factor:.2g} times the track between its wheels; {usual}.")
    else:
        words.append(
            f"It is {factor:.2g} times the track between its wheels, outside of what is usual "
            f"({usual}): measure again before trusting it."
        )
    return words


def rose_lead(turners: Sequence[Turner]) -> str:
    """Return in words who goes which way."""
    fore_aft = [one.called for one in turners if not one.rose.any_way]
    alike: list[str] = []
    corners: list[str] = []
    for one in turners:
        if one.rose.any_way:
            forward, diagonal = one.rose.at(0.0), one.rose.at(45.0)
            same = forward and diagonal and closeness(forward[0], diagonal[0], "mps") != "apart"
            (alike if same else corners).append(one.called)
    parts = []
    if fore_aft:
        verb = "drives" if len(fore_aft) == 1 else "drive"
        parts.append(f"{listed(fore_aft)} {verb} forward and back only, so the picture is a line")
    if alike:
        verb = "does" if len(alike) == 1 else "do"
        parts.append(f"{listed(alike)} {verb} the same in every direction, a circle")
    if corners:
        verb = "is" if len(corners) == 1 else "are"
        parts.append(f"{listed(corners)} {verb} stronger along some directions than others")
    return capitalised("; ".join(parts)) + "."
