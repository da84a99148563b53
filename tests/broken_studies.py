"""Study files that break a rule each, made from the example study: for every door they may come by.

Each has a name, what is done to the example, the place that the refusal must name and words that it
must say.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from models.seed import example_document

Edit = Callable[[dict[str, Any]], None]


@dataclass(frozen=True)
class Broken:
    """One broken file and what its refusal has to say."""

    name: str
    file: Callable[[], bytes]
    place: str
    words: str


def _at(document: Any, path: str) -> tuple[Any, Any]:
    """Return what holds the last step of a path, and that step."""
    steps: list[Any] = [int(step) if step.isdigit() else step for step in path.split("/")]
    for step in steps[:-1]:
        document = document[step]
    return document, steps[-1]


def _edited(edit: Edit) -> bytes:
    document = copy.deepcopy(example_document())
    edit(document)
    return json.dumps(document).encode()


def _with(path: str, value: Any) -> Callable[[], bytes]:
    def edit(document: dict[str, Any]) -> None:
        holder, step = _at(document, path)
        holder[step] = value

    return lambda: _edited(edit)


def _without(path: str) -> Callable[[], bytes]:
    def edit(document: dict[str, Any]) -> None:
        holder, step = _at(document, path)
        del holder[step]

    return lambda: _edited(edit)


def _raw(old: str, new: str) -> Callable[[], bytes]:
    """Replace once in the file's text, for what JSON itself would not write."""

    def make() -> bytes:
        text = json.dumps(example_document())
        assert old in text
        return text.replace(old, new, 1).encode()

    return make


def _text(content: bytes) -> Callable[[], bytes]:
    return lambda: content


def _example() -> bytes:
    return json.dumps(example_document()).encode()


def _changed(name: str, path: str, value: Any, words: str, place: str | None = None) -> Broken:
    return Broken(name, _with(path, value), _place(path) if place is None else place, words)


def _place(path: str) -> str:
    place = ""
    for step in path.split("/"):
        place += f"[{step}]" if step.isdigit() else f".{step}" if place else step
    return place


_RATIO = "candidates/1/drive/ratio"
_SQUARE = [[0, 0], [0.1, 0], [0.1, 0.1], [0, 0.1]]

FILES = (
    Broken("empty", _text(b""), "", "empty"),
    Broken("blank", _text(b"  \n"), "", "empty"),
    Broken("only a mark", _text(b"\xef\xbb\xbf"), "", "empty"),
    Broken("not JSON", _text(b"ratio = 6.75"), "", "Line 1, column 1"),
    Broken("cut off", lambda: _example()[:-40], "", "not JSON"),
    Broken("comma at the end", _raw('"version": 1,', '"version": 1,,'), "", "not JSON"),
    Broken("a list", lambda: b"[" + _example() + b"]", "", "one JSON object"),
    Broken("a number", _text(b"42"), "", "one JSON object"),
    Broken("null", _text(b"null"), "", "one JSON object"),
    Broken("UTF-16", lambda: _example().decode().encode("utf-16"), "", "UTF-8"),
    Broken("bytes", _text(bytes(range(128, 256))), "", "UTF-8"),
    Broken("deep lists", _text(b'{"format": ' + b"[" * 100_000 + b"]" * 100_000 + b"}"), "",
           "nested"),
    Broken("deep groups", _text(b'{"a":' * 5000 + b"1" + b"}" * 5000), "", "nested"),
    Broken("ten megabytes", lambda: b'{"notes": "' + b"a" * 10_000_000 + b'"}', "", "bytes"),
    Broken("NaN", _raw('"match_s": 150', '"match_s": NaN'), "", "NaN"),
    Broken("infinity", _raw('"match_s": 150', '"match_s": -Infinity'), "", "Infinity"),
    Broken("1e999", _raw('"match_s": 150', '"match_s": 1e999'), "", "too large"),
    Broken("5000 digits", _raw('"match_s": 150', '"match_s": ' + "9" * 5000), "", "5000 digits"),
    Broken("field twice", _raw('"match_s": 150', '"match_s": 150, "match_s": 140'), "", "twice"),
    Broken("candidate field twice", _raw('"key": "steered"', '"key": "a", "key": "steered"'), "",
           "“key” stands twice"),
    Broken("other format", _with("format", "other"), "format", "switchover-study"),
    Broken("no format", _without("format"), "format", "switchover-study"),
    Broken("later version", _with("version", 2), "version", "reads version 1"),
    Broken("version true", _with("version", True), "version", "reads version 1"),
)  # fmt: skip

FIELDS = (
    Broken("no power", _without("power"), "power", "missing"),
    Broken("no ratio", _without(_RATIO), "candidates[1].drive.ratio", "Ratio is missing"),
    Broken("no legs", _with("routes/0/legs", []), "routes[0].legs", "At least 1 leg"),
    Broken("no candidates", _with("candidates", []), "candidates", "At least 1 candidate"),
    Broken("no motors", _with("motors", {}), "motors", "At least 1 motor"),
    _changed("unknown field", "candidates/1/drive/colour", "red", "no field of this name"),
    _changed("misspelt field", "candidates/1/drive/ratoi", 6.5, "did you mean ratio"),
    _changed("unknown at top", "rulez", {}, "did you mean rules"),
    _changed("power a list", "power", [12.6], "group of fields in braces"),
    _changed("robot a text", "robot", "Breakwater", "group of fields in braces"),
    _changed("robot null", "robot", None, "group of fields in braces"),
    _changed("candidates a group", "candidates", {"a": 1}, "list in square brackets"),
    _changed("name a number", "name", 7, "A text belongs here"),
    _changed("name empty", "name", "  ", "empty"),
    _changed("name too long", "name", "n" * 500, "500 characters; 120 at most"),
    _changed("half a character", "name", "\ud83d", "cannot be shown"),
    _changed("control character", "robot/parts/0/name", "mast\x00", "cannot be shown"),
    _changed("ratio true", _RATIO, True, "“true” is not a number"),
    _changed("ratio null", _RATIO, None, "figure"),
    _changed("ratio a list", _RATIO, [50, 14], "figure"),
    _changed("ratio words", _RATIO, "fast", "is not a"),
    _changed("decimal comma", "candidates/1/wheels/diameter_m", "0,1016", "type 0.1016"),
    _changed("comma in ratio", _RATIO, "6,75", "type 6.75"),
    _changed("comma in 6,75:1", _RATIO, "6,75:1", "type 6.75:1"),
    _changed("comma in a chain", _RATIO, "50;14, 17:27", "50:14, 17:27, 45:15"),
    _changed("zero teeth", _RATIO, "50:0", "tooth counts go from"),
    _changed("upside down", _RATIO, 0.148, "below 1 speeds the wheel up; for 6.76:1 type 6.76"),
    _changed("one pair turned", _RATIO, "50:14, 27:17, 15:45", "3.571 × 1.588 × 0.333"),
    _changed("ratio zero", _RATIO, 0, "type 0.01 to 1000"),
    _changed("ratio huge", _RATIO, 10**100, "far too large"),
    _changed("mass in metres", "robot/parts/0/mass_kg", "9 m", "is not a mass"),
    _changed("inches as metres", "candidates/1/wheels/diameter_m", 4, "type 4 in"),
    _changed("frame in inches", "candidates/1/frame/length_m", 28, "type 28 in"),
    _changed("milliohms", "power/internal_resistance_ohm", 14, "type 14 mΩ"),
    _changed("percent", "candidates/1/drive/efficiency", 90, "type 90 %"),
    _changed("negative mass", "robot/parts/0/mass_kg", -3, "-3 kg is out of range; type 0 kg to"),
    _changed("three wheels", "candidates/1/wheels/count", 3, "type 4 to 16"),
    _changed("half a wheel", "candidates/0/wheels/count", 6.5, "not a whole number"),
    _changed("exempt as word", "robot/parts/6/exempt", "yes", "true or false"),
    _changed("baseline as 1", "candidates/0/baseline", 1, "true or false"),
    _changed("layout in capitals", "candidates/0/layout", "Tank", "Did you mean tank"),
    _changed("unknown layout", "candidates/0/layout", "hover", "tank, swerve, mecanum or omni"),
    _changed("key with blanks", "candidates/1/key", "my base", "letters, digits"),
    _changed("range upside down", "candidates/1/wheels/grip",
             {"value": 1.1, "low": 1.3, "high": 0.9}, "low ≤ value ≤ high",
             "candidates[1].wheels.grip.low"),
    _changed("source unknown", "candidates/1/wheels/grip", {"value": 1, "source": "guess"},
             "is not a source", "candidates[1].wheels.grip.source"),
    _changed("no value", "candidates/1/wheels/grip", {"low": 1}, "no value",
             "candidates[1].wheels.grip.value"),
    _changed("estimate with more", "candidates/1/wheels/grip", {"value": 1, "mean": 1},
             "An estimate has no", "candidates[1].wheels.grip.mean"),
    _changed("two numbers for a place", "robot/parts/0/centre_m", [0, 0], "[forward, left, up]"),
    _changed("text for a place", "robot/parts/0/centre_m", "front", "[forward, left, up]"),
    _changed("date of another land", "schedule/start", "01.02.2027", "is not a date"),
    _changed("no such day", "schedule/start", "2027-02-30", "calendar has no"),
    _changed("no such hour", "schedule/meetings/0/start", "25:00", "time of day"),
    _changed("no such weekday", "schedule/meetings/0/weekday", "someday", "sun"),
)  # fmt: skip

_BODY = "candidates/0/bodies/0/"
_OUTLINE = _BODY + "outline_m"

GEOMETRY = (
    _changed("outline crosses itself", _OUTLINE, [[0, 0], [0.1, 0.1], [0.1, 0], [0, 0.1]],
             "crosses or touches itself near (0.05, 0.05) m"),
    _changed("two corners", _OUTLINE, [[0, 0], [0.1, 0]], "an area needs 3"),
    _changed("on one line", _OUTLINE, [[0, 0], [0.1, 0], [0.2, 0]], "no area"),
    _changed("corner of three", _OUTLINE, [*_SQUARE, [0, 0.05, 1]], "two numbers",
             "candidates[0].bodies[0].outline_m[4]"),
    _changed("corner of words", _OUTLINE, [["a", 0], *_SQUARE[1:]], "is not a length",
             "candidates[0].bodies[0].outline_m[0][0]"),
    _changed("corner far away", _OUTLINE, [[4000, 0], *_SQUARE[1:]], "lies outside -20 m to 20 m",
             "candidates[0].bodies[0].outline_m[0][0]"),
    _changed("outline of 1000", _OUTLINE, [[i, i * i] for i in range(1000)], "1000 corners"),
    _changed("top under bottom", _BODY + "top_m", 0.01, "has to lie above its bottom"),
    _changed("tube without hollow", "candidates/1/parts/2/tube/wall_m", 0.02, "no hollow"),
    _changed("mass and tube", "candidates/1/parts/2/mass_kg", 1, "mass_kg and tube",
             "candidates[1].parts[2]"),
    Broken("neither mass nor shape", _without("robot/parts/0/mass_kg"), "robot.parts[0]",
           "needs one of mass_kg, tube or plate"),
    _changed("below the floor", "robot/parts/0/centre_m", [0, 0, -4.9],
             "heights count upwards", "candidates[0].parts"),
    _changed("falls on its nose", "candidates/1/parts/1/centre_m", [4.5, 0, 0.1],
             "beyond the front axle at 0.28 m: it falls over", "candidates[1].parts"),
    _changed("falls on its side", "candidates/1/parts/1/centre_m", [0, -4.5, 0.1],
             "beyond the right wheels at 0.26 m", "candidates[1].parts"),
    _changed("insets eat the wheelbase", "candidates/1/modules/corners/front_left/inset_m",
             [0.6, 0], "moves the wheel past the middle of the wheelbase"),
)  # fmt: skip

REFERENCES = (
    _changed("no such motor", "candidates/1/drive/motor", "rocket", "There is no motor “rocket”"),
    _changed("no such module", "candidates/1/modules/type", "m-9", "There is no module type"),
    _changed("no such material", "candidates/1/parts/2/tube/material", "balsa",
             "There is no material “balsa”"),
    _changed("no such part", "robot/poses/1/offsets", {"tail": [0, 0, 1]},
             "There is no part of the robot named “tail”", "robot.poses[1].offsets.tail"),
    _changed("key twice", "candidates/2/key", "steered", "is also the key of candidates[1]"),
    _changed("part twice", "robot/parts/1/name", "mast", "is also the name of robot.parts[0]"),
    _changed("two baselines", "candidates/1/baseline", True, "candidates[0] and candidates[1]"),
    _changed("modules on a tank", "candidates/1/layout", "tank", "belong to the layout swerve",
             "candidates[1].modules"),
    _changed("no inverted envelope", "module_types/module-100/inverted", [],
             "has no inverted envelope", "candidates[1].modules.corners.rear_left.orientation"),
    _changed("odd tank motors", "candidates/0/drive/motor_count", 5, "as many motors left"),
    _changed("six steered motors", "candidates/1/drive/motor_count", 6, "Steering motors are not"),
    _changed("omni axle 7", "candidates/0/wheels/omni_axles", [7], "0 (front) to 2",
             "candidates[0].wheels.omni_axles[0]"),
    _changed("omni without grip", "candidates/0/wheels/omni_axles", [0], "own grip sideways",
             "candidates[0].wheels.omni_side_grip"),
    _changed("free above stall", "motors/brushless-60/stall_current_a", 1.5, "below the stall",
             "motors.brushless-60.free_current_a"),
    _changed("no such task", "candidates/1/tasks/3/after", ["dream"], "no task with the key",
             "candidates[1].tasks[3].after[0]"),
    _changed("no such purchase", "candidates/1/tasks/1/needs", ["luck"], "no purchase",
             "candidates[1].tasks[1].needs[0]"),
    _changed("no such crew", "candidates/1/tasks/1/crew", "night", "no crew “night”"),
    _changed("tasks in a ring", "candidates/1/tasks/0/after", ["practice"],
             "wait for each other", "candidates[1].tasks"),
    _changed("hours fall", "candidates/1/tasks/0/hours", [6, 3, 2], "do not rise"),
    _changed("ready before start", "schedule/ready_by", "2027-01-01", "before the start"),
    _changed("no such figure", "decision/gates/0/metric", "beauty", "no figure “beauty”"),
    _changed("gate of nothing", "decision/gates/0", {"metric": "fits"}, "at_least, at_most or is"),
    _changed("worst is best", "decision/criteria/0/best", 3.0, "are both 3"),
)  # fmt: skip

_LEG = "routes/1/legs/1/"
_KEPT = "candidates/5/"

RUNS = (
    _changed("no such pose", _LEG + "pose", "asleep", "There is no pose of the robot named"),
    _changed("no such load", _LEG + "loads", ["winch"], "did you mean mast winch",
             "routes[1].legs[1].loads[0]"),
    _changed("load twice", _LEG + "loads", ["mast winch", "mast winch"], "twice",
             "routes[1].legs[1].loads[1]"),
    Broken("through without a radius", _without(_LEG + "radius_m"), "routes[1].legs[1].radius_m",
           "the turn needs a radius"),
    _changed("through and an action", _LEG + "action_s", 0.5, "stands still for 0.5 s"),
    _changed("through and a wait", _LEG + "prepare_s", 0.5, "waits for its mechanisms"),
    Broken("through nowhere", _without(_LEG + "to_m"), "routes[1].legs[1].pass",
           "state where it goes to"),
    _changed("through at the end", "routes/0/legs/6", {"to_m": [1, 2], "pass": True, "radius_m": 1},
             "ends at rest", "routes[0].legs[6].pass"),
    _changed("radius of nothing", _LEG + "radius_m", 0, "type 0.01 m to 50 m"),
    _changed("obstacle of two corners", "field/obstacles/0/outline_m", [[1, 1], [2, 2]],
             "an area needs 3"),
    _changed("obstacle elsewhere", "field/obstacles/0/outline_m", [[20, 1], [21, 1], [21, 2]],
             "lies wholly outside the field"),
    _changed("obstacle twice", "field/obstacles/1/name", "pier", "is also the name of"),
    Broken("field without width", _without("field/width_m"), "field.width_m", "is missing"),
)  # fmt: skip

_CURVE = "power/main_breaker_curve"

ELECTRICS = (
    _changed("no such battery", "power/battery", "best", "There is no battery named “best”"),
    _changed("battery twice", "power/batteries/1/name", "match battery", "is also the name of"),
    _changed("battery of no kind", "power/batteries/0/kind", "new", "match, tired, practice or"),
    _changed("charge of 85", "power/batteries/0/charge", 85, "type 85 %"),
    _changed("load of no time", "power/loads/0/during", "often", "driver or legs"),
    _changed("curve of one point", _CURVE, [[2, 10]], "One point is no curve"),
    _changed("curve below 1", _CURVE, [[0.9, 10], [2, 5]], "never trips at 0.9 times",
             "power.main_breaker_curve[0][0]"),
    _changed("curve goes back", _CURVE, [[2, 10], [1.5, 5]], "multiple rising",
             "power.main_breaker_curve[1][0]"),
    _changed("curve rises", _CURVE, [[2, 10], [3, 12]], "has to trip sooner",
             "power.main_breaker_curve[1][1]"),
    _changed("curve of single numbers", _CURVE, [2, 3], "[multiple of its rating, seconds]",
             "power.main_breaker_curve[0]"),
    _changed("gauge and area", "power/cables/0/area_mm2", 13, "both are given",
             "power.cables[0].gauge_awg"),
    Broken("neither gauge nor area", _without("power/cables/0/gauge_awg"),
           "power.cables[0].gauge_awg", "neither is given"),
    _changed("track of a swerve", "candidates/1/wheels/effective_track_m", 1, "Only a tank"),
    _changed("ratio on offer of words", "candidates/0/drive/ratios_on_offer/0", "fast",
             "is not a"),
    _changed("half a controller", "robot/uses/controllers", 2.5, "not a whole number"),
)  # fmt: skip

PLANS = (
    _changed("given up before it begins", "schedule/give_up_base_on", "2027-01-02",
             "before work begins"),
    _changed("gate of no task", "schedule/gates/0/tasks", ["dream"], "no task with the key",
             "schedule.gates[0].tasks[0]"),
    _changed("gate without tasks", "schedule/gates/0/tasks", [], "At least 1 task"),
    _changed("gate twice", "schedule/gates/1/name", "go or stay", "is also the name of"),
    _changed("sure chance", "schedule/wanted_chance", 1, "type 0.01 to 0.999"),
    _changed("task of no kind", "candidates/1/tasks/0/kind", "fun", "work, practice or routines"),
    _changed("more spares than pieces", "candidates/1/purchases/1/spares", 9,
             "the quantity counts the spares too"),
    _changed("express is slower", "candidates/1/purchases/1/express/lead_days", [5, 9, 12],
             "express has to be quicker"),
    _changed("express falls", "candidates/1/purchases/1/express/lead_days", [4, 3, 5],
             "do not rise"),
)  # fmt: skip

KEPT_BASES = (
    _changed("no such base", _KEPT + "same_base_as", "tanks", "did you mean tank"),
    _changed("base of itself", _KEPT + "same_base_as", "tank-mast", "names itself"),
    _changed("base of a base", "candidates/4", {
        "key": "chain", "name": "Chain", "same_base_as": "tank-mast"},
        "itself keeps the base of “tank”", "candidates[4].same_base_as"),
    _changed("own drive beside a kept base", _KEPT + "drive", {"motor": "brushed-64"},
             "cannot have its own drive"),
    _changed("baseline on a kept base", _KEPT + "baseline", True, "on a base of its own",
             "candidates[5].same_base_as"),
    _changed("base a number", _KEPT + "same_base_as", 7, "A key has letters"),
)  # fmt: skip

BROKEN: tuple[Broken, ...] = (
    *FILES, *FIELDS, *GEOMETRY, *REFERENCES, *RUNS, *ELECTRICS, *PLANS, *KEPT_BASES,
)  # fmt: skip
"""Every broken file."""
