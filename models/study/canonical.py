"""The one text form of a document, and when two values of a document are the same."""

from __future__ import annotations

import hashlib
import json
import math
from typing import Any

from models.errors import Fault, StudyRefusedError


def canonical_text(value: Any) -> str:
    """The value as JSON with sorted keys, no spaces and only ASCII: equal values, equal text.

    NaN, the infinities and what JSON cannot say are refused with a `StudyRefusedError`.

    >>> canonical_text({"b": [1, 2.5], "a": "µ"})
    '{"a":"\\\\u00b5","b":[1,2.5]}'
    """
    try:
        return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)
    except (ValueError, TypeError, RecursionError) as error:
        raise StudyRefusedError(
            [Fault("", f"this cannot be written to a study file ({error})")]
        ) from error


def document_hash(document: Any) -> str:
    """SHA-256 of the canonical text, as 64 hexadecimal digits: the name of a document's content.

    >>> document_hash({})[:12]
    '44136fa355b3'
    """
    return hashlib.sha256(canonical_text(document).encode("ascii")).hexdigest()


def same(one: Any, other: Any) -> bool:
    """Whether two document values mean the same: 6 and 6.0 do, 1 and true do not.

    >>> same({"ratio": 6}, {"ratio": 6.0}), same([1], [True])
    (True, False)
    """
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, int | float) and isinstance(other, int | float):
        return one == other or (math.isnan(one) and math.isnan(other))
    return type(one) is type(other) and bool(one == other)
