"""Moving keep-outs and modules on the drawing: the codec, live answers, saves, bounds, viewers."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from models.errors import StudyRefusedError
from models.services import list_revisions, load_study, save_sections
from models.study import parse_study
from models.units import UnitSystem
from webapp.pages.fit.moves import apply_moves, move_words, read_moves, with_step, write_moves

KEY = "swerve"
TENTHS = st.integers(-50_000, 50_000).map(lambda tenths: tenths / 10 + 0.0)
ITEMS = st.sampled_from(["keepout.0", "keepout.12", "corner.front_left", "corner.rear_right"])


def sent(study: str, **more: Any) -> dict[str, Any]:
    return {"base_revision": "1", "fit_candidate": KEY, "seq": "7", "section": "", **more}


def applied(document: dict[str, Any], moves: str, key: str = KEY) -> Any:
    return apply_moves(read_moves(moves), document, parse_study(document), key)


@given(st.dictionaries(ITEMS, st.tuples(TENTHS, TENTHS).filter(any)))
def test_moves_come_back_from_their_text(moves: dict[str, tuple[float, float]]) -> None:
    big = {item: move for item, move in moves.items() if max(map(abs, move)) < 1000}
    assert read_moves(write_moves(big)) == big


@pytest.mark.parametrize(
    "text",
    ["keepout.0", "keepout.0:1", "keepout.0:nan,0", "keepout.0:1e9,0", "part.0:1,1", "keepout.0:,"],
)
def test_a_text_that_no_page_wrote_is_refused(text: str) -> None:
    with pytest.raises(StudyRefusedError):
        read_moves(text)


@pytest.mark.parametrize("text", ["keepout.999:1,0", "corner.middle_left:1,0", "keepout.0:6000,0"])
def test_moves_of_nothing_there_or_too_far_are_refused(document: dict[str, Any], text: str) -> None:
    with pytest.raises(StudyRefusedError):
        applied(document, text)


def test_a_tank_has_no_modules_to_move(document: dict[str, Any]) -> None:
    key = next(one["key"] for one in document["candidates"] if one["layout"] == "tank")
    with pytest.raises(StudyRefusedError):
        applied(document, "corner.rear_left:5,0", key)


def test_a_moved_outline_keeps_its_text_along_the_axis_that_did_not_move(
    document: dict[str, Any],
) -> None:
    keepout = document["robot"]["keepouts"][0]
    study = parse_study(document)
    keepout["outline_m"] = [
        [f"{float(x) * 1000:g} mm", f"{float(y) * 1000:g} mm"]
        for x, y in study.robot.keepouts[0].outline_m
    ]
    before = copy.deepcopy(document)
    moved = applied(document, "keepout.0:12.5,0").edits["robot.keepouts"]
    assert document == before
    assert [corner[1] for corner in moved[0]["outline_m"]] == [
        corner[1] for corner in keepout["outline_m"]
    ]
    for corner, old in zip(moved[0]["outline_m"], study.robot.keepouts[0].outline_m, strict=True):
        assert corner[0] == pytest.approx(old[0] + 0.0125, abs=5e-5)
        assert corner[0] == round(corner[0], 4)
    assert moved[1:] == before["robot"]["keepouts"][1:]


def test_a_module_moves_inwards_by_its_inset_and_never_past_nothing(
    document: dict[str, Any],
) -> None:
    candidate = next(one for one in document["candidates"] if one["key"] == KEY)
    candidate["modules"]["corners"]["rear_right"]["inset_m"] = ["10 mm", 0.004]
    inwards = applied(document, "corner.rear_right:5,-9")
    assert inwards.moves == {"corner.rear_right": (5.0, -4.0)}
    section = inwards.edits[f"candidates/{KEY}"]["modules"]["corners"]["rear_right"]
    assert section["inset_m"] == [0.015, 0.0]
    outwards = applied(document, "corner.rear_right:-25,0")
    assert outwards.moves == {"corner.rear_right": (-10.0, 0.0)}
    assert outwards.edits[f"candidates/{KEY}"]["modules"]["corners"]["rear_right"]["inset_m"] == [
        0.0,
        0.004,
    ]


def test_the_partner_mirrors_a_step_unless_both_sides_are_free() -> None:
    assert with_step({}, "corner.rear_left", (5.0, -2.0), free=False) == {
        "corner.rear_left": (5.0, -2.0),
        "corner.rear_right": (5.0, 2.0),
    }
    assert list(with_step({}, "corner.rear_left", (5.0, -2.0), free=True)) == ["corner.rear_left"]


def test_moves_in_inches_for_those_who_use_them() -> None:
    assert move_words((25.4, 0.0), UnitSystem.INCH_POUND) == "1.00 in forward"


def test_a_live_answer_has_the_new_gaps_and_stores_nothing(
    app: FastAPI, client: TestClient, study_id: str, forms: Any
) -> None:
    page = client.get(f"/studies/{study_id}/fit", params={"candidate": KEY}).text
    answer = forms.send(
        f"/studies/{study_id}/fit/live", sent(study_id, moves="keepout.0:20,0;keepout.1:0,-3.5")
    )
    assert answer.status_code == 200
    assert answer.headers["Answer-Sequence"] == "7"
    assert 'data-drawn="keepout.0:20,0;keepout.1:0,-3.5"' in answer.text
    assert "20 mm forward" in answer.text
    assert "3.5 mm right" in answer.text
    gaps = re.compile(r'<td class="number">([^<]+)</td>')
    assert gaps.findall(answer.text) != gaps.findall(page)
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_a_live_question_wants_the_token_of_its_page(client: TestClient, study_id: str) -> None:
    assert client.post(f"/studies/{study_id}/fit/live", data=sent(study_id)).status_code == 403


def test_a_refused_move_is_told_and_still_listed(client: TestClient, study_id: str) -> None:
    answer = client.get(
        f"/studies/{study_id}/fit",
        params={"candidate": KEY, "moves": "corner.front_left:-900,0;keepout.0:5,0"},
    )
    assert answer.status_code == 422
    assert "Not possible so." in answer.text
    assert "900 mm back" in answer.text
    assert "<title>Error: " in answer.text
    assert 'data-drawn=""' in answer.text


def test_a_try_without_scripts_adds_a_step_to_what_is_pending(
    client: TestClient, study_id: str
) -> None:
    answer = client.get(
        f"/studies/{study_id}/fit",
        params={
            "candidate": KEY, "base_revision": "1", "moves": "keepout.0:5,0",
            "item": "corner.front_left", "forward": "-12 mm", "left": "",
        },
    )  # fmt: skip
    assert answer.status_code == 200
    wanted = "keepout.0:5,0;corner.front_left:-12,0;corner.front_right:-12,0"
    assert answer.text.count(f'name="moves" value="{wanted}"') == 2
    assert "front right module: 12 mm back" in answer.text
    other = "swerve-tall"
    link = re.search(rf'href="([^"]*candidate={other}[^"]*)"', answer.text)
    assert link and "moves=keepout.0%3A5%2C0&amp;base_revision=1" in link[1]


def test_a_length_that_is_none_is_refused_with_what_was_typed(
    client: TestClient, study_id: str
) -> None:
    answer = client.get(
        f"/studies/{study_id}/fit",
        params={"candidate": KEY, "item": "keepout.0", "forward": "1,5", "left": "2"},
    )
    assert answer.status_code == 422
    assert 'name="forward" value="1,5"' in answer.text
    assert 'name="left" value="2"' in answer.text


def test_a_save_appends_a_revision_that_says_what_moved(
    app: FastAPI, study_id: str, forms: Any, client: TestClient
) -> None:
    name = load_study(app.state.store, study_id).study.robot.keepouts[0].name
    answer = forms.send(
        f"/studies/{study_id}/fit/save",
        sent(study_id, moves="keepout.0:20,0;corner.rear_left:3,0", once="one-save-only"),
    )
    assert answer.status_code == 303
    assert answer.headers["location"].endswith(f"/fit?candidate={KEY}&saved=2")
    state = load_study(app.state.store, study_id)
    assert state.revision.number == 2
    assert f"{name} 20 mm forward, rear left module 3 mm forward" in state.revision.note
    corners = state.study.candidate(KEY).modules.corners  # type: ignore[union-attr]
    assert float(corners.rear_left.inset_m[0]) == pytest.approx(0.003)
    assert float(corners.rear_right.inset_m[0]) == 0.0
    assert "Saved as revision 2" in client.get(answer.headers["location"]).text


def test_two_who_move_keep_outs_meet_and_nothing_is_lost(
    app: FastAPI, study_id: str, forms: Any
) -> None:
    store = app.state.store
    theirs = copy.deepcopy(load_study(store, study_id).document["robot"]["keepouts"])
    theirs[0]["clearance_m"] = 0.02
    save_sections(
        store, study_id, base_revision=1, edits={"robot.keepouts": theirs}, author="Tom", note=""
    )
    fields = sent(study_id, moves="keepout.0:20,0", once="mine")
    answer = forms.send(f"/studies/{study_id}/fit/save", fields)
    assert answer.status_code == 409
    assert "Tom saved the same section meanwhile" in answer.text
    assert 'name="moves" value="keepout.0:20,0"' in answer.text
    settled = forms.send(f"/studies/{study_id}/fit/save", {**fields, "settle": "2"})
    assert settled.status_code == 303
    kept = load_study(store, study_id)
    assert kept.revision.number == 3
    assert float(kept.study.robot.keepouts[0].clearance_m) == 0.02


def test_a_refused_save_shows_the_moves_again(app: FastAPI, study_id: str, forms: Any) -> None:
    answer = forms.send(
        f"/studies/{study_id}/fit/save", sent(study_id, moves="corner.front_left:-900,0")
    )
    assert answer.status_code == 422
    assert 'name="moves" value="corner.front_left:-900,0"' in answer.text
    assert load_study(app.state.store, study_id).revision.number == 1


def test_editors_have_handles_with_names_and_viewers_none(
    client: TestClient, study_id: str, link_to: Any
) -> None:
    page = client.get(f"/studies/{study_id}/fit", params={"candidate": KEY}).text
    labels = re.findall(r'class="move-handle"[^>]*role="button"[^>]*aria-label="([^"]+)"', page)
    assert all(label.endswith("; arrow keys move it") for label in labels)
    assert sum(label.startswith("Keep-out ") for label in labels) == page.count(
        '<option value="keepout.'
    )
    assert sum("module, " in label for label in labels) == 4
    seen = client.get(f"/shared/{link_to()}/fit", params={"candidate": KEY}).text
    for trace in ("move-handle", "data-item", "Move on the drawing", "moves.js"):
        assert trace not in seen
