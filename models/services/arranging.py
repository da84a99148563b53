"""Taking an arrangement over: a new candidate, and the keep-outs moved that stood in its way."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from models.errors import NotFoundError
from models.services.copies import free_key, free_name, key_of_copy
from models.services.editing import save_sections
from models.services.records import SaveOutcome
from models.services.revisions import LONGEST_NOTE, load_study
from models.storage import Store
from models.study.sections import ORDER, candidate_section, split_sections
from models.study.shared_base import with_own_base

KEEPOUTS = "robot.keepouts"
ENDING = "-arranged"


def add_arrangement(
    store: Store,
    study_id: str,
    key: str,
    corners: Mapping[str, Mapping[str, Any]],
    *,
    base_revision: int,
    author: str,
    moves: Mapping[str, tuple[float, float]] | None = None,
    once: str | None = None,
) -> tuple[SaveOutcome, str]:
    """Put a candidate with other corners right behind the one it comes from; give both back.

    `corners` are orientation and inset of each corner; `moves` says by how much, forward and
    left, keep-outs are moved in the same revision [m]. The copy is never the baseline.
    """
    with store.write_lock:
        state = load_study(store, study_id, base_revision)
        base = split_sections(state.document)
        latest = split_sections(load_study(store, study_id).document)
        original = with_own_base(state.document["candidates"], key)
        if original is None or not original.get("modules"):
            raise NotFoundError("The study has no candidate with modules under that key.")
        new_key = free_key(key, ENDING, {*base[ORDER], *latest[ORDER]})
        made = copy.deepcopy(original)
        made.pop("baseline", None)
        made.update(key=new_key, name=free_name(original, "arranged", latest))
        made["modules"]["corners"] = {name: dict(corner) for name, corner in corners.items()}
        order = list(base[ORDER])
        order.insert(order.index(key) + 1, new_key)
        edits: dict[str, Any] = {candidate_section(new_key): made, ORDER: order}
        note = f"Arranged {original.get('name') or key}"
        if moves:
            edits[KEEPOUTS] = moved_keepouts(base[KEEPOUTS], state.study.robot.keepouts, moves)
            note += f"; moved {', '.join(moves)}"
        outcome = save_sections(
            store,
            study_id,
            base_revision=base_revision,
            edits=edits,
            author=author,
            note=note[:LONGEST_NOTE],
            once=once,
        )
    return outcome, key_of_copy(outcome, key, new_key)


def moved_keepouts(
    typed: list[dict[str, Any]], read: tuple[Any, ...], moves: Mapping[str, tuple[float, float]]
) -> list[dict[str, Any]]:
    """Return the keep-outs as typed, the outlines of those that move written anew in metres."""
    after = copy.deepcopy(typed)
    for entry, keepout in zip(after, read, strict=True):
        by = moves.get(keepout.name)
        if by is not None:
            entry["outline_m"] = [
                [float(x) + by[0], float(y) + by[1]] for x, y in keepout.outline_m
            ]
    return after
