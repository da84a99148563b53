"""A study's decision worked out from its inputs: figures, their draws, and what follows.

Contents
--------
Basis, basis_of: the figures of a study and their draws, which everything about a choice rests on.
decision_of: gates, scores, ranks and flips on that basis.
matters_of: which input moves a figure, the score or the lead most.
route_figures: a candidate's figures of the routes, named as the draws name them.
Lead, lead_of: who leads, and with whom that is a tie.
flip_words, gate_words: the results in words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from models.quantities import METRICS, SURE_SHARE, TIE_SHARE
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
    """Metrics of every candidate as the study has them, plan, power and routes included."""
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
            one["key"]: {
                **one["metrics"],
                **power[one["key"]],
                **plan[one["key"]],
                **route_figures(one),
            }
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


def route_figures(evaluated: Mapping[str, Any]) -> dict[str, Any]:
    """Return a candidate's figures of the routes, `route_s:name` and so on.

    Parameters
    ----------
    evaluated : mapping
        A candidate of an evaluation's payload.

    Returns
    -------
    dict
        Time, margin in the autonomous period and cycles of each route; None where there is none.

    Examples
    --------
    >>> run = {"time_s": 9.1, "margin_s": None, "cycles": 11}
    >>> route_figures({"routes": {"to the pier": run}})
    {'route_s:to the pier': 9.1, 'route_cycles:to the pier': 11}
    """
    return {
        f"{figure}:{name}": run.get(leaf)
        for name, run in evaluated["routes"].items()
        for figure, leaf in ROUTE_FIGURES.items()
        if leaf == "time_s" or run.get(leaf) is not None
    }


ROUTE_FIGURES = {
    "route_s": "time_s",
    "route_margin_s": "margin_s",
    "route_cycles": "cycles",
}
"""What the draws call a route's figures, with their names in an evaluation."""


class Lead(NamedTuple):
    """Who leads under the team's weights."""

    leader: str
    """Key of the candidate with the highest score."""
    ties: tuple[str, ...]
    """Keys of those that may come first as well, the likeliest first; none where the lead holds."""
    shares: Mapping[str, float]
    """In what share of the draws each comes first; empty where no input has a range."""


SELDOM = 1.0 - SURE_SHARE
"""Who comes first in fewer draws than this is not named as a tie beside the runner-up."""


def lead_of(decision: Mapping[str, Any]) -> Lead | None:
    """Return who leads and whether that is a tie: nobody first in nine draws of ten.

    Where no input has a range, scores closer than the usual share of a tie are one.

    Parameters
    ----------
    decision : mapping
        What `decision_of` returned.

    Returns
    -------
    Lead or None
        None where nobody can be ranked.

    Examples
    --------
    >>> two = [{"key": "a", "score": 0.8, "team_ranks": [0.7, 0.3]},
    ...        {"key": "b", "score": 0.6, "team_ranks": [0.3, 0.7]}]
    >>> decision = {"leader": "a", "order": ["a", "b"], "draws": 2000, "candidates": two}
    >>> lead_of(decision).ties
    ('b',)
    >>> lead_of({**decision, "draws": 0}).ties
    ()
    """
    leader = decision["leader"]
    if leader is None:
        return None
    ranked = {one["key"]: one for one in decision["candidates"] if one["key"] in decision["order"]}
    others = [key for key in decision["order"] if key != leader]
    if not decision["draws"]:
        best = ranked[leader]["score"]
        close = [key for key in others if best - ranked[key]["score"] < TIE_SHARE * best]
        return Lead(leader, tuple(close), {})
    shares = {key: float(one["team_ranks"][0]) for key, one in ranked.items()}
    if shares[leader] >= SURE_SHARE or not others:
        return Lead(leader, (), shares)
    others.sort(key=lambda key: -shares[key])
    ties = [key for place, key in enumerate(others) if place == 0 or shares[key] >= SELDOM]
    return Lead(leader, tuple(ties), shares)


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
