"""Invented studies of every layout, drawn from wide ranges with a fixed seed."""

from __future__ import annotations

import random
from typing import Any

MOTORS = {
    "bl60": (5900, 2.0, 4.2, 230, 6e-5),
    "br63": (5300, 2.7, 2.4, 131, 8e-5),
    "bl50": (6300, 1.5, 4.6, 255, 4e-5),
    "small": (9500, 0.0, 0.7, 70, 0.0),
}

BOX = {
    "name": "plate",
    "outline_m": [[-0.05, -0.05], [0.05, -0.05], [0.05, 0.05], [-0.05, 0.05]],
    "bottom_m": 0.05,
    "top_m": 0.1,
}


def random_study(seed: int, layout: str) -> dict[str, Any]:
    """Return a study document with one candidate of a layout, numbers in plain SI."""
    draw = random.Random(seed * 1009 + len(layout) * 7 + ord(layout[0]))
    return {
        "format": "switchover-study",
        "version": 1,
        "name": f"Invented {layout} {seed}",
        "rules": {
            "mass_limit_kg": 56.0,
            "perimeter_limit_m": 3.05,
            "height_limit_m": 1.2,
            "autonomous_s": 15,
            "match_s": 150,
        },
        "power": {
            "open_circuit_v": draw.uniform(11.8, 13.0),
            "internal_resistance_ohm": draw.uniform(0.010, 0.026),
            "main_wiring_ohm": draw.choice([0.0, 0.003, 0.006]),
            "brownout_v": 6.8,
            "accessory_current_a": draw.choice([0.0, 5.0, 15.0]),
        },
        "yardsticks": {
            "sprint_distance_m": draw.uniform(0.8, 12.0),
            "target_speed_mps": draw.uniform(1.5, 5.5),
        },
        "motors": {
            key: {
                "name": key,
                "nominal_v": 12,
                "free_speed_rpm": speed,
                "free_current_a": idle,
                "stall_torque_nm": torque,
                "stall_current_a": stall,
                "rotor_inertia_kgm2": inertia,
            }
            for key, (speed, idle, torque, stall, inertia) in MOTORS.items()
        },
        "module_types": {"box": {"name": "box", "upright": [BOX]}},
        "robot": {
            "parts": [
                {
                    "name": "mechanism",
                    "mass_kg": draw.uniform(8.0, 25.0),
                    "centre_m": [
                        draw.uniform(-0.2, 0.2),
                        draw.uniform(-0.05, 0.05),
                        draw.uniform(0.3, 0.9),
                    ],
                    "size_m": [0.4, 0.4, 0.6],
                },
                {
                    "name": "battery",
                    "mass_kg": 5.8,
                    "centre_m": [draw.choice([-0.2, 0.0, 0.2]), 0.0, 0.12],
                    "size_m": [0.08, 0.18, 0.17],
                },
            ]
        },
        "routes": [_route(draw)],
        "candidates": [_candidate(draw, layout)],
    }


def _route(draw: random.Random) -> dict[str, Any]:
    first = [draw.uniform(1.0, 3.0), draw.uniform(1.0, 3.0)]
    return {
        "name": "run",
        "kind": "cycle",
        "start": {"at_m": first, "heading_deg": draw.choice([0, 90, 180, -35])},
        "legs": [
            {"action_s": 0.5, "prepare_s": draw.choice([0.0, 0.7])},
            {
                "to_m": [draw.uniform(4.0, 7.0), draw.uniform(1.0, 5.0)],
                "may_reverse": draw.random() < 0.6,
            },
            {
                "to_m": [draw.uniform(1.0, 3.0), draw.uniform(1.0, 5.0)],
                "heading_deg": draw.choice([0, 45, 180]),
                "prepare_s": draw.choice([0.0, 1.4, 6.0]),
            },
            {"heading_deg": 90, "action_s": 0.3},
        ],
    }


def _candidate(draw: random.Random, layout: str) -> dict[str, Any]:
    tank = layout == "tank"
    count = draw.choice([4, 6, 8]) if tank else 4
    motors = draw.choice([2, 4, 6]) if tank else draw.choice([4, 4, 8])
    drive: dict[str, Any] = {
        "motor": draw.choice(list(MOTORS)),
        "motor_count": motors,
        "ratio": draw.uniform(7.5 if layout == "omni" else 5.5, 13.0),
        "efficiency": draw.uniform(0.75, 0.97),
        "branch_ohm": draw.choice([0.0, 0.006, 0.012]),
    }
    if draw.random() < 0.5:
        drive["stator_limit_a"] = draw.uniform(25.0, 130.0)
    if draw.random() < 0.6:
        drive["supply_limit_a"] = draw.uniform(15.0, 70.0)
    wheels: dict[str, Any] = {
        "count": count,
        "diameter_m": draw.choice([0.0762, 0.1016, 0.127]),
        "wheelbase_m": draw.uniform(0.35, 0.65),
        "track_m": draw.uniform(0.4, 0.65),
        "grip": draw.uniform(0.6, 1.4),
        "rolling_coefficient": draw.choice([0.0, 0.02, 0.05]),
        "inertia_kgm2": draw.choice([0.0, 0.0012]),
    }
    candidate: dict[str, Any] = {
        "key": "one",
        "name": "One",
        "layout": layout,
        "drive": drive,
        "wheels": wheels,
        "frame": {"length_m": 0.75, "width_m": 0.7},
        "parts": [
            {
                "name": "base",
                "mass_kg": draw.uniform(10.0, 24.0),
                "centre_m": [draw.uniform(-0.03, 0.03), 0.0, 0.09],
                "size_m": [0.72, 0.66, 0.1],
            }
        ],
    }
    if tank:
        wheels["side_grip"] = wheels["grip"] * draw.uniform(0.6, 1.0)
        if draw.random() < 0.5:
            wheels["centre_drop_m"] = 0.003
        if draw.random() < 0.4:
            wheels["omni_axles"] = draw.choice([[0], [count // 2 - 1]])
            wheels["omni_side_grip"] = draw.choice([0.0, 0.1, 0.3])
    if layout == "swerve":
        drive["steer_time_s"] = draw.choice([0.0, 0.15])
        if draw.random() < 0.5:
            candidate["modules"] = {
                "type": "box",
                "corners": {
                    name: {"orientation": "upright", "inset_m": [draw.choice([0.0, 0.04]), 0.03]}
                    for name in ("front_left", "front_right", "rear_left", "rear_right")
                },
            }
    return candidate


def random_passes(seed: int, layout: str) -> dict[str, Any]:
    """Return the study of `random_study` with poses, a margin and points that are passed."""
    document = random_study(seed, layout)
    draw = random.Random(seed * 31 + 5)
    document["yardsticks"]["tip_margin"] = draw.choice([0.0, 0.1, 0.3])
    document["robot"]["poses"] = [
        {"name": "low"},
        {
            "name": "raised",
            "offsets": {
                "mechanism": [draw.uniform(-0.03, 0.03), draw.uniform(-0.03, 0.03), 0.35]
            },
            "loads": [
                {
                    "name": "crate", "mass_kg": 2.5, "centre_m": [0.05, 0.0, 0.8],
                    "size_m": [0.3, 0.3, 0.3],
                }
            ],
        },
    ]  # fmt: skip

    def pose() -> dict[str, str]:
        name = draw.choice([None, "low", "raised"])
        return {} if name is None else {"pose": name}

    legs: list[dict[str, Any]] = []
    at = [2.0, 2.0]
    for number in range(draw.choice([2, 3, 4])):
        at = [at[0] + draw.uniform(0.4, 3.0), at[1] + draw.uniform(-1.5, 1.5)]
        legs.append({"to_m": list(at), "pass": True, "radius_m": draw.uniform(0.2, 3.0), **pose()})
        if layout != "tank" and number == 1 and draw.random() < 0.5:
            legs[-1]["heading_deg"] = draw.choice([60, 180])
    legs.append(
        {
            "to_m": [at[0] + draw.uniform(0.5, 2.0), at[1] + 1.0],
            "prepare_s": draw.choice([0.0, 4.0]), "action_s": 0.4, **pose(),
        }
    )  # fmt: skip
    if draw.random() < 0.6:
        legs[-1]["heading_deg"] = draw.choice([0, 90, -120])
    legs.append({"to_m": [1.0, 1.5], "heading_deg": 0, **pose()})
    legs.append({"heading_deg": 120, **pose()})
    document["routes"].append(
        {
            "name": "through", "kind": "cycle",
            "start": {"at_m": [2.0, 2.0], "heading_deg": draw.choice([0, 45])}, "legs": legs,
        }
    )  # fmt: skip
    return document
