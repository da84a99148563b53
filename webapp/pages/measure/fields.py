"""What each test asks for, what it is called, how it is done and what to beware of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from webapp.pages.measure.asked import Field

LEFT_RIGHT = (("l", "left"), ("r", "right"))


@dataclass(frozen=True)
class Test:
    """One test on the page."""

    key: str
    """Its anchor, and its name in addresses."""
    title: str
    answers: str
    """What it answers, in a line."""
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    fields: tuple[Field, ...]
    takes: str = ""
    """What is taken over, "" where nothing can be."""


CONSTANTS = Test(
    "constants",
    "Constants of a characterised drive",
    "kS, kV and kA from somebody's code or a characterising run: which unit they are in, and "
    "whether they can be true of this robot.",
    (
        "Copy the constants of the drive, not of one motor, as they stand.",
        "Leave the unit to be worked out, or state it.",
        "Compare what they mean with what you know: ratio, wheel, mass.",
    ),
    (
        "A characterising run needs the length of a hall: clear it, and one person stays at the "
        "disable switch.",
    ),
    (
        Field("kv", "kV", "", 1e-7, 1e5),
        Field("ks", "kS, if known", "", 0.0, 1e3, optional=True),
        Field("ka", "kA, if known", "", 0.0, 1e5, optional=True),
    ),
    "rolling resistance",
)

TILT = Test(
    "tilt",
    "Tilt test: grip",
    "How steep a board may be before the braked robot slides: its grip is the tangent.",
    (
        "Fix the same carpet on a stiff board, longer than the robot. Clean the tread as before a "
        "match.",
        "Set the robot on it, wheels braked or blocked so that none can roll, nose up the slope.",
        "Lift the end of the board slowly until the robot slides. A phone's level on the board "
        "reads the angle.",
        "Do it five times; type the mean, and half the spread as the error.",
    ),
    (
        "Two people lift, one stands ready at the side, nobody below. Battery out, or its plug "
        "pulled and strapped.",
        "A tall robot can tip before it slides: hold a slack strap at its top.",
    ),
    (
        Field("angle", "Angle at which it slides", "deg", 1.0, 70.0),
        Field("angle_error", "Give or take", "deg", 0.0, 10.0, usual=1.0),
    ),
    "grip",
)

SCALES = Test(
    "scales",
    "Scales under the wheels: mass and centre of gravity",
    "What each wheel carries tells mass and centre of gravity; the same with the front raised "
    "tells its height.",
    (
        "Put a scale under each wheel, all at one height, on a level floor. With six wheels of "
        "which the middle ones stand lower, weigh the four that carry, with the others' boxes "
        "empty or 0.",
        "Everything on board as it drives: battery, bumpers, mechanisms as in the travelling pose.",
        "Read them all without touching the robot; lift, set down and read again; type the means.",
        "For the height, raise both front wheels on blocks with their scales, the brakes off, the "
        "rear wheels chocked so that they cannot leave the scales. The steeper, the finer.",
    ),
    (
        "Two people lift with straight backs; nobody's hands under the frame.",
        "Raise it no more than half of what would tip it, and hold it until it stands by itself.",
    ),
    (
        *(
            Field(f"{row}{side}", f"{words} {place}", "kg", 0.0, 200.0, optional=row == "m")
            for row, words in (("f", "Front"), ("m", "Middle"), ("r", "Rear"))
            for side, place in LEFT_RIGHT
        ),
        Field("up_fl", "Front left, front raised", "kg", 0.0, 200.0, optional=True),
        Field("up_fr", "Front right, front raised", "kg", 0.0, 200.0, optional=True),
        Field(
            "rise", "Front raised by", "m", 0.005, 1.5, optional=True, small=True,
            hint="Height of the blocks.",
        ),
        Field("scale_error", "Each scale, give or take", "kg", 0.0, 10.0, usual=0.2),
    ),
    "mass of a part",
)  # fmt: skip

RUNS = Test(
    "runs",
    "Tape and watch: speed and stop",
    "How fast it is over a taped length, and how far it goes from full braking to standstill.",
    (
        "Tape two lines across the end of a long straight, the first where the robot is at full "
        "speed already.",
        "Film from the side with a phone, or stop the time by hand: from nose at the first line "
        "to nose at the second.",
        "For the stop, cut the throttle with brake mode on as the nose passes the second line; "
        "measure from there to the nose at rest.",
        "Do it five times, full battery; type the means.",
    ),
    (
        "Clear the whole lane and what lies behind it; a mat at the end. Nobody steps in before "
        "the robot is disabled.",
    ),
    (
        Field("length", "Between the lines", "m", 0.2, 100.0),
        Field("time", "Time", "s", 0.05, 600.0),
        Field(
            "time_error", "Time, give or take", "s", 0.0, 5.0, usual=0.2,
            hint="By hand 0.2; filmed 0.03.",
        ),
        Field("stop", "To standstill", "m", 0.01, 50.0, optional=True),
        Field(
            "stop_error", "To standstill, give or take", "m", 0.0, 5.0, usual=0.05, small=True
        ),
    ),
)  # fmt: skip

BATTERY = Test(
    "battery",
    "Battery under a known load: resistance",
    "Two loads and two voltages tell how much the battery sags for each ampere.",
    (
        "Full battery, rested for an hour, at room temperature.",
        "A light load first (a lamp, the robot switched on): read voltage and current together.",
        "Then a heavy one (lamps in parallel, a battery tester) for no more than five seconds: "
        "read both again. The greater the difference, the finer.",
        "Voltage at the battery's own posts, not at the plug. A clamp meter reads the current.",
    ),
    (
        "A short-circuited battery burns and bursts: eye protection, no rings, one person on the "
        "plug. Never bridge the posts with a tool.",
        "A heavy load glows: keep it off the table and let it cool. Stop when a plug gets warm.",
    ),
    (
        Field("v1", "Voltage, light load", "v", 1.0, 60.0),
        Field("i1", "Current, light load", "a", 0.0, 2000.0),
        Field("v2", "Voltage, heavy load", "v", 0.5, 60.0),
        Field("i2", "Current, heavy load", "a", 0.1, 2000.0),
        Field("v_error", "Each voltage, give or take", "v", 0.0, 1.0, usual=0.02),
        Field("i_share", "Difference of the currents, give or take", "share", 0.0, 0.5, usual=0.03),
    ),
    "battery resistance",
)

SPIN = Test(
    "spin",
    "Spin count: effective track",
    "How much further the wheels run than the robot turns: the track that a skidding base seems "
    "to have.",
    (
        "Mark a wheel on each side with tape, and the floor under the robot's nose.",
        "Turn on the spot, both sides alike and against each other, ten times around, slowly "
        "enough to stay in place.",
        "Count a wheel's turns (or take them from its encoder), the mean of both sides.",
        "Or time a steady spin while the wheel speed is logged.",
    ),
    (
        "Everybody two robot lengths away, cables and long hair too: a spinning corner hits hard.",
    ),
    (
        Field("turns", "Turns of the robot", "", 0.25, 1000.0),
        Field("turn_error", "Turns, give or take", "", 0.0, 10.0, usual=0.1),
        Field("wheel", "Turns of a wheel", "", 0.25, 1e5, optional=True),
        Field("wheel_error", "Wheel turns, give or take", "", 0.0, 100.0, usual=0.25),
        Field("spin_time", "Or: time of these turns", "s", 0.1, 3600.0, optional=True),
        Field(
            "surface", "And wheel speed", "mps", 0.05, 12.0, optional=True,
            hint="At the tread, mean of both sides.",
        ),
    ),
    "effective track",
)  # fmt: skip

TESTS: Mapping[str, Test] = {
    test.key: test for test in (CONSTANTS, TILT, SCALES, RUNS, BATTERY, SPIN)
}
"""Every test by key, in the order of the page."""
