"""A drawing sent, asked for its unit, looked at, taken over; nothing lost where it is refused."""

from __future__ import annotations

import html
import io
import re
import threading
import time
from typing import Any

import pytest
import trimesh
from ezdxf.filemanagement import new
from starlette.testclient import TestClient

from models.drawings import reading
from models.services import list_revisions, load_study


def plan() -> bytes:
    document = new("R2010", units=4)
    space = document.modelspace()
    corners = [(-100, 0), (100, 0), (100, 150), (-100, 150)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "ARM SWEEP"})
    space.add_circle((0, -200), 60, dxfattribs={"layer": "R&D plate"})
    file = io.StringIO()
    document.write(file)
    return file.getvalue().encode()


class Drawings:
    """Sends drawings and forms as the page does."""

    def __init__(self, client: TestClient, forms: Any, study_id: str) -> None:
        self.client, self.forms = client, forms
        self.address = f"/studies/{study_id}/drawings"

    def read(self, name: str, content: bytes, **fields: str) -> Any:
        fields = {"csrf_token": self.forms.token(), "steps": "4", "up": "z", **fields}
        return self.client.post(
            f"{self.address}/read", data=fields, files={"file": (name, content)}
        )

    def send(self, page: str, **fields: str) -> Any:
        hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page))
        sent = {name: html.unescape(value) for name, value in hidden.items()}
        return self.client.post(self.address, data={**sent, **fields})


@pytest.fixture(autouse=True)
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Gives a busy test machine more time than users get; processor time stays limited."""
    monkeypatch.setattr(reading, "WALL_S", 60.0)


@pytest.fixture
def drawings(client: TestClient, forms: Any, study_id: str) -> Drawings:
    return Drawings(client, forms, study_id)


@pytest.fixture
def page(drawings: Drawings) -> str:
    answer = drawings.read("plan of base.dxf", plan())
    assert answer.status_code == 200, answer.text
    return str(answer.text)


KEEPOUT = {
    "unit": "mm", "layers.0.becomes": "keepout", "layers.0.bottom": "50",
    "layers.0.top": "4 in", "layers.0.clearance": "",
}  # fmt: skip


def test_a_drawing_is_asked_for_its_unit_with_the_size_of_each(page: str) -> None:
    assert "200 mm × 410 mm" in page
    assert "5.08 m × 10.4 m" in page
    assert "The file says millimetres" in page
    assert not re.search(r'name="unit"[^>]*checked', page)


def test_nothing_is_taken_over_without_a_unit(
    drawings: Drawings, page: str, app: Any, study_id: str
) -> None:
    fields = {**KEEPOUT, "unit": "", "revision_note": "typed by me"}
    answer = drawings.send(page, do="take", **fields)
    assert answer.status_code == 422
    assert "Say which unit the drawing is in" in answer.text
    assert 'value="4 in"' in answer.text
    assert 'value="typed by me"' in answer.text
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_looking_stores_nothing_and_says_what_would_fit(
    drawings: Drawings, page: str, app: Any, study_id: str
) -> None:
    answer = drawings.send(page, do="look", **KEEPOUT)
    assert answer.status_code == 200
    assert "With this taken over" in answer.text
    assert 'class="drawn-taken"' in answer.text
    assert len(list_revisions(app.state.store, study_id)) == 1


def test_a_keepout_is_taken_over_as_a_revision(
    drawings: Drawings, page: str, app: Any, study_id: str
) -> None:
    answer = drawings.send(page, do="take", your_name="Ines", **KEEPOUT)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/studies/{study_id}/robot?saved=2"
    state = load_study(app.state.store, study_id)
    keepout = state.study.robot.keepouts[-1]
    assert (keepout.name, keepout.bottom_m) == ("ARM SWEEP", pytest.approx(0.05))
    assert keepout.top_m == pytest.approx(0.1016)
    corners = {(float(x), float(y)) for x, y in keepout.outline_m}
    assert corners == {(0.0, 0.1), (0.0, -0.1), (0.15, -0.1), (0.15, 0.1)}
    assert "plan of base.dxf: 1 keep-out from “ARM SWEEP”" in state.revision.note
    again = drawings.send(page, do="take", your_name="Ines", **KEEPOUT)
    assert again.status_code == 303


def test_the_same_press_twice_makes_one_revision(
    drawings: Drawings, page: str, app: Any, study_id: str
) -> None:
    looked = drawings.send(page, do="look", **KEEPOUT).text
    for _ in range(2):
        assert drawings.send(looked, do="take", **KEEPOUT).status_code == 303
    assert len(list_revisions(app.state.store, study_id)) == 2


def test_a_frame_and_a_body_of_a_candidate_are_taken_over(
    drawings: Drawings, page: str, app: Any, study_id: str
) -> None:
    fields = {
        "unit": "mm", "middle": "frame", "front": "right", "layers.0.becomes": "frame:swerve",
        "layers.1.becomes": "body:swerve", "layers.1.bottom": "0", "layers.1.top": "80",
    }  # fmt: skip
    answer = drawings.send(page, do="take", **fields)
    assert answer.headers["location"] == f"/studies/{study_id}/candidates/swerve?saved=2"
    candidate = load_study(app.state.store, study_id).study.candidate("swerve")
    assert (candidate.frame.length_m, candidate.frame.width_m) == (0.2, 0.15)
    assert candidate.bodies[-1].name == "R&D plate"


def test_a_fault_is_shown_at_its_box_and_all_is_kept(drawings: Drawings, page: str) -> None:
    answer = drawings.send(page, do="take", **{**KEEPOUT, "layers.0.bottom": "1,5"})
    assert answer.status_code == 422
    assert re.search(r'<a href="#f-layers-0-bottom">', answer.text)
    assert re.search(r'id="f-layers-0-bottom"[^>]*value="1,5"[^>]*aria-invalid="true"', answer.text)
    assert re.search(r'value="keepout" selected', answer.text)


def test_what_the_study_refuses_is_told_and_kept(drawings: Drawings, page: str) -> None:
    answer = drawings.send(page, do="take", **{**KEEPOUT, "unit": "m"})
    assert answer.status_code == 422
    assert "20 m" in answer.text
    assert 'value="4 in"' in answer.text


@pytest.mark.parametrize("packed", ["", "[]", '{"kind": "dxf"}', "NaN", "x" * 1000])
def test_outlines_changed_on_the_way_are_refused(
    drawings: Drawings, page: str, packed: str
) -> None:
    answer = drawings.send(page, do="take", drawing=packed, **KEEPOUT)
    assert answer.status_code == 422
    assert "Send the drawing again" in answer.text


def test_a_mesh_is_cut_into_steps_and_lifted(drawings: Drawings, app: Any, study_id: str) -> None:
    content = trimesh.creation.box((200, 100, 40)).export(file_type="stl")
    page = drawings.read("lift.stl", content, steps="3").text
    assert "times the mesh" in page
    fields = {"unit": "mm", "lift": "100", "layers.0.becomes": "keepout"}
    assert drawings.send(page, do="take", **fields).status_code == 303
    keepout = load_study(app.state.store, study_id).study.robot.keepouts[-1]
    assert (keepout.name, keepout.bottom_m, keepout.top_m) == ("lift 1", 0.08, 0.12)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("plan.dxf", b"rubbish", "cannot be read as DXF"),
        ("plan.dwg", b"rubbish", "DXF drawings and STL meshes"),
        ("plan.dxf", b"", "empty"),
    ],
)
def test_a_refused_drawing_is_told_on_the_page(
    drawings: Drawings, name: str, content: bytes, words: str
) -> None:
    answer = drawings.read(name, content)
    assert answer.status_code == 422
    assert words in answer.text
    assert "Read the drawing" in answer.text


def test_no_file_and_odd_steps_are_told(drawings: Drawings) -> None:
    nothing = drawings.client.post(
        f"{drawings.address}/read", data={"csrf_token": drawings.forms.token()}
    )
    assert (nothing.status_code, "Choose a drawing" in nothing.text) == (422, True)
    odd = drawings.read("part.stl", b"solid", steps="many")
    assert (odd.status_code, "1 to 12 height steps" in odd.text) == (422, True)


def test_a_file_of_30_megabytes_is_refused_at_once(drawings: Drawings) -> None:
    start = time.monotonic()
    answer = drawings.read("plan.dxf", b"0" * 30_000_000)
    assert answer.status_code == 422
    assert "30.0 MB; 20 MB at most are read" in answer.text
    assert time.monotonic() - start < 5.0


def test_others_are_answered_while_a_drawing_is_read(
    drawings: Drawings, client: TestClient
) -> None:
    line = "0\nLINE\n8\nA\n10\n%d.5\n20\n0.1\n11\n%d.5\n21\n2000.1\n"
    pieces = "".join(line % (number, number) for number in range(300_000))
    slow = f"0\nSECTION\n2\nENTITIES\n{pieces}0\nENDSEC\n0\nEOF\n".encode()
    answers: list[Any] = []
    thread = threading.Thread(target=lambda: answers.append(drawings.read("plan.dxf", slow)))
    thread.start()
    healthy = 0
    while thread.is_alive() and healthy < 20:
        assert client.get("/health").status_code == 200
        assert client.get("/").status_code == 200
        healthy += thread.is_alive()
        time.sleep(0.05)
    thread.join()
    assert healthy >= 5
    assert answers[0].status_code == 422
    assert "stopped" in answers[0].text or "memory" in answers[0].text


def test_a_drawing_of_an_unknown_study_is_not_found(client: TestClient) -> None:
    assert client.get("/studies/nothing/drawings").status_code == 404
