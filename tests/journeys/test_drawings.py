"""A drawing becomes a keep-out in a real browser, with and without scripts; the plan comes out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import new, readfile
from playwright.sync_api import BrowserContext, Page, expect

from models.drawings import reading


@pytest.fixture
def plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(reading, "WALL_S", 60.0)  # the test machine may be busy
    document = new("R2010", units=4)
    space = document.modelspace()
    corners = [(-120, 80), (120, 80, 0.5), (120, 280), (-120, 280)]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": "SWEEP"})
    space.add_circle((0, -200), 70, dxfattribs={"layer": "WINCH"})
    document.saveas(tmp_path / "plan.dxf")
    return tmp_path / "plan.dxf"


def take_over(page: Page, study: str, plan: Path, axe: Callable[[Page], list[str]] | None) -> None:
    page.goto(f"{study}/robot")
    page.get_by_role("link", name="Take outlines from a drawing").click()
    page.get_by_label("Drawing (DXF or STL").set_input_files(plan)
    page.get_by_role("button", name="Read the drawing").click()
    expect(page.get_by_text("The file says millimetres")).to_be_visible()
    page.get_by_label("SWEEP becomes").select_option("keep-out")
    page.get_by_label("Bottom of SWEEP").fill("50")
    page.get_by_label("Top of SWEEP").fill("4 in")
    page.get_by_role("button", name="Take over").click()
    expect(page.get_by_role("link", name="Say which unit the drawing is in")).to_be_visible()
    expect(page.get_by_label("Top of SWEEP")).to_have_value("4 in")
    page.get_by_label("millimetres").check()
    page.get_by_role("button", name="Look again").click()
    expect(page.get_by_role("heading", name="With this taken over")).to_be_visible()
    if axe is not None:
        assert axe(page) == []
    page.get_by_role("button", name="Take over").click()
    expect(page.get_by_role("heading", name="Robot")).to_be_visible()
    expect(page.locator("input[value='SWEEP']")).to_be_visible()


@pytest.mark.parametrize("width", [1280, 360])
def test_a_drawing_becomes_a_keepout(
    profile: Callable[..., BrowserContext],
    server: Any,
    plan: Path,
    axe: Callable[[Page], list[str]],
    width: int,
) -> None:
    page = profile(viewport={"width": width, "height": 800}).new_page()
    take_over(page, server.study, plan, axe)


def test_it_works_without_scripts(
    profile: Callable[..., BrowserContext], server: Any, plan: Path
) -> None:
    take_over(profile(java_script_enabled=False).new_page(), server.study, plan, None)


def test_the_plan_is_downloaded_from_the_fit_page(page: Page, server: Any, tmp_path: Path) -> None:
    page.goto(f"{server.study}/fit")
    with page.expect_download() as download:
        page.get_by_role("link", name="DXF").click()
    download.value.save_as(tmp_path / "out.dxf")
    assert readfile(tmp_path / "out.dxf").header["$INSUNITS"] == 4
