"""Densities of the materials that frames and plates are cut from.

Contents
--------
Material, MATERIALS: the table, each row with its source.
density_of: look one up, with a clear refusal.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from models.errors import OutOfRangeError


class Material(NamedTuple):
    """A material by name: its density [kg/m³], how far batches differ, and where it comes from."""

    name: str
    density: float
    spread: float
    """Usual share by which real stock differs, plus or minus."""
    source: str


_GERE = "Gere, Mechanics of Materials, 5th edition"
_HANDBOOK = "common handbook value; weigh an offcut where it matters"

MATERIALS: dict[str, Material] = {
    "steel": Material("Steel", 7850.0, 0.01, _GERE),
    "aluminium": Material("Aluminium 6061-T6", 2700.0, 0.01, _GERE),
    "polycarbonate": Material("Polycarbonate", 1200.0, 0.01, _HANDBOOK),
    "hdpe": Material("High-density polyethylene", 955.0, 0.02, _HANDBOOK),
    "plywood": Material("Plywood", 600.0, 0.15, _HANDBOOK),
}
"""The materials that a study may name without stating a density of its own."""


def density_of(material: str, stated: Mapping[str, float] | None = None) -> float:
    """Return the density of a material that a part names.

    Parameters
    ----------
    material : str
        Key of `MATERIALS` or of `stated` (words, lower case).
    stated : mapping, optional
        Densities that the study states itself; they go before the table [kg/m³].

    Returns
    -------
    float
        Density [kg/m³].

    Raises
    ------
    OutOfRangeError
        Where neither knows the material; the message lists those that are known.

    Examples
    --------
    >>> density_of("steel")
    7850.0
    >>> density_of("oak", {"oak": 720.0})
    720.0

    Source: the table `MATERIALS`, each row with its own.
    """
    own = stated or {}
    if material in own:
        return float(own[material])
    if material in MATERIALS:
        return MATERIALS[material].density
    known = ", ".join(sorted({*MATERIALS, *own}))
    message = f"No density is known for '{material}'. Known: {known}. State the mass instead."
    raise OutOfRangeError(message)
