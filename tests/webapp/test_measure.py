"""The page of simple tests: worked out, kept as typed, taken over after a before-and-after."""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from models.services import load_study, save_sections
from models.study.sections import split_sections

TILT = {"angle": "48", "angle_error": "2", "tilt_into": "swerve"}
SCALES = {"fl": "14", "fr": "13.5", "rl": "12", "rr": "11.5", "scale_error": "0.1"}
BATTERY = {"v1": "12.6", "i1": "5", "v2": "11.85", "i2": "55"}
SPIN = {"turns": "10", "wheel": "70"}


def page(client: TestClient, study_id: str, query: Any = None, status: int = 200) -> str:
    answer = client.get(f"/studies/{study_id}/measure", params=query or {})
    assert answer.status_code == status, answer.text[:300]
    return re.sub(r"\s+", " ", answer.text)


def review(client: TestClient, study_id: str, test: str, query: Any, status: int = 200) -> str:
    answer = client.get(f"/studies/{study_id}/measure/take", params={**query, "test": test})
    assert answer.status_code == status, answer.text[:300]
    return answer.text


@pytest.fixture
def take(client: TestClient, sheets: Any, study_id: str) -> Any:
    """Reviews a result and takes it over as a browser would."""

    def post(test: str, query: dict[str, str], **changes: str) -> Any:
        fields = sheets.read(review(client, study_id, test, query))
        return sheets.post(f"/studies/{study_id}/measure/take", fields, {"your_name": "Ravi",
                           **changes})  # fmt: skip

    return post


def candidate(app: Any, study_id: str, key: str) -> dict[str, Any]:
    sections = split_sections(load_study(app.state.store, study_id).document)
    found: dict[str, Any] = sections[f"candidates/{key}"]
    return found


def test_an_empty_page_asks_and_says_nothing(client: TestClient, study_id: str) -> None:
    text = page(client, study_id)
    assert 'aria-current="page">Measure' in text
    assert text.count("Work it out") == 6
    assert "What it says" not in text
    assert "Still to be typed" not in text
    assert "Two people lift" in text


def test_constants_are_judged_and_every_unit_is_shown(client: TestClient, study_id: str) -> None:
    text = page(client, study_id, {"kv": "2.7", "ks": "0.3", "ka": "0.02"})
    assert "Taken as V per m/s" in text
    assert "was it off the floor?" in text
    assert "While something about them is wrong, nothing is taken over." in text
    assert text.count("✓ plausible") == 1
    stated = page(client, study_id, {"kv": "2.7", "unit": "ft"})
    assert "In V per ft/s, as stated" in stated


def test_the_scales_tell_mass_centre_and_height(client: TestClient, study_id: str) -> None:
    text = page(client, study_id, {**SCALES, "up_fl": "12", "up_fr": "11.6", "rise": "120"})
    assert "51.0 kg" in text
    assert "Its height" in text
    assert "Still to be typed" not in text
    assert "For the height, type both front readings" in page(
        client, study_id, {**SCALES, "up_fl": "12"}
    )


def test_what_is_missing_is_asked_for_and_kept(client: TestClient, study_id: str) -> None:
    text = page(client, study_id, {"fl": "14", "turns": "10"})
    assert "Still to be typed: “Front right”, “Rear left” and “Rear right”." in text
    assert 'value="14"' in text
    assert "the turns of a wheel, or time and wheel speed" in text
    timed = page(client, study_id, {"turns": "10", "spin_time": "12", "surface": "2"})
    assert "764 mm" in timed  # 2·2·12/(2π·10)


def test_a_fault_keeps_what_was_typed_and_the_other_tests(
    client: TestClient, study_id: str
) -> None:
    text = page(client, study_id, {**BATTERY, "angle": "4,5", "kv": "many"}, status=422)
    assert "<title>Error: " in text
    assert 'value="4,5"' in text
    assert "type 4.5" in text
    assert 'value="many"' in text
    assert "15.0 mΩ" in text
    swapped = {**BATTERY, "v1": "11", "v2": "12"}
    assert "which reading is which" in page(client, study_id, swapped, status=422)
    assert "The second current is greater" in page(
        client, study_id, {**BATTERY, "i2": "5"}, status=422
    )


def test_switching_the_units_converts_what_was_typed(client: TestClient, study_id: str) -> None:
    client.cookies.set("units", "inch-pound")
    text = page(client, study_id, {**SCALES, "fr": "13.5 kg", "typed_in": "si"})
    assert 'value="30.86"' in text  # 14 kg
    assert 'value="13.5 kg"' in text
    assert "112 lb" in text
    assert 'name="typed_in" value="inch-pound"' in text
    assert "30.9" not in page(client, study_id, {**SCALES, "typed_in": "inch-pound"})


def test_a_review_shows_every_headline_figure_before_and_after(
    client: TestClient, study_id: str, app: Any
) -> None:
    text = review(client, study_id, "tilt", TILT)
    assert "of the 8 headline figures move." in text
    assert text.count("as before") + text.count(">was ") == 8 * 4
    assert ">was " in text
    assert load_study(app.state.store, study_id).revision.number == 1


def test_a_grip_goes_into_the_chosen_candidates(take: Any, app: Any, study_id: str) -> None:
    answer = take("tilt", TILT)
    assert answer.status_code == 303
    assert answer.headers["location"].endswith("saved=2")
    grip = candidate(app, study_id, "swerve")["wheels"]["grip"]
    assert grip["value"] == pytest.approx(1.111)  # tan 48°
    assert (grip["low"], grip["high"]) == (pytest.approx(1.036), pytest.approx(1.192))
    assert grip["source"] == "measured"
    assert re.fullmatch(
        r"\d{4}-\d\d-\d\d, Ravi: Tilt test, slid at 48°, give or take 2°\.", grip["note"]
    )
    before = candidate(app, study_id, "tank")["wheels"]["grip"]
    assert before != grip
    state = load_study(app.state.store, study_id)
    assert state.revision.author == "Ravi"


def test_a_battery_a_track_and_a_part_take_their_results(
    take: Any, app: Any, client: TestClient, study_id: str
) -> None:
    assert take("battery", {**BATTERY, "battery_into": "own"}).status_code == 303
    assert take("spin", {**SPIN, "spin_into": "tank"}).status_code == 303
    part = {**SCALES, "scales_into": "part-3"}
    assert take("scales", part).status_code == 303
    state = load_study(app.state.store, study_id)
    assert float(state.study.power.internal_resistance_ohm) == pytest.approx(0.015)
    tank = state.study.candidate("tank").wheels
    assert tank.effective_track_m is not None
    assert float(tank.effective_track_m) == pytest.approx(float(tank.diameter_m) * 7, rel=1e-3)
    electronics = state.study.robot.parts[3]
    # 51.0 kg on the scales, 49.94 by the parts, 3.5 of them this one's
    assert float(electronics.mass_kg or 0.0) == pytest.approx(3.5 + 51.0 - 49.9406, abs=2e-3)
    assert state.revision.number == 4
    weighed = page(client, study_id, SCALES)
    assert "within the error" in weighed


def test_constants_that_hold_give_the_rolling_resistance(
    take: Any, app: Any, study_id: str
) -> None:
    answer = take("constants", {"kv": "2.7", "ks": "0.35", "constants_into": "tank"})
    assert answer.status_code == 303, answer.text
    rolling = candidate(app, study_id, "tank")["wheels"]["rolling_coefficient"]
    assert rolling["low"] < rolling["value"] < rolling["high"]
    assert "kS = 0.35" in rolling["note"]


@pytest.mark.parametrize(
    ("test", "query", "words"),
    [
        ("tilt", {}, "nothing to take over"),
        ("runs", {"length": "4", "time": "1"}, "for comparing, not for typing in"),
        ("battery", BATTERY, "choose where the result is to go"),
        ("scales", {**SCALES, "fl": "5", "fr": "5", "scales_into": "part-3"}, "another part"),
        ("constants", {"kv": "2.44", "ks": "0.667"}, "Template values are not taken over"),
        ("tilt", {"angle": "89"}, "type 1° to 70°"),
        ("hammer", {}, "Choose a test"),
    ],
)
def test_what_cannot_be_taken_over_says_why_and_changes_nothing(
    client: TestClient, study_id: str, *, test: str, query: Any, words: str
) -> None:
    assert words in review(client, study_id, test, query, status=422)
    assert "Revision</a> 1," in re.sub(r"\s+", " ", page(client, study_id))


def test_the_studys_own_limits_hold_for_what_is_taken_over(
    client: TestClient, study_id: str
) -> None:
    text = review(client, study_id, "spin", {"turns": "0.25", "turn_error": "0", "wheel": "90000",
                  "spin_into": "tank"}, status=422)  # fmt: skip
    assert "There is a problem" in text
    assert "Take it over" not in text


def test_the_same_section_saved_meanwhile_asks(
    client: TestClient, sheets: Any, app: Any, study_id: str
) -> None:
    fields = sheets.read(review(client, study_id, "tilt", TILT))
    changed = candidate(app, study_id, "swerve")
    changed = {**changed, "wheels": {**changed["wheels"], "grip": 0.7}}
    save_sections(app.state.store, study_id, base_revision=1,
                  edits={"candidates/swerve": changed}, author="Ines", note="")  # fmt: skip
    address = f"/studies/{study_id}/measure/take"
    answer = sheets.post(address, fields)
    assert answer.status_code == 409
    assert "Ines saved the same section meanwhile" in answer.text
    settled = sheets.post(address, sheets.read(answer.text), settle="2")
    assert settled.status_code == 303
    grip = candidate(app, study_id, "swerve")["wheels"]["grip"]
    assert grip["value"] == pytest.approx(1.111)


def test_pressing_twice_saves_once(
    client: TestClient, sheets: Any, app: Any, study_id: str
) -> None:
    fields = sheets.read(review(client, study_id, "tilt", TILT))
    address = f"/studies/{study_id}/measure/take"
    assert sheets.post(address, fields).status_code == 303
    assert sheets.post(address, fields).status_code == 303
    assert load_study(app.state.store, study_id).revision.number == 2


def test_a_form_without_the_token_is_refused(client: TestClient, study_id: str) -> None:
    answer = client.post(f"/studies/{study_id}/measure/take", data={"test": "tilt", **TILT})
    assert answer.status_code == 403


def test_hostile_text_is_shown_as_text(client: TestClient, study_id: str) -> None:
    hostile = "<s x=\"'>"
    query = dict.fromkeys(["kv", "angle", "fl", "unit", "tilt_on", "typed_in"], hostile)
    text = page(client, study_id, query, status=422)
    assert "<s x" not in text
    kept = review(client, study_id, "tilt", {**TILT, "odd<s>": hostile, "kv": hostile})
    assert "<s x" not in kept
    assert "<s>" not in kept


def test_viewers_have_no_such_page(client: TestClient, link_to: Any) -> None:
    assert client.get(f"/shared/{link_to()}/measure").status_code == 404
