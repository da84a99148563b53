"""Every address with odd parameters, and every form with junk: a page or a refusal, never a crash.

The study that is asked for has markup in every name; none of it may come back unescaped.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from itertools import cycle, islice
from typing import Any, NamedTuple

import pytest
from fastapi.routing import APIRoute
from starlette.testclient import TestClient

from models.seed import example_document
from models.services import create_link, create_study
from models.study import parse_study
from webapp.app import create_app, page_routers
from webapp.settings import Settings

MARKUP = "\"'><script>x</script>"
RAW = ("<script>x", "\"'><", "<i>x")
NAMES = ("name", "notes", "note", "crew")
KEPT = frozenset(
    {"key", "motor", "material", "layout", "metric", "type", "source", "kind", "after"}
)
KEYED_BY_NAME = frozenset({"crews", "offsets"})

ODD = [
    "", "0", "-1", "1e999", "nan", "99999999999999999999", "a" * 3000, "\x00", "é漢😀", MARKUP,
    "%00", "../../x", "tank", "steered", "none", "As given", "1:2", "5 in", "1e-30", "\u202e", "\n",
]  # fmt: skip
READ_BY_HAND = {
    "/gearing": ("candidate", "ratio", "diameter", "stator", "supply", "tie", "margin", "battery"),
    "/routes": ("route", "candidate"),
    "/fit": ("move",),
}
"""Parameters that a page reads from the address itself."""
JUNK_NAMES = [
    "parts.99999.name", "routes.99999.legs.5.to_m.0", "legs:rows", "parts.0:was", "name",
    "decision.criteria.99.weight", "criteria.0.metric", "tasks.99999.hours.0", "tasks.0.after.0",
    "drive.ratio:low", "power.batteries.0.charge", "a.b.c.d.e.f.g.h.i.j.k.l.m.n", ":", "x\x00y",
    "row", "fix", "settle", "section", "once", "form_units", "title", "choice", "revision",
]  # fmt: skip
ODD_REVISIONS = ["", "0", "-1", "2", "a", "1e3", "9" * 30, "\x00"]
FEW = 2


def with_markup(document: dict[str, Any]) -> dict[str, Any]:
    """Return the study with markup in every name, crew and currency, and two bases only."""
    renamed: dict[str, str] = {}

    def gather(item: Any) -> None:
        if isinstance(item, dict):
            renamed.update({one: one + MARKUP for key, one in item.items() if key in NAMES and one})
            for value in item.values():
                gather(value)
        elif isinstance(item, list):
            for value in item:
                gather(value)

    def put(item: Any, under: str = "") -> Any:
        if isinstance(item, dict):
            return {
                renamed.get(key, key) if under in KEYED_BY_NAME else key: value
                if key in KEPT
                else put(value, key)
                for key, value in item.items()
            }
        if isinstance(item, list):
            return (
                item
                if under == "tasks" and all(isinstance(one, str) for one in item)
                else list(map(put, item))
            )
        return renamed.get(item, item) if isinstance(item, str) else item

    gather(document)
    changed: dict[str, Any] = put(copy.deepcopy(document))
    changed["schedule"]["currency"] = "\"'><i>x</i"
    changed["candidates"] = [
        one for one in changed["candidates"] if one["key"] in {"tank", "steered"}
    ]
    known = {task["key"] for one in changed["candidates"] for task in one.get("tasks", [])}
    gates = changed["schedule"]["gates"]
    for gate in gates:
        gate["tasks"] = [key for key in gate["tasks"] if key in known]
    changed["schedule"]["gates"] = [gate for gate in gates if gate["tasks"]]
    parse_study(copy.deepcopy(changed))
    return changed


class Door(NamedTuple):
    """A running app with the study in it, a link to it and a form token."""

    client: TestClient
    study: str
    link: str
    token: str


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    path = tmp_path_factory.mktemp("odd") / "studies.sqlite3"
    app = create_app(Settings(database_url=f"sqlite:///{path.as_posix()}"))
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as client:
        store = app.state.store
        document = with_markup(example_document())
        study = create_study(store, document, author=MARKUP, note=MARKUP).study_id
        link = create_link(store, study, kind="live", label=MARKUP, author=MARKUP)[1]
        found = re.search(r'name="csrf_token" value="([^"]+)"', client.get("/").text)
        assert found
        yield Door(client, study, link, found[1])


def routes_of(method: str) -> list[APIRoute]:
    return [
        route
        for router in page_routers()
        for route in router.routes
        if isinstance(route, APIRoute) and method in (route.methods or ())
    ]


def address_of(route: APIRoute, door: Door, key: str = "steered") -> str:
    places = {
        "study_id": door.study, "token": door.link if "shared" in route.path else "x" * 28,
        "key": key, "link_id": "1", "round_id": "x", "record_id": "x",
    }  # fmt: skip
    return re.sub(r"\{(\w+)[^}]*\}", lambda found: places.get(found[1], "x"), route.path)


def asked_by(route: APIRoute) -> list[str]:
    """Return the names of the parameters that a page takes."""
    names, waiting = [], [route.dependant]
    while waiting:
        one = waiting.pop()
        names += [field.alias for field in one.query_params]
        waiting += one.dependencies
    end = route.path.removeprefix("/studies/{study_id}").removeprefix("/shared/{token}")
    return list(dict.fromkeys([*names, *READ_BY_HAND.get(end, ())]))


def hold(answer: Any, address: str) -> None:
    """Hold that an answer is no crash, and shows typed text as text."""
    assert answer.status_code < 500, address
    kind = answer.headers.get("content-type", "")
    if "html" in kind or "svg" in kind:
        for raw in RAW:
            place = answer.text.find(raw)
            assert place < 0, (address, answer.text[max(0, place - 200) : place + 40])
    if "json" in kind:
        assert "NaN" not in answer.text, address
        assert "Infinity" not in answer.text, address


GETS = routes_of("GET")
POSTS = routes_of("POST")


@pytest.mark.parametrize("route", GETS, ids=lambda route: str(route.path))
def test_a_page_with_odd_parameters_answers(door: Door, route: APIRoute) -> None:
    address = address_of(route, door)
    hold(door.client.get(address), address)
    values = cycle(ODD)
    for name in asked_by(route):
        for value in islice(values, FEW):
            answer = door.client.get(address, params={name: [value, "again"][: 1 + (value == "")]})
            hold(answer, f"{address} {name}={value[:30]!r}")


@pytest.mark.parametrize("key", ["order", "%00", "%ff", "é", "a" * 3000])
def test_an_odd_place_in_an_address_is_not_found(door: Door, key: str) -> None:
    inside = f"/studies/{door.study}"
    for address in (
        f"/studies/{key}", f"/shared/{key}", f"/ballots/{key}", f"{inside}/ballots/{key}",
        f"{inside}/candidates/{key}", f"{inside}/decisions/{key}",
        f"{inside}/decisions/{key}/record.json",
    ):  # fmt: skip
        answer = door.client.get(address)
        assert answer.status_code == 404, address
        hold(answer, address)


@pytest.mark.parametrize("route", POSTS, ids=lambda route: str(route.path))
def test_a_form_without_its_token_is_refused(door: Door, route: APIRoute) -> None:
    if route.path.startswith("/api/"):
        return  # programs send no forms, and nothing is stored by it
    address = address_of(route, door)
    for sent in ({"x": "1"}, {"csrf_token": "x" * 40}, {"csrf_token": ""}):
        answer = door.client.post(address, data=sent)
        assert answer.status_code in {403, 404}, address
    foreign = {"sec-fetch-site": "cross-site"}
    answer = door.client.post(address, data={"csrf_token": door.token}, headers=foreign)
    assert answer.status_code in {403, 404}, address


@pytest.mark.parametrize("route", POSTS, ids=lambda route: str(route.path))
def test_a_form_with_junk_answers(door: Door, route: APIRoute) -> None:
    address = address_of(route, door, "tank")
    values = cycle(ODD)
    for number in range(2):
        sent = dict(zip(JUNK_NAMES, values, strict=False))
        odd = ODD_REVISIONS[(len(route.path) + number) % len(ODD_REVISIONS)]
        sent |= {"csrf_token": door.token, "base_revision": odd if number else "1"}
        hold(door.client.post(address, data=sent), address)
    hold(door.client.post(address, content=b"\x00\xff"), address)
    hold(door.client.post(address, json={"study": None}), address)
