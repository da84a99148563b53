"""Rules of a study's plan that join several fields: tasks, purchases, calendar, gates, criteria.

Contents: `plan_faults`, `schedule_faults`, `decision_faults`; `repeated` and `unknown`, which all
checks use.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from itertools import pairwise
from typing import Any

from models.errors import Fault
from models.quantities import METRICS
from models.study.planning import Decision, Gate, Purchase
from models.study.schema import Candidate, Study
from models.units import quoted

LONGEST_LIST = 12


def repeated(
    entries: Iterable[Any], place: str, name: Callable[[Any], str], field: str
) -> Iterator[Fault]:
    """Yield a fault for each entry whose name stands twice in its list."""
    seen: dict[str, int] = {}
    for index, entry in enumerate(entries):
        word = name(entry)
        if word in seen:
            yield Fault(
                f"{place}[{index}].{field}",
                f"{quoted(word)} is also the {field} of {place}[{seen[word]}]; give each its own.",
                given=word,
            )
        else:
            seen[word] = index


def unknown(place: str, word: str, known: Iterable[str], what: str) -> Fault:
    """Return the fault of a word that refers to nothing, with those that it could have meant."""
    names = list(known)
    listed = ", ".join(names) if len(names) <= LONGEST_LIST else ""
    near = get_close_matches(word, names, 1)
    advice = f"choose one of {listed}" if listed else "see the list of them"
    if near:
        advice = f"did you mean {near[0]}?"
    elif not names:
        advice = "the study has none"
    return Fault(
        place,
        f"There is no {what} {quoted(word)}; {advice}{'' if near else '.'}",
        given=word,
        limit=listed or None,
    )


def plan_faults(study: Study, candidate: Candidate, place: str) -> Iterator[Fault]:
    """Yield the faults of a candidate's tasks and purchases."""
    yield from repeated(candidate.tasks, f"{place}.tasks", lambda one: one.key, "key")
    yield from repeated(candidate.purchases, f"{place}.purchases", lambda one: one.name, "name")
    keys = [task.key for task in candidate.tasks]
    bought = [purchase.name for purchase in candidate.purchases]
    crews = study.schedule.crews if study.schedule else {}
    for index, task in enumerate(candidate.tasks):
        at = f"{place}.tasks[{index}]"
        yield from _three_points(task.hours, f"{at}.hours", "h")
        for position, other in enumerate(task.after):
            if other not in keys:
                yield unknown(f"{at}.after[{position}]", other, keys, "task with the key")
        for position, need in enumerate(task.needs):
            if need not in bought:
                yield unknown(f"{at}.needs[{position}]", need, bought, "purchase")
        if crews and task.crew not in crews:
            yield unknown(f"{at}.crew", task.crew, crews, "crew")
    for index, purchase in enumerate(candidate.purchases):
        at = f"{place}.purchases[{index}]"
        yield from _purchase_faults(purchase, at)
        if purchase.lead_days is not None:
            yield from _three_points(purchase.lead_days, f"{at}.lead_days", "days")
        elif purchase.in_stock < purchase.quantity:
            yield Fault(
                f"{at}.lead_days",
                f"{purchase.quantity - purchase.in_stock} of {quoted(purchase.name)} have to come; "
                "state how many days that takes, [low, likely, high].",
            )
    yield from _order_faults(candidate, crews, place)


def _purchase_faults(purchase: Purchase, place: str) -> Iterator[Fault]:
    if purchase.spares > purchase.quantity:
        yield Fault(
            f"{place}.spares",
            f"{purchase.spares} of {quoted(purchase.name)} are spares, but there are only "
            f"{purchase.quantity}; the quantity counts the spares too.",
            given=purchase.spares,
            limit=f"{purchase.quantity} at most",
        )
    express = purchase.express
    if express is None:
        return
    yield from _three_points(express.lead_days, f"{place}.express.lead_days", "days")
    usual = purchase.lead_days
    if usual is not None and express.lead_days[1] >= usual[1]:
        yield Fault(
            f"{place}.express.lead_days",
            f"Express takes {express.lead_days[1]:g} days, the usual way {usual[1]:g}; express "
            "has to be quicker.",
            given=float(express.lead_days[1]),
            limit=f"below {usual[1]:g} days, likely",
        )


def _three_points(values: Sequence[float], place: str, unit: str) -> Iterator[Fault]:
    if any(first > second for first, second in pairwise(values)):
        listed = ", ".join(f"{value:g}" for value in values)
        yield Fault(
            place,
            f"The three figures stand as low, likely, high; [{listed}] {unit} do not rise.",
            given=listed,
            limit="low ≤ likely ≤ high",
        )


def _order_faults(candidate: Candidate, crews: Mapping[str, int], place: str) -> Iterator[Fault]:
    """Yield a fault where tasks wait for each other in a ring, crews' lists included.

    A crew of one pair of hands does its tasks one after another, so each waits for the one listed
    before it. A larger crew only must not list a task before one that it has to follow.
    """
    waits = {task.key: list(task.after) for task in candidate.tasks}
    in_crew: dict[str, list[str]] = {}
    for task in candidate.tasks:
        in_crew.setdefault(task.crew, []).append(task.key)
    for crew, keys in in_crew.items():
        if crews.get(crew, 1) == 1:
            for before, key in pairwise(keys):
                waits[key].append(before)
    ring = _ring(waits) or _ring_by_listing(candidate, in_crew)
    if ring:
        chain = " → ".join(ring)
        yield Fault(
            f"{place}.tasks",
            f"These tasks wait for each other: {chain}. Change the order of a crew's tasks or "
            "what comes after what.",
            given=chain,
            limit="no loop",
        )


def _ring_by_listing(candidate: Candidate, in_crew: Mapping[str, list[str]]) -> list[str]:
    """Return the loop that one crew's listing closes against the predecessors, or nothing."""
    after = {task.key: list(task.after) for task in candidate.tasks}
    for keys in in_crew.values():
        for position, key in enumerate(keys):
            follows = _all_before(key, after)
            for later in keys[position + 1 :]:
                if later in follows:
                    return _ring({**after, later: [*after[later], key]})
    return []


def _all_before(key: str, after: Mapping[str, list[str]]) -> set[str]:
    """Return every task that has to end before one starts, directly or through others."""
    found: set[str] = set()
    open_keys = [key]
    while open_keys:
        for other in after.get(open_keys.pop(), ()):
            if other not in found:
                found.add(other)
                open_keys.append(other)
    return found


def _ring(waits: dict[str, list[str]]) -> list[str]:
    """Return the keys of one loop, first to first, or nothing."""
    done: set[str] = set()
    for start, others_of_start in waits.items():
        path: list[str] = []
        stack: list[tuple[str, Iterator[str]]] = [(start, iter(others_of_start))]
        while stack:
            key, others = stack[-1]
            if not path or path[-1] != key:
                path.append(key)
            other = next((one for one in others if one in waits and one not in done), None)
            if other is None:
                done.add(key)
                path.pop()
                stack.pop()
            elif other in path:
                return [*path[path.index(other) :], other][::-1]
            else:
                stack.append((other, iter(waits[other])))
    return []


def schedule_faults(study: Study) -> Iterator[Fault]:
    """Yield the faults of the calendar."""
    schedule = study.schedule
    if schedule is None:
        return
    if schedule.ready_by < schedule.start:
        yield Fault(
            "schedule.ready_by",
            f"Ready by {schedule.ready_by} lies before the start, {schedule.start}.",
            given=str(schedule.ready_by),
            limit=f"{schedule.start} or later",
        )
    if not schedule.meetings and not schedule.extra:
        yield Fault("schedule.meetings", "The calendar has no meeting; state at least one.")
    given_up = schedule.give_up_base_on
    if given_up is not None and given_up < schedule.start:
        yield Fault(
            "schedule.give_up_base_on",
            f"The old base is given up on {given_up}, before work begins on {schedule.start}.",
            given=str(given_up),
            limit=f"{schedule.start} or later",
        )
    yield from repeated(schedule.gates, "schedule.gates", lambda one: one.name, "name")
    keys = list(dict.fromkeys(task.key for one in study.candidates for task in one.tasks))
    for index, gate in enumerate(schedule.gates):
        for position, key in enumerate(gate.tasks):
            place = f"schedule.gates[{index}].tasks[{position}]"
            if key not in keys:
                yield unknown(place, key, keys, "task with the key")
            elif key in gate.tasks[:position]:
                yield Fault(
                    place,
                    f"The gate names the task {quoted(key)} twice; name it once.",
                    given=key,
                )


def decision_faults(study: Study) -> Iterator[Fault]:
    """Yield the faults of gates and criteria."""
    decision = study.decision
    if decision is None:
        return
    known = list(METRICS)
    for index, gate in enumerate(decision.gates):
        if gate.metric not in known:
            yield unknown(f"decision.gates[{index}].metric", gate.metric, known, "figure")
        yield from _gate_faults(gate, f"decision.gates[{index}]")
    yield from _criterion_faults(decision, known)


def _gate_faults(gate: Gate, place: str) -> Iterator[Fault]:
    if gate.at_least is None and gate.at_most is None and gate.is_ is None:
        yield Fault(place, "A gate needs at_least, at_most or is.", limit="at_least, at_most, is")
    elif gate.at_least is not None and gate.at_most is not None and gate.at_least > gate.at_most:
        yield Fault(
            f"{place}.at_least",
            f"No figure is at least {gate.at_least:g} and at most {gate.at_most:g}.",
            given=float(gate.at_least),
            limit=f"{gate.at_most:g} at most",
        )


def _criterion_faults(decision: Decision, known: Sequence[str]) -> Iterator[Fault]:
    for index, criterion in enumerate(decision.criteria):
        place = f"decision.criteria[{index}]"
        if criterion.metric not in known:
            yield unknown(f"{place}.metric", criterion.metric, known, "figure")
        if criterion.worst == criterion.best:
            yield Fault(
                f"{place}.best",
                f"Worst and best are both {criterion.best:g}; the score runs between two figures.",
                given=float(criterion.best),
                limit="another figure than worst",
            )
    if decision.criteria and not any(criterion.weight > 0 for criterion in decision.criteria):
        yield Fault("decision.criteria", "All weights are 0; give at least one criterion a weight.")
