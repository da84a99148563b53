"""How a candidate is marked everywhere: a letter, a colour class and a dash pattern."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from models.study.schema import Candidate, Study

COLOURS: tuple[str, ...] = (
    "#000000",
    "#0072B2",
    "#D55E00",
    "#009E73",
    "#CC79A7",
    "#E69F00",
    "#56B4E9",
    "#F0E442",
)
"""The Okabe-Ito palette, darkest first (M. Okabe, K. Ito, Color Universal Design, 2008)."""

DASHES: tuple[tuple[int, ...], ...] = (
    (1, 0),
    (8, 3),
    (2, 3),
    (9, 3, 2, 3),
    (14, 4),
    (4, 4),
    (12, 3, 2, 3, 2, 3),
    (1, 5),
)
"""Dash patterns in pixels, one a colour, so that a print without colour still reads."""

STYLE_NAMES = "abcdefgh"
"""The last letter of the style classes `cand-a` … `cand-h` in marks.css."""


@dataclass(frozen=True)
class CandidateMark:
    """What a page needs to name a candidate."""

    key: str
    name: str
    letter: str
    css: str
    baseline: bool
    layout: str


def letter_of(index: int) -> str:
    """Return the letter of the candidate at a place in the study: A … Z, then AA, AB …

    >>> letter_of(0), letter_of(25), letter_of(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    while index >= 0:
        letters = chr(ord("A") + index % 26) + letters
        index = index // 26 - 1
    return letters


def style_of(index: int) -> str:
    """Return the style class that gives the candidate its colour and dash pattern.

    >>> style_of(1), style_of(9)
    ('cand-b', 'cand-b')
    """
    return f"cand-{STYLE_NAMES[index % len(STYLE_NAMES)]}"


def marks_of(study: Study) -> list[CandidateMark]:
    """Return the marks of all candidates in the order of the study."""
    return [_mark(study, candidate, i) for i, candidate in enumerate(study.candidates)]


def _mark(study: Study, candidate: Candidate, index: int) -> CandidateMark:
    return CandidateMark(
        key=candidate.key,
        name=candidate.name,
        letter=letter_of(index),
        css=style_of(index),
        baseline=candidate.key == study.baseline.key,
        layout=candidate.layout,
    )


def chosen(marks: Iterable[CandidateMark], keys: Iterable[str]) -> list[CandidateMark]:
    """Return the marks of some candidates, in the order of the study."""
    wanted = set(keys)
    return [mark for mark in marks if mark.key in wanted]
