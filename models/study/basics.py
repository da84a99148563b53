"""What the parts of a study have in common: the base of its models and the kinds used all over.

Contents: `Section`; `Name`, `KeyText`, `Notes`, `Point`, `Side`, `Height`, `FieldPlace`, `Heading`,
`Pause`, `ZERO`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict

from models.study.kinds import Group, Key, Number, Text
from models.study.numbers import Estimate

Name = Annotated[str, Text(label="Name")]
KeyText = Annotated[str, Key(label="Key")]
Notes = Annotated[str, Text(label="Notes", longest=5000, may_be_empty=True)]
Place = Annotated[Estimate, Number("m", -5.0, 5.0)]
Point = Annotated[tuple[Place, Place, Place], Group(items=("forward", "left", "up"))]
Side = Annotated[Estimate, Number("m", 0.0, 5.0)]
Height = Annotated[Estimate, Number("m", -0.2, 5.0)]
FieldPlace = Annotated[Estimate, Number("m", -100.0, 100.0)]
Heading = Annotated[
    Estimate, Number("deg", -720.0, 720.0, label="Heading", hint="0° looks along the field's x.")
]
Pause = Annotated[Estimate, Number("s", 0.0, 600.0)]
ZERO = Estimate(0.0)


class Section(BaseModel):
    """Base of all parts of a study: unknown fields are refused and nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)
