"""The search for an arrangement of a candidate's modules that fits, and what has to give if none.

Contents
--------
ArrangeSettings: what the team asks for.
arrange: the search for one candidate as plain figures, ready for pages and JSON.
rearranged: the candidate with an arrangement taken over.
rule_faults: what no arrangement mends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.arrangement_ranking import ORDERS, Ranked, best_arrangements
from models.engineering.arrangements import (
    Arrangements,
    CornerOptions,
    Surroundings,
    combined,
    corner_options,
    inset_steps,
)
from models.engineering.placement import CORNERS
from models.engineering.prisms import LENGTH_TOLERANCE, Prisms, hull_perimeter, prisms
from models.study.numbers import Estimate
from models.study.schema import Candidate, Prism, Study
from models.trade.arranging_changes import freeing_changes, keepout_prisms, own_prisms
from models.trade.arranging_nearest import nearest_arrangements
from models.trade.assembly import frame_outline, part_table, posed_centres
from models.trade.evaluation import evaluate_study

FloatArray = NDArray[np.float64]
ORIENTATIONS = ("upright", "inverted")

LARGEST_INSET_M = 0.04
STEP_M = 0.01
MOST_LISTED = 1000
MOST_DRAWN = 6
FIGURES = (
    "tip_forward_mps2",
    "tip_brake_mps2",
    "tip_side_mps2",
    "turn90_s",
    "turn180_s",
    "spin_rate_radps",
)
"""What is evaluated for the best few, by the catalogue of metrics."""


@dataclass(frozen=True)
class ArrangeSettings:
    """What the team asks a search for."""

    largest_m: float = LARGEST_INSET_M
    step_m: float = STEP_M
    order: str = ORDERS[0]
    mirrored: bool = True
    """Left and right have the same insets; orientations are free either way."""
    most: int = MOST_LISTED
    """How many are listed."""
    evaluated: int = MOST_DRAWN
    """How many of the best are evaluated."""


def arrange(study: Study, candidate: Candidate, settings: ArrangeSettings) -> dict[str, Any]:
    """Return every arrangement that fits, best first, or the least changes that free the nearest.

    An arrangement fits where every keep-out keeps its clearance from every module and body, its
    modules overlap neither each other nor the candidate's other bodies, they stay inside the
    frame and under the height limit, and the rules on perimeter and height hold for the rest.

    Parameters
    ----------
    study, candidate : Study, Candidate
        A candidate of the study.
    settings : ArrangeSettings
        Range and step of the insets, order, and whether both sides are alike.

    Returns
    -------
    dict
        `feasible` (how many fit), `searched`, `arrangements` (corners, support area, worst margin
        and more, the best few with `figures`), `nearest` (arrangements that do not fit, with the
        `changes` that free them) and `always` (sentences on what no arrangement mends). A
        candidate without modules has one arrangement, its own bodies: 1 or 0 is feasible, and
        `changes` and `shifts` say what would free it.

    Raises
    ------
    OutOfRangeError
        With a range or step that cannot be searched.
    """
    head = {
        "study": study.name,
        "candidate": candidate.key,
        "name": candidate.name,
        "layout": candidate.layout,
        "steered": candidate.modules is not None,
        "always": rule_faults(study, candidate),
    }
    if candidate.modules is None:
        return {**head, **_of_bodies(study, candidate, bool(head["always"]))}
    return {**head, **_of_modules(study, candidate, settings)}


def _of_bodies(study: Study, candidate: Candidate, broken: bool) -> dict[str, Any]:
    changes = freeing_changes(study, candidate)
    known = bool(candidate.bodies and study.robot.keepouts)
    fits = known and not broken and not changes.of_keepouts
    return {
        "fit_known": known,
        "feasible": int(fits),
        "searched": 1,
        "arrangements": [],
        "nearest": [],
        "changes": changes.of_keepouts,
        "shifts": changes.of_bodies,
    }


def _of_modules(study: Study, candidate: Candidate, settings: ArrangeSettings) -> dict[str, Any]:
    insets = inset_steps(largest=settings.largest_m, step=settings.step_m)
    envelopes, options = _options(study, candidate, insets)
    own = freeing_changes(study, candidate, modules=False)
    broken = bool(rule_faults(study, candidate) or own.of_keepouts)
    free = combined(
        options,
        envelopes=envelopes,
        allowed=[one.free & (not broken) for one in options],
        mirrored=settings.mirrored,
    )
    best = best_arrangements(free, order=settings.order, most=settings.most)
    entries = _entries(options, best)
    for entry in entries[: settings.evaluated]:
        entry["figures"] = _figures(study, candidate, entry["corners"])
    nearest: list[dict[str, Any]] = []
    if free.total == 0:
        nearest = _nearest(study, candidate, envelopes, options, settings)
    sides = len(insets) ** 2
    return {
        "fit_known": True,
        "inset_max_m": float(insets[-1]),
        "inset_step_m": settings.step_m,
        "rank": settings.order,
        "sides": "mirrored" if settings.mirrored else "free",
        "feasible": free.total,
        "searched": 16 * sides ** (2 if settings.mirrored else 4),
        "arrangements": entries,
        "nearest": nearest,
        "changes": [],
        "shifts": own.of_bodies,
    }


def _options(
    study: Study, candidate: Candidate, insets: FloatArray
) -> tuple[list[Prisms], list[CornerOptions]]:
    """Return the module's envelope in each orientation, and every corner's options."""
    if candidate.modules is None:  # pragma: no cover  # callers look first
        return [], []
    module = study.module_types[candidate.modules.type]
    envelopes = [_envelope(getattr(module, name)) for name in ORIENTATIONS]
    limit = study.rules.height_limit_m
    keepouts, asked = keepout_prisms(study)
    around = Surroundings(
        keepouts=keepouts,
        asked=asked,
        bodies=own_prisms(candidate),
        half_frame=frame_outline(candidate)[0],
        height_limit=np.inf if limit is None else float(limit),
    )
    reach = np.array([candidate.wheels.wheelbase_m, candidate.wheels.track_m]) / 2.0
    options = [
        corner_options(
            corner=corner, envelopes=envelopes, reach=reach, insets=insets, around=around
        )
        for corner in CORNERS
    ]
    return envelopes, options


def _envelope(drawn: Sequence[Prism]) -> Prisms:
    return prisms(
        [prism.outline_m for prism in drawn],
        bottoms=[prism.bottom_m for prism in drawn],
        tops=[prism.top_m for prism in drawn],
    )


def _entries(options: Sequence[CornerOptions], best: Ranked) -> list[dict[str, Any]]:
    entries = []
    # Rounded as they are ranked: the last bits differ by how a sum was taken.
    for row, choice in enumerate(best.choice):
        margin = round(float(best.margin[row]), 9)
        entries.append(
            {
                "corners": corners_of(options, choice),
                "support_area_m2": round(float(best.support_area[row]), 9),
                "worst_clearance_margin_m": margin if np.isfinite(margin) else None,
                "inverted": int(best.inverted[row]),
                "wheelbase_m": round(float(best.wheelbase[row]), 9),
            }
        )
    return entries


def corners_of(options: Sequence[CornerOptions], choice: Sequence[int]) -> dict[str, Any]:
    """Return orientation, place and inset of each corner for one option of each."""
    return {
        one.corner: {
            "orientation": ORIENTATIONS[int(one.orientation[index])],
            "at_m": [round(float(value), 12) for value in one.contact[index]],
            "inset_m": [float(value) for value in one.inset[index]],
        }
        for one, index in zip(options, choice, strict=True)
    }


def rearranged(candidate: Candidate, corners: Mapping[str, Mapping[str, Any]]) -> Candidate:
    """Return the candidate with the orientations and insets of an arrangement."""
    modules = candidate.modules
    if modules is None:
        return candidate
    settings = {
        name: getattr(modules.corners, name).model_copy(
            update={
                "orientation": corner["orientation"],
                "inset_m": tuple(Estimate(value) for value in corner["inset_m"]),
            }
        )
        for name, corner in corners.items()
    }
    placed = modules.model_copy(update={"corners": modules.corners.model_copy(update=settings)})
    return candidate.model_copy(update={"modules": placed})


def _figures(
    study: Study, candidate: Candidate, corners: Mapping[str, Mapping[str, Any]]
) -> dict[str, Any]:
    """Return how the candidate tips and turns in an arrangement."""
    placed = rearranged(candidate, corners)
    others = tuple(placed if one.key == candidate.key else one for one in study.candidates)
    payload = evaluate_study(study.model_copy(update={"candidates": others}), keys=[candidate.key])
    metrics = payload["candidates"][0]["metrics"]
    return {name: metrics[name] for name in FIGURES}


def rule_faults(study: Study, candidate: Candidate) -> list[str]:
    """Return sentences on the rules that the candidate breaks in every arrangement."""
    faults = []
    perimeter = hull_perimeter(frame_outline(candidate))
    limit = study.rules.perimeter_limit_m
    if limit is not None and perimeter > float(limit) + LENGTH_TOLERANCE:
        faults.append(
            f"The frame is {(perimeter - float(limit)) * 1000:.0f} mm longer round than the "
            f"limit of {float(limit):g} m; shorten or narrow it."
        )
    tallest = _tallest_of_the_rest(study, candidate)
    limit = study.rules.height_limit_m
    if limit is not None and tallest > float(limit) + LENGTH_TOLERANCE:
        faults.append(
            f"In the travelling pose it stands {(tallest - float(limit)) * 1000:.0f} mm taller "
            f"than the limit of {float(limit):g} m, whatever the modules do."
        )
    return faults


def _tallest_of_the_rest(study: Study, candidate: Candidate) -> float:
    """Return the height in the travelling pose of all but the modules [m]."""
    table = part_table(study, candidate)
    centres = posed_centres(table, study.robot.poses[:1])[0]
    tops = [float(top) for top in centres[:, 2] + table.sizes[:, 2] / 2.0]
    tops += [float(body.top_m) for body in candidate.bodies]
    return max([float(candidate.wheels.diameter_m), *tops])


def _nearest(
    study: Study,
    candidate: Candidate,
    envelopes: Sequence[Prisms],
    options: Sequence[CornerOptions],
    settings: ArrangeSettings,
) -> list[dict[str, Any]]:
    """Return the arrangements that only keep-outs stand in the way of, least to change first."""
    placed: Arrangements = combined(
        options,
        envelopes=envelopes,
        allowed=[one.in_place for one in options],
        mirrored=settings.mirrored,
    )
    found = nearest_arrangements(study, candidate, envelopes, placed)
    entries = []
    for choice in found:
        corners = corners_of(options, choice)
        changes = freeing_changes(study, rearranged(candidate, corners))
        entries.append(
            {
                "corners": corners,
                "changes": changes.of_keepouts,
                "total_move_m": total_move(changes.of_keepouts),
            }
        )
    return sorted(entries, key=lambda entry: entry["total_move_m"])


def total_move(changes: Sequence[Mapping[str, Any]]) -> float:
    """Return how far all keep-outs that can be moved free have to be moved together [m]."""
    moves = (change["move"] for change in changes)
    return float(sum(move["distance_m"] for move in moves if move is not None))
