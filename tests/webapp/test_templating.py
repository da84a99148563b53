"""Templates: escaped, strict, and one block alone."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from jinja2 import UndefinedError

from models.units import UnitSystem
from webapp.paths import PACKAGE
from webapp.templating import environment, moment_with_zone, script_data, static_address

TEMPLATES = [file.relative_to(PACKAGE).as_posix() for file in sorted(PACKAGE.rglob("*.html"))]


@pytest.mark.parametrize("name", TEMPLATES)
@pytest.mark.parametrize("units", list(UnitSystem))
def test_every_template_compiles(name: str, units: UnitSystem) -> None:
    environment(units).get_template(name)


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_template_switches_escaping_off(name: str) -> None:
    text = (PACKAGE / name).read_text(encoding="utf-8").replace(" ", "")
    assert "|safe" not in text
    assert "autoescapefalse" not in text


def test_values_are_escaped_whatever_the_files_name() -> None:
    made = environment(UnitSystem.SI)
    assert made.from_string("{{ name }}").render(name="<s>") == "&lt;s&gt;"


def test_a_missing_value_is_an_error() -> None:
    with pytest.raises(UndefinedError):
        environment(UnitSystem.SI).from_string("{{ nobody_gave_this }}").render()


def test_quantities_follow_the_units() -> None:
    text = '{{ 1.0 | quantity("mps") }} {{ 1.0 | bare("mps") }} {{ unit_label("mps") }}'
    assert environment(UnitSystem.SI).from_string(text).render() == "1.00 m/s 1.00 m/s"
    in_feet = environment(UnitSystem.INCH_POUND).from_string(text).render()
    assert in_feet == "3.28 ft/s 3.28 ft/s"


def test_data_in_a_script_element_cannot_close_it() -> None:
    assert "</script>" not in script_data(["</script><script>alert(1)</script>"])


def test_data_in_a_script_element_is_finite() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        script_data([float("nan")])


def test_a_time_names_its_zone_where_it_is_read_elsewhere() -> None:
    assert "(UTC" in moment_with_zone(datetime(2026, 3, 5, 12, 0, tzinfo=UTC))


def test_a_static_address_changes_with_the_content(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("webapp.templating.data_folder", lambda _name: tmp_path)
    file = tmp_path / "a.css"
    file.write_text("one")
    before = static_address("a.css")
    file.write_text("two, longer")
    assert static_address("a.css") != before
