"""Things moved on the drawing and not saved: their figures, their words, the forms around them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from models.errors import Fault, StudyRefusedError, UnitError
from models.services import StudyState, evaluation_of, preview
from models.study.schema import Study
from models.units import UnitSystem, display_unit, parse_number
from webapp.pages.fit.moves import (
    Moves,
    apply_moves,
    corner_moves_only,
    item_words,
    move_words,
    read_moves,
    with_step,
    without,
    write_moves,
)
from webapp.shared.candidates import marks_of
from webapp.shared.drawings.shapes import corner_item, keepout_item
from webapp.shared.editing import Posted, Visit, save_bar
from webapp.shared.fit.context import chosen_mark
from webapp.shared.fit.handles import CORNER_SIGNS, length_words
from webapp.shared.links import StudyLinks

STEPS_MM = (5.0, 1.0)


@dataclass(frozen=True)
class Asked:
    """What an address or a form asks to move: what is pending, and one step more."""

    moves: str = ""
    item: str = ""
    forward: str = ""
    left: str = ""
    free: bool = False


@dataclass(frozen=True)
class Pending:
    """A study with things moved: what is moved, what that changes, and the figures."""

    moves: Moves
    edits: dict[str, Any]
    study: Study
    payload: dict[str, Any]
    faults: Sequence[Fault]


@dataclass(frozen=True)
class PendingMove:
    """One line of the list of moves."""

    item: str
    name: str
    words: str
    back: str


@dataclass(frozen=True)
class PendingLinks(StudyLinks):
    """Links of a study that keep what is moved while one looks at other poses and candidates."""

    moves: str = ""
    elsewhere: str = ""
    """The moves that also count on other candidates."""
    shown: str = ""
    began_from: str = ""

    def fit(
        self, candidate: str | None = None, pose: str | None = None, row: int | None = None
    ) -> str:
        """Address of the drawing with the moves kept."""
        address = super().fit(candidate, pose, row)
        moves = self.moves if candidate == self.shown else self.elsewhere
        if not moves or candidate is None:
            return address
        return f"{address}&{urlencode({'moves': moves, 'base_revision': self.began_from})}"


def key_shown(study: Study, candidate: str | None) -> str:
    """Return the key of the candidate on the page. Raises `NotFoundError` for an unknown one."""
    return chosen_mark(marks_of(study), candidate).key


def pending_of(
    store: Any, state: StudyState, key: str, asked: Asked, system: UnitSystem
) -> Pending:
    """Return the study with its moves, or as it is with what stands in their way."""
    moves: Moves = {}
    try:
        moves = read_moves(asked.moves)
        if asked.item and (asked.forward.strip() or asked.left.strip()):
            step = (_typed_mm(asked.forward, system), _typed_mm(asked.left, system))
            moves = with_step(moves, asked.item, step, free=asked.free)
        moved = apply_moves(moves, state.document, state.study, key)
        moves = moved.moves
        if not moves:
            return Pending({}, {}, state.study, evaluation_of(store, state), ())
        study, payload = preview(store, state, moved.edits)
    except StudyRefusedError as refused:
        return Pending(moves, {}, state.study, evaluation_of(store, state), refused.faults)
    return Pending(moves, moved.edits, study, payload, ())


def _typed_mm(text: str, system: UnitSystem) -> float:
    if not text.strip():
        return 0.0
    try:
        unit = display_unit("m", system, small=True)
        return parse_number(text, "m", default_unit_text=unit) * 1000
    except UnitError as error:
        raise StudyRefusedError([Fault("", str(error))]) from None


def pending_links(state: StudyState, pending: Pending, key: str) -> PendingLinks:
    """Return the links of the page, with the moves kept."""
    plain = StudyLinks.of_state(state)
    return PendingLinks(
        plain.base,
        True,
        plain.candidate_keys,
        moves=write_moves(pending.moves),
        elsewhere=write_moves(corner_moves_only(pending.moves, of_corners=False)),
        shown=key,
        began_from=str(state.revision.number),
    )


def editing_context(
    visit: Visit,
    state: StudyState,
    pending: Pending,
    asked: Asked,
    *,
    key: str,
    pose: str,
    posted: Posted | None = None,
) -> dict[str, Any]:
    """Return what `shared/fit/editing.html` shows."""
    links = StudyLinks.of_state(state)
    steered = state.study.candidate(key).modules is not None
    bar = save_bar(state, visit, posted)
    items = _items(state.study, steered=steered)
    return {
        "choices": items,
        "item": asked.item,
        "forward": asked.forward if pending.faults else "",
        "left": asked.left if pending.faults else "",
        "free": asked.free,
        "steered": steered,
        "steps": [length_words(step, visit.units) for step in STEPS_MM],
        "moves": write_moves(pending.moves),
        "drawn": "" if pending.faults else write_moves(pending.moves),
        "faults": [fault.message for fault in pending.faults[:3]],
        "pending": _listed(state, pending, visit.units, (key, pose), dict(items)),
        "back": links.fit(key, pose),
        "bar": bar,
        "words": bar.words if visit.saved else "",
        "live_address": links.fit_live(),
        "save_address": links.fit_save(),
    }


def _items(study: Study, *, steered: bool) -> list[tuple[str, str]]:
    items = [
        (keepout_item(index), f"keep-out {keepout.name}")
        for index, keepout in enumerate(study.robot.keepouts)
    ]
    corners = [corner_item(corner) for corner in CORNER_SIGNS] if steered else []
    return items + [(item, item_words(item, study)) for item in corners]


def _listed(
    state: StudyState,
    pending: Pending,
    system: UnitSystem,
    shown: tuple[str, str],
    known: dict[str, str],
) -> list[PendingMove]:
    lines = []
    for item, move in pending.moves.items():
        rest = replace(pending, moves=without(pending.moves, item, free=True))
        back = pending_links(state, rest, shown[0]).fit(*shown)
        name = item_words(item, state.study) if item in known else item
        lines.append(PendingMove(item, name, move_words(move, system), back))
    return lines


def note_of(pending: Pending, study: Study, system: UnitSystem) -> str:
    """Return the note for the history where none was typed."""
    told = [
        f"{item_words(item, study)} {move_words(move, system)}"
        for item, move in pending.moves.items()
    ]
    return f"Moved on the drawing: {', '.join(told)}"
