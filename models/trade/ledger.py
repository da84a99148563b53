"""The mass ledger of a swap: what stays on the robot, what goes out, what comes in.

Contents
--------
Ledger, LedgerRow, LedgerTotals: what the page shows.
mass_ledger: from a study and a candidate to its ledger.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from models.study.physics import part_mass
from models.study.schema import Candidate, Part, Study


@dataclass(frozen=True)
class LedgerRow:
    """One part, with its quantity multiplied in."""

    name: str
    quantity: int
    mass_kg: float
    """Of all of them."""
    exempt: bool
    """Left out of what the limit counts."""
    origin: Literal["stated", "tube", "plate"]
    """Whether the mass was typed or follows from a shape."""


@dataclass(frozen=True)
class LedgerTotals:
    """What one base adds up to with everything that stays."""

    legal_kg: float
    """What the limit counts."""
    moving_kg: float
    """What the drive has to move."""
    limit_kg: float
    margin_kg: float
    """Limit less legal mass; below zero it is too heavy."""


@dataclass(frozen=True)
class Ledger:
    """The swap from the baseline to a candidate, in kilograms."""

    candidate: str
    baseline: str
    stays: tuple[LedgerRow, ...]
    goes_out: tuple[LedgerRow, ...]
    comes_in: tuple[LedgerRow, ...]
    before: LedgerTotals
    """With the baseline under the robot."""
    after: LedgerTotals
    """With the candidate under it."""

    @property
    def stays_kg(self) -> float:
        """Mass of what stays, exempt parts too."""
        return sum(row.mass_kg for row in self.stays)

    @property
    def goes_out_kg(self) -> float:
        """Mass of what goes out, exempt parts too."""
        return sum(row.mass_kg for row in self.goes_out)

    @property
    def comes_in_kg(self) -> float:
        """Mass of what comes in, exempt parts too."""
        return sum(row.mass_kg for row in self.comes_in)

    @property
    def legal_change_kg(self) -> float:
        """How much the mass that the limit counts grows by the swap."""
        return self.after.legal_kg - self.before.legal_kg

    @property
    def moving_change_kg(self) -> float:
        """How much the mass that the drive has to move grows by the swap."""
        return self.after.moving_kg - self.before.moving_kg


def mass_ledger(study: Study, candidate: Candidate) -> Ledger:
    """Return what stays, goes out and comes in when a candidate takes the baseline's place.

    For the baseline itself nothing goes out or comes in: its own parts stand under what stays.
    """
    baseline = study.baseline
    swap = candidate.key != baseline.key
    stays = study.robot.parts if swap else (*study.robot.parts, *baseline.parts)
    return Ledger(
        candidate=candidate.key,
        baseline=baseline.key,
        stays=_rows(study, stays),
        goes_out=_rows(study, baseline.parts) if swap else (),
        comes_in=_rows(study, candidate.parts) if swap else (),
        before=_totals(study, baseline),
        after=_totals(study, candidate),
    )


def _rows(study: Study, parts: Iterable[Part]) -> tuple[LedgerRow, ...]:
    return tuple(
        LedgerRow(
            name=part.name,
            quantity=part.quantity,
            mass_kg=part_mass(study, part),
            exempt=part.exempt,
            origin="tube" if part.tube else "plate" if part.plate else "stated",
        )
        for part in parts
    )


def _totals(study: Study, candidate: Candidate) -> LedgerTotals:
    rows = _rows(study, (*study.robot.parts, *candidate.parts))
    legal = sum(row.mass_kg for row in rows if not row.exempt)
    limit = float(study.rules.mass_limit_kg)
    return LedgerTotals(
        legal_kg=legal,
        moving_kg=sum(row.mass_kg for row in rows),
        limit_kg=limit,
        margin_kg=limit - legal,
    )
