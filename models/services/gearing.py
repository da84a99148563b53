"""Taking a design from the explorer over: a new candidate with other gearing, wheels or limits."""

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
from models.study.shared_base import SAME_BASE, TAKEN_OVER
from models.units import quoted

ENDING = "-geared"
PLACES: Mapping[str, tuple[str, str]] = {
    "ratio": ("drive", "ratio"),
    "diameter": ("wheels", "diameter_m"),
    "stator": ("drive", "stator_limit_a"),
    "supply": ("drive", "supply_limit_a"),
}
"""Where each number of a design stands in a candidate."""


def add_geared(
    store: Store,
    study_id: str,
    key: str,
    changes: Mapping[str, Any],
    *,
    name: str,
    base_revision: int,
    author: str,
    once: str | None = None,
) -> tuple[SaveOutcome, str]:
    """Put a candidate with other numbers right behind the one it comes from; give both back.

    `changes` holds what differs, by the names of `PLACES`; None takes a limit off. `name` is what
    is said behind the original's name. The copy is never the baseline. Sent again with the same
    `once` it gives back the candidate that was made the first time.
    """
    with store.write_lock:
        base = split_sections(load_study(store, study_id, base_revision).document)
        latest = split_sections(load_study(store, study_id).document)
        original = base.get(candidate_section(key))
        if original is None:
            raise NotFoundError(f"This study has no candidate {quoted(key)}.")
        new_key = free_key(key, ENDING, {*base[ORDER], *latest[ORDER]})
        made = _whole(base, original)
        made.update(key=new_key, name=free_name(original, f"geared {name}", latest))
        for what, value in changes.items():
            group, place = PLACES[what]
            if value is None:
                made[group].pop(place, None)
            else:
                made[group][place] = value
        order = list(base[ORDER])
        order.insert(order.index(key) + 1, new_key)
        outcome = save_sections(
            store,
            study_id,
            base_revision=base_revision,
            edits={candidate_section(new_key): made, ORDER: order},
            author=author,
            note=f"Geared {original.get('name') or key} anew"[:LONGEST_NOTE],
            once=once,
        )
    return outcome, key_of_copy(outcome, key, new_key)


def _whole(sections: Mapping[str, Any], original: Mapping[str, Any]) -> dict[str, Any]:
    """Return a copy of a candidate that stands by itself, with what it takes from another."""
    made: dict[str, Any] = copy.deepcopy(dict(original))
    made.pop("baseline", None)
    source = made.pop(SAME_BASE, None)
    if source is not None:
        other = sections[candidate_section(str(source))]
        made |= {name: copy.deepcopy(other[name]) for name in TAKEN_OVER if name in other}
    return made
