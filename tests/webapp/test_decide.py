"""The page of the decision: words, pictures, matrix, form; the same for viewers."""

from __future__ import annotations

import copy
import re
from html import unescape
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_link, create_study, list_revisions, load_study, save_sections
from models.units import UnitSystem
from webapp.shared.candidates import CandidateMark
from webapp.shared.choice.measures import measure_of
from webapp.shared.choice.pictures import rank_picture
from webapp.shared.choice.words import lead_words, remarks, weightings_words

MARKS = {
    key: CandidateMark(key, f"Base {key}", key.upper(), f"cand-{key}", key == "a", "tank")
    for key in "abc"
}


def said(text: str) -> str:
    """What a page says, without markup and with plain spaces."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).replace("\xa0", " ").split())


def candidate(key: str, score: float, **more: Any) -> dict[str, Any]:
    return {
        "key": key, "score": score, "score_p10": score - 0.05, "score_p90": score + 0.05,
        "failed_gates": [], "gates": [], "gate_chance": 1.0, "not_scored": [],
        "team_ranks": [0.0, 1.0], "rank_acceptability": [0.0, 1.0], **more,
    }  # fmt: skip


def decision(*candidates: dict[str, Any], **more: Any) -> dict[str, Any]:
    order = [one["key"] for one in candidates if not one["failed_gates"]]
    return {
        "draws": 2000, "weightings": 50_000, "gates": [], "candidates": list(candidates),
        "criteria": [{"metric": "push_force_n"}, {"metric": "turn90_s"}], "flips": [],
        "order": order, "leader": order[0] if order else None, **more,
    }  # fmt: skip


def test_a_lead_is_said_with_score_and_range_and_a_tie_as_a_tie() -> None:
    sure = decision(
        candidate("a", 0.8, team_ranks=[0.97, 0.03]), candidate("b", 0.6, team_ranks=[0.03, 0.97])
    )
    words = said(lead_words(sure, MARKS))
    assert words.startswith("A leads under your weights: it scores 0.80 (0.75 to 0.85), B 0.60")
    assert "first in 97 % of the draws" in words
    close = decision(
        candidate("a", 0.8, team_ranks=[0.6, 0.4]), candidate("b", 0.79, team_ranks=[0.4, 0.6])
    )
    words = said(lead_words(close, MARKS))
    assert words.startswith("A tie under your weights: A scores 0.80 (0.75 to 0.85), B 0.79")
    assert "A comes first in 60 % of the draws, B in 40 %" in words


def test_nobody_leads_where_all_are_out_or_nothing_is_stated() -> None:
    out = decision(candidate("a", 0.8, failed_gates=["mass_kg"]))
    assert lead_words(out, MARKS).startswith("No candidate passes every gate")
    assert lead_words({**out, "criteria": []}, MARKS).startswith("Nothing can be weighed yet")


def test_without_ranges_a_hair_is_a_tie_and_a_wide_gap_is_none() -> None:
    hair = decision(candidate("a", 0.731), candidate("b", 0.728), draws=0)
    assert "So small a difference decides nothing" in lead_words(hair, MARKS)
    gap = decision(candidate("a", 0.731), candidate("b", 0.5), draws=0)
    assert lead_words(gap, MARKS).startswith("A leads")


def test_all_weightings_name_who_is_never_first() -> None:
    words = said(
        weightings_words(
            decision(
                candidate("a", 0.8, rank_acceptability=[0.53, 0.47, 0.0]),
                candidate("b", 0.7, rank_acceptability=[0.47, 0.53, 0.0]),
                candidate("c", 0.5, rank_acceptability=[0.0, 0.0, 1.0]),
            ),
            MARKS,
        )
    )
    assert "A comes first in 53 %, B in 47 %." in words
    assert words.endswith("C is first in none.")


def test_remarks_say_who_is_out_by_how_much_and_what_tells_nothing() -> None:
    gate = {"metric": "mass_kg", "at_least": None, "at_most": 54.0, "is": None, "idle": False}
    result = {"metric": "mass_kg", "value": 56.2, "passes": False}
    twins = [
        {"metric": "push_force_n", "idle": True, "share": 0.25, "twins": ["turn90_s"]},
        {"metric": "turn90_s", "idle": False, "share": 0.75, "twins": ["push_force_n"]},
    ]
    found = decision(
        candidate("a", 0.8),
        candidate("b", 0.7, failed_gates=["mass_kg"], gates=[result], gate_chance=0.3),
        candidate("c", 0.7, not_scored=["turn90_s"], gate_chance=0.5),
        gates=[gate],
        criteria=twins,
    )
    measures = {
        key: measure_of(key, values, UnitSystem.SI)
        for key, values in {
            "mass_kg": [56.2], "push_force_n": [400.0], "turn90_s": [0.5],
        }.items()
    }  # fmt: skip
    words = [said(one.text) for one in remarks(found, MARKS, measures, UnitSystem.SI)]
    assert "B is out: “Moving mass” is 56.2 kg, 2.2 kg over 54 kg. It would pass in 30 % of the " \
        "draws." in words  # fmt: skip
    assert "C passes the gates as typed, but in 50 % of the draws only." in words
    assert any(one.startswith("C is not scored: it has no “Quarter turn") for one in words)
    assert any("nearly the same order" in one for one in words)
    assert any(
        "“Pushing force” tells nobody apart here: its weight of 25 %" in one for one in words
    )


def test_ranks_beyond_the_third_are_joined() -> None:
    picture = rank_picture("r", "", "", {"a": [0.1, 0.2, 0.3, 0.25, 0.15]}, MARKS)
    assert [name for _, name in picture.legend] == ["first", "second", "third", "later"]
    assert [piece.width for piece in picture.bars[0].pieces] == [10.0, 20.0, 30.0, 40.0]
    assert picture.bars[0].pieces[-1].left == pytest.approx(60.0)
    four = rank_picture("r", "", "", {"a": [0.25, 0.25, 0.25, 0.25]}, MARKS)
    assert four.legend[-1][1] == "fourth"


def test_the_page_leads_with_the_result_and_shows_the_matrix(
    client: TestClient, study_id: str
) -> None:
    text = client.get(f"/studies/{study_id}/decide").text
    lead = re.search(r'class="lead">(.*?)</p>', text, re.DOTALL)
    assert lead and "under your weights" in lead[1]
    assert text.index('class="lead"') < text.index('id="score-head"') < text.index('id="form"')
    page = said(text)
    assert "Under any weights at all" in page
    assert "Sprint and stop 38 % 2.4 s → 1.8 s" in page
    assert 'aria-current="page">Decide' in text


def test_a_viewer_sees_the_result_and_nothing_to_edit(client: TestClient, link_to: Any) -> None:
    text = client.get(f"/shared/{link_to()}/decide").text
    assert "under your weights" in text
    assert 'id="sheet"' not in text
    assert "/studies/" not in text


def test_a_study_without_criteria_leads_to_the_form(
    app: FastAPI, client: TestClient, document: dict[str, Any]
) -> None:
    del document["decision"]
    study = create_study(app.state.store, document, author="", note="").study_id
    text = client.get(f"/studies/{study}/decide").text
    assert "Nothing can be weighed yet" in text
    assert 'href="#form"' in text
    token = create_link(app.state.store, study, kind="live", author="")[1]
    assert 'href="#form"' not in client.get(f"/shared/{token}/decide").text


def row_of(document: dict[str, Any], metric: str) -> dict[str, Any]:
    return next(one for one in document["decision"]["criteria"] if one["metric"] == metric)


def test_saving_the_form_unchanged_saves_nothing(
    app: FastAPI, client: TestClient, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide"
    for units in ("si", "inch-pound"):
        client.cookies.set("units", units)
        answer = sheets.post(address, sheets.open(address))
        assert answer.headers["location"].endswith("saved=nothing"), units
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_numbers_are_typed_in_the_units_of_the_page_and_kept_in_si(
    app: FastAPI, client: TestClient, sheets: Any, study_id: str
) -> None:
    client.cookies.set("units", "inch-pound")
    address = f"/studies/{study_id}/decide"
    fields = sheets.open(address)
    shown = dict(fields)
    assert shown["decision.gates.0.at_most"] == "132.28"  # 60 kg in lb
    changes = {"decision.gates.0.at_most": "130", "decision.criteria.1.worst": "60"}
    answer = sheets.post(address, fields, changes)
    assert answer.status_code == 303, answer.text[:500]
    stored = load_study(app.state.store, study_id).document["decision"]
    assert stored["gates"][0]["at_most"] == pytest.approx(58.96701, abs=1e-4)
    assert stored["criteria"][1]["worst"] == pytest.approx(266.893, abs=1e-3)
    assert stored["criteria"][1]["best"] == 550
    assert dict(sheets.open(address))["decision.gates.0.at_most"] == "130"


def test_a_unit_typed_with_the_number_and_percent_are_understood(
    app: FastAPI, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide"
    fields = sheets.open(address)
    more = {"decision.gates.2.metric": "ready_probability", "decision.gates.2.at_least": "80",
            "decision.gates.0.at_most": "130 lb"}  # fmt: skip
    assert sheets.post(address, fields, more).status_code == 303
    gates = load_study(app.state.store, study_id).document["decision"]["gates"]
    assert gates[2] == {"metric": "ready_probability", "at_least": 0.8}
    assert gates[0]["at_most"] == pytest.approx(58.967, abs=1e-3)


FAULTS = [
    ({"decision.criteria.0.best": "2.4"}, "decision.criteria.0.best", "both 2.4 s"),
    ({"decision.criteria.0.weight": "-1"}, "decision.criteria.0.weight", "from 0 to 1000"),
    ({"decision.criteria.0.weight": ""}, "decision.criteria.0.weight", "Type a weight"),
    ({"decision.criteria.0.worst": "2,4"}, "decision.criteria.0.worst", "2,4"),
    ({"decision.criteria.0.worst": "2.4 kg"}, "decision.criteria.0.worst", "not a time"),
    ({"decision.criteria.1.metric": "sprint_stop_time_s"}, "decision.criteria.1.metric", "another"),
    ({"decision.criteria.1.metric": "swiftness"}, "decision.criteria.1.metric", "no figure"),
    ({"decision.criteria.1.metric": "push_limited_by"}, "decision.criteria.1.metric", "is a word"),
    ({"decision.gates.0.at_most": ""}, "decision.gates.0.at_least", "without a limit"),
    ({"decision.gates.0.at_least": "70"}, "decision.gates.0.at_least", "the lesser"),
    ({"decision.gates.1.metric": "mass_kg"}, "decision.gates.1.metric", "into one row"),
    ({"decision.gates.1.metric": "fits"}, "decision.gates.1.is", "has to be"),
    ({"decision.gates.1.metric": ""}, "decision.gates.1.metric", "Choose the figure"),
    ({f"decision.criteria.{row}.weight": "0" for row in range(4)}, "decision.criteria.0.weight",
     "All weights are 0"),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "fault"), [(one, rest) for one, *rest in FAULTS])
def test_a_fault_stands_at_its_box_and_everything_typed_is_kept(
    app: FastAPI, sheets: Any, study_id: str, typed: dict[str, str], fault: list[str]
) -> None:
    name, words = fault
    address = f"/studies/{study_id}/decide"
    answer = sheets.post(address, sheets.open(address), typed)
    assert answer.status_code == 422
    box = "f-" + name.replace(".", "-")
    found = re.search(rf'id="{box}-fault">(.*?)</p>', answer.text, re.DOTALL)
    assert found and words in said(found[1]), said(answer.text)[:600]
    row = int(re.findall(r"\d+", name)[0]) + 1
    one = "Criterion" if "criteria" in name else "Gate"
    assert re.search(rf'<a href="#{box}">{one} {row}: ', answer.text)
    assert "<title>Error: Decide" in answer.text
    kept = dict(sheets.read(answer.text))
    assert {key: kept[key] for key in typed if key in kept} == typed
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_rows_are_added_and_removed_without_scripts(
    app: FastAPI, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide"
    added = sheets.post(address, sheets.open(address), row="add:decision.criteria")
    assert added.status_code == 200
    fields = sheets.read(added.text)
    assert ("decision.criteria.4.metric", "") in fields
    chosen = sheets.post(address, fields, {"decision.criteria.4.metric": "top_speed_mps"},
                         row="suggest:decision.criteria.4")  # fmt: skip
    filled = dict(sheets.read(chosen.text))
    worst, best = (float(filled[f"decision.criteria.4.{end}"]) for end in ("worst", "best"))
    assert worst < best
    removed = sheets.post(address, sheets.read(chosen.text), {"decision.criteria.4.weight": "2"},
                          row="remove:decision.criteria.0")  # fmt: skip
    answer = sheets.post(address, sheets.read(removed.text))
    assert answer.status_code == 303, said(answer.text)[:500]
    criteria = load_study(app.state.store, study_id).document["decision"]["criteria"]
    assert [one["metric"] for one in criteria] == [
        "push_force_n", "turn90_s", "mass_kg", "top_speed_mps",
    ]  # fmt: skip
    assert criteria[3]["weight"] == 2


def test_a_row_left_blank_is_dropped_and_nothing_to_suggest_is_said(
    app: FastAPI, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide"
    added = sheets.post(address, sheets.open(address), row="add:decision.gates")
    nothing = sheets.post(address, sheets.read(added.text), row="suggest:decision.criteria.9")
    assert nothing.status_code == 200
    answer = sheets.post(address, sheets.read(added.text))
    assert answer.headers["location"].endswith("saved=nothing")
    bare = sheets.post(address, sheets.open(address), {"decision.criteria.0.metric": ""},
                       row="suggest:decision.criteria.0")  # fmt: skip
    assert "Choose the figure first." in bare.text


def test_removing_all_rows_leaves_an_empty_decision(
    app: FastAPI, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide"
    fields = [(name, text) for name, text in sheets.open(address)
              if not re.match(r"decision\.(gates|criteria)\.\d", name)]  # fmt: skip
    assert sheets.post(address, fields).status_code == 303
    assert load_study(app.state.store, study_id).document["decision"] == {
        "gates": [], "criteria": [],
    }  # fmt: skip


def test_what_is_known_of_a_stored_number_is_kept(
    app: FastAPI, client: TestClient, sheets: Any, document: dict[str, Any]
) -> None:
    stated = {"value": 3, "low": 2, "high": 4, "source": "assumed"}
    row_of(document, "sprint_stop_time_s")["weight"] = stated
    study = create_study(app.state.store, document, author="", note="").study_id
    address = f"/studies/{study}/decide"
    sheets.post(address, sheets.open(address), {"decision.criteria.1.weight": "5"})
    kept = load_study(app.state.store, study).document
    assert row_of(kept, "sprint_stop_time_s")["weight"] == stated
    assert row_of(kept, "push_force_n")["weight"] == 5


def test_two_who_changed_the_weights_are_asked(app: FastAPI, sheets: Any, study_id: str) -> None:
    address = f"/studies/{study_id}/decide"
    fields = sheets.open(address)
    theirs = copy.deepcopy(load_study(app.state.store, study_id).document["decision"])
    theirs["criteria"][0]["weight"] = 9
    save_sections(app.state.store, study_id, base_revision=1, edits={"decision": theirs},
                  author="Ravi", note="")  # fmt: skip
    answer = sheets.post(address, fields, {"decision.criteria.0.weight": "7"})
    assert answer.status_code == 409
    assert "Ravi saved the same section meanwhile" in said(answer.text)
    assert dict(sheets.read(answer.text))["decision.criteria.0.weight"] == "7"


def test_weights_are_weighed_while_typed_and_nothing_is_stored(
    app: FastAPI, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide"
    fields = sheets.open(address)
    before = sheets.post(address, fields, to=f"{address}/live", seq="3")
    assert before.headers["Answer-Sequence"] == "3"
    only_turns = {f"decision.criteria.{row}.weight": "0" for row in (0, 1, 3)}
    after = sheets.post(address, fields, only_turns, to=f"{address}/live")
    assert said(after.text) != said(before.text)
    fault = sheets.post(address, fields, {"decision.criteria.0.weight": "x"}, to=f"{address}/live")
    assert "Not worked out yet" in fault.text
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_the_swing_asks_for_the_first_then_for_the_others(
    client: TestClient, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide/swing"
    first = said(client.get(address).text)
    assert "Sprint and stop from 2.4 s to 1.8 s" in first
    second = said(client.get(address, params={"first": "push_force_n"}).text)
    assert "Pushing force from 250 N to 550 N counts 100 points" in second
    wrong = client.get(address, params={"first": "swiftness"}).text
    assert "Choose one of the changes" in wrong


def test_points_become_weights_and_the_history_says_so(
    app: FastAPI, sheets: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide/swing"
    fields = sheets.open(f"{address}?first=push_force_n")
    points = {"points.0": "60", "points.2": "12.5", "points.3": "0", "revision_note": ""}
    answer = sheets.post(address, fields, points)
    assert answer.status_code == 303, said(answer.text)[:400]
    assert "/decide?saved=2" in answer.headers["location"]
    criteria = load_study(app.state.store, study_id).document["decision"]["criteria"]
    assert [one["weight"] for one in criteria] == [60, 100, 12.5, 0]
    note = list_revisions(app.state.store, study_id)[0].note
    assert note == "Weights by swing, the weightiest: Pushing force"


@pytest.mark.parametrize(
    ("text", "words"), [("", "Give this change points"), ("120", "name it the first"), ("a", "a")]
)
def test_points_that_do_not_hold_are_said_at_their_box(
    app: FastAPI, sheets: Any, study_id: str, text: str, words: str
) -> None:
    address = f"/studies/{study_id}/decide/swing"
    fields = sheets.open(f"{address}?first=push_force_n")
    answer = sheets.post(address, fields, {"points.0": text, "points.2": "10", "points.3": "20"})
    assert answer.status_code == 422
    fault = re.search(r'id="f-points-0-fault">(.*?)</p>', answer.text, re.DOTALL)
    assert fault and words in said(fault[1])
    assert dict(sheets.read(answer.text))["points.2"] == "10"
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_a_swing_sent_without_its_first_goes_back_to_the_question(
    sheets: Any, forms: Any, study_id: str
) -> None:
    address = f"/studies/{study_id}/decide/swing"
    answer = forms.send(address, {"base_revision": "1", "points:first": "swiftness"})
    assert (answer.status_code, answer.headers["location"]) == (303, address)
