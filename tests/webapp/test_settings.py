"""Settings: read from the environment, and refused with a sentence."""

from __future__ import annotations

import pytest

from webapp.settings import Settings, SettingsError, read_settings


def test_the_environment_is_read() -> None:
    settings = read_settings(
        {"SWITCHOVER_PORT": "8123", "SWITCHOVER_HOST_NAMES": "Pit-Laptop, robot.local"}
    )
    assert settings.port == 8123
    assert settings.host_names == ("pit-laptop", "robot.local")


def test_an_option_wins_over_the_environment_and_none_does_not() -> None:
    environment = {"SWITCHOVER_PORT": "8123"}
    assert read_settings(environment, port=9000).port == 9000
    assert read_settings(environment, port=None).port == 8123


def test_an_unknown_setting_stops_the_start() -> None:
    with pytest.raises(SettingsError, match=r"no setting SWITCHOVER_PROT.*SWITCHOVER_PORT"):
        read_settings({"SWITCHOVER_PROT": "1"})


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("PORT", "eight"),
        ("PORT", "0"),
        ("PORT", ""),
        ("WORKER_THREADS", "400"),
        ("MAX_BODY_BYTES", "1"),
        ("BASE_URL", "robot.local"),
        ("LOG_LEVEL", "loud"),
    ],
)
def test_an_ill_typed_setting_stops_the_start_and_is_named(name: str, text: str) -> None:
    with pytest.raises(SettingsError, match=f"SWITCHOVER_{name} is "):
        read_settings({f"SWITCHOVER_{name}": text})


def test_other_programs_variables_are_left_alone() -> None:
    assert read_settings({"SWITCHBOARD": "x", "PATH": "/bin"}).port == 8000


def test_a_settings_object_does_not_look_at_the_environment(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("SWITCHOVER_PORT", "9999")
    assert Settings().port == 8000


def test_without_a_database_the_users_own_folder_is_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: object
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert Settings().database().startswith("sqlite:///")
    assert Settings().database().endswith("switchover/studies.sqlite3")


def test_every_setting_says_what_it_is() -> None:
    assert all(field.description for field in Settings.model_fields.values())
