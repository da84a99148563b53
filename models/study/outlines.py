"""Plan outlines: closed polygons given by their corners.

Contents: `Outline`, the kind of an `outline_m` field.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import shapely

from models.study.kinds import Kind, refusal
from models.study.numbers import Estimate, NumberRefusedError, read_estimate

FURTHEST_CORNER_M = 20.0
MOST_CORNERS = 200
LEAST_AREA_M2 = 1e-8


@dataclass(frozen=True)
class Outline(Kind):
    """A simple polygon in plan: three corners or more, with an area, not crossing itself."""

    furthest_m: float = FURTHEST_CORNER_M
    axes: str = "forward, left"

    def read(self, typed: Any) -> tuple[tuple[Estimate, Estimate], ...]:
        """Return the corners; a last corner that repeats the first is dropped."""
        if not isinstance(typed, list | tuple):
            raise refusal(f"An outline is a list of corners, each [{self.axes}].", given=typed)
        if len(typed) > MOST_CORNERS:
            raise refusal(
                f"The outline has {len(typed)} corners; {MOST_CORNERS} at most.",
                limit=f"3 to {MOST_CORNERS} corners",
            )
        corners = [self._corner(index, corner) for index, corner in enumerate(typed)]
        if len(corners) > 1 and corners[0] == corners[-1]:
            corners.pop()
        if len(corners) < 3:
            raise refusal(
                f"The outline has {len(corners)} different corners; an area needs 3.",
                limit=f"3 to {MOST_CORNERS} corners",
                given=typed,
            )
        _check_shape(corners)
        return tuple(corners)

    def _corner(self, index: int, corner: Any) -> tuple[Estimate, Estimate]:
        if not isinstance(corner, list | tuple) or len(corner) != 2:
            raise refusal(
                f"A corner has two numbers, [{self.axes}].", given=corner, member=f"[{index}]"
            )
        numbers = []
        for axis, typed in enumerate(corner):
            try:
                number = read_estimate(typed, "m")
            except NumberRefusedError as error:
                raise refusal(str(error), given=typed, member=f"[{index}][{axis}]") from None
            if not abs(number) <= self.furthest_m:
                raise refusal(
                    f"{float(number):.6g} m lies outside -{self.furthest_m:g} m to "
                    f"{self.furthest_m:g} m. If it is in inches or millimetres, type the unit.",
                    limit=f"-{self.furthest_m:g} m to {self.furthest_m:g} m",
                    given=typed,
                    member=f"[{index}][{axis}]",
                )
            numbers.append(number)
        return numbers[0], numbers[1]


def _check_shape(corners: list[tuple[Estimate, Estimate]]) -> None:
    polygon = shapely.Polygon([(float(x), float(y)) for x, y in corners])
    if polygon.convex_hull.area < LEAST_AREA_M2:
        raise refusal("The outline has no area; its corners lie on one line.", limit="an area")
    if not polygon.is_valid:
        why = shapely.is_valid_reason(polygon)
        place = why[why.find("[") + 1 : why.find("]")].replace(" ", ", ") if "[" in why else ""
        near = f" near ({place}) m" if place else ""
        raise refusal(
            f"The outline crosses or touches itself{near}; list its corners in order round the "
            "edge.",
            limit="a polygon that does not cross itself",
        )
