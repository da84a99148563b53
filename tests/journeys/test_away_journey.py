"""The study as one page in a real browser without a network; the code on paper; text to copy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from models.services import create_link

Profile = Callable[..., BrowserContext]
MM = 96.0 / 25.4


def saved(page: Page, server: Any, folder: Path) -> Path:
    """Save the page of a shared link as somebody would, and return where it lies."""
    token = create_link(server.app.state.store, server.study_id, kind="frozen")[1]
    page.goto(f"{server.address}/shared/{token}")
    page.locator(".take-away summary").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Save the study as one page").click()
    path = folder / download.value.suggested_filename
    download.value.save_as(path)
    return path


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (360, "dark")])
def test_the_file_opens_without_a_network(
    *,
    page: Page,
    server: Any,
    browser: Browser,
    tmp_path: Path,
    axe: Any,
    width: int,
    scheme: Any,
) -> None:
    path = saved(page, server, tmp_path)
    away = browser.new_context(
        offline=True, viewport={"width": width, "height": 900}, color_scheme=scheme
    )
    reader = away.new_page()
    troubles: list[str] = []
    reader.on("console", lambda message: troubles.append(message.text))
    reader.on("pageerror", lambda error: troubles.append(str(error)))
    reader.on("requestfailed", lambda request: troubles.append(request.url))
    asked: list[str] = []
    reader.on("request", lambda request: asked.append(request.url))
    reader.goto(path.as_uri())
    assert reader.locator("h1").inner_text().startswith("Breakwater")
    assert reader.evaluate("document.documentElement.scrollWidth") <= width
    assert "m/s" in reader.locator(".away-table").first.inner_text()
    assert reader.locator("svg.plot-drawing:visible").count() == 5
    reader.get_by_text("inch-pound", exact=True).click()
    assert "ft/s" in reader.locator(".away-table >> visible=true").inner_text()
    assert reader.locator(".in-si").is_hidden()
    reader.keyboard.press("ArrowLeft")
    assert reader.locator(".in-si").is_visible()
    assert axe(reader) == []
    assert troubles == []
    assert asked == [path.as_uri()]
    away.close()


def test_the_code_on_paper_is_large_enough(page: Page, server: Any) -> None:
    token = create_link(server.app.state.store, server.study_id, kind="live")[1]
    page.goto(f"{server.address}/shared/{token}/fit")
    assert page.locator(".print-head .code-picture").is_hidden()
    page.emulate_media(media="print")
    box = page.locator(".print-head .code-picture").bounding_box()
    size = int((page.locator(".code-picture").first.get_attribute("viewBox") or "").split()[2])
    assert box is not None
    assert box["width"] * (size - 8) / size >= 20.0 * MM


def test_the_short_text_is_copied(profile: Profile, server: Any, axe: Any) -> None:
    page = profile(permissions=["clipboard-read", "clipboard-write"]).new_page()
    page.goto(f"{server.study}/share")
    page.get_by_role("button", name="Make the link").click()
    page.get_by_role("button", name="Copy as text").click()
    page.get_by_text("Copied.").wait_for()
    text = page.evaluate("navigator.clipboard.readText()")
    assert text.startswith("Breakwater")
    assert text.endswith(page.input_value("#new-address"))
    assert axe(page) == []
