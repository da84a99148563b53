"""Tasks, crews and parts, against a plain schedule of one run at a time."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.schedule import (
    LoopError,
    Plan,
    Runs,
    chain_shares,
    finish_times,
    least_tails,
    simulate,
    work_order,
)

LONGEST = 20


class Case(NamedTuple):
    """A plan with whole durations and part times, shape (tasks or purchases, runs)."""

    plan: Plan
    durations: np.ndarray
    usable: np.ndarray


@st.composite
def cases(draw: st.DrawFn, hands: int = 3, runs: int = 3) -> Case:
    """Plans in which tasks only follow tasks listed before them, so that no loop can be."""
    count, crews, parts = draw(st.integers(1, 9)), draw(st.integers(1, 3)), draw(st.integers(0, 3))
    indices = st.integers(0, max(parts - 1, 0))
    plan = Plan(
        crews=tuple(draw(st.integers(0, crews - 1)) for _ in range(count)),
        hands=tuple(draw(st.integers(1, hands)) for _ in range(crews)),
        after=tuple(
            tuple(sorted(draw(st.sets(st.integers(0, task - 1), max_size=2)))) if task else ()
            for task in range(count)
        ),
        needs=tuple(
            tuple(sorted(draw(st.sets(indices, max_size=2)))) if parts else () for _ in range(count)
        ),
    )
    times = st.lists(st.integers(0, LONGEST), min_size=runs, max_size=runs)
    return Case(
        plan,
        np.array([draw(times) for _ in range(count)], dtype=np.int64).reshape(count, runs),
        np.array([draw(times) for _ in range(parts)], dtype=np.int64).reshape(parts, runs),
    )


def scheduled(case: Case) -> Runs:
    order = work_order(case.plan)
    return simulate(case.plan, durations=case.durations, usable=case.usable, order=order)


def by_hand(case: Case, run: int) -> tuple[list[int], list[int]]:
    """One run, task by task in the listed order: the hand free first takes the next task."""
    plan = case.plan
    free = [[0] * hands for hands in plan.hands]
    starts, ends = [], []
    for task, crew in enumerate(plan.crews):
        waits = [min(free[crew])]
        waits += [ends[before] for before in plan.after[task]]
        waits += [int(case.usable[need, run]) for need in plan.needs[task]]
        starts.append(max(waits))
        ends.append(starts[-1] + int(case.durations[task, run]))
        free[crew][free[crew].index(min(free[crew]))] = ends[-1]
    return starts, ends


@settings(deadline=None, max_examples=80)
@given(cases())
def test_every_run_is_that_of_a_schedule_by_hand(case: Case) -> None:
    runs = scheduled(case)
    for run in range(case.durations.shape[1]):
        starts, ends = by_hand(case, run)
        assert runs.starts[:, run].tolist() == starts
        assert runs.ends[:, run].tolist() == ends


@settings(deadline=None, max_examples=80)
@given(cases(), st.integers(0, 30))
def test_the_quick_way_ends_alike(case: Case, begin: int) -> None:
    order = work_order(case.plan)
    whole = simulate(
        case.plan, durations=case.durations, usable=case.usable, order=order, not_before=begin
    )
    quick = finish_times(
        case.plan, durations=case.durations, usable=case.usable, order=order, not_before=begin
    )
    assert quick.tolist() == whole.ends.max(axis=0).tolist()
    assert np.all(whole.starts >= begin)


@settings(deadline=None, max_examples=80)
@given(cases(), st.integers(0, 8), st.integers(0, LONGEST))
def test_more_hours_or_a_later_part_make_nothing_earlier(case: Case, which: int, more: int) -> None:
    before = scheduled(case)
    longer = case.durations.copy()
    longer[which % len(longer)] += more
    assert np.all(scheduled(case._replace(durations=longer)).ends >= before.ends)
    if len(case.usable):
        later = case.usable.copy()
        later[which % len(later)] += more
        assert np.all(scheduled(case._replace(usable=later)).ends >= before.ends)


@settings(deadline=None, max_examples=80)
@given(cases(), st.integers(0, 8))
def test_one_more_hand_makes_nothing_later(case: Case, which: int) -> None:
    hands = list(case.plan.hands)
    hands[which % len(hands)] += 1
    more = case._replace(plan=case.plan._replace(hands=tuple(hands)))
    assert np.all(scheduled(more).starts <= scheduled(case).starts)


@settings(deadline=None, max_examples=80)
@given(cases(), st.integers(0, LONGEST))
def test_no_end_moves_by_more_than_what_was_moved_most(case: Case, more: int) -> None:
    """What the search for latest dates leans on."""
    later = case._replace(usable=case.usable + more)
    order = work_order(case.plan)
    begun = simulate(
        later.plan, durations=later.durations, usable=later.usable, order=order, not_before=more
    )
    assert np.all(begun.ends <= scheduled(case).ends + more)


@settings(deadline=None, max_examples=80)
@given(cases())
def test_no_tail_is_longer_than_what_follows(case: Case) -> None:
    runs = scheduled(case)
    tails = least_tails(case.plan, durations=case.durations, order=work_order(case.plan))
    assert np.all(runs.starts + tails <= runs.ends.max(axis=0))


@settings(deadline=None, max_examples=80)
@given(cases(runs=1))
def test_the_chain_reaches_from_the_start_or_a_part_to_the_end(case: Case) -> None:
    """Durations of the chain from its last part on add up to what is left until the end."""
    runs, order = scheduled(case), work_order(case.plan)
    chain = chain_shares(case.plan, runs, usable=case.usable, order=order)
    on = [task for task, share in enumerate(chain.tasks) if share == 1.0]
    assert runs.ends.max() in [runs.ends[task, 0] for task in on]
    for task in on:
        start = runs.starts[task, 0]
        causes = [runs.ends[other, 0] for other in on]
        causes += [case.usable[part, 0] for part, share in enumerate(chain.purchases) if share]
        assert start == 0 or start in causes


def chain_of(count: int) -> Plan:
    return Plan(
        crews=tuple(range(count)),
        hands=(1,) * count,
        after=((), *((task,) for task in range(count - 1))),
        needs=((0,), *((),) * (count - 1)),
    )


def test_the_shares_of_a_pure_chain_are_one() -> None:
    draw = np.random.default_rng(1)
    durations = draw.integers(1, 100, (5, 1000))
    usable = draw.integers(1, 100, (1, 1000))
    plan = chain_of(5)
    runs = simulate(plan, durations=durations, usable=usable, order=work_order(plan))
    chain = chain_shares(plan, runs, usable=usable, order=work_order(plan))
    assert chain.tasks.tolist() == [1.0] * 5
    assert chain.purchases.tolist() == [1.0]


def test_of_two_equal_ways_the_shares_are_halves() -> None:
    draw = np.random.default_rng(2)
    plan = Plan(crews=(0, 1, 2), hands=(1, 1, 1), after=((), (), (0, 1)), needs=((), (), ()))
    durations = draw.integers(1, 10**9, (3, 20_000))
    usable = np.zeros((0, 20_000), dtype=np.int64)
    runs = simulate(plan, durations=durations, usable=usable, order=work_order(plan))
    chain = chain_shares(plan, runs, usable=usable, order=work_order(plan))
    assert chain.tasks == pytest.approx([0.5, 0.5, 1.0], abs=0.02)


def test_a_crew_of_one_is_part_of_the_chain() -> None:
    plan = Plan(crews=(0, 0), hands=(1,), after=((), ()), needs=((), ()))
    runs = simulate(
        plan, durations=np.array([[3], [4]]), usable=np.zeros((0, 1), dtype=np.int64), order=(0, 1)
    )
    chain = chain_shares(plan, runs, usable=np.zeros((0, 1), dtype=np.int64), order=(0, 1))
    assert chain.tasks.tolist() == [1.0, 1.0]


def test_with_two_hands_the_chain_goes_back_over_the_one_free_first() -> None:
    plan = Plan(crews=(0, 0, 0), hands=(2,), after=((), (), ()), needs=((), (), ()))
    durations = np.array([[9], [3], [8]])
    usable = np.zeros((0, 1), dtype=np.int64)
    runs = simulate(plan, durations=durations, usable=usable, order=(0, 1, 2))
    chain = chain_shares(plan, runs, usable=usable, order=(0, 1, 2))
    assert runs.starts[:, 0].tolist() == [0, 0, 3]
    assert chain.tasks.tolist() == [0.0, 1.0, 1.0]


def test_two_parts_for_one_meeting_share_the_blame() -> None:
    plan = Plan(crews=(0,), hands=(1,), after=((),), needs=((0, 1),))
    usable = np.array([[7], [7]])
    runs = simulate(plan, durations=np.array([[1]]), usable=usable, order=(0,))
    chain = chain_shares(plan, runs, usable=usable, order=(0,))
    assert chain.purchases.tolist() == [1.0, 1.0]


class TestLoops:
    def test_tasks_that_wait_for_each_other(self) -> None:
        plan = Plan(crews=(0, 1, 2), hands=(1,) * 3, after=((2,), (0,), (1,)), needs=((),) * 3)
        with pytest.raises(LoopError) as error:
            work_order(plan)
        assert error.value.loop[0] == error.value.loop[-1]
        assert set(error.value.loop) == {0, 1, 2}

    def test_a_crew_of_one_listed_against_its_predecessors(self) -> None:
        plan = Plan(crews=(0, 0), hands=(1,), after=((1,), ()), needs=((), ()))
        with pytest.raises(LoopError) as error:
            work_order(plan)
        assert error.value.loop in ((0, 1, 0), (1, 0, 1))

    def test_the_loop_names_each_before_the_one_that_waits_for_it(self) -> None:
        plan = Plan(crews=(0, 1, 1), hands=(1, 1), after=((2,), (0,), ()), needs=((),) * 3)
        with pytest.raises(LoopError) as error:
            work_order(plan)
        assert set(error.value.loop) == {0, 1, 2}

    def test_two_crews_of_two_may_wait_across(self) -> None:
        """Each takes its second task with its second hand, so nobody waits for ever."""
        plan = Plan(crews=(0, 0, 1, 1), hands=(2, 2), after=((3,), (), (1,), ()), needs=((),) * 4)
        durations = np.array([[1], [2], [3], [4]])
        usable = np.zeros((0, 1), dtype=np.int64)
        runs = simulate(plan, durations=durations, usable=usable, order=work_order(plan))
        assert runs.starts[:, 0].tolist() == [4, 0, 2, 0]
