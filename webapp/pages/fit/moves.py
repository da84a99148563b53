"""Pending moves of keep-outs and steered modules: as text, in words, and as edits of a study.

A move is told in whole tenths of a millimetre forward and left. A module moves by its inset, so
never further out than the corner of its wheelbase and track.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from models.errors import Fault, StudyRefusedError
from models.study.numbers import read_estimate
from models.study.schema import Study
from models.study.sections import candidate_section
from models.units import UnitSystem
from webapp.shared.drawings.shapes import corner_item
from webapp.shared.fit.handles import CORNER_SIGNS, length_words, mirrored

FURTHEST_MM = 5000.0
"""The longest move that is taken; a robot is shorter."""
MOST_ITEMS = 500
LONGEST_TEXT = 20_000
_ENTRY = re.compile(
    r"(?P<kind>keepout|corner)\.(?P<name>\d{1,4}|[a-z]+_[a-z]+)"
    r":(?P<forward>-?\d{1,4}(?:\.\d)?),(?P<left>-?\d{1,4}(?:\.\d)?)"
)

Moves = dict[str, tuple[float, float]]
"""Item ("keepout.3", "corner.rear_left") to millimetres forward and left."""


@dataclass(frozen=True)
class Moved:
    """Moves as far as they are possible, and the sections of the study that they change."""

    moves: Moves
    edits: dict[str, Any]


def read_moves(text: str) -> Moves:
    """Return the moves in a text; those of nothing are left out.

    Raises `StudyRefusedError` where the text is not one that `write_moves` gives.

    >>> read_moves("keepout.3:15,0;corner.rear_left:5,-2.5")
    {'keepout.3': (15.0, 0.0), 'corner.rear_left': (5.0, -2.5)}
    """
    entries = [entry for entry in text[:LONGEST_TEXT].split(";") if entry]
    moves: Moves = {}
    for entry in entries:
        read = _ENTRY.fullmatch(entry)
        if read is None or len(entries) > MOST_ITEMS or len(text) > LONGEST_TEXT:
            raise _refusal("The moves could not be read. Move the things on the drawing again.")
        item = f"{read['kind']}.{read['name']}"
        moves[item] = (float(read["forward"]), float(read["left"]))
    return kept(moves)


def write_moves(moves: Mapping[str, tuple[float, float]]) -> str:
    """Return moves as text, for a form or an address.

    >>> write_moves({"keepout.3": (15.0, 0.0), "corner.rear_left": (5.0, -2.5)})
    'keepout.3:15,0;corner.rear_left:5,-2.5'
    """
    return ";".join(f"{item}:{forward:g},{left:g}" for item, (forward, left) in moves.items())


def kept(moves: Mapping[str, tuple[float, float]]) -> Moves:
    """Return the moves rounded to a tenth of a millimetre, without those of nothing.

    >>> kept({"keepout.0": (0.04, 0.0), "keepout.1": (0.26, -1.0)})
    {'keepout.1': (0.3, -1.0)}
    """
    rounded = {
        item: (round(forward, 1) + 0.0, round(left, 1) + 0.0)
        for item, (forward, left) in moves.items()
    }
    return {item: move for item, move in rounded.items() if move != (0.0, 0.0)}


def with_step(moves: Moves, item: str, step: tuple[float, float], *, free: bool) -> Moves:
    """Return the moves with one more step; a module's mirrored partner goes along unless free.

    >>> with_step({}, "corner.front_left", (-5.0, -3.0), free=False)
    {'corner.front_left': (-5.0, -3.0), 'corner.front_right': (-5.0, 3.0)}
    """
    more = dict(moves)
    forward, left = step
    steps = {item: (forward, left)}
    partner = mirrored(item)
    if partner and not free:
        steps[partner] = (forward, -left)
    for name, (along, across) in steps.items():
        before = more.get(name, (0.0, 0.0))
        more[name] = (before[0] + along, before[1] + across)
    return kept(more)


def move_words(move: tuple[float, float], system: UnitSystem) -> str:
    """Return a move in words.

    >>> move_words((15.0, 0.0), UnitSystem.SI), move_words((-5.0, 2.5), UnitSystem.SI)
    ('15 mm forward', '5 mm back and 2.5 mm left')
    """
    forward, left = move
    words = []
    if forward:
        words.append(f"{length_words(abs(forward), system)} {'forward' if forward > 0 else 'back'}")
    if left:
        words.append(f"{length_words(abs(left), system)} {'left' if left > 0 else 'right'}")
    return " and ".join(words) or "where it was"


def item_words(item: str, study: Study) -> str:
    """Return what an item is called: the keep-out's name, or which corner's module."""
    kind, _, name = item.partition(".")
    if kind == "corner":
        return f"{name.replace('_', ' ')} module"
    return str(study.robot.keepouts[int(name)].name)


def apply_moves(
    moves: Moves, document: Mapping[str, Any], study: Study, candidate_key: str
) -> Moved:
    """Return what the moves change in a study.

    What did not move keeps the text it was typed as; what did is written as numbers of metres,
    rounded to 0.1 mm. Modules of a candidate that keeps another's base move on that one. Raises
    `StudyRefusedError` for an item that the study does not have.
    """
    keepouts = copy.deepcopy((document.get("robot") or {}).get("keepouts") or [])
    candidate_key = study.candidate(candidate_key).same_base_as or candidate_key
    candidate = copy.deepcopy(
        next(one for one in document["candidates"] if one.get("key") == candidate_key)
    )
    steered = study.candidate(candidate_key).modules is not None
    done: Moves = {}
    for item, (forward, left) in moves.items():
        kind, _, name = item.partition(".")
        if abs(forward) > FURTHEST_MM or abs(left) > FURTHEST_MM:
            raise _refusal(f"A move is at most {FURTHEST_MM / 1000:g} m long.")
        if kind == "keepout" and name.isdigit() and int(name) < len(keepouts):
            _move_outline(keepouts[int(name)], (forward, left))
            done[item] = (forward, left)
        elif kind == "corner" and steered and name in CORNER_SIGNS:
            done[item] = _move_corner(candidate["modules"]["corners"], name, (forward, left))
        else:
            raise _refusal("The study has nothing of that name to move on this candidate.")
    done = kept(done)
    edits: dict[str, Any] = {}
    if any(item.startswith("keepout.") for item in done):
        edits["robot.keepouts"] = keepouts
    if any(item.startswith("corner.") for item in done):
        edits[candidate_section(candidate_key)] = candidate
    return Moved(done, edits)


def _move_outline(keepout: dict[str, Any], move: tuple[float, float]) -> None:
    keepout["outline_m"] = [
        [_moved_number(typed, by) if by else typed for typed, by in zip(corner, move, strict=True)]
        for corner in keepout["outline_m"]
    ]


def _move_corner(
    corners: dict[str, Any], name: str, move: tuple[float, float]
) -> tuple[float, float]:
    """Move one corner's module by its insets; return how far it could go."""
    typed = list(corners[name].get("inset_m") or [0, 0])
    done = []
    for axis, (by, sign) in enumerate(zip(move, CORNER_SIGNS[name], strict=True)):
        before = float(read_estimate(typed[axis], "m"))
        outward = min(sign * by, round(before * 1000, 1))
        done.append(sign * outward)
        if outward:
            typed[axis] = max(_moved_number(typed[axis], -outward), 0.0)
    corners[name]["inset_m"] = typed
    return done[0], done[1]


def _moved_number(typed: Any, by_mm: float) -> float:
    return round(float(read_estimate(typed, "m")) + by_mm / 1000, 4) + 0.0


def without(moves: Moves, item: str, *, free: bool) -> Moves:
    """Return the moves with one item put back, its mirrored partner too unless free.

    >>> without({"corner.rear_left": (5.0, 0.0), "corner.rear_right": (5.0, 0.0)},
    ...         "corner.rear_left", free=False)
    {}
    """
    gone = {item} if free else {item, mirrored(item)}
    return {name: move for name, move in moves.items() if name not in gone}


def corner_moves_only(moves: Moves, *, of_corners: bool) -> Moves:
    """Return the moves of corners, or all others.

    >>> corner_moves_only({"keepout.0": (1.0, 0.0), "corner.rear_left": (5.0, 0.0)},
    ...                   of_corners=False)
    {'keepout.0': (1.0, 0.0)}
    """
    first = corner_item("")
    return {item: move for item, move in moves.items() if item.startswith(first) is of_corners}


def _refusal(message: str) -> StudyRefusedError:
    return StudyRefusedError([Fault("", message)])
