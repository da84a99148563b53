"""Decisions: written, looked over, put on record, kept as they were, compared with outcomes."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from sqlalchemy import text
from starlette.testclient import TestClient

from models.services import (
    call_for_ballots,
    cast_ballot,
    close_ballots,
    create_study,
    decision_of_state,
    decision_record,
    list_decisions,
    load_study,
    save_sections,
)
from models.study.canonical import document_hash
from models.trade.choosing import lead_of
from webapp.app import create_app, page_routers
from webapp.settings import Settings

DECISION = {
    "gates": [{"metric": "mass_kg", "at_most": 1000.0}],
    "criteria": [
        {"metric": "sprint_stop_time_s", "weight": 3, "worst": 3.0, "best": 1.5},
        {"metric": "push_force_n", "weight": 2, "worst": 100.0, "best": 800.0},
    ],
}
TODAY = dt.datetime.now(dt.UTC).date()
LATER = TODAY + dt.timedelta(days=60)
WORDS = {
    "reasons": "It is quicker.\nIt fits.",
    "weights_why": "Cycles win matches.",
    "dissent": "Lee would rather keep it.",
    "reconsider": "If the modules come late.",
    "reconsider_by": LATER.isoformat(),
    "owner": "Ines",
    "decided_on": TODAY.isoformat(),
    "round": "",
    "revision": "1",
}


@pytest.fixture
def study_id(app: FastAPI, client: TestClient, document: dict[str, Any]) -> str:
    """A study with gates and criteria, and a mass whose range matters."""
    state = create_study(
        app.state.store, {**document, "decision": DECISION}, author="Ines", note=""
    )
    return state.study_id


@pytest.fixture
def keys(document: dict[str, Any]) -> list[str]:
    return [one["key"] for one in document["candidates"]]


def send(forms: Any, study_id: str, step: str, choice: str, **changes: str) -> Any:
    sent = {**WORDS, "choice": choice, **changes}
    return forms.send(f"/studies/{study_id}/decisions/{step}", sent)


def on_record(forms: Any, study_id: str, choice: str, **changes: str) -> str:
    answer = send(forms, study_id, "record", choice, **changes)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


@pytest.fixture
def address(forms: Any, study_id: str, keys: list[str]) -> str:
    """The page of a decision on record."""
    return on_record(forms, study_id, keys[1], once="k")


def closed_round(app: FastAPI, study_id: str, keys: list[str], name: str = "Mara") -> str:
    store = app.state.store
    found, _ = call_for_ballots(store, study_id, title="Which base?", author="Ines")
    for voter, points, preference in ((name, 90.0, keys[1]), ("Lee", 5.0, keys[0])):
        cast_ballot(
            store,
            found.id,
            name=voter,
            weights={"sprint_stop_time_s": 100.0, "push_force_n": points},
            preference=preference,
            reason=f"{name} says so.",
        )
    close_ballots(store, study_id, found.id, author="Ines")
    return found.id


def payload_of(app: FastAPI, address: str) -> Any:
    _, _, study_id, _, record_id = address.split("/")
    return decision_record(app.state.store, study_id, record_id).payload


def test_the_form_begins_with_the_leader_and_what_would_turn_it(
    app: FastAPI, client: TestClient, study_id: str
) -> None:
    page = client.get(f"/studies/{study_id}/decisions").text
    assert "No decision is on record yet" in page
    assert re.search(r'name="choice" value="[\w-]+" checked', page)
    lead = lead_of(decision_of_state(app.state.store, load_study(app.state.store, study_id)))
    assert lead is not None
    assert ("a tie with" in page) == bool(lead.ties)
    assert "Keep" in page


def test_a_review_says_what_is_frozen_and_records_nothing(
    app: FastAPI, forms: Any, study_id: str, keys: list[str]
) -> None:
    page = send(forms, study_id, "review", keys[1]).text
    state = load_study(app.state.store, study_id)
    for words in ("Put this on record?", "Revision 1", state.revision.hash[:16], "No ballots"):
        assert words in page
    assert "Lee would rather keep it." in page
    assert list_decisions(app.state.store, study_id) == []


def test_from_the_review_one_goes_back_with_everything_typed(
    forms: Any, study_id: str, keys: list[str]
) -> None:
    page = send(forms, study_id, "review", keys[1], edit="yes").text
    for words in ("It is quicker.\nIt fits.", "Cycles win", "Lee would", f'value="{LATER}"'):
        assert words in page
    assert f'value="{keys[1]}" checked' in page


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("choice", "boat", "Choose what was decided."),
        ("reasons", " ", "Give the reasons"),
        ("reasons", "x" * 5000, "4000 characters at most; this has 5000."),
        ("reconsider", "", "Say what would make the team reconsider"),
        ("reconsider_by", "", "Give the day by which the team looks at it again"),
        ("reconsider_by", "soon", "such as 2027-02-13"),
        ("reconsider_by", "2020-01-01", "lies before the decision"),
        ("decided_on", "31.12.2026", "Give the day of the decision"),
        ("decided_on", "2199-01-01", "lies ahead"),
        ("owner", "", "Name who looks after this decision."),
        ("owner", "y" * 80, "one name of at most 60"),
        ("round", "nothing", "Choose a round of ballots that is closed"),
    ],
)
@pytest.mark.parametrize("step", ["review", "record"])
def test_a_fault_records_nothing_and_keeps_everything_typed(  # noqa: PLR0917
    app: FastAPI,
    forms: Any,
    study_id: str,
    keys: list[str],
    step: str,
    field: str,
    value: str,
    words: str,
) -> None:
    changes = {"choice": keys[1], field: value}
    answer = send(forms, study_id, step, **changes)
    assert answer.status_code == 422
    assert words in answer.text
    assert "<title>Error: " in answer.text
    assert f'href="#{field}"' in answer.text and f'id="{field}"' in answer.text
    assert "Lee would rather keep it." in answer.text
    if value.strip() and field not in {"choice", "round"}:
        assert value in answer.text
    assert list_decisions(app.state.store, study_id) == []


def test_a_round_that_is_open_does_not_count_yet(
    app: FastAPI, forms: Any, study_id: str, keys: list[str]
) -> None:
    found, _ = call_for_ballots(app.state.store, study_id, title="Open", author="")
    answer = send(forms, study_id, "record", keys[1], round=found.id)
    assert answer.status_code == 422


@pytest.mark.parametrize("revision", ["", "x", "7", "1" * 40])
def test_a_revision_that_is_not_there_is_refused(
    forms: Any, study_id: str, keys: list[str], revision: str
) -> None:
    assert send(forms, study_id, "record", keys[1], revision=revision).status_code == 404


def test_a_double_press_records_once(
    app: FastAPI, forms: Any, study_id: str, keys: list[str], address: str
) -> None:
    assert on_record(forms, study_id, keys[1], once="k") == address
    assert len(list_decisions(app.state.store, study_id)) == 1


def test_a_record_reads_from_summary_to_sources(
    app: FastAPI, client: TestClient, forms: Any, study_id: str, keys: list[str]
) -> None:
    found = closed_round(app, study_id, keys)
    address = on_record(forms, study_id, keys[1], round=found)
    page = client.get(address).text
    headings = re.findall(r"<h2[^>]*>([^<]+)</h2>", page)
    assert headings[:10] == [
        "Summary",
        "The question",
        "The alternatives",
        "Gates, criteria, weights and why",
        "The scores",
        "The matrix",
        "Risks",
        "Recommendation and decision",
        "Dissent",
        "Where the figures come from",
    ]
    for words in (
        "It is quicker.\nIt fits.",
        "Cycles win matches.",
        "If the modules come late.",
        "Mara says so.",
        "Split, 85 points apart: Mara gives 90, Lee gives 5.",
        "First, over the ballots",
        "✓ content has its hash",
        list_decisions(app.state.store, study_id)[0].hash[:16],
    ):
        assert words in page
    frozen = payload_of(app, address)
    assert [one["name"] for one in frozen["ballots"]["voters"]] == ["Mara", "Lee"]
    assert frozen["decision"]["ballots"]["voters"][0]["winner"] in keys


def test_ballots_on_other_criteria_are_listed_and_not_weighed(
    app: FastAPI, client: TestClient, forms: Any, study_id: str, keys: list[str]
) -> None:
    found = closed_round(app, study_id, keys)
    criteria = [*DECISION["criteria"], {"metric": "mass_kg", "weight": 1, "worst": 90, "best": 40}]
    save_sections(
        app.state.store,
        study_id,
        base_revision=1,
        edits={"decision": {**DECISION, "criteria": criteria}},
        author="",
        note="",
    )
    review = send(forms, study_id, "review", keys[1], round=found, revision="2").text
    assert "cast on revision 1" in review
    assert "not counted into the scores" in review
    address = on_record(forms, study_id, keys[1], round=found, revision="2")
    assert payload_of(app, address)["decision"]["ballots"] is None
    assert "not counted into the scores" in client.get(address).text


def test_keeping_todays_base_is_a_decision_too(
    client: TestClient, forms: Any, study_id: str, keys: list[str], document: dict[str, Any]
) -> None:
    baseline = next(one["key"] for one in document["candidates"] if one.get("baseline"))
    page = client.get(on_record(forms, study_id, baseline)).text
    assert re.search(r"<h1>Keep today&#39;s base: |<h1>Keep today's base: ", page)
    assert "The team keeps" in page


def cells(page: str) -> list[str]:
    """The tables and words of a record, whatever stands around them."""
    return re.findall(r'(?s)<article class="record">.*?</article>', page)


def test_later_changes_of_study_and_catalogue_change_no_record(
    app: FastAPI,
    client: TestClient,
    study_id: str,
    address: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = cells(client.get(address).text)
    state = load_study(app.state.store, study_id)
    first = state.document["candidates"][1]
    changed = {**first, "name": "Renamed", "drive": {**first["drive"], "ratio": 20.0}}
    save_sections(
        app.state.store,
        study_id,
        base_revision=1,
        edits={f"candidates/{first['key']}": changed},
        author="",
        note="",
    )

    def never(*args: object, **options: object) -> None:
        raise AssertionError("a record is shown from what was frozen")

    for name in ("decision_payload", "decisions_context"):
        monkeypatch.setattr(f"webapp.pages.decisions.routes.{name}", never)
    monkeypatch.setattr("models.services.whole.joined_evaluation", never)
    monkeypatch.setattr("models.trade.choosing.decide", never)
    assert before
    assert cells(client.get(address).text) == before


def test_a_record_whose_text_was_altered_says_so(
    app: FastAPI, client: TestClient, address: str
) -> None:
    record_id = address.rsplit("/", 1)[1]
    with app.state.store.writing() as session:
        trigger = "select name, sql from sqlite_master where type = 'trigger'"
        for name, sql in session.execute(text(trigger)).all():
            if "decision_record" in sql:
                session.execute(text(f'drop trigger "{name}"'))
        session.execute(
            text("update decision_record set payload = replace(payload, 'quicker', 'slower')")
        )
    page = client.get(address).text
    assert "✕ content does not have its hash" in page
    assert client.get(f"{address}/record.json").json()["intact"] is False
    assert record_id in address


def test_the_files_hold_the_record(app: FastAPI, client: TestClient, address: str) -> None:
    data = client.get(f"{address}/record.json")
    assert "attachment" in data.headers["content-disposition"]
    content = data.json()
    assert content["sha256"] == document_hash(content["record"])
    assert content["record"] == json.loads(json.dumps(dict(payload_of(app, address))))
    answer = client.get(f"{address}/record.html")
    page = answer.text
    assert "<script" not in page
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!#)""", page)
    assert "<style>" in page and "url(" not in page
    policy = answer.headers["content-security-policy"]
    assert "unsafe-inline" not in policy and "style-src 'sha256-" in policy
    assert "It is quicker." in page


BAD = "</textarea><script>alert(1)</script>"


def test_what_was_typed_is_escaped_everywhere(
    app: FastAPI, client: TestClient, forms: Any, study_id: str, keys: list[str]
) -> None:
    words = dict.fromkeys(("reasons", "weights_why", "dissent", "reconsider", "owner"), BAD)
    found = closed_round(app, study_id, keys, name="<script>alert(1)</script>")
    review = send(forms, study_id, "review", keys[1], round=found, **words)
    address = on_record(forms, study_id, keys[1], round=found, **words)
    forms.send(f"{address}/outcomes", {"words": BAD})
    pages = [review.text, client.get(address).text, client.get(f"{address}/record.html").text]
    pages.append(client.get(f"/studies/{study_id}/decisions").text)
    for page in pages:
        assert "<script>alert(1)" not in page


def measure(forms: Any, address: str, **changes: str) -> Any:
    sent = {"metric": "", "candidate": "", "measured": "", "words": "", "form_units": "si"}
    return forms.send(f"{address}/outcomes", {**sent, **changes})


def test_an_outcome_stands_beside_what_was_predicted(
    app: FastAPI, client: TestClient, forms: Any, address: str, keys: list[str]
) -> None:
    frozen = payload_of(app, address)
    predicted = frozen["candidates"][1]["metrics"]["mass_kg"]
    for _ in range(2):
        answer = measure(
            forms, address, metric="mass_kg", candidate=keys[1], measured="150 lb", once="k"
        )
        assert answer.status_code == 303
    outcomes = client.get(f"{address}/record.json").json()["outcomes"]
    assert [one["measured"] for one in outcomes] == [pytest.approx(68.0389, abs=1e-3)]
    page = client.get(address).text
    assert "What came of it" in page
    assert f"{predicted:.1f}" in page and "68.0" in page
    assert re.search(r"[\d.]+\W*kg \(\d+%\) (more|less)", page)


def test_a_bare_number_is_in_the_unit_that_the_form_showed(
    client: TestClient, forms: Any, address: str, keys: list[str]
) -> None:
    for units in ("si", "inch-pound"):
        measure(
            forms, address, metric="mass_kg", candidate=keys[1], measured="100", form_units=units
        )
    outcomes = client.get(f"{address}/record.json").json()["outcomes"]
    assert [round(one["measured"], 2) for one in outcomes] == [100.0, 45.36]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "Type what was measured, or a remark."),
        ({"measured": "12"}, "Choose the figure that was measured."),
        ({"measured": "12", "metric": "fits"}, "Choose the figure that was measured."),
        ({"measured": "heavy", "metric": "mass_kg"}, "is not a mass"),
        ({"measured": "12 V", "metric": "mass_kg"}, "is not a mass"),
        ({"measured": "5", "metric": "mass_kg", "candidate": "boat"}, "Choose the candidate"),
        ({"words": "z" * 1200}, "this has 1200"),
    ],
)
def test_an_outcome_that_cannot_be_is_not_added_and_not_lost(  # noqa: PLR0917
    client: TestClient,
    forms: Any,
    address: str,
    keys: list[str],
    changes: dict[str, str],
    words: str,
) -> None:
    answer = measure(forms, address, **{"candidate": keys[1], **changes})
    assert answer.status_code == 422
    assert words in answer.text
    for typed in changes.values():
        assert typed in answer.text or typed == "boat"
    assert client.get(f"{address}/record.json").json()["outcomes"] == []


def test_a_record_belongs_to_its_study(
    client: TestClient, forms: Any, study_id: str, address: str
) -> None:
    other = forms.send(f"/studies/{study_id}/duplicate").headers["location"]
    record_id = address.rsplit("/", 1)[1]
    assert client.get(f"{other}/decisions/{record_id}").status_code == 404
    assert client.get(f"{other}/decisions/{record_id}/record.json").status_code == 404
    assert forms.send(f"{other}/decisions/{record_id}/outcomes", {"words": "x"}).status_code == 404


def post_paths() -> list[str]:
    """Every address that takes more than a look."""
    writing = {"POST", "PUT", "PATCH", "DELETE"}
    routes = [route for router in page_routers() for route in router.routes]
    return sorted(
        {
            one.path
            for one in routes
            if isinstance(one, APIRoute) and writing & (one.methods or set())
        }
    )


@pytest.fixture
def forgiving(app: FastAPI, client: TestClient) -> Iterator[TestClient]:
    """A browser that takes any answer, over the same store."""
    yield TestClient(
        app, base_url="http://localhost", follow_redirects=False, raise_server_exceptions=False
    )


def test_no_route_changes_a_record(  # noqa: PLR0917
    app: FastAPI,
    forms: Any,
    forgiving: TestClient,
    study_id: str,
    keys: list[str],
    address: str,
) -> None:
    record_id = address.rsplit("/", 1)[1]

    def stored() -> Any:
        with app.state.store.reading() as session:
            query = text("select * from decision_record where id = :id")
            return session.execute(query, {"id": record_id}).all()

    before = stored()
    assert len(before) == 1
    token = forms.token()
    forgiving.cookies = forms.client.cookies
    paths = post_paths()
    assert len(paths) > 20
    assert "/studies/{study_id}/decisions/{record_id}/outcomes" in paths
    for path in paths:
        filled = path.replace("{study_id}", study_id).replace("{key}", keys[1])
        filled = re.sub(r"\{\w+\}", record_id, filled)
        sent = {
            "csrf_token": token, **WORDS, "choice": keys[0], "once": "k", "record": record_id,
            "record_id": record_id, "id": record_id, "words": "Changed", "reasons": "Changed",
        }  # fmt: skip
        forgiving.post(filled, data=sent)
        for method in ("PUT", "PATCH", "DELETE"):
            answer = forgiving.request(method, filled, headers={"x-csrf-token": token})
            assert answer.status_code in {403, 404, 405, 422}, (method, filled)
    assert stored() == before
    assert [one.words for one in outcomes_of(app, address)] == ["Changed"]


def outcomes_of(app: FastAPI, address: str) -> Any:
    _, _, study_id, _, record_id = address.split("/")
    return decision_record(app.state.store, study_id, record_id).outcomes


def test_figures_read_in_inch_pound(client: TestClient, address: str) -> None:
    assert "lbf" not in cells(client.get(address).text)[0]
    client.cookies.set("units", "inch-pound")
    assert "lbf" in cells(client.get(address).text)[0]


def test_a_study_without_criteria_can_decide_too(
    app: FastAPI, client: TestClient, forms: Any, document: dict[str, Any], keys: list[str]
) -> None:
    document.pop("decision", None)
    bare = create_study(app.state.store, document, author="", note="").study_id
    assert client.get(f"/studies/{bare}/decisions").status_code == 200
    page = client.get(on_record(forms, bare, keys[1])).text
    assert "There are no criteria." in page
    assert "No single weight" in page


def test_records_outlive_the_server(
    app: FastAPI, client: TestClient, settings: Settings, address: str
) -> None:
    before = cells(client.get(address).text)
    with TestClient(create_app(settings), base_url="http://localhost") as again:
        assert cells(again.get(address).text) == before
