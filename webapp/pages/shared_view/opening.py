"""What every route of a viewer's pages asks for: the link opened, the units, the choice shown."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Query

from models.services import SharedView, Store, open_link
from models.units import UnitSystem
from webapp.access import ranges_shown, store, unit_system

Units = Annotated[UnitSystem, Depends(unit_system)]
Ranges = Annotated[bool, Depends(ranges_shown)]
Shown = Annotated[list[str] | None, Query()]


def opened_link(token: str, opened: Annotated[Store, Depends(store)]) -> SharedView:
    """Return what the link shows; raises where it never was or is closed."""
    return open_link(opened, token)


Shared = Annotated[SharedView, Depends(opened_link)]
