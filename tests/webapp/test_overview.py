"""The overview: verdict first, then figures side by side, ties and gaps in words."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from typing import Any
from uuid import uuid4

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.quantities import METRICS
from models.seed import example_document
from models.services import StudyState, create_study, evaluation_of, load_study
from models.units import UnitSystem
from webapp.shared.candidates import CandidateMark
from webapp.shared.comparison.context import (
    SHOWN_AT_MOST,
    RowView,
    comparison_context,
    shown_keys,
)
from webapp.shared.comparison.meanings import MEANINGS, meaning_of
from webapp.shared.links import StudyLinks


@pytest.fixture
def state(app: FastAPI, study_id: str) -> StudyState:
    return load_study(app.state.store, study_id)


@pytest.fixture
def payload(app: FastAPI, state: StudyState) -> dict[str, Any]:
    return evaluation_of(app.state.store, state)


def context(payload: dict[str, Any], state: StudyState, **options: Any) -> dict[str, Any]:
    """The comparison of figures that a test may have changed, so under a hash of their own."""
    wanted: dict[str, Any] = {"show": None, "only": False, **options}
    system = wanted.pop("system", UnitSystem.SI)
    changed = replace(state, revision=replace(state.revision, hash=uuid4().hex))
    return comparison_context(payload, changed, StudyLinks.for_study("s1"), system, **wanted)


def row(shown: dict[str, Any], key: str) -> RowView:
    return next(row for group in shown["groups"] for row in group.rows if row.key == key)


def words_of(page: str) -> str:
    text = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", unescape(text))


def test_every_figure_says_how_it_is_computed_and_what_it_leaves_out() -> None:
    assert set(METRICS) <= set(MEANINGS)
    assert all(meaning.how and meaning.leaves_out for meaning in MEANINGS.values())


def test_every_row_of_a_study_has_its_meaning(payload: dict[str, Any], state: StudyState) -> None:
    rows = [row for group in context(payload, state)["groups"] for row in group.rows]
    assert [row.meaning for row in rows] == [meaning_of(row.key) for row in rows]


def test_the_verdict_stands_before_the_table(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}").text
    assert 0 < page.index("verdict-lead") < page.index("<table")


def test_no_failure_is_folded_away(payload: dict[str, Any], state: StudyState) -> None:
    shown = context(payload, state)
    assert [sentence.kind for sentence in shown["leads"]] == ["lead"]
    assert "bad" in [sentence.kind for sentence in shown["remarks"]]
    assert "bad" not in [sentence.kind for sentence in shown["more_remarks"]]


def test_the_questions_are_the_groups_of_the_table(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}").text
    asked = re.findall(r'<th scope="rowgroup"[^>]*>([^<]+)', page)
    assert asked[:5] == [
        "Does it fit?",
        "Is it quicker?",
        "Will it hold in a shove?",
        "Will the battery take it?",
        "Will it stay upright?",
    ]


def test_a_tie_is_called_a_tie_in_faint_ink(payload: dict[str, Any], state: StudyState) -> None:
    payload["candidates"][0]["metrics"]["turn90_s"] = 0.500
    payload["candidates"][1]["metrics"]["turn90_s"] = 0.512
    cell = row(context(payload, state), "turn90_s").cells[1]
    assert (cell.difference, cell.css) == ("tie", "faint")


def test_a_difference_says_amount_unit_and_direction(
    payload: dict[str, Any], state: StudyState
) -> None:
    for one, time in zip(payload["candidates"], (2.0, 1.5, 3.0, 2.0), strict=False):
        one["metrics"]["sprint_stop_time_s"] = time
    cells = row(context(payload, state), "sprint_stop_time_s").cells
    assert [cell.difference for cell in cells[:3]] == ["", "0.50 s quicker", "1.00 s slower"]
    assert [cell.best for cell in cells[:3]] == [False, True, False]


def test_the_unit_stands_once_in_the_head_of_the_row(
    payload: dict[str, Any], state: StudyState
) -> None:
    speed = row(context(payload, state, system=UnitSystem.INCH_POUND), "top_speed_mps")
    assert speed.unit == "ft/s"
    assert all(re.fullmatch(r"[0-9.]+", cell.text) for cell in speed.cells if not cell.missing)


def test_what_is_missing_says_so(payload: dict[str, Any], state: StudyState) -> None:
    payload["candidates"][1]["metrics"]["worst_clearance_m"] = None
    payload["candidates"][1]["metrics"]["accel_time_s"] = None
    shown = context(payload, state)
    assert row(shown, "worst_clearance_m").cells[1].text == "not given"
    assert row(shown, "accel_time_s").cells[1].text == "none"


def test_a_margin_below_zero_is_marked_and_named(
    payload: dict[str, Any], state: StudyState
) -> None:
    payload["candidates"][1]["metrics"]["worst_clearance_margin_m"] = -0.006
    cell = row(context(payload, state), "worst_clearance_margin_m").cells[1]
    assert (cell.sign, cell.note) == ("✕", "too tight")


def test_only_differences_leaves_out_rows_of_ties(
    payload: dict[str, Any], state: StudyState
) -> None:
    everything, different = context(payload, state), context(payload, state, only=True)
    count = sum(len(group.rows) for group in everything["groups"])
    kept = [row for group in different["groups"] for row in group.rows]
    assert 0 < len(kept) < count
    assert all(row.differs for row in kept)
    assert different["hidden_rows"] == count - len(kept)


def test_the_switch_works_without_scripts(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}", params={"only": "differences"}).text
    assert re.search(r'name="only" value="differences" checked', page)
    assert "rows with ties only are left out" in page


def marks(count: int, baseline: int = 0) -> list[CandidateMark]:
    return [
        CandidateMark(f"k{i}", f"Candidate {i}", "ABCDEFGH"[i], "cand-a", i == baseline, "tank")
        for i in range(count)
    ]


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        (None, ["k0", "k1", "k2", "k3", "k6"]),
        (["k4", "k2"], ["k2", "k4", "k6"]),
        (["unknown"], ["k0", "k1", "k2", "k3", "k6"]),
        (["k6"], ["k6"]),
    ],
)
def test_five_at_most_and_the_baseline_always(asked: list[str] | None, shown: list[str]) -> None:
    assert shown_keys(marks(7, baseline=6), asked) == shown
    assert len(shown) <= SHOWN_AT_MOST


def test_chosen_candidates_are_the_columns(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}", params={"show": ["swerve"]}).text
    assert 'data-columns="2"' in page
    assert re.findall(r'<th scope="col" data-key="([^"]+)"', page) == ["tank", "swerve"]


def test_a_phone_gets_a_choice_of_who_stands_beside_today(
    client: TestClient, study_id: str
) -> None:
    page = client.get(f"/studies/{study_id}", params={"beside": "swerve-tall"}).text
    assert re.search(r'data-key="swerve-tall" class="column column-beside"', page)
    assert re.search(r'<a href="[^"]*beside=swerve[^"]*" data-beside="swerve"', page)


def test_the_table_can_be_read_aloud(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}").text
    table = page[page.index("<table") : page.index("</table>")]
    assert "<caption" in table
    assert 'scope="col"' in table
    assert 'scope="row"' in table
    assert table.count('<svg class="drawing drawing-thumbnail"') == table.count(
        'aria-label="Plan of'
    )


def test_odd_inputs_are_noted_under_the_table(
    client: TestClient, app: FastAPI, document: dict[str, Any]
) -> None:
    document["candidates"][1]["wheels"]["diameter_m"] = 0.0508
    made = create_study(app.state.store, document, author="", note="")
    page = client.get(f"/studies/{made.study_id}").text
    notes = page[page.index("Worth a second look") :]
    assert "50.8 mm" in words_of(notes)


def test_two_units_at_one_address(client: TestClient, study_id: str) -> None:
    client.cookies.set("units", "inch-pound")
    page = words_of(client.get(f"/studies/{study_id}").text)
    assert "ft/s" in page
    assert "m/s" not in page.replace("ft/s", "")


def test_a_viewer_gets_no_editing_control(client: TestClient, link_to: Any) -> None:
    address = f"/shared/{link_to()}"
    page = client.get(address).text
    main = page[page.index("<main") : page.index("</main>")]
    assert "comparison" in main
    assert "/studies/" not in main
    assert 'method="post"' not in main


def test_an_unknown_study_is_not_found(client: TestClient) -> None:
    assert client.get("/studies/none-such").status_code == 404


def test_what_follows_from_the_figures_is_computed_once(
    payload: dict[str, Any], state: StudyState
) -> None:
    links = StudyLinks.for_study("s1")
    one, other = (
        comparison_context(payload, state, links, UnitSystem.SI, show=None, only=False)
        for _ in range(2)
    )
    assert one["table"] is other["table"]
    assert one["groups"] == other["groups"]
    assert one["leads"] is other["leads"]


@pytest.fixture
def example(app: FastAPI, client: TestClient) -> StudyState:
    return create_study(app.state.store, example_document(), author="", note="")


def test_ranges_are_shown_on_request(client: TestClient, example: StudyState) -> None:
    address = f"/studies/{example.study_id}"
    assert "figure-span" not in client.get(address).text
    client.cookies.set("ranges", "shown")
    page = client.get(address).text
    assert 'aria-pressed="true" title="Show beside each figure' in page
    spans = re.findall(r'<span class="figure-span">([^<]+)</span>', page)
    assert len(spans) > 40
    assert all(
        re.match(r"^[\N{MINUS SIGN}\d., ]+ (to|in) |^not in every draw", one) for one in spans
    )


def test_the_choice_of_ranges_is_kept(client: TestClient, example: StudyState) -> None:
    page = client.get(f"/studies/{example.study_id}").text
    token = re.search(r'name="csrf_token" value="([^"]+)"', page)
    assert token is not None
    answer = client.post(
        "/ranges",
        data={"csrf_token": token[1], "ranges": "shown", "next": "/"},
        follow_redirects=False,
    )
    assert answer.status_code == 303
    assert client.cookies["ranges"] == "shown"
