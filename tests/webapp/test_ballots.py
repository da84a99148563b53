"""Calls for ballots, the ballot itself, and what the team sees of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import text
from starlette.testclient import TestClient

from models.services import (
    ballot_round_of,
    ballots_of,
    close_ballots,
    create_study,
    list_ballot_rounds,
    load_study,
    save_sections,
)

CRITERIA = [
    {"metric": "sprint_stop_time_s", "weight": 3, "worst": 3.0, "best": 1.5},
    {"metric": "push_force_n", "weight": 2, "worst": 100.0, "best": 800.0},
    {"metric": "mass_kg", "weight": 1, "worst": 70.0, "best": 40.0},
]
FIRST, SECOND, THIRD = (str(item["metric"]) for item in CRITERIA)


@pytest.fixture
def study_id(app: FastAPI, client: TestClient, document: dict[str, Any]) -> str:
    """A study with gates and criteria."""
    decision = {
        "gates": [{"metric": "mass_kg", "at_most": 1000.0}],
        "criteria": CRITERIA,
    }
    state = create_study(
        app.state.store, {**document, "decision": decision}, author="Ines", note=""
    )
    return state.study_id


@pytest.fixture
def keys(document: dict[str, Any]) -> list[str]:
    return [one["key"] for one in document["candidates"]]


@pytest.fixture
def opened(client: TestClient, forms: Any, study_id: str) -> str:
    """The address of a ballot that is open."""
    page = forms.send(f"/studies/{study_id}/ballots/new", {"title": "Which base?", "once": "k"})
    found = re.search(r'id="new-address"[^>]* value="http://localhost([^"]+)"', page.text)
    assert found, page.text
    return found[1]


@pytest.fixture
def phone(app: FastAPI, client: TestClient) -> Iterator[TestClient]:
    """Another browser, over the same store."""
    yield TestClient(app, base_url="http://localhost", follow_redirects=False)


def fields(keys: list[str], **changes: str) -> dict[str, str]:
    return {
        "most": FIRST,
        f"points.{SECOND}": "40",
        f"points.{THIRD}": "0",
        "preference": keys[1],
        "reason": "It is quicker.",
        "name": "Mara",
        **changes,
    }


def vote(browser: TestClient, address: str, sent: dict[str, str]) -> Any:
    token = re.search(r'name="csrf_token" value="([^"]+)"', browser.get(address).text)
    assert token
    return browser.post(address, data={"csrf_token": token[1], **sent})


def cast(app: FastAPI, address: str) -> list[Any]:
    found = ballot_round_of(app.state.store, address.rsplit("/", 1)[1])
    return ballots_of(app.state.store, found.id)


def close(app: FastAPI, address: str) -> str:
    found = ballot_round_of(app.state.store, address.rsplit("/", 1)[1])
    close_ballots(app.state.store, found.study_id, found.id, author="Ines")
    return found.id


def test_a_ballot_is_counted_and_shown_again_for_change(
    app: FastAPI, phone: TestClient, opened: str, keys: list[str]
) -> None:
    answer = vote(phone, opened, fields(keys))
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    for words in ("HttpOnly", "SameSite=lax", f"Path={opened}"):
        assert words in cookie
    page = phone.get(answer.headers["location"]).text
    assert "✓ Your ballot counts, Mara" in page
    code = re.search(r'class="change-code">(\w{12})<', page)
    assert code and code[1] in cookie
    assert f'value="{FIRST}" checked' in page
    assert "It is quicker." in page
    vote(phone, opened, {**fields(keys, reason="It pushes."), "change": "yes", "name": "Other"})
    ballots = cast(app, opened)
    assert [(one.name, one.version, one.reason) for one in ballots] == [("Mara", 2, "It pushes.")]
    assert ballots[0].weights == {FIRST: 100.0, SECOND: 40.0, THIRD: 0.0}


def test_looking_changes_nothing_and_is_private(
    app: FastAPI, phone: TestClient, opened: str
) -> None:
    tables = ("ballot", "ballot_round", "ballot_closing")
    count = "select " + ",".join(f"(select count(*) from {name})" for name in tables)
    with app.state.store.reading() as session:
        before = session.execute(text(count)).all()
    for method in ("GET", "HEAD"):
        for query in ("", "?cast=1", "?new=1"):
            answer = phone.request(method, opened + query)
            assert answer.status_code in {200, 405}
    page = phone.get(opened)
    assert page.headers["cache-control"] == "no-store"
    assert "noindex" in page.headers["x-robots-tag"]
    assert '<meta name="robots" content="noindex, nofollow">' in page.text
    assert "/studies/" not in page.text
    assert "Your name</summary>" not in page.text
    with app.state.store.reading() as session:
        assert session.execute(text(count)).all() == before


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("most", "", "Choose the change that matters most to you."),
        ("most", "nothing", "Choose the change that matters most to you."),
        (f"points.{SECOND}", "", "type points, 0 to 100."),
        (f"points.{SECOND}", "140", "“140” lies outside"),
        (f"points.{SECOND}", "-1", "“-1” lies outside"),
        (f"points.{SECOND}", "2,5", "has a decimal comma; type 2.5"),
        (f"points.{SECOND}", "nan", "type points from 0 to 100"),
        ("preference", "", "Choose the candidate you would build."),
        ("preference", "boat", "Choose the candidate you would build."),
        ("name", "  ", "Type the name that the team knows you by."),
        ("name", "x" * 80, "A name has at most 60 characters; this has 80."),
        ("reason", "y" * 1200, "A reason has at most 1000 characters; this has 1200."),
    ],
)
def test_a_fault_counts_nothing_and_keeps_everything_typed(  # noqa: PLR0917
    app: FastAPI,
    phone: TestClient,
    opened: str,
    keys: list[str],
    field: str,
    value: str,
    words: str,
) -> None:
    sent = fields(keys, **{field: value})
    answer = vote(phone, opened, sent)
    assert answer.status_code == 422
    page = answer.text
    assert words in page
    assert "<title>Error: " in page
    target = re.search(r'<li><a href="#([\w-]+)">', page)
    assert target and f'id="{target[1]}"' in page
    for name in ("name", f"points.{SECOND}", f"points.{THIRD}"):
        assert f'name="{name}" value="{sent[name].strip()}"' in page
    assert sent["reason"] in page
    if field != "preference":
        assert f'value="{keys[1]}" checked' in page
    assert cast(app, opened) == []


def test_one_ballot_a_name_unless_the_code_is_known(
    app: FastAPI, phone: TestClient, client: TestClient, opened: str, keys: list[str]
) -> None:
    vote(phone, opened, fields(keys))
    again = vote(client, opened, fields(keys, name=" mara ", reason="Not me"))
    assert again.status_code == 422
    assert "has voted already" in again.text
    assert "Not me" in again.text
    assert len(cast(app, opened)) == 1
    assert vote(client, opened, fields(keys, name="Mara K.")).status_code == 303
    assert [one.name for one in cast(app, opened)] == ["Mara", "Mara K."]


def test_the_code_opens_a_ballot_on_another_device(
    app: FastAPI, phone: TestClient, client: TestClient, opened: str, keys: list[str]
) -> None:
    code = vote(phone, opened, fields(keys)).cookies["ballot_code"]
    wrong = vote_code(client, opened, "nonsense")
    assert wrong.status_code == 422
    assert "No ballot of this round has that code" in wrong.text
    right = vote_code(client, opened, f" {code} ")
    assert right.status_code == 303
    assert "Your ballot counts, Mara" in client.get(opened).text


def vote_code(browser: TestClient, address: str, code: str) -> Any:
    token = re.search(r'name="csrf_token" value="([^"]+)"', browser.get(address).text)
    assert token
    return browser.post(f"{address}/code", data={"csrf_token": token[1], "code": code})


def test_somebody_else_votes_on_the_same_device(
    app: FastAPI, phone: TestClient, opened: str, keys: list[str]
) -> None:
    vote(phone, opened, fields(keys))
    fresh = phone.get(f"{opened}?new=1").text
    assert "Mara" not in fresh
    vote(phone, opened, fields(keys, name="Lee"))
    assert [one.name for one in cast(app, opened)] == ["Mara", "Lee"]


def test_a_closed_round_shows_ones_own_ballot_and_takes_none(
    app: FastAPI, phone: TestClient, client: TestClient, opened: str, keys: list[str]
) -> None:
    vote(phone, opened, fields(keys))
    token = re.search(r'name="csrf_token" value="([^"]+)"', client.get(opened).text)
    assert token
    close(app, opened)
    mine = phone.get(opened)
    assert mine.status_code == 200
    for words in ("These ballots are closed.", "by Ines", "Your ballot, Mara", "It is quicker."):
        assert words in mine.text
    assert "Cast my ballot" not in mine.text
    assert "Mara" not in client.get(opened).text
    sent = {"csrf_token": token[1], **fields(keys, name="Lee", reason="Too <late>")}
    late = client.post(opened, data=sent)
    assert late.status_code == 410
    assert "came too late" in late.text
    assert "Too &lt;late&gt;" in late.text
    assert [one.name for one in cast(app, opened)] == ["Mara"]


def test_a_ballot_without_the_forms_token_is_refused(
    app: FastAPI, phone: TestClient, opened: str, keys: list[str]
) -> None:
    assert phone.post(opened, data=fields(keys)).status_code == 403
    assert cast(app, opened) == []


def test_an_unknown_link_is_told_in_words(phone: TestClient) -> None:
    answer = phone.get("/ballots/nothing-here")
    assert answer.status_code == 404
    assert "no such ballot link" in answer.text
    assert phone.get("/ballots/x", headers={"host": "evil.test"}).status_code == 400


def test_what_members_type_is_escaped_everywhere(  # noqa: PLR0917
    app: FastAPI, client: TestClient, phone: TestClient, opened: str, keys: list[str], study_id: str
) -> None:
    bad = "<script>alert(1)</script>"
    vote(phone, opened, fields(keys, name=bad, reason=bad))
    found = list_ballot_rounds(app.state.store, study_id)[0]
    pages = [phone.get(opened).text, client.get(f"/studies/{study_id}/ballots/{found.id}").text]
    for page in pages:
        assert bad not in page
        assert "&lt;script&gt;alert(1)" in page


def test_a_change_of_the_study_changes_no_ballot(
    app: FastAPI, phone: TestClient, opened: str, study_id: str
) -> None:
    before = re.findall(r"(?s)<td.*?</td>", phone.get(opened).text)
    state = load_study(app.state.store, study_id)
    first = state.document["candidates"][0]
    changed = {**first, "drive": {**first["drive"], "ratio": first["drive"]["ratio"] * 2}}
    save_sections(
        app.state.store,
        study_id,
        base_revision=1,
        edits={f"candidates/{first['key']}": changed},
        author="Ravi",
        note="",
    )
    assert re.findall(r"(?s)<td.*?</td>", phone.get(opened).text) == before


def test_units_switch_the_figures(phone: TestClient, opened: str) -> None:
    assert "lbf" not in phone.get(opened).text
    phone.cookies.set("units", "inch-pound")
    assert "lbf" in phone.get(opened).text


def test_the_round_names_a_split_and_who_wins_for_whom(
    client: TestClient, app: FastAPI, opened: str, keys: list[str], study_id: str
) -> None:
    for name, points in (("Mara", "90"), ("Ravi", "80"), ("Lee", "5")):
        browser = TestClient(app, base_url="http://localhost", follow_redirects=False)
        sent = fields(keys, name=name, **{f"points.{SECOND}": points})
        assert vote(browser, opened, sent).status_code == 303
    found = list_ballot_rounds(app.state.store, study_id)[0]
    page = client.get(f"/studies/{study_id}/ballots/{found.id}").text
    assert "3 have voted." in page
    assert "Split, 75 points apart: Ravi and Mara give 80 to 90, Lee gives 5." in page
    assert "All 3 give 100." in page
    assert len(re.findall("<circle", page)) == 9
    assert "By their weights first" in page
    assert "over all ballots" in page


def test_a_round_is_closed_after_a_question(
    app: FastAPI, client: TestClient, forms: Any, opened: str, study_id: str
) -> None:
    found = list_ballot_rounds(app.state.store, study_id)[0]
    address = f"/studies/{study_id}/ballots/{found.id}"
    assert "Nobody has voted yet." in client.get(address).text
    assert "for good?" not in client.get(address).text
    assert "for good?" in client.get(f"{address}?close=1").text
    assert list_ballot_rounds(app.state.store, study_id)[0].closed_at is None
    assert forms.send(f"{address}/close").status_code == 303
    assert list_ballot_rounds(app.state.store, study_id)[0].closed_at is not None
    assert "Record a decision on these ballots" in client.get(address).text


def test_a_round_belongs_to_its_study(
    app: FastAPI, client: TestClient, forms: Any, opened: str, study_id: str
) -> None:
    found = list_ballot_rounds(app.state.store, study_id)[0]
    other = forms.send(f"/studies/{study_id}/duplicate").headers["location"]
    assert client.get(f"{other}/ballots/{found.id}").status_code == 404
    assert forms.send(f"{other}/ballots/{found.id}/close").status_code == 404
    assert list_ballot_rounds(app.state.store, study_id)[0].closed_at is None


def test_the_link_is_shown_once_and_one_press_opens_one_round(
    app: FastAPI, client: TestClient, forms: Any, opened: str, study_id: str
) -> None:
    again = forms.send(f"/studies/{study_id}/ballots/new", {"title": "Which base?", "once": "k"})
    assert opened in again.text
    assert "leads to this computer only" in again.text
    assert len(list_ballot_rounds(app.state.store, study_id)) == 1
    page = client.get(f"/studies/{study_id}/ballots").text
    assert opened not in page
    assert "Which base?" in page and "<strong>open</strong>" in page


@pytest.mark.parametrize("title", ["", "x" * 100])
def test_a_title_that_cannot_be_opens_nothing(
    app: FastAPI, forms: Any, study_id: str, title: str
) -> None:
    answer = forms.send(f"/studies/{study_id}/ballots/new", {"title": title})
    assert answer.status_code == 422
    assert "There is a problem" in answer.text
    assert title in answer.text
    assert list_ballot_rounds(app.state.store, study_id) == []


def test_without_criteria_the_page_says_what_to_do(
    app: FastAPI, client: TestClient, forms: Any, document: dict[str, Any]
) -> None:
    document.pop("decision", None)
    bare = create_study(app.state.store, document, author="", note="").study_id
    assert f"/studies/{bare}/decide" in client.get(f"/studies/{bare}/ballots").text
    answer = forms.send(f"/studies/{bare}/ballots/new", {"title": "Anything"})
    assert answer.status_code == 422
    assert "names no criteria" in answer.text


def test_a_viewer_reaches_no_ballots(client: TestClient, link_to: Any) -> None:
    token = link_to("live")
    for page in ("ballots", "decisions"):
        assert client.get(f"/shared/{token}/{page}").status_code == 404
    assert "ballots" not in client.get(f"/shared/{token}").text
