"""What leaves the server: the study as one page, the chat's card and picture, codes, the text."""

from __future__ import annotations

import re
import struct
from html.parser import HTMLParser
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from models.services import create_study, list_links, load_study, revoke_link, whole_evaluation_of
from models.units import UnitSystem
from webapp.shared.away.brief import LONGEST_DESCRIPTION, Brief, brief_of
from webapp.shared.away.code import code_of
from webapp.shared.away.lettering import broken, text_width
from webapp.shared.away.picture import chat_picture
from webapp.shared.candidates import marks_of

ROBOT = {"user-agent": "ExampleChatBot/1.0 (link preview)"}


def with_base(app: FastAPI, address: str) -> None:
    changed = app.state.settings.model_copy(update={"base_url": address})
    app.state.settings = changed


class Reader(HTMLParser):
    """Reads a page: its ids, addresses, elements and whether each is closed in order."""

    VOID = frozenset({"meta", "input", "link", "br", "img", "hr", "col"})

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.ids: list[str] = []
        self.refers: list[str] = []
        self.fetched: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags.append(tag)
        self.ids += [given["id"]] if "id" in given else []
        for name in ("aria-labelledby", "for", "aria-describedby"):
            self.refers += given.get(name, "").split()
        self.fetched += [given[name] for name in ("src", "href", "xlink:href") if name in given]
        assert not [name for name in given if name.startswith("on") or name == "style"]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag


def meta(page: str) -> dict[str, str]:
    found = re.findall(r'<meta (?:property|name)="([^"]+)" content="([^"]*)">', page)
    return dict(found)


def test_the_study_as_one_page_needs_nothing_from_outside(
    client: TestClient, study_id: str
) -> None:
    answer = client.get(f"/studies/{study_id}/study.html")
    assert answer.headers["content-disposition"].startswith("attachment")
    page = Reader(answer.text)
    assert page.open == []
    assert page.fetched == []
    assert "script" not in page.tags
    assert len(page.ids) == len(set(page.ids))
    assert set(page.refers) <= set(page.ids)
    assert not re.search(r"url\((?!#)|@import", answer.text)
    assert "/studies/" not in answer.text
    assert page.tags.count("svg") > 10


def test_the_page_has_both_units_revision_hash_and_model(
    app: FastAPI, client: TestClient, study_id: str
) -> None:
    text = client.get(f"/studies/{study_id}/study.html").text
    state = load_study(app.state.store, study_id)
    one, _, other = text.partition('<div class="in-ip">')
    assert "ft/s" in other
    assert "ft/s" not in one
    assert " m/s" in one
    payload = whole_evaluation_of(app.state.store, state)
    for words in (state.revision.hash, "Ines", f"<dd>{payload['model_version']}</dd>", "(UTC"):
        assert words in text
    for candidate in state.study.candidates:
        assert text.count(candidate.name) > 4


def test_the_page_of_a_link_opens_with_the_reader_s_units_and_names_the_link(
    client: TestClient, link_to: Any
) -> None:
    token = link_to("frozen")
    client.cookies.set("units", "inch-pound")
    text = client.get(f"/shared/{token}/study.html").text
    assert re.search(r'id="units-ip" checked', text)
    assert f"http://localhost/shared/{token}" in text
    assert "/studies/" not in text


def test_figures_of_an_older_model_come_without_curves_of_another(
    client: TestClient, link_to: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = link_to("frozen")
    monkeypatch.setattr("webapp.shared.away.study_file.MODEL_VERSION", "a later one")
    text = client.get(f"/shared/{token}/study.html").text
    assert "from an earlier model" in text
    assert "plot-drawing" not in text.partition("</style>")[2]


def test_a_shared_link_has_a_card_for_chats(client: TestClient, app: FastAPI, link_to: Any) -> None:
    token = link_to("frozen")
    with_base(app, "https://robot.example")
    page = client.get(f"/shared/{token}", headers=ROBOT).text
    card = meta(page)
    assert card["og:title"] == "Reference study 1"
    assert card["og:type"] == "website"
    assert card["og:url"] == f"https://robot.example/shared/{token}"
    assert card["og:image"] == f"https://robot.example/shared/{token}/picture.png"
    assert (card["og:image:width"], card["og:image:height"]) == ("1200", "630")
    assert card["twitter:card"] == "summary_large_image"
    assert 20 < len(card["og:description"]) <= LONGEST_DESCRIPTION
    assert page.index("og:image") < 300_000


def test_without_an_address_that_others_reach_no_picture_is_named(
    client: TestClient, link_to: Any
) -> None:
    card = meta(client.get(f"/shared/{link_to('live')}/charts").text)
    assert "og:image" not in card
    assert card["og:title"]
    assert card["twitter:card"] == "summary"


def test_an_editor_s_page_has_no_card(client: TestClient, study_id: str) -> None:
    assert "og:title" not in client.get(f"/studies/{study_id}").text


def test_a_robot_s_visits_burn_nothing(
    app: FastAPI, client: TestClient, link_to: Any, study_id: str
) -> None:
    token = link_to("live")
    before = list_links(app.state.store, study_id)
    for _ in range(3):
        for page in ("", "/picture.png", "/study.html"):
            answer = client.get(f"/shared/{token}{page}", headers=ROBOT)
            assert answer.status_code == 200
    assert list_links(app.state.store, study_id) == before
    assert client.get(f"/shared/{token}").status_code == 200


def test_a_closed_link_gives_410_without_figures(
    app: FastAPI, client: TestClient, link_to: Any, study_id: str
) -> None:
    token = link_to("frozen")
    revoke_link(app.state.store, list_links(app.state.store, study_id)[0].id)
    with_base(app, "https://robot.example")
    for page in ("", "/picture.png", "/study.html"):
        answer = client.get(f"/shared/{token}{page}", headers=ROBOT)
        assert answer.status_code == 410
        assert "image" not in answer.headers["content-type"]
        assert "og:" not in answer.text
        assert "Reference study" not in answer.text


def png_size(content: bytes) -> tuple[int, int]:
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", content[16:24])
    return width, height


def test_the_picture_has_the_size_that_chats_want(client: TestClient, link_to: Any) -> None:
    answer = client.get(f"/shared/{link_to('frozen')}/picture.png")
    assert answer.headers["content-type"] == "image/png"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["cross-origin-resource-policy"] == "cross-origin"
    assert png_size(answer.content) == (1200, 630)
    assert len(answer.content) < 300_000


@pytest.mark.parametrize(
    "name", ["<script>&\"'", "W" * 60, "Ж Ω 中文 \u202e ✓", "a & b " * 9, "]]><svg/>"]
)
def test_any_name_can_be_drawn(app: FastAPI, client: TestClient, document: Any, name: str) -> None:
    changed = {**document, "name": name}
    changed["candidates"] = [
        {**one, "name": f"{name[:50]} {place}"} for place, one in enumerate(document["candidates"])
    ]
    state = create_study(app.state.store, changed, author="", note="")
    payload = whole_evaluation_of(app.state.store, state)
    for system in UnitSystem:
        assert png_size(chat_picture(payload, state, system)) == (1200, 630)


def test_lines_fit_their_width_and_lose_no_word() -> None:
    text = (
        "Steered, faster gearing (D) fits, keeps the limits and is the quickest: 9.61 s, 2.1 s less"
    )
    lines = broken(text, 34.0, 400.0)
    assert len(lines) > 3
    assert " ".join(lines).replace("\u00a0", " ") == text
    assert max(text_width(line, 34.0) for line in lines) <= 400.0
    assert not any(line.endswith(("9.61", "2.1")) for line in lines)
    cut = broken(text, 34.0, 400.0, most=2)
    assert len(cut) == 2
    assert cut[1].endswith("…")
    assert text_width(cut[1], 34.0) <= 400.0
    assert "".join(broken("x" * 90, 34.0, 300.0)) == "x" * 90


def test_the_leader_s_figures_stand_against_today_s(app: FastAPI, study_id: str) -> None:
    state = load_study(app.state.store, study_id)
    payload = whole_evaluation_of(app.state.store, state)
    brief = brief_of(payload, state, UnitSystem.SI)
    assert len(brief.figures) == 4
    assert brief.today.baseline
    metrics = {one["key"]: one["metrics"] for one in payload["candidates"]}
    own = metrics[brief.leader.key]["sprint_stop_time_s"]
    shown = next(one.value for one in brief.figures if one.name == "Sprint and stop")
    assert float(shown.split()[0]) == pytest.approx(own, rel=0.01)


def test_a_long_verdict_is_cut_at_a_word(app: FastAPI, study_id: str) -> None:
    marks = marks_of(load_study(app.state.store, study_id).study)
    brief = Brief("n", "word " * 100, (), marks[0], marks[0], ())
    assert len(brief.description) <= LONGEST_DESCRIPTION
    assert brief.description.endswith("word…")


def test_a_new_link_comes_with_code_text_picture_and_page(
    client: TestClient, forms: Any, study_id: str
) -> None:
    fields = {"kind": "frozen", "label": "", "expires": "never"}
    page = forms.send(f"/studies/{study_id}/share/new", fields).text
    found = re.search(r'id="new-address"[^>]* value="([^"]+)"', page)
    assert found
    address = found[1]
    code = code_of(address)
    assert code is not None
    assert f'd="{code.path}"' in page
    text = page.partition('id="summary-text"')[2].partition("</textarea>")[0]
    assert text.rstrip().endswith(address)
    assert "Sprint and stop" in text
    token = address.rpartition("/")[2]
    for ending in ("picture.png", "study.html"):
        assert f'href="/shared/{token}/{ending}" download' in page
        assert client.get(f"/shared/{token}/{ending}").status_code == 200


def test_the_overview_offers_text_picture_and_page(client: TestClient, study_id: str) -> None:
    page = client.get(f"/studies/{study_id}").text
    assert "It has no link yet" in page
    assert f'href="/studies/{study_id}/picture.png"' in page
    assert client.get(f"/studies/{study_id}/picture.png").headers["content-type"] == "image/png"


def test_a_code_is_the_one_that_its_matrix_says() -> None:
    import segno

    address = "https://robot.example/shared/" + "Ab3" * 9
    code = code_of(address)
    assert code is not None
    dark = set()
    for x, y, run in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", code.path):
        dark |= {(int(x) + step, int(y)) for step in range(int(run))}
    matrix = segno.make(address, error="m", micro=False).matrix
    wanted = {(x + 4, y + 4) for y, row in enumerate(matrix) for x, on in enumerate(row) if on}
    assert dark == wanted
    assert code.size == len(matrix) + 8
    assert code_of("x" * 2000) is None


def test_a_shared_page_prints_its_code_and_the_date(client: TestClient, link_to: Any) -> None:
    token = link_to("frozen")
    page = client.get(f"/shared/{token}/fit").text
    code = code_of(f"http://localhost/shared/{token}/fit")
    assert code is not None
    assert code.path in page
    assert "Printed " in page
