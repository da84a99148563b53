"""Remarks on input that may be right but looks wrong: what is odd, why, and the likely fix.

A remark never stops anything. Its thresholds are common practice of the trade, no source, unless
a line says otherwise.

Contents: `remarks_on`.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import prod

from models.study.given_remarks import (
    electric_remarks,
    plan_remarks,
    ratio_remarks,
    route_remarks,
    track_remarks,
)
from models.study.numbers import Estimate, chain_of
from models.study.physics import datasheet_agreement, geared_free_speed, part_mass, push_estimate
from models.study.remark import Remark
from models.study.schema import AS_DRAWN, Candidate, Part, Study
from models.units import POUND_KG

USUAL_WHEELS_M = (0.0762, 0.1016, 0.127, 0.1524, 0.2032)
"""3, 4, 5, 6 and 8 inches: the wheels that drive bases usually have."""
SMALLEST_USUAL_WHEEL_M = 0.07
DATASHEET_TOLERANCE = 0.04
"""kT and kE of a datasheet agree within a few per cent; 0.12 against 0.1146 is a known slip."""
USUAL_GRIP = (0.8, 1.35)
HEAVY_SHARE = 1.3
LEAST_BATTERY_OHM = 0.008
LOWEST_USUAL_DRIVE_RATIO = 3.0


def remarks_on(study: Study) -> list[Remark]:
    """Return what looks odd in a study, in the order of the file."""
    remarks = [
        *_rule_remarks(study),
        *_power_remarks(study),
        *electric_remarks(study),
        *_motor_remarks(study),
        *_robot_remarks(study),
        *route_remarks(study),
        *plan_remarks(study),
    ]
    if not any(one.baseline for one in study.candidates):
        remarks.append(
            Remark(
                "candidates[0].baseline",
                study.candidates[0].key,
                "No candidate is marked as the baseline.",
                f"Differences count from the first, {study.candidates[0].name}.",
                "Mark what the robot drives on today.",
                True,
            )
        )
    for index, candidate in enumerate(study.candidates):
        if candidate.same_base_as is not None:
            continue  # said of the candidate whose base it is
        place = f"candidates[{index}]"
        remarks += _gearing_remarks(study, candidate, place)
        remarks += ratio_remarks(
            candidate.drive.ratios_on_offer, f"{place}.drive.ratios_on_offer", candidate.key
        )
        remarks += _wheel_remarks(study, candidate, place)
        remarks += track_remarks(candidate, place)
        remarks += _limit_remarks(study, candidate, place)
        remarks += _loss_remarks(candidate, place)
        remarks += _frame_remarks(candidate, place)
        remarks += _mass_remarks(study, candidate, place)
    return _once(remarks)


def _once(remarks: list[Remark]) -> list[Remark]:
    """Return the remarks without those that say of a robot's part what was said before."""
    said: set[str] = set()
    kept = []
    for remark in remarks:
        common = remark.place.startswith("robot.")
        if common and remark.place in said:
            continue
        said.add(remark.place)
        kept.append(remark)
    return kept


def _rule_remarks(study: Study) -> Iterator[Remark]:
    limit = study.rules.mass_limit_kg
    if limit > 100:
        yield Remark(
            "rules.mass_limit_kg",
            None,
            f"A mass limit of {limit:g} kg is about twice what events allow.",
            f"{limit:g} lb would be {limit * POUND_KG:.1f} kg.",
            "Pounds?",
            f"{limit:g} lb",
        )
    for index, keepout in enumerate(study.robot.keepouts):
        if keepout.clearance_m > 0.1:
            yield Remark(
                f"robot.keepouts[{index}].clearance_m",
                None,
                f"The keep-out “{keepout.name}” asks for {keepout.clearance_m * 1000:.4g} mm all "
                "round.",
                "A hand's breadth is rarely meant.",
                "Inches or millimetres?",
                f"{keepout.clearance_m:g} in",
            )


def _power_remarks(study: Study) -> Iterator[Remark]:
    power = study.power
    if power.brownout_v >= power.open_circuit_v:
        yield Remark(
            "power.brownout_v",
            None,
            f"The brownout voltage, {power.brownout_v:g} V, is not below the battery's, "
            f"{power.open_circuit_v:g} V.",
            "Every candidate browns out at rest.",
            "Check both.",
        )
    inner = power.internal_resistance_ohm + power.main_wiring_ohm
    if inner < LEAST_BATTERY_OHM and power.open_circuit_v > 8:
        yield Remark(
            "power.internal_resistance_ohm",
            None,
            f"Battery and main wiring together have only {inner * 1000:.3g} mΩ.",
            "A good lead-acid battery alone has 10 to 15 mΩ, so sag would be missed.",
            "State the battery's own figure.",
            "0.013",
        )


def _motor_remarks(study: Study) -> Iterator[Remark]:
    used = {candidate.drive.motor for candidate in study.candidates}
    for key, motor in study.motors.items():
        agreement = datasheet_agreement(motor)
        if agreement <= 0:
            why = "The resistance from stall current and voltage leaves no voltage at free speed."
        else:
            why = (
                f"Torque per ampere is {agreement:.2f} of what speed per volt says; in one motor "
                "both are the same constant."
            )
        if abs(agreement - 1) > DATASHEET_TOLERANCE:
            yield Remark(
                f"motors.{key}",
                None,
                f"The datasheet of “{motor.name}” does not agree with itself.",
                why,
                "Take all four figures from one published set, at one voltage.",
            )
        if key in used and not motor.rotor_inertia_kgm2:
            yield Remark(
                f"motors.{key}.rotor_inertia_kgm2",
                None,
                f"“{motor.name}” has no rotor inertia; it counts as 0.",
                "Real rotors make a drive a few per cent slower.",
                "State it if the datasheet does.",
            )


def _robot_remarks(study: Study) -> Iterator[Remark]:
    parts = study.robot.parts
    for word, needed in (("battery", "the battery"), ("bumper", "the bumpers")):
        found = [(i, part) for i, part in enumerate(parts) if word in part.name.lower()]
        everywhere = [*found, *(
            (0, part) for one in study.candidates for part in one.parts
            if word in part.name.lower()
        )]  # fmt: skip
        if not everywhere:
            yield Remark(
                "robot.parts",
                None,
                f"No part is called {word}.",
                "The drive moves it and it counts for balance, though the mass limit leaves it "
                "out.",
                f"Add {needed} as a part that is left out of the limit.",
            )
        for index, part in found:
            if not part.exempt and "tray" not in part.name and "mount" not in part.name:
                yield Remark(
                    f"robot.parts[{index}].exempt",
                    None,
                    f"“{part.name}” counts towards the mass limit.",
                    "Most rules weigh without battery and bumpers.",
                    "Mark it as left out, if yours do.",
                    True,
                )
    if len(study.robot.poses) < 2:
        pose = study.robot.poses[0]
        drawn = pose is AS_DRAWN or not pose.offsets
        yield Remark(
            "robot.poses",
            None,
            f"There is one pose only{', everything as drawn' if drawn else ''}.",
            "A base that is steady with the mechanism down may tip with it up.",
            "Add the pose with the mechanism at its highest and furthest.",
        )


def _gearing_remarks(study: Study, candidate: Candidate, place: str) -> Iterator[Remark]:
    ratio = candidate.drive.ratio
    speed = geared_free_speed(candidate, study.motors[candidate.drive.motor])
    if ratio < 1:
        yield Remark(
            f"{place}.drive.ratio",
            candidate.key,
            f"A ratio below 1 speeds the wheel up: {speed:.3g} m/s free.",
            "Drive bases gear down; the figure may be upside down.",
            f"Did you mean {1 / ratio:.4g}:1?",
            f"{1 / ratio:.4g}",
        )
    yield from _chain_remarks(candidate, place)
    target = study.yardsticks.target_speed_mps
    if target > speed:
        yield Remark(
            "yardsticks.target_speed_mps",
            candidate.key,
            f"The target speed, {target:g} m/s, lies above the geared free speed of "
            f"“{candidate.name}”, {speed:.3g} m/s.",
            "No drive passes its free speed on a level floor, so the time to it does not exist.",
            "Lower the target, or check the unit.",
        )


def _chain_remarks(candidate: Candidate, place: str) -> Iterator[Remark]:
    chain = chain_of(candidate.drive.ratio)
    if chain is None or len(chain.stages) < 2:
        return
    if chain.is_mixed and chain.reduction < LOWEST_USUAL_DRIVE_RATIO:
        product = prod(max(stage.reduction, 1 / stage.reduction) for stage in chain.stages)
        yield Remark(
            f"{place}.drive.ratio",
            candidate.key,
            f"The tooth chain gives only {chain.reduction:.4g}: {chain.words}.",
            "Some stages gear down and others up; one pair may be written the other way round.",
            f"All stages gearing down would give {product:.4g}. Write every pair driven:driver.",
        )
    elif chain.driver_first:
        driven_first = ", ".join(f"{stage.second:g}:{stage.first:g}" for stage in chain.stages)
        yield Remark(
            f"{place}.drive.ratio",
            candidate.key,
            f"The tooth chain is read driver first: {chain.words} = {chain.reduction:.4g}.",
            "Read the other way it would speed the wheel up.",
            f"Written driven first it is {driven_first}.",
            driven_first,
        )


def _wheel_remarks(study: Study, candidate: Candidate, place: str) -> Iterator[Remark]:
    wheels = candidate.wheels
    diameter = float(wheels.diameter_m)
    speed = geared_free_speed(candidate, study.motors[candidate.drive.motor])
    usual = next((one for one in USUAL_WHEELS_M if abs(2 * diameter / one - 1) < 0.02), None)
    slow = speed < 2.5 and diameter < 0.08
    if usual is not None and (diameter < SMALLEST_USUAL_WHEEL_M or slow):
        yield Remark(
            f"{place}.wheels.diameter_m",
            candidate.key,
            f"{diameter * 1000:.4g} mm is half of the usual {usual * 1000:.4g} mm wheel.",
            f"It gives {speed:.3g} m/s free; twice the wheel gives {2 * speed:.3g} m/s.",
            "Diameter or radius?",
            f"{2 * diameter:.6g}",
        )
    if wheels.centre_drop_m > 0 and (candidate.layout != "tank" or (wheels.count // 2) % 2 == 0):
        yield Remark(
            f"{place}.wheels.centre_drop_m",
            candidate.key,
            "A dropped centre axle needs a tank with an odd number of axles; it is left out here.",
            "",
            "Set it to 0.",
            0,
        )
    yield from _grip_remarks(candidate, place)


def _grip_remarks(candidate: Candidate, place: str) -> Iterator[Remark]:
    grip = candidate.wheels.grip
    low, high = USUAL_GRIP
    if not low <= grip <= high:
        yield Remark(
            f"{place}.wheels.grip",
            candidate.key,
            f"A grip of {grip:g} lies outside the usual {low:g} to {high:g}.",
            "Fresh tread on carpet reaches 1.8 before it breaks away, but slides at less.",
            "State a range, low and high, and where it comes from.",
        )
    elif not grip.has_range:
        yield Remark(
            f"{place}.wheels.grip",
            candidate.key,
            f"A grip of {grip:g} stands as a fact.",
            "Tread, carpet and dust move it by tenths; pushing and braking move with it.",
            "State a range, such as 0.9 to 1.3.",
            {"value": float(grip), "low": min(0.9, float(grip)), "high": max(1.3, float(grip)),
             "source": "assumed"},
        )  # fmt: skip


def _limit_remarks(study: Study, candidate: Candidate, place: str) -> Iterator[Remark]:
    drive = candidate.drive
    if candidate.layout != "tank" and drive.motor_count > 4:
        yield Remark(
            f"{place}.drive.motor_count",
            candidate.key,
            f"{drive.motor_count} drive motors on 4 wheels.",
            "Steering motors do not drive and are not counted.",
            "4?",
            4,
        )
    stator, supply = drive.stator_limit_a, drive.supply_limit_a
    if stator is not None and supply is not None and supply >= stator:
        yield Remark(
            f"{place}.drive.supply_limit_a",
            candidate.key,
            f"A supply limit of {supply:g} A never acts under a stator limit of {stator:g} A.",
            "A controller takes no more from the battery than flows in the winding, and much less "
            "at low speed.",
            "Leave it empty, or set it lower if it was meant to spare the battery.",
        )
    mass = sum(part_mass(study, part) for part in (*study.robot.parts, *candidate.parts))
    push = push_estimate(candidate, study.motors[drive.motor], mass)
    if stator is None and supply is None and push.at_stall_n > 2 * push.traction_n:
        yield Remark(
            f"{place}.drive.stator_limit_a",
            candidate.key,
            f"At stall {drive.motor_count} motors would give {push.at_stall_n:.0f} N, "
            f"{push.at_stall_n / push.traction_n:.1f} times what the tyres hold "
            f"({push.traction_n:.0f} N).",
            "Without a limit the wheels spin and the battery sags before that force is there.",
            f"About {push.slip_current_a:.0f} A a motor is enough to slip the tyres.",
            round(push.slip_current_a * 1.1, -1),
        )


def _loss_remarks(candidate: Candidate, place: str) -> Iterator[Remark]:
    drive = candidate.drive
    if drive.efficiency == 1.0:
        yield Remark(
            f"{place}.drive.efficiency",
            candidate.key,
            "Gearing without any loss.",
            "Spur gears pass 94 to 98 % a stage, so two stages 0.88 to 0.96.",
            "0.92?",
            0.92,
        )
    if candidate.layout == "swerve" and not drive.steer_time_s:
        yield Remark(
            f"{place}.drive.steer_time_s",
            candidate.key,
            "The modules steer in no time.",
            "A quarter turn of a module takes 0.1 to 0.25 s.",
            "State the time.",
            0.15,
        )


def _frame_remarks(candidate: Candidate, place: str) -> Iterator[Remark]:
    wheels, frame = candidate.wheels, candidate.frame
    for name, span, side, word in (
        ("track_m", wheels.track_m, frame.width_m, "wide"),
        ("wheelbase_m", wheels.wheelbase_m, frame.length_m, "long"),
    ):
        if span >= side:
            label = "track" if name == "track_m" else "wheelbase"
            yield Remark(
                f"{place}.wheels.{name}",
                candidate.key,
                f"The {label}, {span:g} m, is as much as the frame is {word}, {side:g} m.",
                "Wheel centres stand inside the frame, usually 50 to 70 mm from its edge; "
                "bumpers come on top.",
                "Frame size typed as wheel distance?",
                f"{side - 0.13:.3f}" if side > 0.3 else None,
            )
    for name in ("length_m", "width_m"):
        if getattr(frame, name) > 1.3:
            given: Estimate = getattr(frame, name)
            yield Remark(
                f"{place}.frame.{name}",
                candidate.key,
                f"A frame of {given:g} m is larger than robots usually are.",
                "",
                "Check the unit.",
            )


def _mass_remarks(study: Study, candidate: Candidate, place: str) -> Iterator[Remark]:
    limit = float(study.rules.mass_limit_kg)
    parts: list[tuple[str, Part]] = [
        *((f"robot.parts[{i}]", part) for i, part in enumerate(study.robot.parts)),
        *((f"{place}.parts[{i}]", part) for i, part in enumerate(candidate.parts)),
    ]
    legal = sum(part_mass(study, part) for _, part in parts if not part.exempt)
    if legal > HEAVY_SHARE * limit:
        at, part = max(parts, key=lambda row: part_mass(study, row[1]))
        alone = part.mass_kg is not None and part_mass(study, part) > 0.5 * limit
        yield Remark(
            f"{at}.mass_kg" if alone else f"{place}.parts",
            candidate.key,
            f"{legal:.3g} kg is {legal / limit:.1f} times the legal robot of {limit:g} kg.",
            f"{legal:.3g} lb would be {legal * POUND_KG:.3g} kg.",
            f"Pounds{f' in “{part.name}”' if alone else ''}?",
            f"{part.mass_kg:g} lb" if alone else None,
        )
    if not candidate.parts:
        yield Remark(
            f"{place}.parts",
            candidate.key,
            f"“{candidate.name}” has no parts: this base weighs nothing.",
            "What goes out and what comes in decides the mass and the balance.",
            "Add its frame, gearboxes or modules, wheels and motors.",
        )
