"""Every figure with its meaning, equation, source and checks, from the code's own words."""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from models.quantities import METRICS, QUESTIONS
from models.units import UnitSystem, display_unit
from webapp.pages.figures.guards import EXTRAS, GUARDS, Check
from webapp.shared.comparison.meanings import MEANINGS

MAKERS = {
    "drive": "",
    "power": "a match on a battery",
    "plan": "the plan of the work",
}
BETTER = {
    "higher": "More is better.",
    "lower": "Less is better.",
    "yes": "Yes is better.",
    "no": "No is better.",
    "none": "",
}
_HAS_EQUATION = re.compile(r"[=≤≥∫Σ√·]|\b(min|max|floor)\(")


@dataclass(frozen=True)
class Equation:
    """An engineering function's own words on one step."""

    name: str
    """Module and function."""
    does: str
    law: str
    """"" where the docstring has none."""
    source: str


@dataclass(frozen=True)
class Explained:
    """One figure on the page."""

    key: str
    name: str
    symbol: str
    units: str
    """In both systems, "" for words and truths."""
    sentence: str
    better: str
    made_by: str
    """"" where it is the evaluation, as most are."""
    how: str
    leaves_out: str
    equations: tuple[Equation, ...]
    source: str
    checks: tuple[Check, ...]


@dataclass(frozen=True)
class Question:
    """The figures that answer one question."""

    key: str
    words: str
    figures: tuple[Explained, ...]


@cache
def explained_questions() -> tuple[Question, ...]:
    """Return every figure under the question it answers; questions without one are left out."""
    found = []
    for key, words in QUESTIONS:
        figures = (*_catalogue(key), *_extras(key))
        if figures:
            found.append(Question(key, words, figures))
    return tuple(found)


def _catalogue(question: str) -> Iterator[Explained]:
    for metric in METRICS.values():
        if metric.question == question:
            yield _explained(
                metric.key,
                name=metric.name,
                symbol=metric.symbol,
                units=_units(metric.unit) if metric.kind == "number" else "",
                sentence=metric.sentence,
                better=BETTER[metric.better],
                made_by=MAKERS[metric.made_by],
            )


def _extras(question: str) -> Iterator[Explained]:
    for key, extra in EXTRAS.items():
        if extra.question == question:
            yield _explained(
                key,
                name=extra.name,
                symbol="",
                units=_units(key.rpartition("_")[2]) if key != "route_cycles" else "",
                sentence=extra.sentence,
                better="",
                made_by=MAKERS["drive"],
            )


def _units(unit: str) -> str:
    if not unit:
        return ""
    both = [display_unit(unit, system) for system in UnitSystem]
    return " or ".join(dict.fromkeys(text for text in both if text))


def _explained(key: str, **words: Any) -> Explained:
    guard, meaning = GUARDS[key], MEANINGS[key]
    return Explained(
        key=key,
        how=meaning.how,
        leaves_out=meaning.leaves_out,
        equations=tuple(equation_of(name) for name in guard.functions),
        source=guard.source,
        checks=guard.checks,
        **words,
    )


def equation_of(name: str) -> Equation:
    """Return what an engineering function's docstring says of its law and where it is from.

    >>> equation_of("drive.free_speed").law
    'v = κv·ωf·r/Gr; 0 for a tank asked to go anywhere but straight'
    """
    module, _, function = name.partition(".")
    loaded = importlib.import_module(f"models.engineering.{module}")
    paragraphs = (inspect.getdoc(getattr(loaded, function)) or "").split("\n\n")
    texts = [" ".join(one.split()) for one in paragraphs]
    ends = next((i for i, one in enumerate(texts) if one.startswith("Parameters ---")), 1)
    laws = [one for one in texts[1:ends] if _HAS_EQUATION.search(one)]
    source = next((one for one in texts if one.startswith("Source")), "")
    return Equation(
        name=f"{module}.{function}",
        does=texts[0].removeprefix("Return "),
        law=laws[0] if laws else "",
        source=_plain(source.partition(":")[2].strip()),
    )


def _plain(source: str) -> str:
    """Return a source without the code marks of a docstring, its first letter a capital."""
    text = source.replace("`", "")
    return text[:1].upper() + text[1:]


def figures_context() -> dict[str, Any]:
    """Return what `pages/figures/figures.html` shows."""
    questions = explained_questions()
    return {
        "questions": questions,
        "count": sum(len(question.figures) for question in questions),
    }
