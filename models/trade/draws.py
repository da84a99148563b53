"""The ranges of a study's inputs, and random draws of them that are the same on every machine.

Contents
--------
RangedInput, ranged_inputs: every input with a range that the figures follow from.
Draws, draw_inputs: values of those inputs over many draws, looked up by the input itself.
one_at_a_time: each input in turn at the ends of its range.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from models.engineering.schedule_sampling import SLICES, pert_quantiles, pert_shape, uniforms
from models.study.fields import find_field
from models.study.numbers import Estimate
from models.study.schema import Candidate, Study

FloatArray = NDArray[np.float64]

DRAWS = 2000
SEED = 1
LEFT_OUT = ("schedule", "decision")
"""Sections whose ranges are drawn elsewhere (the plan), or are the team's own judgement."""
PLAN_PARTS = ("tasks", "purchases")
"""Parts of a candidate that the plan draws, all but what a purchase costs."""
CARPET = {
    "wheels.grip": "grip of the carpet",
    "wheels.side_grip": "grip of the carpet",
    "wheels.omni_side_grip": "grip of the carpet",
    "wheels.rolling_coefficient": "rolling on the carpet",
}
"""Inputs that stand in every candidate but follow from the one carpet under all of them: they
share their luck, each within its own range."""


@dataclass(frozen=True)
class RangedInput:
    """One input whose value is known within a range only."""

    place: str
    """In the study file: `candidates[1].wheels.grip`."""
    label: str
    unit: str
    candidate: str | None
    """Key of the candidate it belongs to; None where all share it."""
    estimate: Estimate
    luck: str
    """Inputs with the same word lie at the same share of their ranges in every draw."""


class Draws:
    """Values of the ranged inputs over many draws; any other number is the same in all.

    Look-ups go by the very number in the study that was drawn, not by its value.
    """

    def __init__(
        self, study: Study, inputs: tuple[RangedInput, ...], values: Mapping[str, FloatArray]
    ) -> None:
        """Take the values of every input, by place, of one length."""
        self.study = study
        self.inputs = inputs
        self.count = max((len(one) for one in values.values()), default=1)
        self._of = {id(one.estimate): values[one.place] for one in inputs}

    def of(self, value: float | None, *, missing: float = 0.0) -> FloatArray:
        """Return an input over the draws, shape (count,), or shape () where it has no range."""
        if value is None:
            return np.asarray(missing, dtype=np.float64)
        found = self._of.get(id(value)) if isinstance(value, Estimate) else None
        return np.asarray(float(value), dtype=np.float64) if found is None else found

    def varies(self, value: float | None) -> bool:
        """Return whether an input differs between draws."""
        return isinstance(value, Estimate) and id(value) in self._of

    def typed_where(self, chosen: NDArray[np.bool_]) -> Draws:
        """Return the draws with every input at its typed value in those that are chosen."""
        values = {
            one.place: np.where(chosen, float(one.estimate), self.of(one.estimate))
            for one in self.inputs
        }
        return Draws(self.study, self.inputs, values)

    def study_of(self, number: int) -> Study:
        """Return the study as one draw has it, every input at its drawn value."""
        drawn: Study = _replaced(self.study, {key: one[number] for key, one in self._of.items()})
        return drawn


def _replaced(item: Any, values: Mapping[int, float]) -> Any:
    """Return a part of a study with drawn values in the place of estimates."""
    if isinstance(item, Estimate):
        return Estimate(float(values[id(item)])) if id(item) in values else item
    if isinstance(item, BaseModel):
        parts = {name: getattr(item, name) for name in type(item).model_fields}
        changed = {name: _replaced(part, values) for name, part in parts.items()}
        return item.model_copy(
            update={name: part for name, part in changed.items() if part is not parts[name]}
        )
    if isinstance(item, dict):
        return {key: _replaced(value, values) for key, value in item.items()}
    if isinstance(item, tuple):
        return tuple(_replaced(value, values) for value in item)
    return item


def pert_values(estimate: Estimate, chances: FloatArray) -> FloatArray:
    """Return values of an estimate at shares of its PERT beta distribution, its value the mode.

    >>> pert_values(Estimate(1.0, low=0.8, high=1.2), np.array([0.0, 0.5])).round(6).tolist()
    [0.8, 1.0]
    """
    table = pert_quantiles(float(pert_shape(estimate.low, float(estimate), estimate.high)))
    place = chances * SLICES
    index = np.minimum(place.astype(np.intp), SLICES - 1)
    share = table[index] + (place - index) * np.diff(table)[index]
    return np.asarray(estimate.low + (estimate.high - estimate.low) * share)


def draw_inputs(study: Study, *, count: int = DRAWS, seed: int = SEED) -> Draws:
    """Return random draws of all ranged inputs of a study.

    Inputs that all candidates share have one value in a draw, and so has the carpet under them.
    The same study, count and seed give the same draws on every machine.
    """
    inputs = ranged_inputs(study)
    chances = {
        luck: uniforms(seed=seed, word=luck, count=count) for luck in {one.luck for one in inputs}
    }
    values = {one.place: pert_values(one.estimate, chances[one.luck]) for one in inputs}
    return Draws(study, inputs, values)


def one_at_a_time(study: Study) -> tuple[tuple[str, ...], Draws]:
    """Return the lucks of a study, and draws in which each in turn stands at its two ends.

    Draws 2k and 2k + 1 have the inputs of luck k at the low and the high end of their ranges and
    all others at their values.
    """
    inputs = ranged_inputs(study)
    lucks = tuple(dict.fromkeys(one.luck for one in inputs))
    values = {}
    for one in inputs:
        own = np.full(2 * len(lucks), float(one.estimate))
        place = 2 * lucks.index(one.luck)
        own[place : place + 2] = one.estimate.low, one.estimate.high
        values[one.place] = own
    return lucks, Draws(study, inputs, values)


def ranged_inputs(study: Study) -> tuple[RangedInput, ...]:
    """Return every input with a range that metrics follow from, in the order of the study file."""
    found: list[RangedInput] = []
    for place, estimate in _estimates(study, ""):
        candidate, within = _owner(study, place)
        if not estimate.has_range or _is_left_out(place, within):
            continue
        spec = find_field(place)
        luck = place
        if candidate is not None:
            luck = CARPET.get(within) or _luck(candidate, within, estimate)
        found.append(
            RangedInput(
                place=place,
                label=spec.label if spec and spec.label else place.rsplit(".", 1)[-1],
                unit=spec.unit if spec else "",
                candidate=None if candidate is None else candidate.key,
                estimate=estimate,
                luck=luck,
            )
        )
    return tuple(found)


def _owner(study: Study, place: str) -> tuple[Candidate | None, str]:
    """Return the candidate that a place lies in, and the place within it."""
    if not place.startswith("candidates["):
        return None, place
    index, within = place.removeprefix("candidates[").split("].", 1)
    return study.candidates[int(index)], within


def _luck(candidate: Candidate, within: str, estimate: Estimate) -> str:
    """Return the word of a candidate's own input.

    The same range typed for the same thing of two candidates of one layout is one unknown: two
    variants of a base differ in what was changed, not in the luck of what was not.
    """
    thing = within
    if within.startswith("parts["):
        index, rest = within.removeprefix("parts[").split("]", 1)
        thing = f"part {candidate.parts[int(index)].name}{rest}"
    elif within.startswith("purchases["):
        index, rest = within.removeprefix("purchases[").split("]", 1)
        thing = f"purchase {candidate.purchases[int(index)].name}{rest}"
    return f"{candidate.layout}/{thing}/{estimate.low:g}/{float(estimate):g}/{estimate.high:g}"


def _is_left_out(place: str, within: str) -> bool:
    section, part = place.split(".", maxsplit=1)[0], within.split("[", maxsplit=1)[0]
    return section in LEFT_OUT or (part in PLAN_PARTS and not within.endswith(".unit_cost"))


def _estimates(item: Any, place: str) -> Iterator[tuple[str, Estimate]]:
    """Yield every estimate below an item with its place."""
    if isinstance(item, Estimate):
        yield place, item
    elif isinstance(item, BaseModel):
        for name, field in type(item).model_fields.items():
            step = field.alias or name
            yield from _estimates(getattr(item, name), f"{place}.{step}" if place else step)
    elif isinstance(item, dict):
        for key, value in item.items():
            yield from _estimates(value, f"{place}.{key}")
    elif isinstance(item, tuple):
        for index, value in enumerate(item):
            yield from _estimates(value, f"{place}[{index}]")
