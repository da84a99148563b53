"""Remarks on batteries, breakers, cables, routes, gearing on offer and the calendar.

Thresholds are common practice of the trade, no source, unless a line says otherwise.

Contents: `electric_remarks`, `route_remarks`, `plan_remarks`, `ratio_remarks`, `track_remarks`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from models.study.power import Battery, CurrentLoad, CurvePoint
from models.study.remark import Remark
from models.study.schema import Candidate, Study
from models.units import POUND_KG

USUAL_OHM = {"match": (0.008, 0.0155), "tired": (0.0155, 0.0195), "practice": (0.0195, 0.0285)}
"""A match battery has up to 15 mΩ, a tired one 16 to 19, a practice battery 20 to 28."""
USUAL_WORDS = {"match": "10 to 15", "tired": "16 to 19", "practice": "20 to 28"}
LEAST_CHARGE = 0.05
HIGHEST_MULTIPLE = 15.0
LONGEST_CABLE_M = 4.0
STEADY_LOAD_A = 60.0
HEAVY_OPPONENT_KG = 100.0
LIFT_M = 0.3
"""A part that moves up by this much moves the whole robot's balance."""
WIDEST_TRACK = 3.0
"""Measured over geometric track: practice 1.2 to 2.4."""


def electric_remarks(study: Study) -> Iterator[Remark]:
    """Yield what looks odd in batteries, protection, wiring and loads."""
    power = study.power
    if power.warning_v is not None and power.warning_v <= power.brownout_v:
        yield Remark(
            "power.warning_v",
            None,
            f"The warning comes at {power.warning_v:g} V, the brownout at {power.brownout_v:g} V.",
            "A warning that comes no sooner than the brownout warns of nothing.",
            "Set it a volt higher.",
            f"{power.brownout_v + 1:g}",
        )
    for index, battery in enumerate(power.batteries):
        yield from _battery_remarks(battery, f"power.batteries[{index}]")
    yield from _curve_remarks(
        power.main_breaker_curve, power.main_breaker_a, "power.main_breaker_curve"
    )
    yield from _curve_remarks(
        power.branch_breaker_curve, power.branch_breaker_a, "power.branch_breaker_curve"
    )
    for index, load in enumerate(power.loads):
        yield from _load_remarks(load, f"power.loads[{index}]")
    for index, cable in enumerate(power.cables):
        if cable.length_m > LONGEST_CABLE_M:
            yield Remark(
                f"power.cables[{index}].length_m",
                None,
                f"“{cable.name}” is {cable.length_m:g} m long, one way.",
                "A robot is about a metre across.",
                "Inches or centimetres?",
                f"{cable.length_m:g} cm",
            )
    yield from _protection_remarks(study)


def _battery_remarks(battery: Battery, place: str) -> Iterator[Remark]:
    ohm = battery.internal_resistance_ohm
    low, high = USUAL_OHM.get(battery.kind, (0.0, 1.0))
    if not low <= ohm <= high:
        fits = [kind for kind, (least, most) in USUAL_OHM.items() if least <= ohm <= most]
        yield Remark(
            f"{place}.internal_resistance_ohm",
            None,
            f"“{battery.name}” has {ohm * 1000:.3g} mΩ; a {battery.kind} battery usually has "
            f"{USUAL_WORDS.get(battery.kind)} mΩ.",
            f"So much is usual for a {fits[0]} battery." if fits else "",
            "Measure it again, or choose another kind.",
        )
    if battery.charge < LEAST_CHARGE:
        percent = battery.charge * 10_000
        usual = LEAST_CHARGE * 100 <= percent <= 100
        yield Remark(
            f"{place}.charge",
            None,
            f"“{battery.name}” holds {battery.charge * 100:.2g} % of its charge.",
            "A robot does not drive on an empty battery.",
            f"{percent:.3g} %?" if usual else "Check it.",
            f"{percent / 100:.4g}" if usual else None,
        )


def _curve_remarks(
    curve: Sequence[CurvePoint], rating: float | None, place: str
) -> Iterator[Remark]:
    highest = max((point[0] for point in curve), default=0.0)
    if highest > HIGHEST_MULTIPLE:
        against = f"{highest / rating:.3g} times {rating:g} A" if rating else "amperes"
        yield Remark(
            place,
            None,
            f"The curve goes up to {highest:g} times the breaker's rating.",
            "Makers' curves end at about 10 times.",
            f"If amperes were typed, divide them by the rating: {against}.",
        )
    if curve and rating is None:
        yield Remark(
            place,
            None,
            "There is a curve, but no rating of the breaker.",
            "The curve counts in multiples of it, so nothing can be said of it.",
            "State the rating.",
        )


def _load_remarks(load: CurrentLoad, place: str) -> Iterator[Remark]:
    if load.during == "always" and load.duty * load.current_a > STEADY_LOAD_A:
        yield Remark(
            f"{place}.duty",
            None,
            f"“{load.name}” takes {load.current_a:g} A through the whole match.",
            "That alone empties a battery of 17 Ah in less than 20 minutes.",
            "State the share of the time in which it runs, or the legs that it runs in.",
        )


def _protection_remarks(study: Study) -> Iterator[Remark]:
    rating = study.power.branch_breaker_a
    if rating is None:
        return
    for index, candidate in enumerate(study.candidates):
        limit = candidate.drive.supply_limit_a
        if candidate.same_base_as is None and limit is not None and limit > rating:
            yield Remark(
                f"candidates[{index}].drive.supply_limit_a",
                candidate.key,
                f"The supply limit, {limit:g} A, lies above the branch breaker's {rating:g} A.",
                "In a long push the breaker opens, since the limit lets more through than it "
                "carries: the limit does not protect the branch.",
                f"A limit of {rating:g} A or less keeps the breaker closed.",
                f"{rating:g}",
            )


def route_remarks(study: Study) -> Iterator[Remark]:
    """Yield what looks odd in yardsticks, field and routes."""
    opponent = study.yardsticks.opponent
    if opponent is not None and opponent.mass_kg > HEAVY_OPPONENT_KG:
        yield Remark(
            "yardsticks.opponent.mass_kg",
            None,
            f"An opponent of {opponent.mass_kg:g} kg is about twice what events allow.",
            f"{opponent.mass_kg:g} lb would be {opponent.mass_kg * POUND_KG:.1f} kg.",
            "Pounds?",
            f"{opponent.mass_kg:g} lb",
        )
    lifted = _lifted_poses(study)
    named = [leg.pose for route in study.routes for leg in route.legs if leg.pose in lifted]
    if named and not study.yardsticks.tip_margin:
        yield Remark(
            "yardsticks.tip_margin",
            None,
            f"Routes are driven in the pose “{named[0]}”, up to the very edge of tipping.",
            "Carpet, bumps and a push from the side take more than nothing.",
            "Keep 0.2 below the limit.",
            "0.2",
        )
    yield from _field_remarks(study)
    for key, module in study.module_types.items():
        yield from ratio_remarks(module.ratios_on_offer, f"module_types.{key}.ratios_on_offer")


def _lifted_poses(study: Study) -> set[str]:
    return {
        pose.name
        for pose in study.robot.poses
        if any(offset[2] >= LIFT_M for offset in pose.offsets.values())
    }


def _field_remarks(study: Study) -> Iterator[Remark]:
    field = study.field
    if field is None:
        return
    for index, obstacle in enumerate(field.obstacles):
        if not all(
            0 <= x <= field.length_m and 0 <= y <= field.width_m for x, y in obstacle.outline_m
        ):
            yield Remark(
                f"field.obstacles[{index}].outline_m",
                None,
                f"“{obstacle.name}” sticks out of the field.",
                f"x runs from 0 to {field.length_m:g} m, y from 0 to {field.width_m:g} m.",
                "Check its corners.",
            )
    for number, route in enumerate(study.routes):
        places = [("start.at_m", route.start.at_m)]
        places += [(f"legs[{i}].to_m", leg.to_m) for i, leg in enumerate(route.legs) if leg.to_m]
        for at, (x, y) in places:
            if not (0 <= x <= field.length_m and 0 <= y <= field.width_m):
                yield Remark(
                    f"routes[{number}].{at}",
                    None,
                    f"“{route.name}” leads to ({x:g}, {y:g}) m, outside the field.",
                    f"x runs from 0 to {field.length_m:g} m, y from 0 to {field.width_m:g} m.",
                    "Check the point or the field's size.",
                )


def plan_remarks(study: Study) -> Iterator[Remark]:
    """Yield what looks odd in the calendar's dates."""
    schedule = study.schedule
    if schedule is None:
        return
    given_up = schedule.give_up_base_on
    if given_up is not None and given_up > schedule.ready_by:
        yield Remark(
            "schedule.give_up_base_on",
            None,
            f"The old base is given up on {given_up}, after all has to be ready on "
            f"{schedule.ready_by}.",
            "Then the old base never has to go for the new one.",
            "Check both dates.",
        )
    for index, gate in enumerate(schedule.gates):
        if not schedule.start <= gate.on <= schedule.ready_by:
            yield Remark(
                f"schedule.gates[{index}].on",
                None,
                f"The gate “{gate.name}” stands on {gate.on}, outside the time of the work.",
                f"Work runs from {schedule.start} to {schedule.ready_by}.",
                "Check its date.",
            )


def ratio_remarks(
    ratios: Sequence[float], place: str, candidate_key: str | None = None
) -> Iterator[Remark]:
    """Yield a remark on each ratio on offer that gears up."""
    for index, ratio in enumerate(ratios):
        if ratio < 1:
            yield Remark(
                f"{place}[{index}]",
                candidate_key,
                f"A ratio of {ratio:.4g} is on offer, which speeds the wheel up.",
                "Drive bases gear down; the figure may be upside down.",
                f"Did you mean {1 / ratio:.4g}:1?",
                f"{1 / ratio:.4g}",
            )


def track_remarks(candidate: Candidate, place: str) -> Iterator[Remark]:
    """Yield a remark on a measured track that skidding wheels do not give."""
    wheels = candidate.wheels
    measured = wheels.effective_track_m
    if measured is None:
        return
    if measured < wheels.track_m:
        yield Remark(
            f"{place}.wheels.effective_track_m",
            candidate.key,
            f"The effective track, {measured:g} m, is smaller than the track itself, "
            f"{wheels.track_m:g} m.",
            "Wheels that skid make a base turn as if it were wider, 1.2 to 2.4 times.",
            "Measure it again, over several whole turns.",
        )
    elif measured > WIDEST_TRACK * wheels.track_m:
        yield Remark(
            f"{place}.wheels.effective_track_m",
            candidate.key,
            f"The effective track, {measured:g} m, is {measured / wheels.track_m:.2g} times the "
            "track itself.",
            "Practice is 1.2 to 2.4 times.",
            "Was the distance of the wheels halved or doubled on the way?",
        )
