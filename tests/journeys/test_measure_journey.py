"""Simple tests in a browser: type, read, see what it moves, take it over; no scripts needed."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Literal

import pytest
from playwright.sync_api import BrowserContext, Page

Profile = Callable[..., BrowserContext]
EVERYTHING = (
    "kv=2.9&ks=0.3&ka=0.03&angle=49&fl=13&fr=12.6&rl=14.2&rr=14&up_fl=10.5&up_fr=10.1&rise=150+mm"
    "&length=4&time=1.0&stop=1.2&v1=12.6&i1=5&v2=11.9&i2=55&turns=10&wheel=60"
)


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_tilt_test_is_worked_out_reviewed_and_taken_over(
    profile: Profile, server: Any, *, scripts: bool
) -> None:
    page = profile(java_script_enabled=scripts).new_page()
    page.goto(server.study)
    page.get_by_role("link", name="Measure", exact=True).click()
    page.get_by_label("Turns of the robot").fill("10")
    page.get_by_label("Angle at which it slides").fill("36")
    page.get_by_role("button", name=re.compile("Work it out.*Tilt")).click()
    assert page.url.endswith("#tilt")
    assert page.get_by_label("Turns of the robot").input_value() == "10"
    page.get_by_label("B Steered, one module inverted").first.check()
    page.get_by_role("button", name=re.compile("See what it changes.*Tilt")).click()
    page.get_by_role("heading", name="Take over: grip").wait_for()
    assert re.search(r"[1-8] of the 8 headline figures move", page.locator(".lead").inner_text())
    page.get_by_label("Your name, for the note").fill("Ravi")
    page.get_by_role("button", name="Take it over").click()
    page.get_by_text("Saved as revision 2").wait_for()
    page.goto(f"{server.study}/candidates/steered")
    assert page.locator("input[name='wheels.grip']").input_value() == "0.7265"
    assert page.locator("[name='wheels.grip:source']").input_value() == "measured"
    assert "Ravi: Tilt test" in page.locator("[name='wheels.grip:note']").input_value()


def test_switching_the_units_keeps_what_was_typed(page: Page, server: Any) -> None:
    page.goto(f"{server.study}/measure?{EVERYTHING}&typed_in=si")
    before = page.locator("#scales .measure-found").inner_text()
    page.get_by_role("button", name="inch-pound").click()
    assert page.get_by_label("Front left, lb").input_value() == "28.66"
    assert page.get_by_label("Front raised by").input_value() == "150 mm"
    page.get_by_role("button", name="SI", exact=True).click()
    assert page.locator("#scales .measure-found").inner_text() == before


@pytest.mark.parametrize(
    ("width", "schemes"), [(1280, ["light", "dark"]), (360, ["light"])], ids=["wide", "phone"]
)
def test_the_pages_are_accessible_and_keep_their_width(
    profile: Profile,
    server: Any,
    axe: Callable[[Page], list[str]],
    *,
    width: int,
    schemes: list[Literal["light", "dark"]],
) -> None:
    page = profile(viewport={"width": width, "height": 800}).new_page()
    addresses = [
        f"{server.study}/measure",
        f"{server.study}/measure?{EVERYTHING}",
        f"{server.study}/measure?kv=many&angle=99&v1=1",
        f"{server.study}/measure/take?test=battery&{EVERYTHING}&battery_into=own",
        f"{server.address}/figures",
    ]
    for address in addresses:
        page.goto(address)
        for fold in page.locator("main details").all():
            fold.evaluate("one => one.open = true")
        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        for scheme in schemes:
            page.emulate_media(color_scheme=scheme)
            assert axe(page) == [], address
    page.emulate_media(media="print")
    assert not page.locator(".explained-list").is_visible()


def test_the_figures_are_found_from_the_overview(page: Page, server: Any) -> None:
    page.goto(server.study)
    page.get_by_role("link", name="What every figure means, and what guards it").click()
    page.get_by_text("Will the battery take it?").first.click()
    page.get_by_role("link", name="Lowest bus voltage in the sprint").click()
    assert page.url.endswith("/figures#min_bus_voltage_v")
    assert page.locator("#min_bus_voltage_v").get_by_text("Vbus = Voc − Rb·I").is_visible()
