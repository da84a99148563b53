"""The study file as a tree of frozen models, one attribute for each name in the file.

Every field states its kind (`models.study.kinds`): label, unit, limits and a hint. What is not
named here is refused. Rules that join several fields are in `models.study.checks`.

Contents: `Study` at the end; its sections above it in the order of the file.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, field_validator

from models.errors import NotFoundError
from models.study.basics import (
    ZERO,
    Height,
    KeyText,
    Name,
    Notes,
    Point,
    Section,
    Side,
)
from models.study.drive_base import (
    CORNERS,
    Corner,
    Corners,
    Drive,
    Frame,
    Layout,
    Modules,
    Orientation,
    RatiosOnOffer,
    Uses,
    Wheels,
)
from models.study.givens import Platform, PlayingField, Rules, Yardsticks
from models.study.kinds import Choice, Group, Key, Label, Number, Truth, Whole
from models.study.numbers import Estimate
from models.study.outlines import Outline
from models.study.planning import Decision, Purchase, Schedule, Task
from models.study.power import Power
from models.study.runs import Leg, Route, Start

__all__ = [
    "AS_DRAWN",
    "CORNERS",
    "FORMAT",
    "VERSION",
    "Candidate",
    "Corner",
    "Corners",
    "Decision",
    "Drive",
    "Frame",
    "Keepout",
    "Layout",
    "Leg",
    "Load",
    "Material",
    "ModuleType",
    "Modules",
    "Motor",
    "Orientation",
    "Part",
    "Plate",
    "Platform",
    "PlayingField",
    "Pose",
    "Power",
    "Prism",
    "Purchase",
    "RatiosOnOffer",
    "Robot",
    "Route",
    "Rules",
    "Schedule",
    "Start",
    "Study",
    "Task",
    "Tube",
    "Uses",
    "Wheels",
    "Yardsticks",
]

FORMAT = "switchover-study"
VERSION = 1


class Motor(Section):
    """A motor by its four datasheet figures at the nominal voltage."""

    name: Name
    nominal_v: Annotated[Estimate, Number("v", 1.0, 60.0, label="Nominal voltage")]
    free_speed_rpm: Annotated[
        Estimate, Number("rpm", 1.0, 100_000.0, label="Free speed", hint="Turning nothing.")
    ]
    free_current_a: Annotated[Estimate, Number("a", 0.0, 200.0, label="Free current")]
    stall_torque_nm: Annotated[Estimate, Number("nm", 0.001, 1000.0, label="Stall torque")]
    stall_current_a: Annotated[Estimate, Number("a", 0.01, 5000.0, label="Stall current")]
    rotor_inertia_kgm2: Annotated[
        Estimate,
        Number("kgm2", 0.0, 0.1, label="Rotor inertia", hint="Nothing typed counts as 0."),
    ] = ZERO
    winding_heat_j_per_k: Annotated[
        Estimate | None,
        Number(
            "j_per_k",
            0.1,
            1e5,
            label="Winding's heat capacity",
            hint="Energy that warms it by one degree; 0.385 J/K a gram of copper.",
        ),
    ] = None
    winding_limit_c: Annotated[
        Estimate | None,
        Number("c", 30.0, 400.0, label="Winding's limit", hint="Where its insulation gives up."),
    ] = None  # fmt: skip


class Prism(Section):
    """A volume: a plan outline between two heights."""

    name: Name
    outline_m: Annotated[
        tuple[tuple[float, float], ...],
        Outline(label="Outline in plan", hint="Corners as forward, left; in either sense."),
    ]
    bottom_m: Annotated[Height, Label(label="Bottom")]
    top_m: Annotated[Height, Label(label="Top")]


class Keepout(Prism):
    """A volume that a mechanism needs, and the gap that it asks for all round."""

    clearance_m: Annotated[Estimate, Number("m", 0.0, 0.5, label="Clearance asked for")] = ZERO
    poses: Annotated[
        tuple[Name, ...], Group("Applies in", "Empty: in every pose.", most=40, one="pose")
    ] = ()
    swept: Annotated[
        bool, Truth(label="Swept", hint="A mechanism only passes through it.")
    ] = False  # fmt: skip


class ModuleType(Section):
    """A steered module's envelope in each orientation, drawn for the front-left corner."""

    name: Name
    upright: Annotated[tuple[Prism, ...], Group("Upright", most=20, one="prism")] = ()
    inverted: Annotated[tuple[Prism, ...], Group("Inverted", most=20, one="prism")] = ()
    ratios_on_offer: RatiosOnOffer = ()


class Material(Section):
    """A material of the study's own, beside those that the program knows."""

    name: Name
    density_kgm3: Annotated[Estimate, Number("kgm3", 1.0, 25_000.0, label="Density")]


class Tube(Section):
    """A rectangular tube with square corners, from which a part's mass follows."""

    material: Annotated[str, Key(label="Material")]
    width_m: Annotated[Estimate, Number("m", 0.001, 1.0, label="Width")]
    height_m: Annotated[Estimate, Number("m", 0.001, 1.0, label="Height")]
    wall_m: Annotated[Estimate, Number("m", 0.0001, 0.5, label="Wall")]
    length_m: Annotated[Estimate, Number("m", 0.001, 20.0, label="Length")]


class Plate(Section):
    """A plate, from which a part's mass follows."""

    material: Annotated[str, Key(label="Material")]
    width_m: Annotated[Estimate, Number("m", 0.001, 5.0, label="Width")]
    length_m: Annotated[Estimate, Number("m", 0.001, 5.0, label="Length")]
    thickness_m: Annotated[Estimate, Number("m", 0.0001, 0.5, label="Thickness")]
    solid_fraction: Annotated[
        Estimate,
        Number("", 0.0, 1.0, above_minimum=True, label="Share left solid",
               hint="1 for a plate without pockets."),
    ] = Estimate(1.0)  # fmt: skip


class Part(Section):
    """A named mass with a place."""

    name: Name
    mass_kg: Annotated[Estimate | None, Number("kg", 0.0, 500.0, label="Mass of one")] = None
    tube: Tube | None = None
    plate: Plate | None = None
    quantity: Annotated[int, Whole("", 1, 1000, label="Quantity")] = 1
    centre_m: Annotated[Point, Group("Centre", "From the middle of the frame, on the floor.")]
    size_m: Annotated[
        tuple[Side, Side, Side],
        Group(
            "Size of its box", "0 where it counts as a point.", items=("along", "across", "high")
        ),
    ] = (ZERO, ZERO, ZERO)
    exempt: Annotated[
        bool, Truth(label="Left out of the mass limit", hint="Battery and bumpers, usually.")
    ] = False  # fmt: skip


class Load(Section):
    """What the robot carries in one pose: game pieces, a partner robot that it lifts."""

    name: Name
    mass_kg: Annotated[Estimate, Number("kg", 0.0, 500.0, label="Mass")]
    centre_m: Annotated[Point, Group("Centre", "From the middle of the frame, on the floor.")]
    size_m: Annotated[
        tuple[Side, Side, Side],
        Group(
            "Size of its box", "0 where it counts as a point.", items=("along", "across", "high")
        ),
    ] = (ZERO, ZERO, ZERO)


class Pose(Section):
    """A named setting of the mechanisms, and what is carried in it."""

    name: Name
    offsets: Annotated[
        dict[Name, Point], Group("Moved parts", "How far each part lies from its drawn place.",
                                most=200, one="part")
    ] = Field(default_factory=dict)  # fmt: skip
    loads: Annotated[
        tuple[Load, ...], Group("Carries", "Counts in this pose only.", most=20, one="load")
    ] = ()


AS_DRAWN = Pose(name="as drawn")


class Robot(Section):
    """What stays on top when the drive base changes."""

    parts: Annotated[tuple[Part, ...], Group("Parts", most=300, one="part")] = ()
    keepouts: Annotated[tuple[Keepout, ...], Group("Keep-outs", most=100, one="keep-out")] = ()
    poses: Annotated[
        tuple[Pose, ...], Group("Poses", "The first is the travelling one.", most=40, one="pose")
    ] = (AS_DRAWN,)
    uses: Annotated[Uses | None, Label(label="Connections")] = None

    @field_validator("poses")
    @classmethod
    def _one_pose_at_least(cls, poses: tuple[Pose, ...]) -> tuple[Pose, ...]:
        return poses or (AS_DRAWN,)


class Candidate(Section):
    """One drive configuration.

    One that keeps another's base holds that one's layout, drive and so on as if they were its own.
    """

    key: Annotated[str, Key(label="Key")]
    name: Name
    notes: Notes = ""
    baseline: Annotated[bool, Truth(label="What it drives on today")] = False
    same_base_as: Annotated[
        str | None,
        Key(label="Same base as", hint="Another candidate: only tasks and purchases differ."),
    ] = None
    layout: Annotated[Layout, Choice(("tank", "swerve", "mecanum", "omni"), label="Layout")]
    drive: Drive
    wheels: Wheels
    frame: Frame
    parts: Annotated[tuple[Part, ...], Group("Parts that come with it", most=300, one="part")] = ()
    bodies: Annotated[tuple[Prism, ...], Group("Bodies", most=100, one="body")] = ()
    modules: Modules | None = None
    uses: Annotated[Uses | None, Label(label="Connections")] = None
    tasks: Annotated[tuple[Task, ...], Group("Tasks", most=200, one="task")] = ()
    purchases: Annotated[tuple[Purchase, ...], Group("Purchases", most=200, one="purchase")] = ()


class Study(Section):
    """One question about one robot: the whole document."""

    format: Annotated[str, Choice((FORMAT,), label="Format")]
    version: Annotated[int, Whole("", VERSION, VERSION, label="Version")]
    name: Name
    notes: Notes = ""
    rules: Rules
    power: Power
    yardsticks: Yardsticks
    field: PlayingField | None = None
    platform: Platform | None = None
    motors: Annotated[dict[KeyText, Motor], Group("Motors", least=1, most=60, one="motor")]
    module_types: Annotated[
        dict[KeyText, ModuleType], Group("Module types", most=40, one="module type")
    ] = Field(default_factory=dict)
    materials: Annotated[dict[KeyText, Material], Group("Materials", most=40, one="material")] = (
        Field(default_factory=dict)
    )
    robot: Robot
    routes: Annotated[tuple[Route, ...], Group("Routes", most=30, one="route")] = ()
    candidates: Annotated[
        tuple[Candidate, ...], Group("Candidates", least=1, most=26, one="candidate")
    ]
    schedule: Schedule | None = None
    decision: Decision | None = None

    @property
    def baseline(self) -> Candidate:
        """What the robot drives on today; the first candidate where none is marked."""
        return next((one for one in self.candidates if one.baseline), self.candidates[0])

    def candidate(self, key: str) -> Candidate:
        """Return the candidate with a key; raises `NotFoundError` where there is none."""
        for one in self.candidates:
            if one.key == key:
                return one
        raise NotFoundError(f"The study has no candidate with the key “{key}”.")

    @property
    def densities(self) -> dict[str, float]:
        """Densities that the study states itself, by material key [kg/m³]."""
        return {key: float(one.density_kgm3) for key, one in self.materials.items()}
