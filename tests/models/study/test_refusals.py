"""Broken study files are refused whole: with the place, and in words for the user."""

from __future__ import annotations

import re

import pytest

from models.errors import StudyRefusedError
from models.study import parse_study, read_document
from tests.broken_studies import BROKEN, Broken

NOT_FOR_USERS = re.compile(
    r"\b(pydantic|invalid|validation|extra_forbidden|dict|str|int|tuple|NoneType|oops|please)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("broken", BROKEN, ids=lambda one: one.name)
def test_a_broken_file_is_refused_with_its_place(broken: Broken) -> None:
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(read_document(broken.file()))
    fault = refusal.value.faults[0]
    assert fault.place == broken.place
    assert broken.words in fault.message


@pytest.mark.parametrize("broken", BROKEN, ids=lambda one: one.name)
def test_a_refusal_is_a_plain_sentence(broken: Broken) -> None:
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(read_document(broken.file()))
    for fault in refusal.value.faults:
        assert len(fault.message) < 400
        assert fault.message[0].isupper() or fault.message[0] in "“-−0123456789"
        assert fault.message.rstrip("”").endswith((".", "?"))
        assert not NOT_FOR_USERS.search(fault.message)
        fault.message.encode()


def test_there_are_more_than_fifty() -> None:
    assert len(BROKEN) > 50
    assert len({broken.name for broken in BROKEN}) == len(BROKEN)


def test_every_fault_of_a_file_is_named_at_once() -> None:
    from models.seed import example_document

    document = example_document()
    document["candidates"][1]["drive"]["ratio"] = "6,75"
    document["candidates"][1]["wheels"]["diameter_m"] = 4
    document["candidates"][4]["frame"]["width_m"] = None
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(document)
    assert [fault.place for fault in refusal.value.faults] == [
        "candidates[1].drive.ratio",
        "candidates[1].wheels.diameter_m",
        "candidates[4].frame.width_m",
    ]


def test_a_fault_states_the_limit_and_the_value_given() -> None:
    from models.seed import example_document

    document = example_document()
    document["robot"]["parts"][0]["mass_kg"] = -3
    with pytest.raises(StudyRefusedError) as refusal:
        parse_study(document)
    fault = refusal.value.faults[0]
    assert (fault.given, fault.limit) == (-3, "0 kg to 500 kg")
