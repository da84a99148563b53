"""The mass ledger: what stays, goes out and comes in."""

from __future__ import annotations

from typing import Any

import pytest

from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.ledger import mass_ledger


def test_a_swap_takes_the_baselines_parts_out_and_brings_the_candidates_in(
    reference: Study,
) -> None:
    ledger = mass_ledger(reference, reference.candidate("swerve"))
    assert [row.name for row in ledger.goes_out] == [
        "drive base",
        "side rail left",
        "side rail right",
    ]
    assert [(row.name, row.quantity, row.mass_kg) for row in ledger.comes_in] == [
        ("modules", 4, 12.0),
        ("frame", 1, 6.0),
    ]
    assert [row.name for row in ledger.stays][:2] == ["lift", "arm and gripper"]


def test_before_and_after_add_up(reference: Study) -> None:
    for candidate in reference.candidates:
        ledger = mass_ledger(reference, candidate)
        change = ledger.comes_in_kg - ledger.goes_out_kg
        assert ledger.after.moving_kg == pytest.approx(ledger.before.moving_kg + change)
        assert ledger.moving_change_kg == pytest.approx(change)
        assert ledger.after.margin_kg == pytest.approx(56.0 - ledger.after.legal_kg)


def test_the_masses_are_those_of_the_independent_solution(
    reference: Study, figures: dict[str, dict[str, Any]]
) -> None:
    for candidate in reference.candidates:
        ledger = mass_ledger(reference, candidate)
        assert ledger.after.moving_kg == pytest.approx(figures[candidate.key]["mass_kg"], rel=1e-9)


def test_a_mass_from_a_shape_says_so(reference: Study) -> None:
    rail = mass_ledger(reference, reference.candidate("swerve")).goes_out[1]
    assert rail.origin == "tube"
    assert rail.mass_kg == pytest.approx(1.3203072)


def test_the_limit_leaves_out_exempt_parts(reference_document: dict[str, Any]) -> None:
    for part in reference_document["robot"]["parts"]:
        part["exempt"] = part["name"] in ("battery", "bumpers")
    study = parse_study(reference_document)
    totals = mass_ledger(study, study.candidate("mecanum")).after
    assert totals.moving_kg == pytest.approx(49.3)
    assert totals.legal_kg == pytest.approx(49.3 - 5.8 - 6.0)
    assert totals.margin_kg == pytest.approx(56.0 - 37.5)


def test_for_the_baseline_nothing_goes_or_comes(reference: Study) -> None:
    ledger = mass_ledger(reference, reference.baseline)
    assert (ledger.goes_out, ledger.comes_in) == ((), ())
    assert ledger.before == ledger.after
    assert ledger.stays_kg == pytest.approx(ledger.after.moving_kg)


def test_a_material_of_the_studys_own_is_weighed_with_its_own_density(
    reference_document: dict[str, Any],
) -> None:
    reference_document["materials"] = {"bamboo": {"name": "Bamboo", "density_kgm3": 700}}
    reference_document["candidates"][1]["parts"].append(
        {
            "name": "deck",
            "plate": {
                "material": "bamboo",
                "width_m": 0.5,
                "length_m": 0.6,
                "thickness_m": 0.01,
                "solid_fraction": 0.5,
            },
            "centre_m": [0, 0, 0.1],
        }
    )
    study = parse_study(reference_document)
    deck = mass_ledger(study, study.candidate("swerve")).comes_in[-1]
    assert (deck.origin, deck.mass_kg) == ("plate", pytest.approx(1.05))
