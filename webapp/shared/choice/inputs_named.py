"""How an uncertain input is called outside of its form, whose it is, and where it is edited."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from models.study.schema import Candidate, Study
from models.trade.draws import CARPET
from models.trade.phrases import listed
from models.units import UnitSystem, convert, display_unit, small_for
from webapp.forms import id_of, join_name, path_of_place
from webapp.shared.candidates import CandidateMark
from webapp.shared.choice.measures import NO_BREAK
from webapp.shared.formunits import plain
from webapp.shared.inputs import SOURCE_WORDS
from webapp.shared.links import StudyLinks

SHOWN_DIGITS = 4


def input_name(row: Mapping[str, Any], study: Study) -> str:
    """Return how an input is called: 'Grip of the carpet', 'Mass of mast'."""
    if row["luck"] in CARPET.values():
        luck = str(row["luck"])
        return luck[0].upper() + luck[1:]
    owner = owner_name(row["places"][0], study)
    if not owner:
        return str(row["label"])
    part = re.search(r"parts\[\d+\]\.mass_kg$", row["places"][0])
    return f"Mass of {owner}" if part else f"{row['label']}, {owner}"


def owner_name(place: str, study: Study) -> str:
    """Return the name of the part, motor or battery that an input belongs to, "" for none."""
    found: Any = study
    name = ""
    for step in path_of_place(place)[:-1]:
        keyed = isinstance(step, int) or isinstance(found, Mapping)
        found = found[step] if keyed else getattr(found, str(step), None)
        called = getattr(found, "name", None)
        if keyed and isinstance(called, str) and not isinstance(found, Candidate):
            name = called
    return name


def whose(row: Mapping[str, Any], marks: Sequence[CandidateMark]) -> str:
    """Return which candidates an input moves: 'all candidates', 'A and F only'."""
    owners = set(row["candidates"])
    letters = [mark.letter for mark in marks if mark.key in owners]
    if not letters or len(letters) == len(marks):
        return "all candidates"
    return f"{listed(letters)} only"


def source_words(row: Mapping[str, Any]) -> str:
    """Return where an input's range comes from, "" where it is not stated."""
    return SOURCE_WORDS.get(row["source"] or "", "")


def span_words(row: Mapping[str, Any], system: UnitSystem) -> str:
    """Return an input's range with its unit: '14 to 26 mΩ'."""
    low, high, unit = _ends(row, system)
    return f"{low} to {high}{NO_BREAK + unit if unit else ''}"


def end_texts(row: Mapping[str, Any], system: UnitSystem) -> tuple[str, str]:
    """Return the low and the high end of an input's range, each with its unit."""
    low, high, unit = _ends(row, system)
    gap = NO_BREAK + unit if unit else ""
    return low + gap, high + gap


def _ends(row: Mapping[str, Any], system: UnitSystem) -> tuple[str, str, str]:
    ends = (row["low"], row["high"])
    small = small_for(ends, row["unit"])
    low, high = (
        plain(float(f"{convert(end, row['unit'], system, small=small):.{SHOWN_DIGITS}g}"))
        for end in ends
    )
    return low, high, display_unit(row["unit"], system, small=small)


def place_of(row: Mapping[str, Any], key: str, study: Study) -> str:
    """Return the place at which an input is edited that a candidate shares with others."""
    places: list[str] = row["places"]
    candidate = study.candidate(key)
    owner = candidate.same_base_as or key
    index = next((i for i, one in enumerate(study.candidates) if one.key == owner), -1)
    own = [place for place in places if place.startswith(f"candidates[{index}].")]
    return (own or places)[0]


def address_of(place: str, study: Study, links: StudyLinks) -> str:
    """Return where an input is edited, "" for a viewer and for what has no form.

    >>> from models.seed import example_document
    >>> from models.study.reader import parse_study
    >>> study = parse_study(example_document())
    >>> address_of("robot.parts[1].mass_kg", study, StudyLinks.for_study("s"))
    '/studies/s/robot#f-robot-parts-1-mass_kg'
    """
    path = path_of_place(place)
    if not links.can_edit:
        return ""
    if path[0] == "candidates" and isinstance(path[1], int):
        candidate = study.candidates[path[1]]
        key = candidate.same_base_as or candidate.key
        return f"{links.candidate(key)}#{id_of(join_name(path[2:]))}"
    page = PAGES.get(str(path[0]))
    return "" if page is None else f"{getattr(links, page)()}#{id_of(join_name(path))}"


PAGES = {
    "robot": "robot",
    "module_types": "robot",
    "power": "givens",
    "yardsticks": "givens",
    "rules": "givens",
    "field": "givens",
    "platform": "givens",
    "motors": "givens",
    "routes": "routes",
}
"""On which page each section of a study is edited."""
