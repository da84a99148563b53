"""What the fit view says of rules, ramp and platform: words first, then small tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.trade.phrases import listed
from models.units import UnitSystem, show

Standing = tuple[str, str, str]
"""Mark, style class and words."""

ANGLES = (
    ("approach", "Approach angle, nose", "nose"),
    ("departure", "Departure angle, tail", "tail"),
    ("breakover", "Break-over angle, crest between the wheels", "crest"),
)
STOPPED = {
    "traction": "its wheels slip",
    "tip": "it tips backwards",
    "stator limit": "the stator limit holds its motors back",
    "supply limit": "the supply limit holds its motors back",
    "voltage": "the battery's voltage is not enough",
}
WAYS = (
    ("up", "facing up", "slip", "tip_up"),
    ("down", "facing down", "slip", "tip_down"),
    ("across", "across", "slip_across", "tip_across"),
)


@dataclass(frozen=True)
class RuleRow:
    """One figure against what is asked of it."""

    name: str
    value: str
    standing: Standing


@dataclass(frozen=True)
class RampRow:
    """One pose on the ramp."""

    pose: str
    carried: str
    speed: str
    climb: Standing
    grip: str
    holds: tuple[Standing, ...]


@dataclass(frozen=True)
class PlatformRow:
    """Where to stand on the platform in one pose."""

    pose: str
    middle: str
    centre_of_gravity: str
    room: str
    hinge: str
    standing: Standing


def ground_context(figures: Mapping[str, Any], system: UnitSystem) -> dict[str, Any]:
    """Return what `shared/fit/ground.html` shows of one candidate's evaluation.

    A link frozen under an earlier model has none of these figures; then nothing is shown.
    """
    rules, ramp = figures.get("rules"), figures.get("ramp")
    if rules is None or ramp is None:
        return {"ground_rules": [], "ground_ramp": [], "ground_platform": None}
    return {
        "ground_rules": _rule_rows(figures, rules, system),
        "ground_rule_words": _rule_words(rules),
        "ground_ramp": [_ramp_row(one, ramp["ramp_deg"], system) for one in ramp["poses"]],
        "ground_ramp_words": _ramp_words(ramp),
        "ground_platform": _platform(ramp["platform"], system),
    }


def _degrees(value: float) -> str:
    return show(value, "deg", UnitSystem.SI)


def _rule_words(rules: Mapping[str, Any]) -> Standing:
    """Return in one sentence whether the underside clears the yardstick ramp."""
    passes, ramp = rules["passes"], rules["ramp_deg"]
    if ramp is None:
        return "!", "watch", "No ramp is given among the yardsticks, so no angle is judged."
    judged = {end: passes[f"{key}_deg"] for key, _, end in ANGLES}
    misses = [end for end, passed in judged.items() if passed is False]
    unknown = [end for end, passed in judged.items() if passed is None]
    steep = _degrees(ramp)
    if misses:
        return "✕", "bad", f"On the {steep} ramp it touches with its {listed(misses)}."
    if len(unknown) == len(judged):
        return "!", "watch", f"Whether it clears the {steep} ramp is not known: no belly height."
    clear = f"It clears the {steep} ramp with its {listed([end for end in judged if judged[end]])}"
    if unknown:
        return "!", "watch", f"{clear}; its {listed(unknown)} is not known: no belly height."
    return "✓", "good", f"{clear}."


def _rule_rows(
    figures: Mapping[str, Any], rules: Mapping[str, Any], system: UnitSystem
) -> list[RuleRow]:
    limits = figures["limits"]
    rows = [
        _limit_row("Height, travelling pose", limits.get("height"), system),
        _limit_row("Frame perimeter", limits.get("perimeter"), system),
        *_bumper_rows(rules["bumper"], system),
        _clearance_row(rules, system),
        *(_angle_row(rules, key, name, system) for key, name, _ in ANGLES),
    ]
    return [row for row in rows if row is not None]


def _limit_row(name: str, given: Mapping[str, Any] | None, system: UnitSystem) -> RuleRow | None:
    if given is None or given["value"] is None or given["limit"] is None:
        return None
    spare = given["margin"]
    limit = show(given["limit"], "m", system)
    words = f"{show(abs(spare), 'm', system)} {'under' if spare >= 0 else 'over'} {limit}"
    standing = ("✓", "good", words) if spare >= 0 else ("✕", "bad", words)
    return RuleRow(name, show(given["value"], "m", system), standing)


def _bumper_rows(bumper: Mapping[str, Any] | None, system: UnitSystem) -> list[RuleRow]:
    if bumper is None:
        missing = "give under Givens how far they stick out"
        return [RuleRow("Bumpers, outer size", "not given", ("", "faint", missing))]
    size = f"{show(bumper['length_m'], 'm', system)} × {show(bumper['width_m'], 'm', system)}"
    thick = show(bumper["thickness_m"], "m", system)
    words = f"long × wide: the frame and {thick} on every side"
    rows = [RuleRow("Bumpers, outer size", size, ("", "faint", words))]
    low, high = bumper["bottom_m"], bumper["top_m"]
    if low is not None or high is not None:
        heights = f"{show(low, 'm', system)} to {show(high, 'm', system)}"
        rows.append(RuleRow("Bumpers, height", heights, ("", "faint", "above the floor")))
    return rows


def _clearance_row(rules: Mapping[str, Any], system: UnitSystem) -> RuleRow:
    value = rules["ground_clearance_m"]
    if value is None:
        missing = "give the belly's height on the candidate's page"
        return RuleRow("Ground clearance", "not given", ("", "faint", missing))
    lower = rules["hangs_lower"]
    standing: Standing = ("", "faint", "under the frame, between the wheels")
    if lower:
        first = lower[0]
        more = f" and {len(lower) - 1} more" if len(lower) > 1 else ""
        hang = "hang" if more else "hangs"
        words = (
            f"{first['name']}{more} {hang} lower, at {show(first['bottom_m'], 'm', system)}; "
            "the angles count the belly alone"
        )
        standing = ("!", "watch", words)
    return RuleRow("Ground clearance", show(value, "m", system), standing)


def _angle_row(rules: Mapping[str, Any], key: str, name: str, system: UnitSystem) -> RuleRow:
    angle, ramp = rules[f"{key}_deg"], rules["ramp_deg"]
    if angle is None:
        return RuleRow(name, "not given", ("", "faint", "needs the belly's height"))
    about = []
    if ramp is not None:
        about.append(f"{'passes' if angle >= ramp else 'misses'} the {_degrees(ramp)} ramp")
    if rules.get(f"{key}_by"):
        about.append(f"the {rules[f'{key}_by']} would touch first")
    without = rules["breakover_without_centre_deg"] if key == "breakover" else None
    if without is not None:
        need = ramp is not None and without < ramp <= angle
        helps = "only thanks to the centre wheels" if need else "the centre wheels help"
        about.append(f"{helps}: {_degrees(without)} without them")
    css = "faint" if ramp is None else "good" if angle >= ramp else "bad"
    mark = {"faint": "", "good": "✓", "bad": "✕"}[css]
    return RuleRow(name, _degrees(angle), (mark, css, "; ".join(about)))


def _ramp_words(ramp: Mapping[str, Any]) -> Standing:
    """Return in one sentence how it climbs and stands, over all poses."""
    poses, steep = ramp["poses"], ramp["ramp_deg"]
    if steep is None:
        return "!", "watch", "No ramp is given among the yardsticks."
    stuck = [one for one in poses if not one["climbs"]]
    loose = [one for one in poses if not all(one["holds"].values())]
    if stuck:
        names = _poses([one["name"] for one in stuck])
        why = STOPPED[stuck[0]["limited_by"]]
        return "✕", "bad", f"It does not climb the {_degrees(steep)} ramp {names}: {why}."
    if loose:
        names = _poses([one["name"] for one in loose])
        words = f"It climbs the {_degrees(steep)} ramp, but does not stand safely on it {names}."
        return "✕", "bad", words
    words = f"It climbs the {_degrees(steep)} ramp in every pose, and stands on it any way round."
    return "✓", "good", words


def _poses(names: Sequence[str]) -> str:
    return f"in the pose{'' if len(names) == 1 else 's'} {', '.join(f'“{one}”' for one in names)}"


def _ramp_row(one: Mapping[str, Any], ramp: float, system: UnitSystem) -> RampRow:
    if one["climbs"]:
        climb: Standing = ("✓", "good", f"limit: {one['limited_by']}")
    else:
        climb = ("✕", "bad", STOPPED[one["limited_by"]])
    used = one["grip_used"]
    return RampRow(
        pose=one["name"],
        carried=show(one["carried_kg"], "kg", system) if one["carried_kg"] else "nothing",
        speed=show(one["speed_mps"], "mps", system) if one["climbs"] else "none",
        climb=climb,
        grip="all" if used is None else f"{used * 100:.0f} %",
        holds=tuple(_held(one, ramp, slip, tip) for _, _, slip, tip in WAYS),
    )


def _held(one: Mapping[str, Any], ramp: float, slip: str, tip: str) -> Standing:
    """Return how much steeper the ramp may be before a standing robot slides or tips."""
    slides, tips = one[f"{slip}_deg"], one[f"{tip}_deg"]
    least, verb = min((slides, "slides"), (tips, "tips"))
    if least < ramp:
        return "✕", "bad", f"{verb} at {_degrees(least)}"
    return "✓", "good", f"to {_degrees(least)}, then {verb}"


def _platform(given: Mapping[str, Any] | None, system: UnitSystem) -> dict[str, Any] | None:
    if given is None:
        return None
    partners = [
        f"{one['name']} ({show(one['mass_kg'], 'kg', system)}) at "
        f"{show(one['at_m'], 'm', system, signed=True)}"
        for one in given["partners"]
    ]
    company = f"With {', '.join(partners)}" if partners else "Alone"
    hold = given["hold_moment_nm"]
    if hold:
        held = f"the hinge holds {show(hold, 'nm', system)}, which is the room on both sides"
    else:
        held = "no moment is given that the hinge holds, so there is no room on either side"
    return {
        "words": f"{company} on a platform {show(given['length_m'], 'm', system)} long: {held}.",
        "rows": [_platform_row(one, system) for one in given["poses"]],
    }


def _platform_row(one: Mapping[str, Any], system: UnitSystem) -> PlatformRow:
    standing: Standing = ("✓", "good", "stands on it")
    if not one["on_it"]:
        standing = ("✕", "bad", "its wheels would be past the end")
    return PlatformRow(
        pose=one["name"],
        middle=show(one["middle_at_m"], "m", system, signed=True),
        centre_of_gravity=show(one["cg_at_m"], "m", system, signed=True),
        room=f"± {show(one['room_m'], 'm', system, small=True)}",
        hinge=show(one["hinge_load_n"], "n", system),
        standing=standing,
    )
