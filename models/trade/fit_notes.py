"""Plain notes on how a candidate's bodies are drawn: what the fit figures cannot say.

Contents
--------
fit_notes: sentences about bodies that are missing, stick out, or stand in each other.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from models.engineering.placement import CORNERS
from models.engineering.prisms import (
    VOLUME_TOLERANCE,
    Prisms,
    overlap_volumes,
    plan_outlines,
    prisms,
)
from models.study.schema import Candidate, Study
from models.trade.assembly import Body, bodies_of, outside_frame, wheel_contacts
from models.trade.phrases import capitalised, listed
from models.units import UnitSystem, show

_SHRUNK_M = 1e-6
"""A wheel that only touches an outline does not stand in it."""


def fit_notes(study: Study, candidate: Candidate) -> list[str]:
    """Return what a reader of the fit figures has to know, one sentence each."""
    bodies = bodies_of(study, candidate)
    notes: list[str] = []
    if not bodies:
        notes.append("No bodies are drawn, so whether it fits is not known.")
    elif not study.robot.keepouts:
        notes.append("The robot has no keep-outs, so whether it fits is not known.")
    notes += _sticking_out(study, candidate)
    notes += _standing_in_each_other(bodies)
    notes += _wheels_in_keepouts(study, candidate)
    return notes


def _sticking_out(study: Study, candidate: Candidate) -> Iterator[str]:
    beyond = outside_frame(study, candidate)
    if beyond:
        furthest, by = beyond[0]
        more = len(beyond) - 1
        who = f"{furthest} and {more} more" if more else furthest
        yield capitalised(
            f"{who} {'reach' if more else 'reaches'} out of the frame, by "
            f"{show(by, 'm', UnitSystem.SI, digits=2)} at most; the perimeter counts the frame "
            "alone."
        )


def _standing_in_each_other(bodies: tuple[Body, ...]) -> Iterator[str]:
    if len(bodies) < 2:
        return
    drawn = _prisms_of(bodies)
    volumes = overlap_volumes(drawn, drawn)
    for first, one in enumerate(bodies):
        for second in range(first + 1, len(bodies)):
            other = bodies[second]
            same_thing = one.corner == other.corner
            if not same_thing and volumes[first, second] > VOLUME_TOLERANCE:
                yield f"{capitalised(one.name)} and {other.name} stand in each other."


def _prisms_of(bodies: tuple[Body, ...]) -> Prisms:
    return prisms(
        [body.outline for body in bodies],
        bottoms=[body.bottom_m for body in bodies],
        tops=[body.top_m for body in bodies],
    )


def _wheels_in_keepouts(study: Study, candidate: Candidate) -> Iterator[str]:
    """Name wheels that stand in a keep-out whatever their width: along their middle line.

    Wheels that stand crossed, at 45°, are left out: their line runs elsewhere.
    """
    if candidate.layout == "omni":
        return
    diameter = float(candidate.wheels.diameter_m)
    reached = [
        keepout
        for keepout in study.robot.keepouts
        if keepout.bottom_m < diameter and keepout.top_m > 0.0
    ]
    contacts = wheel_contacts(candidate)
    ends = np.array([[-diameter / 2.0, 0.0], [diameter / 2.0, 0.0]])
    lines = shapely.linestrings(contacts[:, None, :] + ends)
    inner = shapely.buffer(plan_outlines([item.outline_m for item in reached]), -_SHRUNK_M)
    inside = shapely.intersects(inner[:, None], lines)
    for keepout, row in zip(reached, inside, strict=True):
        wheels = zip(_wheel_names(len(contacts)), row, strict=True)
        names = [name for name, stands in wheels if stands]
        if names:
            verb = "stands" if len(names) == 1 else "stand"
            yield (
                f"The {listed(names)} wheel{'s' if len(names) > 1 else ''} {verb} in "
                f"“{keepout.name}”; the fit counts drawn bodies only."
            )


def _wheel_names(count: int) -> list[str]:
    if count == len(CORNERS):
        return [corner.replace("_", "-") for corner in CORNERS]
    axles = count // 2
    middle = ["middle"] if axles == 3 else [f"axle {number}" for number in range(2, axles)]
    return [f"{axle}-{side}" for axle in ("front", *middle, "rear") for side in ("left", "right")]
