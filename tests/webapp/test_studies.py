"""The page of studies."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import list_studies, load_study


def test_an_empty_page_says_what_goes_there_and_offers_the_example(client: TestClient) -> None:
    page = client.get("/").text
    assert "No study is here yet" in page
    assert "New from the example" in page


def test_a_study_is_listed_with_who_saved_it(client: TestClient, study_id: str) -> None:
    page = client.get("/").text
    assert "Reference study 1" in page
    assert "Ines" in page
    assert f'href="/studies/{study_id}"' in page


def test_new_from_the_example_leads_to_its_overview(client: TestClient, forms: Any) -> None:
    answer = forms.send("/studies/new", {"once": "a"})
    assert answer.status_code == 303
    assert client.get(answer.headers["location"]).status_code == 200


def test_a_double_press_makes_one_study(app: FastAPI, forms: Any) -> None:
    first = forms.send("/studies/new", {"once": "same"})
    second = forms.send("/studies/new", {"once": "same"})
    assert first.headers["location"] == second.headers["location"]
    assert len(list_studies(app.state.store)) == 1


def send_file(forms: Any, content: bytes, name: str = "study.json") -> Any:
    return forms.send("/studies/upload", files={"file": (name, content, "application/json")})


def test_a_study_file_becomes_a_study(app: FastAPI, forms: Any, document: dict[str, Any]) -> None:
    answer = send_file(forms, json.dumps(document).encode())
    assert answer.status_code == 303
    state = load_study(app.state.store, answer.headers["location"].rsplit("/", 1)[1])
    assert state.document == document
    assert state.revision.note == "Read from the file study.json"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"{", "JSON"),
        (b"[]", "object"),
        (b'{"format": "switchover-study", "version": 1}', "name"),
        (b"\xff\xfe", "UTF-8"),
        (b" " * 3_000_000, "bytes"),
    ],
)
def test_a_broken_file_is_refused_with_what_is_wrong_and_nothing_is_stored(
    app: FastAPI, forms: Any, content: bytes, words: str
) -> None:
    answer = send_file(forms, content)
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert "There is a problem" in answer.text
    assert words in answer.text
    assert list_studies(app.state.store) == []


def test_every_fault_of_a_file_is_listed(forms: Any, document: dict[str, Any]) -> None:
    document["candidates"][0]["drive"]["ratio"] = -1
    document["power"]["brownout_v"] = "plenty"
    document["colour"] = "red"
    text = send_file(forms, json.dumps(document).encode()).text
    for place in ("candidates[0].drive.ratio", "power.brownout_v", "colour"):
        assert place in text


def test_a_missing_file_is_said(forms: Any) -> None:
    answer = forms.send("/studies/upload", {"file": ""})
    assert answer.status_code == 422
    assert "No file was chosen" in answer.text


def test_a_files_name_and_content_are_escaped(forms: Any) -> None:
    answer = send_file(forms, b'{"<s>": 1}', name="<b>.json")
    assert "<s>" not in answer.text
    assert "<b>" not in answer.text
    assert "&lt;b&gt;.json" in answer.text


def test_a_copy_has_its_own_history(app: FastAPI, forms: Any, study_id: str) -> None:
    answer = forms.send(f"/studies/{study_id}/duplicate")
    copy = load_study(app.state.store, answer.headers["location"].rsplit("/", 1)[1])
    assert copy.study.name == "Reference study 1 (copy)"
    assert copy.revision.number == 1
    assert len(list_studies(app.state.store)) == 2


def test_the_copy_of_an_unknown_study_is_not_made(forms: Any) -> None:
    assert forms.send("/studies/nothing/duplicate").status_code == 404
