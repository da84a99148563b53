"""Taking a design from the explorer over: a new candidate with other gearing, wheels or limits."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from models.errors import NotFoundError
from models.services.editing import save_sections
from models.services.records import SaveOutcome
from models.services.revisions import LONGEST_NOTE, load_study
from models.storage import Store
from models.study.kinds import LONGEST_TEXT
from models.study.sections import ORDER, candidate_section, split_sections
from models.study.shared_base import SAME_BASE, TAKEN_OVER
from models.units import quoted

ENDING = "-geared"
LONGEST_KEY = 40
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
        new_key = _free_key(key, {*base[ORDER], *latest[ORDER]})
        made = _whole(base, original)
        made.update(key=new_key, name=_free_name(original, name, latest))
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
    keys = [candidate.key for candidate in outcome.state.study.candidates]
    if new_key not in keys:
        # Sent again: the first time it took the place right behind the original
        new_key = keys[keys.index(key) + 1]
    return outcome, new_key


def _whole(sections: Mapping[str, Any], original: Mapping[str, Any]) -> dict[str, Any]:
    """Return a copy of a candidate that stands by itself, with what it takes from another."""
    made: dict[str, Any] = copy.deepcopy(dict(original))
    made.pop("baseline", None)
    source = made.pop(SAME_BASE, None)
    if source is not None:
        other = sections[candidate_section(str(source))]
        made |= {name: copy.deepcopy(other[name]) for name in TAKEN_OVER if name in other}
    return made


def _free_key(key: str, taken: set[str]) -> str:
    stem = key.partition(ENDING)[0][: LONGEST_KEY - len(ENDING) - 4] + ENDING
    number, new = 1, stem
    while new in taken:
        number += 1
        new = f"{stem}-{number}"
    return new


def _free_name(original: Mapping[str, Any], name: str, sections: Mapping[str, Any]) -> str:
    taken = {sections[candidate_section(key)].get("name") for key in sections[ORDER]}
    stem = str(original.get("name") or original["key"]).partition(", geared")[0]
    number, ending = 1, f", geared {name}"
    while (new := stem[: LONGEST_TEXT - len(ending)] + ending) in taken:
        number += 1
        ending = f", geared {name} ({number})"
    return new
