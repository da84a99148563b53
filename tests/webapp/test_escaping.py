"""Text of users is shown as text on every page."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_link, create_study
from models.study import parse_study

HOSTILE = "<s x=\"'>"


def named_hostile(document: dict[str, Any]) -> dict[str, Any]:
    """Return the study with the hostile text in every name and note it has."""
    changed = copy.deepcopy(document)
    renamed: dict[str, str] = {}

    def walk(item: Any) -> Iterator[dict[str, Any]]:
        if isinstance(item, dict):
            yield item
            for value in item.values():
                yield from walk(value)
        elif isinstance(item, list):
            for value in item:
                yield from walk(value)

    for item in walk(changed):
        for field in ("name", "note", "notes"):
            if isinstance(item.get(field), str):
                renamed[item[field]] = item[field] + HOSTILE
                item[field] += HOSTILE
    for item in walk(changed):
        if "needs" in item:
            item["needs"] = [renamed[purchase] for purchase in item["needs"]]
    for pose in changed["robot"]["poses"]:
        pose["offsets"] = {renamed[part]: move for part, move in pose["offsets"].items()}
    parse_study(changed)
    return changed


@pytest.fixture
def hostile(app: FastAPI, client: TestClient, document: dict[str, Any]) -> tuple[str, str]:
    """A study full of hostile text, and a link to it."""
    store = app.state.store
    state = create_study(store, named_hostile(document), author=HOSTILE, note=HOSTILE)
    token = create_link(store, state.study_id, kind="frozen", label=HOSTILE, author=HOSTILE)[1]
    return state.study_id, token


PAGES = [
    "/",
    "/studies/{id}",
    "/studies/{id}/robot",
    "/studies/{id}/givens",
    "/studies/{id}/measure?angle=40&v1=12.6&i1=5&v2=12&i2=50&fl=9&fr=9&rl=9&rr=9&kv=2.7",
    "/studies/{id}/measure/take?test=tilt&angle=40&tilt_into={key}",
    "/studies/{id}/candidates/{key}",
    "/studies/{id}/fit",
    "/studies/{id}/routes",
    "/studies/{id}/charts",
    "/studies/{id}/decide",
    "/studies/{id}/decide/swing",
    "/studies/{id}/matters",
    "/studies/{id}/history",
    "/studies/{id}/share",
    "/studies/{id}/study.html",
    "/shared/{token}/study.html",
    "/shared/{token}",
    "/shared/{token}/fit",
    "/shared/{token}/routes",
    "/shared/{token}/charts",
    "/shared/{token}/decide",
    "/shared/{token}/matters",
    "/studies/{id}/fit?candidate=<s>&pose=<s>",
    "/studies/{id}?show=<s>&only=<s>&beside=<s>",
    "/studies/{id}/candidates/<s>",
    "/studies/{id}/history?from=<s>",
    "/studies/{id}/decide/swing?first=<s>",
    "/studies/{id}/matters?candidate=<s>",
    "/studies/{id}/matters?metric=<s>",
    "/shared/<s>",
    "/<s>",
]


@pytest.mark.parametrize("page", PAGES)
def test_hostile_text_is_shown_as_text(
    client: TestClient, hostile: tuple[str, str], document: dict[str, Any], page: str
) -> None:
    key = document["candidates"][0]["key"]
    client.cookies.set("author", "%3Cs%20x%3E")
    text = client.get(page.format(id=hostile[0], token=hostile[1], key=key)).text
    assert "<s " not in text
    assert "<s>" not in text
