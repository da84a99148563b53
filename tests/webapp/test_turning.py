"""The turning page: turns overlaid, a measured track, all directions; the same for viewers."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_study
from models.study import parse_study
from models.units import UnitSystem
from webapp.shared.figures.plots import Words, nice_step, over_time, rose
from webapp.shared.links import StudyLinks
from webapp.shared.turning.context import turning_context


def page(client: TestClient, study_id: str, **query: Any) -> str:
    answer = client.get(f"/studies/{study_id}/turning", params=query)
    assert answer.status_code == 200, answer.text[:300]
    return answer.text


def context(document: dict[str, Any], **asked: Any) -> dict[str, Any]:
    links = StudyLinks.for_study("s")
    return turning_context(parse_study(document), links, UnitSystem.SI, **asked)


def row(rows: list[Any], name: str) -> Any:
    return next(one for one in rows if one.name == name)


def test_the_page_leads_with_who_turns_quickest(client: TestClient, study_id: str) -> None:
    text = page(client, study_id)
    lead = re.search(r'class="lead">(.*?)</p>', text, re.DOTALL)
    assert lead
    assert "quarter turn" in lead[1]
    assert re.search(r"\d\.\d\d s", lead[1])
    assert 'aria-current="page">Turning' in text


def test_a_typed_angle_has_a_row_and_a_curve_of_its_own(document: dict[str, Any]) -> None:
    usual, asked = context(document), context(document, angle="120")
    assert asked["turn_rows"][0].name == "Turn by 120°"
    assert usual["turn_rows"][0].name == "Quarter turn"
    assert "120" in asked["turn_plot"].title
    quarter = [cell.text for cell in row(asked["turn_rows"], "Quarter turn").cells]
    longer = [cell.text for cell in asked["turn_rows"][0].cells]
    assert all(float(a) > float(b) for a, b in zip(longer, quarter, strict=True))


def test_an_angle_in_radians_is_read(document: dict[str, Any]) -> None:
    assert context(document, angle="1.5708 rad")["turn_plot"].title.startswith("Heading while")


@pytest.mark.parametrize("typed", ["0", "1e9", "nan", "ninety", "90,5", "<b>"])
def test_an_angle_that_cannot_be_used_is_told_and_kept(
    client: TestClient, study_id: str, typed: str
) -> None:
    answer = client.get(f"/studies/{study_id}/turning", params={"angle": typed})
    assert answer.status_code == 422
    assert "<title>Error: " in answer.text
    assert "There is a problem" in answer.text
    assert 'href="#angle"' in answer.text
    assert "<b>" not in answer.text.split("<main")[1].split("</main")[0].replace("<b class", "")
    if typed != "<b>":
        assert f'value="{typed}"' in answer.text
    assert "Quarter turn" in answer.text


def test_a_tank_is_a_line_and_the_rest_go_every_way(document: dict[str, Any]) -> None:
    found = context(document)
    layouts = [mark.layout for mark in found["marks"]]
    for plot in found["roses"]:
        ends = [len(stroke.ends) for stroke in plot.strokes]
        assert ends == [2 if layout == "tank" else 0 for layout in layouts]
        words = [label.text for label in plot.labels]
        assert {"forward", "back", "left", "right"} <= set(words)
    sideways = row(found["rose_rows"], "Top speed, sideways, 90°")
    texts = [cell.text == "none" for cell in sideways.cells]
    assert texts == [layout == "tank" for layout in layouts]


def test_every_shown_candidate_has_its_letter_in_every_drawing(document: dict[str, Any]) -> None:
    found = context(document)
    letters = {mark.letter for mark in found["marks"]}
    for plot in (*found["roses"], found["turn_plot"]):
        drawn = [label.text for label in plot.labels if label.css == "plot-letter"]
        assert {letter for text in drawn for letter in text.split(", ")} == letters
        assert len(plot.strokes) == len(letters)
        for label in plot.labels:
            assert 0.0 <= label.x <= plot.width
            assert 0.0 <= label.y <= plot.height


def test_a_measured_track_is_held_against_the_computed_one(document: dict[str, Any]) -> None:
    tank = next(one for one in document["candidates"] if one["layout"] == "tank")
    tank["wheels"]["centre_drop_m"] = 0.0
    before = context(document)
    assert "not measured" in before["tracks"][0]["words"][0]
    tank["wheels"]["effective_track_m"] = 1.36
    after = context(document)
    words = " ".join(after["tracks"][0]["words"])
    assert "measured 1.36 m against" in words
    assert "wider" in words
    assert "times the typed grip sideways would explain it" in words
    assert "common practice, no source" in words
    assert row(after["turn_rows"], "Effective track").cells[0].text == "1.36"
    name = "Quarter turn"
    assert float(row(after["turn_rows"], name).cells[0].text) > float(
        row(before["turn_rows"], name).cells[0].text
    )


def test_a_track_narrower_than_the_wheels_is_doubted(document: dict[str, Any]) -> None:
    tank = next(one for one in document["candidates"] if one["layout"] == "tank")
    tank["wheels"]["effective_track_m"] = 0.8 * float(tank["wheels"]["track_m"])
    words = " ".join(context(document)["tracks"][0]["words"])
    assert "narrower than" in words
    assert "measure again" in words


def test_a_base_that_cannot_turn_says_so(document: dict[str, Any]) -> None:
    tank = next(one for one in document["candidates"] if one["layout"] == "tank")
    tank["wheels"].update({"centre_drop_m": 0.0, "side_grip": 3.0, "wheelbase_m": 1.2})
    tank["wheels"]["effective_track_m"] = 0.62
    found = context(document, shown=[tank["key"]])
    assert row(found["turn_rows"], "Quarter turn").cells[0].text == "cannot"
    assert "cannot turn in place" in " ".join(found["reasons"])
    assert found["turn_plot"].strokes == ()


def test_only_the_chosen_candidates_are_shown(client: TestClient, study_id: str) -> None:
    keys = [one.key for one in parse_study(client.get(f"/studies/{study_id}/study.json").json())
            .candidates]  # fmt: skip
    text = page(client, study_id, show=keys[:2])
    assert text.count("checked") == 2


def test_units_follow_the_switch(client: TestClient, study_id: str, forms: Any) -> None:
    forms.send("/units", {"units": "inch-pound", "next": "/"})
    text = page(client, study_id)
    assert "ft/s" in text
    assert "lbf" in text
    assert "m/s" not in text.split("<main")[1].split("</main")[0]


def test_a_viewer_sees_the_same_without_a_way_to_edit(
    client: TestClient, study_id: str, link_to: Any
) -> None:
    shared = client.get(f"/shared/{link_to()}/turning", params={"angle": "60"})
    assert shared.status_code == 200
    own = page(client, study_id, angle="60")
    table = re.compile(r"<table.*?</table>", re.DOTALL)
    assert table.findall(shared.text) == table.findall(own)
    assert f"/studies/{study_id}" not in shared.text
    assert client.get("/shared/nothing/turning").status_code == 404


def test_a_study_of_one_candidate_shows_no_choice(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    document["candidates"] = document["candidates"][:1]
    state = create_study(app.state.store, document, author="", note="")
    text = page(client, state.study_id)
    assert "at most" not in text


def test_round_steps_reach_the_greatest_value() -> None:
    for greatest in (0.013, 0.4, 3.97, 6.48, 88.0, 701.0, 12345.0):
        step = nice_step(greatest)
        assert 1.0 <= greatest / step <= 4.0 + 1e-9


def test_drawings_of_nothing_still_stand() -> None:
    words = Words("none", "Nothing", "Nothing is drawn.", "N")
    assert rose(words, []).strokes == ()
    assert over_time(words, [], top=90.0).strokes == ()
