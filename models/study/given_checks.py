"""Rules of routes, field and power that join several fields.

Contents: `route_faults`, `field_faults`, `power_faults`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from models.errors import Fault
from models.study.plan_checks import repeated, unknown
from models.study.runs import Leg
from models.study.schema import Study
from models.units import quoted


def route_faults(study: Study) -> Iterator[Fault]:
    """Yield the faults of the routes: names, poses, loads, and where they drive through."""
    yield from repeated(study.routes, "routes", lambda one: one.name, "name")
    poses = [pose.name for pose in study.robot.poses]
    loads = [load.name for load in study.power.loads]
    for number, route in enumerate(study.routes):
        for index, leg in enumerate(route.legs):
            place = f"routes[{number}].legs[{index}]"
            if leg.pose is not None and leg.pose not in poses:
                yield unknown(f"{place}.pose", leg.pose, poses, "pose of the robot named")
            for step, name in enumerate(leg.loads):
                if name not in loads:
                    yield unknown(f"{place}.loads[{step}]", name, loads, "load named")
                elif name in leg.loads[:step]:
                    yield Fault(
                        f"{place}.loads[{step}]",
                        f"The leg names the load {quoted(name)} twice; name it once.",
                        given=name,
                    )
            if leg.passes:
                yield from _passing_faults(leg, place, last=index == len(route.legs) - 1)


def _passing_faults(leg: Leg, place: str, *, last: bool) -> Iterator[Fault]:
    """Yield what forbids that a leg's end is driven through without a stop."""
    if leg.radius_m is None:
        yield Fault(
            f"{place}.radius_m",
            "Where the robot drives through, the turn needs a radius; state one, such as 0.4 m.",
        )
    if leg.to_m is None:
        yield Fault(
            f"{place}.pass",
            "Only a leg that goes somewhere can be driven through; state where it goes to.",
            given=True,
        )
    for name, words in (("action_s", "stands still"), ("prepare_s", "waits for its mechanisms")):
        pause = getattr(leg, name)
        if pause > 0:
            yield Fault(
                f"{place}.{name}",
                f"The robot drives through here, yet {words} for {pause:g} s; set one of the two "
                "to nothing.",
                given=float(pause),
                limit="0 s where it drives through",
            )
    if last:
        yield Fault(
            f"{place}.pass",
            "The last leg of a route ends at rest; drive through earlier ones only.",
            given=True,
            limit="not on the last leg",
        )


def field_faults(study: Study) -> Iterator[Fault]:
    """Yield the faults of the field: obstacles of one name or out of it."""
    field = study.field
    if field is None:
        return
    yield from repeated(field.obstacles, "field.obstacles", lambda one: one.name, "name")
    for index, obstacle in enumerate(field.obstacles):
        xs, ys = zip(*obstacle.outline_m, strict=True)
        beyond = max(xs) <= 0 or min(xs) >= field.length_m
        if beyond or max(ys) <= 0 or min(ys) >= field.width_m:
            yield Fault(
                f"field.obstacles[{index}].outline_m",
                f"{quoted(obstacle.name)} lies wholly outside the field of {field.length_m:g} m "
                f"by {field.width_m:g} m; x and y count from the field's corner.",
                limit=f"x 0 m to {field.length_m:g} m, y 0 m to {field.width_m:g} m",
            )


def power_faults(study: Study) -> Iterator[Fault]:
    """Yield the faults of batteries, loads, breakers' curves and cables."""
    power = study.power
    yield from repeated(power.batteries, "power.batteries", lambda one: one.name, "name")
    yield from repeated(power.loads, "power.loads", lambda one: one.name, "name")
    yield from repeated(power.cables, "power.cables", lambda one: one.name, "name")
    names = [battery.name for battery in power.batteries]
    if power.battery is not None and power.battery not in names:
        yield unknown("power.battery", power.battery, names, "battery named")
    for which in ("main", "branch"):
        yield from _curve_faults(
            getattr(power, f"{which}_breaker_curve"), f"power.{which}_breaker_curve"
        )
    for index, cable in enumerate(power.cables):
        stated = [name for name in ("gauge_awg", "area_mm2") if getattr(cable, name) is not None]
        if len(stated) != 1:
            given = "both are given" if stated else "neither is given"
            yield Fault(
                f"power.cables[{index}].gauge_awg",
                f"The cable {quoted(cable.name)} needs its gauge or its copper's area; {given}.",
                given=" and ".join(stated) or "neither",
                limit="one of gauge_awg, area_mm2",
            )


def _curve_faults(curve: Sequence[tuple[float, float]], place: str) -> Iterator[Fault]:
    """Yield what makes a breaker's curve unreadable: it falls from left to right, above 1."""
    if len(curve) == 1:
        yield Fault(
            place,
            "One point is no curve; give two at least, or none.",
            given=len(curve),
            limit="2 points at least",
        )
    for index, (multiple, _) in enumerate(curve):
        if multiple <= 1:
            yield Fault(
                f"{place}[{index}][0]",
                f"A breaker never trips at {multiple:g} times its rating; its curve lies above 1.",
                given=float(multiple),
                limit="above 1",
            )
    for index, (before, after) in enumerate(pairwise(curve), start=1):
        if after[0] <= before[0]:
            yield Fault(
                f"{place}[{index}][0]",
                f"{after[0]:g} times the rating follows {before[0]:g}; list the points with the "
                "multiple rising.",
                given=float(after[0]),
                limit=f"above {before[0]:g}",
            )
        elif after[1] >= before[1]:
            yield Fault(
                f"{place}[{index}][1]",
                f"A higher current has to trip sooner; {after[1]:g} s follows {before[1]:g} s.",
                given=float(after[1]),
                limit=f"below {before[1]:g} s",
            )
