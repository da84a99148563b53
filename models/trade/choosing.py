"""A study's decision worked out from its inputs: figures, their draws, and what follows.

Contents
--------
Basis, basis_of: the figures of a study and their draws, which everything about a choice rests on.
decision_of: gates, scores, ranks and flips on that basis.
matters_of: which input moves a figure, the score or the lead most.
flip_words, gate_words: the results in words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from models.quantities import METRICS
from models.study.schema import Study
from models.trade.deciding import SEED, WEIGHTINGS, VoterWeights, decide
from models.trade.drawn_figures import Drawn, drawn_figures
from models.trade.draws import DRAWS, Draws, draw_inputs, one_at_a_time
from models.trade.evaluation import evaluate_study
from models.trade.power_figures import power_figures
from models.trade.readiness import plan_figures
from models.trade.what_matters import what_matters
from models.units import UnitSystem, show

Figures = Mapping[str, Mapping[str, Any]]


class Basis(NamedTuple):
    """What a choice rests on."""

    figures: Figures
    """Metrics of every candidate as the study has them, plan and power included."""
    draws: Draws
    drawn: Drawn
    """Figures over those draws."""


def basis_of(
    study: Study, figures: Figures | None = None, *, count: int = DRAWS, seed: int = SEED
) -> Basis:
    """Return the figures of a study and their draws.

    Parameters
    ----------
    study : Study
        The study.
    figures : mapping, optional
        Metrics by candidate where they are known already.
    count, seed : int
        Of the draws.

    Returns
    -------
    Basis
        Ready for `decision_of` and `matters_of`.
    """
    if figures is None:
        power, plan = power_figures(study), plan_figures(study)
        figures = {
            one["key"]: {**one["metrics"], **power[one["key"]], **plan[one["key"]]}
            for one in evaluate_study(study)["candidates"]
        }
    draws = draw_inputs(study, count=count, seed=seed)
    return Basis(figures, draws, drawn_figures(study, draws))


def decision_of(
    study: Study,
    basis: Basis,
    *,
    ballots: Sequence[VoterWeights] = (),
    weightings: int = WEIGHTINGS,
    seed: int = SEED,
) -> dict[str, Any]:
    """Return what gates, criteria, weights and ballots say; see `models.trade.deciding`."""
    drawn = basis.drawn if basis.draws.inputs else None
    return decide(
        study, basis.figures, drawn=drawn, ballots=ballots, weightings=weightings, seed=seed
    )


def matters_of(study: Study, basis: Basis, metric: str, key: str) -> dict[str, Any]:
    """Return which uncertain input moves a figure most; see `models.trade.what_matters`."""
    lucks, ends = one_at_a_time(study)
    return what_matters(
        study,
        metric,
        key,
        ends=(lucks, drawn_figures(study, ends)),
        draws=(basis.draws, basis.drawn),
        figures=basis.figures,
    )


def flip_words(flip: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """Return a flip in words.

    >>> flip = {"name": "Pushing force", "present": 0.25, "weight": 0.41, "leader": "b",
    ...         "rival": "a"}
    >>> flip_words(flip, {"a": "Tank", "b": "Steered"})
    'Steered loses to Tank when “Pushing force” weighs more than 0.41 of all (now 0.25).'
    """
    more = "more" if flip["weight"] > flip["present"] else "less"
    return (
        f"{names[flip['leader']]} loses to {names[flip['rival']]} when “{flip['name']}” weighs "
        f"{more} than {flip['weight']:.2f} of all (now {flip['present']:.2f})."
    )


def gate_words(gate: Mapping[str, Any], system: UnitSystem = UnitSystem.SI) -> str:
    """Return a gate in words.

    >>> gate_words({"metric": "mass_kg", "at_least": None, "at_most": 60.0, "is": None})
    'Moving mass at most 60.0 kg'
    """
    found = METRICS.get(gate["metric"])
    name, unit = (found.name, found.unit) if found else (str(gate["metric"]), "")
    if gate["is"] is not None:
        said = {True: "yes", False: "no"}.get(gate["is"], gate["is"])
        return f"{name}: {said}"
    parts = [
        f"{words} {show(gate[end], unit, system)}"
        for end, words in (("at_least", "at least"), ("at_most", "at most"))
        if gate[end] is not None
    ]
    return f"{name} {' and '.join(parts)}"
