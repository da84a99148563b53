"""The one table of fields."""

from __future__ import annotations

from typing import Any

import pytest

from models.errors import NotFoundError
from models.seed import example_document
from models.study.fields import field_for, fields_under, find_field
from models.units import UNIT_KEYS


def test_a_field_is_found_by_place_path_and_form_name() -> None:
    spec = field_for("candidates[].drive.ratio")
    assert field_for("candidates[3].drive.ratio") is spec
    assert field_for("candidates.3.drive.ratio") is spec
    assert (spec.is_ratio, spec.required, spec.minimum) == (True, True, 0.01)


def test_keys_of_a_group_stand_for_any_key() -> None:
    assert field_for("motors.bl60.stall_torque_nm") is field_for("motors.*.stall_torque_nm")
    assert field_for("robot.poses[1].offsets.boom and claw[2]").unit == "m"


def test_words_of_a_shared_kind_are_its_own() -> None:
    assert field_for("candidates[0].bodies[0].top_m").label == "Top"
    assert field_for("robot.parts[0].centre_m").items == ("forward", "left", "up")


def test_defaults_are_stated() -> None:
    assert field_for("candidates[].drive.branch_ohm").default == 0
    assert field_for("robot.parts[].quantity").default == 1
    assert not field_for("candidates[].drive.stator_limit_a").required


def test_an_unknown_field_is_not_found() -> None:
    assert find_field("candidates[].drive.colour") is None
    with pytest.raises(NotFoundError):
        field_for("nowhere")


def _leaves(value: Any, path: str) -> list[str]:
    if isinstance(value, dict) and "value" not in value:
        return [
            leaf
            for name, entry in value.items()
            for leaf in _leaves(entry, f"{path}.{name}" if path else name)
        ]
    if isinstance(value, list) and not path.endswith("outline_m"):
        return [leaf for i, entry in enumerate(value) for leaf in _leaves(entry, f"{path}[{i}]")]
    return [path]


def test_every_field_of_the_example_is_in_the_table() -> None:
    missing = [leaf for leaf in _leaves(example_document(), "") if find_field(leaf) is None]
    assert missing == []


def test_every_number_has_label_unit_and_limits() -> None:
    for path in ("rules", "power", "candidates[].drive", "candidates[].wheels"):
        for spec in fields_under(path):
            assert spec.label
            assert spec.unit in UNIT_KEYS
            if spec.kind in ("number", "whole"):
                assert spec.minimum is not None and spec.maximum is not None
                assert spec.minimum < spec.maximum
