"""The page of the routes: shown, typed, dragged, saved, refused, merged; what a viewer sees."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import list_revisions, load_study, save_sections

NEW_TEXTS = {
    "routes.0.name": "two crates",
    "routes.0.kind": "cycle",
    "routes.0.start.at_m.0": "1.6",
    "routes.0.start.heading_deg": "-90",
    "routes.0.legs.1.to_m.1": "2.5",
    "routes.0.legs.1.may_reverse": "yes",
    "routes.0.legs.1.pose": "raised",
    "routes.1.legs.0.to_m.0": "14 ft",
    "routes.1.legs.0.pass": "yes",
    "routes.1.legs.0.radius_m": "0.4",
    "routes.1.legs.0.prepare_s": "",
    "routes.1.legs.0.action_s": "",
    "routes.1.legs.1.heading_deg": "",
    "routes.1.legs.2.action_s": "1.1",
    "yardsticks.tip_margin": "20 %",
}


@pytest.fixture
def address(study_id: str) -> str:
    return f"/studies/{study_id}/routes"


@pytest.fixture
def stored(app: FastAPI, study_id: str) -> Any:
    """Reads the newest revision: its number and the document."""

    def read() -> tuple[int, dict[str, Any]]:
        state = load_study(app.state.store, study_id)
        return state.revision.number, state.document

    return read


def totals(page: str) -> list[str]:
    """Return what every candidate takes for the routes on the page."""
    return re.findall(r'class="bar-total[^"]*">([0-9.]+ s)<', page)


@pytest.mark.parametrize("units", ["si", "inch-pound"])
def test_a_form_sent_as_it_was_opened_changes_nothing(
    *, client: TestClient, sheets: Any, stored: Any, address: str, units: str
) -> None:
    client.cookies.set("units", units)
    before = stored()
    answer = sheets.post(address, sheets.open(address))
    assert answer.headers["location"].endswith("saved=nothing")
    assert stored() == before


def test_every_kind_of_field_comes_back_as_it_was_typed(
    sheets: Any, stored: Any, address: str
) -> None:
    answer = sheets.post(address, sheets.open(address), NEW_TEXTS)
    assert answer.status_code == 303, answer.text
    shown = dict(sheets.open(address))
    assert {name: shown[name] for name in NEW_TEXTS} == NEW_TEXTS
    document = stored()[1]
    assert document["routes"][1]["legs"][0]["to_m"][0] == "14 ft"
    assert document["routes"][1]["legs"][0]["pass"] is True
    assert document["yardsticks"]["tip_margin"] == "20 %"


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("routes.0.legs.1.to_m.0", "", "Route 1, leg 2: "),
        ("routes.0.legs.1.to_m.0", "6,2", "decimal comma"),
        ("routes.1.legs.0.to_m.1", "900", "out of range"),
        ("routes.0.kind", "loop", "loop"),
        ("routes.0.name", "", "Route 1: "),
        ("routes.0.name", "long cycle", "long cycle"),
        ("routes.0.legs.1.pose", "upside down", "upside down"),
        ("routes.1.legs.0.pass", "yes", "Route 2, leg 1: "),
        ("yardsticks.tip_margin", "1.2", "out of range"),
    ],
)
def test_rubbish_is_refused_beside_its_field_and_nothing_is_stored(
    *, sheets: Any, stored: Any, address: str, name: str, text: str, words: str
) -> None:
    before = stored()
    answer = sheets.post(address, sheets.open(address), {name: text})
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert words in answer.text
    assert dict(sheets.read(answer.text))[name] == text
    link = re.search(r'<li><a href="#(f-[^"]+)">', answer.text)
    assert link
    assert f'id="{link[1]}"' in answer.text
    assert stored() == before


def test_backwards_can_be_forbidden(sheets: Any, stored: Any, address: str) -> None:
    fields = [
        (name, text)
        for name, text in sheets.open(address)
        if (name, text) != ("routes.0.legs.1.may_reverse", "yes")
    ]
    sheets.post(address, fields)
    legs = stored()[1]["routes"][0]["legs"]
    assert legs[1]["may_reverse"] is False
    assert "may_reverse" not in legs[0]


def test_a_fault_opens_the_route_that_it_is_in(sheets: Any, address: str) -> None:
    answer = sheets.post(address, sheets.open(address), {"routes.1.start.at_m.0": "here"})
    hidden = re.findall(r'<section class="route" id="route-(\d)"[^>]* hidden>', answer.text)
    assert hidden == ["0"]


def test_legs_and_routes_come_go_and_change_places_without_scripts(
    sheets: Any, stored: Any, address: str
) -> None:
    before = copy.deepcopy(stored()[1]["routes"])
    added = sheets.post(address, sheets.open(address), row="add:routes.1.legs")
    new = dict(sheets.read(added.text))
    last = len(before[1]["legs"])
    assert float(new[f"routes.1.legs.{last}.to_m.0"]) == before[1]["legs"][-1]["to_m"][0] + 1
    leg = {f"routes.1.legs.{last}.to_m.0": "2", f"routes.1.legs.{last}.to_m.1": "3"}
    moved = sheets.post(address, sheets.read(added.text), leg, row=f"up:routes.1.legs.{last}")
    removed = sheets.post(address, sheets.read(moved.text), row="remove:routes.0")
    shown = dict(sheets.read(removed.text))
    assert shown["routes.0.name"] == "long cycle"
    assert shown[f"routes.0.legs.{last - 1}.to_m.0"] == "2"
    assert stored()[0] == 1
    assert sheets.post(address, sheets.read(removed.text)).status_code == 303
    (route,) = stored()[1]["routes"]
    legs = before[1]["legs"]
    assert route["legs"] == [*legs[:-1], {"to_m": [2, 3]}, legs[-1]]


def test_the_first_leg_goes_no_further_up(sheets: Any, stored: Any, address: str) -> None:
    answer = sheets.post(address, sheets.open(address), row="up:routes.0.legs.0")
    assert answer.status_code == 200
    assert sheets.post(address, sheets.read(answer.text)).headers["location"].endswith("=nothing")


@pytest.mark.parametrize(
    "row",
    ["up:routes.9.legs.1", "down:routes", "up:name", "add:routes.7.legs", "show:routes.x", "up:"],
)
def test_a_button_that_no_page_has_changes_nothing(
    sheets: Any, stored: Any, address: str, row: str
) -> None:
    answer = sheets.post(address, sheets.open(address), row=row)
    assert answer.status_code == 200
    assert "Changed, not saved yet" not in answer.text
    assert stored()[0] == 1


def test_a_new_route_holds_at_once_and_is_shown(sheets: Any, stored: Any, address: str) -> None:
    added = sheets.post(address, sheets.open(address), row="add:routes")
    assert len(totals(added.text)) == 3 * len(stored()[1]["candidates"])
    assert re.findall(r'aria-pressed="true" data-route="(\d)"', added.text) == ["2"]
    saved = sheets.post(address, sheets.read(added.text))
    assert "route=route+3" in saved.headers["location"]
    assert stored()[1]["routes"][2]["name"] == "route 3"


def test_another_route_is_shown_with_everything_typed_kept(sheets: Any, address: str) -> None:
    looked = sheets.post(address, sheets.open(address), row="show:routes.1")
    assert re.findall(r'aria-pressed="true" data-route="(\d)"', looked.text) == ["1"]
    assert "Changed, not saved yet" not in looked.text
    typed = {"routes.0.legs.1.to_m.0": "5.9"}
    kept = sheets.post(address, sheets.open(address), typed, row="show:routes.1")
    assert dict(sheets.read(kept.text))["routes.0.legs.1.to_m.0"] == "5.9"
    assert "Changed, not saved yet" in kept.text


def test_an_address_picks_a_route_and_a_wrong_one_the_first(
    client: TestClient, address: str
) -> None:
    picked = re.compile(r'aria-pressed="true" data-route="(\d)"')
    assert picked.findall(client.get(f"{address}?route=long+cycle").text) == ["1"]
    assert picked.findall(client.get(f"{address}?route=nowhere").text) == ["0"]


def test_a_live_answer_times_every_candidate_anew_and_stores_nothing(
    *, client: TestClient, sheets: Any, stored: Any, address: str
) -> None:
    fields = sheets.open(address)
    sent = {"shown_route": "1", "routes.1.legs.0.to_m.0": "3.05", "seq": "7"}
    answer = sheets.post(address, fields, sent, to=f"{address}/live")
    assert answer.status_code == 200
    assert answer.headers["Answer-Sequence"] == "7"
    before = totals(client.get(f"{address}?route=long+cycle").text)
    now = totals(answer.text)
    every = len(stored()[1]["candidates"])
    assert len(now) == every
    assert all(old != new for old, new in zip(before[every:], now, strict=True))
    assert 'data-place="routes.1.legs.0.to_m" data-item' in answer.text
    assert 'data-metres="3.05 ' in answer.text
    assert stored()[0] == 1


def test_a_live_answer_to_rubbish_has_words_and_no_figures(sheets: Any, address: str) -> None:
    sent = {"routes.0.legs.1.to_m.0": "far"}
    answer = sheets.post(address, sheets.open(address), sent, to=f"{address}/live")
    assert answer.status_code == 200
    assert "Route 1, leg 2: “far”" in answer.text
    assert totals(answer.text) == []
    margin = sheets.post(
        address, sheets.open(address), {"yardsticks.tip_margin": "2"}, to=f"{address}/live"
    )
    beside = margin.text.split('id="f-yardsticks-tip_margin-remarks"')[1].split("</div>")[0]
    assert "out of range" in beside


def test_the_limits_of_the_poses_follow_the_margin(sheets: Any, address: str) -> None:
    def limits(margin: str) -> list[float]:
        sent = {"yardsticks.tip_margin": margin}
        answer = sheets.post(address, sheets.open(address), sent, to=f"{address}/poses")
        found = answer.text.split("Braking, at most")[1].split("</tr>")[0]
        return [float(one) for one in re.findall(r">(\d+\.\d)<", found)]

    plain, half = limits("0"), limits("50 %")
    assert plain
    assert half == pytest.approx([one / 2 for one in plain], abs=0.1)


def test_a_live_question_wants_the_token_of_its_page(client: TestClient, address: str) -> None:
    for step in ("", "/live", "/poses"):
        assert client.post(address + step, data={"base_revision": "1"}).status_code == 403


def test_another_section_saved_meanwhile_is_merged(
    *, app: FastAPI, sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    mine = sheets.open(address)
    save_sections(
        app.state.store, study_id, base_revision=1, edits={"notes": "x"}, author="Tom", note=""
    )
    answer = sheets.post(address, mine, {"routes.0.legs.1.to_m.0": "6.3"})
    assert "merged=yes" in answer.headers["location"]
    document = stored()[1]
    assert (document["notes"], document["routes"][0]["legs"][1]["to_m"][0]) == ("x", 6.3)


def test_two_who_change_routes_meet_and_nothing_is_lost(
    *, app: FastAPI, sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    mine = sheets.open(address)
    theirs = copy.deepcopy(stored()[1]["routes"])
    theirs[1]["legs"][0]["action_s"] = 0.9
    save_sections(
        app.state.store, study_id, base_revision=1, edits={"routes": theirs}, author="Tom", note=""
    )
    change = {"routes.0.legs.1.to_m.0": "6.3"}
    answer = sheets.post(address, mine, change)
    assert answer.status_code == 409
    assert "Tom saved the same section meanwhile" in answer.text
    assert dict(sheets.read(answer.text))["routes.0.legs.1.to_m.0"] == "6.3"
    settled = sheets.post(address, sheets.read(answer.text), settle="2")
    assert settled.status_code == 303
    routes = stored()[1]["routes"]
    assert routes[0]["legs"][1]["to_m"][0] == 6.3
    assert routes[1]["legs"][0]["action_s"] == 0.9


def test_loads_of_a_leg_are_ticked_by_name(
    *, app: FastAPI, sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    document = stored()[1]
    power = copy.deepcopy(document["power"])
    power["loads"] = [
        {"name": "pump", "current_a": 20, "during": "always"},
        {"name": "winch", "current_a": 30, "during": "legs"},
        {"name": "arm", "current_a": 10, "during": "legs"},
    ]
    routes = copy.deepcopy(document["routes"])
    routes[0]["legs"][0]["loads"] = ["arm", "winch"]
    edits = {"power": power, "routes": routes}
    save_sections(app.state.store, study_id, base_revision=1, edits=edits, author="", note="")
    fields = sheets.open(address)
    assert sheets.post(address, fields).headers["location"].endswith("saved=nothing")
    assert [text for name, text in fields if name == "routes.0.legs.0.in_loads"] == ["", "1", "2"]
    without = [pair for pair in fields if pair != ("routes.0.legs.0.in_loads", "2")]
    without.append(("routes.0.legs.1.in_loads", "2"))
    assert sheets.post(address, without).status_code == 303
    legs = stored()[1]["routes"][0]["legs"]
    assert (legs[0]["loads"], legs[1]["loads"]) == (["winch"], ["arm"])
    bare = [
        pair for pair in sheets.open(address) if not pair[0].endswith("in_loads") or not pair[1]
    ]
    sheets.post(address, bare)
    assert all("loads" not in leg for leg in stored()[1]["routes"][0]["legs"])


def test_a_study_without_routes_says_so_and_takes_a_first(
    *, app: FastAPI, client: TestClient, sheets: Any, stored: Any, address: str, study_id: str
) -> None:
    save_sections(
        app.state.store, study_id, base_revision=1, edits={"routes": []}, author="", note=""
    )
    page = client.get(address).text
    assert "No route yet" in page
    assert sheets.post(address, sheets.open(address)).headers["location"].endswith("=nothing")
    added = sheets.post(address, sheets.open(address), row="add:routes")
    assert sheets.post(address, sheets.read(added.text)).status_code == 303
    assert len(stored()[1]["routes"]) == 1


def test_a_viewer_sees_the_same_figures_and_nothing_to_edit(
    client: TestClient, address: str, link_to: Any
) -> None:
    editors = totals(client.get(f"{address}?route=long+cycle").text)
    seen = client.get(f"/shared/{link_to()}/routes?route=long+cycle").text
    assert totals(seen) == editors[len(editors) // 2 :]
    assert 'aria-current="page">long cycle' in seen
    for trace in ("route-handle", "data-item", "data-place", "<form id", "routes.js", "Save"):
        assert trace not in seen.split("<main")[1]


def test_frozen_times_of_an_older_model_are_not_mixed_with_newer_gains(
    client: TestClient, link_to: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = f"/shared/{link_to('frozen')}/routes?route=long+cycle"
    now = client.get(address).text
    assert "A drive a tenth quicker" in now
    monkeypatch.setattr("webapp.pages.shared_view.routes_view.MODEL_VERSION", "a later one")
    monkeypatch.setattr("webapp.pages.shared_view.context.MODEL_VERSION", "a later one")
    later = client.get(address).text
    assert "A drive a tenth quicker" not in later
    assert "limits of the poses are from model a later one" in later
    assert totals(later) == totals(now)


def test_the_overview_leads_to_each_route(client: TestClient, study_id: str, link_to: Any) -> None:
    for base in (f"/studies/{study_id}", f"/shared/{link_to()}"):
        addresses = re.findall(r'href="([^"]+)">See it on the field', client.get(base).text)
        assert f"{base}/routes?route=long+cycle" in addresses
        assert all(client.get(one).status_code == 200 for one in set(addresses))


def test_a_page_reads_the_study_once_saved_elsewhere(
    app: FastAPI, sheets: Any, address: str, study_id: str
) -> None:
    fields = [
        (name, "99" if name == "base_revision" else text) for name, text in sheets.open(address)
    ]
    assert sheets.post(address, fields).status_code == 404
    assert len(list_revisions(app.state.store, study_id)) == 1
