"""Gearing, wheels and current limits of one candidate, swept: the best, the ties, what to buy.

A design is four numbers: ratio, wheel diameter, stator and supply limit. All else stays as the
candidate has it; that another gear or wheel weighs something else is not modelled.

Contents
--------
Design, design_of, with_design: four numbers, from a candidate and back into one.
Bench, bench_of, figures_at, figures_of, record: how a candidate's designs are worked out.
Offer, offers_of, teeth_of: the ratios that can be bought.
AXES, Axis, axis_range, sweep_axes: over what is swept.
ExploreSettings, explore: everything that the page and the command say.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import Drive, Layout, Stance
from models.engineering.supply import path_resistance
from models.engineering.sweep_search import TieBand, never_beaten, tie_band
from models.engineering.sweeps import DesignFigures, designs_of, figures_of_designs, slip_current
from models.errors import OutOfRangeError
from models.quantities import TIE_SHARE
from models.study.numbers import Estimate, chain_of
from models.study.schema import Candidate, Study
from models.trade.battery import OWN_FIGURES, battery_in_use
from models.trade.driving import base_of

FloatArray = NDArray[np.float64]
AxisName = Literal["ratio", "diameter", "stator", "supply"]

AXES: tuple[AxisName, ...] = ("ratio", "diameter", "stator", "supply")
DEFAULT_COUNTS: Mapping[AxisName, int] = {"ratio": 40, "diameter": 5, "stator": 10, "supply": 10}
DECIMALS: Mapping[AxisName, int] = {"ratio": 2, "diameter": 4, "stator": 0, "supply": 0}
"""Of the values that are swept unasked, so that a pick reads well."""
MOST_DESIGNS = 60_000
SLOWEST_MPS, FASTEST_MPS = 1.0, 12.0
"""Free speeds that a study takes."""
USUAL_SLOWEST, USUAL_FASTEST = 2.0, 8.0
"""Free speeds between which a drive base is usually geared: common practice, no source."""
BAND_NODES = 240


class Design(NamedTuple):
    """What is swept; infinite limits stand for none."""

    ratio: float
    diameter_m: float
    stator_a: float = math.inf
    supply_a: float = math.inf


class Offer(NamedTuple):
    """A ratio that can be bought or built."""

    ratio: float
    teeth: str
    """The tooth chain that it is written as, "" for a plain number."""
    origin: str
    """Who offers it: the module type's name, or "the candidate"."""


class Axis(NamedTuple):
    """Values of one input, from low to high; a limit's last may be none."""

    low: float
    high: float
    steps: int


class Bench(NamedTuple):
    """A candidate on the yardstick sprint, ready for many designs."""

    layout: Layout
    drive: Drive
    stance: Stance
    distance_m: float
    brownout_v: float
    battery: str


@dataclass(frozen=True)
class ExploreSettings:
    """What is asked of the explorer."""

    share: float = TIE_SHARE
    """How much slower than the quickest is still a tie [ratio]."""
    axes: Mapping[AxisName, Axis] = field(default_factory=dict)
    """Ranges that were asked for; the usual ones where an axis is missing."""
    most: int = 1000
    """List at most so many designs that nothing beats."""


def design_of(candidate: Candidate) -> Design:
    """Return a candidate's own four numbers."""
    drive = candidate.drive
    return Design(
        float(drive.ratio),
        float(candidate.wheels.diameter_m),
        math.inf if drive.stator_limit_a is None else float(drive.stator_limit_a),
        math.inf if drive.supply_limit_a is None else float(drive.supply_limit_a),
    )


def with_design(candidate: Candidate, design: Design) -> Candidate:
    """Return the candidate with four other numbers, all else as it is."""
    limits = [
        Estimate(limit) if math.isfinite(limit) else None
        for limit in (design.stator_a, design.supply_a)
    ]
    drive = candidate.drive.model_copy(
        update={
            "ratio": Estimate(design.ratio),
            "stator_limit_a": limits[0],
            "supply_limit_a": limits[1],
        }
    )
    wheels = candidate.wheels.model_copy(update={"diameter_m": Estimate(design.diameter_m)})
    return candidate.model_copy(update={"drive": drive, "wheels": wheels})


def bench_of(study: Study, candidate: Candidate, battery: str | None = None) -> Bench:
    """Return a candidate ready for many designs, on the battery in use or on a named one."""
    if battery is not None:
        named = None if battery == OWN_FIGURES else battery
        power = study.power.model_copy(update={"battery": named})
        study = study.model_copy(update={"power": power})
    base = base_of(study, candidate)
    return Bench(
        base.layout,
        base.drive,
        base.stance,
        float(study.yardsticks.sprint_distance_m),
        float(study.power.brownout_v),
        battery_in_use(study).name,
    )


def figures_at(
    bench: Bench,
    *,
    ratio: ArrayLike,
    diameter_m: ArrayLike,
    stator_a: ArrayLike,
    supply_a: ArrayLike,
) -> DesignFigures:
    """Return the figures of designs whose four numbers broadcast, laid out in a row."""
    designs = designs_of(
        bench.drive,
        ratio=ratio,
        wheel_radius=np.asarray(diameter_m, dtype=np.float64) / 2.0,
        stator_limit=stator_a,
        supply_limit=supply_a,
    )
    return figures_of_designs(designs, bench.stance, bench.layout, distance=bench.distance_m)


def figures_of(bench: Bench, designs: Sequence[Design]) -> DesignFigures:
    """Return the figures of some designs."""
    return figures_at(bench, **_columns(designs))


def _columns(designs: Sequence[Design]) -> dict[str, FloatArray]:
    columns = np.array(designs, dtype=np.float64).reshape(-1, 4).T
    return dict(zip(Design._fields, columns, strict=True))


def record(bench: Bench, design: Design, figures: DesignFigures, index: int) -> dict[str, Any]:
    """Return one design and its figures as plain values; what does not exist is None."""
    least = _finite(figures.least_voltage[index])
    top = float(figures.top_speed[index])
    return {
        "ratio": design.ratio,
        "diameter_m": design.diameter_m,
        "stator_limit_a": _finite(design.stator_a),
        "supply_limit_a": _finite(design.supply_a),
        "sprint_stop_time_s": _finite(figures.stop_time[index]),
        "sprint_time_s": _finite(figures.passing_time[index]),
        "push_force_n": _finite(figures.push_force[index]),
        "min_bus_voltage_v": least,
        "peak_bus_current_a": _finite(figures.peak_current[index]),
        "top_speed_mps": top if top > 0.0 else None,
        "free_speed_mps": free_speed_at(bench, design),
        "browns_out": None if least is None else least < bench.brownout_v,
    }


def records(bench: Bench, designs: Sequence[Design]) -> list[dict[str, Any]]:
    """Return some designs with their figures as plain values."""
    if not designs:
        return []
    figures = figures_of(bench, designs)
    return [record(bench, one, figures, index) for index, one in enumerate(designs)]


def _finite(value: Any) -> float | None:
    number = float(value)
    return number if math.isfinite(number) else None


def free_speed_at(bench: Bench, design: Design) -> float:
    """Return the geared free speed of a design straight ahead [m/s]."""
    speed = float(bench.drive.motor.free_speed) * design.diameter_m / 2.0 / design.ratio
    return speed * _way_factor(bench)


def _way_factor(bench: Bench) -> float:
    return math.sqrt(2.0) if bench.layout == "omni" else 1.0


def offers_of(study: Study, candidate: Candidate) -> list[Offer]:
    """Return the ratios that the module type and the candidate's drive offer, each once."""
    listed: list[tuple[Iterable[Estimate], str]] = [
        (candidate.drive.ratios_on_offer, "the candidate")
    ]
    if candidate.modules is not None:
        module = study.module_types[candidate.modules.type]
        listed.insert(0, (module.ratios_on_offer, module.name))
    found: dict[float, Offer] = {}
    for ratios, origin in listed:
        for ratio in ratios:
            found.setdefault(round(float(ratio), 9), Offer(float(ratio), teeth_of(ratio), origin))
    return [found[ratio] for ratio in sorted(found)]


def ratio_reach(bench: Bench, design: Design) -> tuple[float, float]:
    """Return the ratios between which a study takes the design's free speed."""
    reach = free_speed_at(bench, design) * design.ratio
    return reach / FASTEST_MPS * (1.0 + 1e-9), reach / SLOWEST_MPS * (1.0 - 1e-9)


def teeth_of(ratio: Estimate) -> str:
    """Return the tooth counts that a ratio was typed as, "" for a plain number."""
    chain = chain_of(ratio)
    stages = () if chain is None else chain.stages
    return ", ".join(f"{stage.first:g}:{stage.second:g}" for stage in stages)


def axis_range(
    bench: Bench, design: Design, axis: AxisName, offers: Sequence[Offer] = ()
) -> tuple[float, float]:
    """Return the sensible range of one input about a design.

    Ratios for free speeds of 2 to 8 m/s, wheels from 0.7 to 1.4 times the design's, limits from a
    share of what can ever flow up to all of it: a limit above that is never reached. Widened to
    take in the design and what can be bought, never beyond what a study takes.
    """
    feed, motor = bench.drive.supply, bench.drive.motor
    if axis == "ratio":
        reach = free_speed_at(bench, design) * design.ratio
        given = [design.ratio, *(offer.ratio for offer in offers)]
        low = min(reach / USUAL_FASTEST, 0.97 * min(given))
        high = max(reach / USUAL_SLOWEST, 1.03 * max(given))
        least, most = ratio_reach(bench, design)
        return max(low, least), min(high, most)
    if axis == "diameter":
        return max(0.7 * design.diameter_m, 0.01), min(1.4 * design.diameter_m, 1.0)
    path, source = float(path_resistance(feed)), float(feed.source_voltage)
    if axis == "stator":
        most = source / (float(motor.resistance) + path)
        slip = float(slip_current(_at(bench, design), bench.stance, bench.layout))
        low, own = 0.35 * min(slip, most), design.stator_a
    else:
        most = min(source / (2.0 * path), 1000.0) if path > 0.0 else 1000.0
        low, own = 0.15 * most, design.supply_a
    low = min(low, 0.8 * own)
    low = min(max(low, 1.0), 2500.0)
    # Where accessories pull the battery down to nothing there is still a range to look at
    return low, min(max(most, 2.0 * low), 5000.0)


def _at(bench: Bench, design: Design) -> Drive:
    """Return the drive of one design, its fields of shape ()."""
    return bench.drive._replace(
        ratio=np.asarray(design.ratio), wheel_radius=np.asarray(design.diameter_m / 2.0)
    )


def slip_at(bench: Bench, design: Design) -> float:
    """Return the motor current at which a design's tyres break away [A]."""
    return float(slip_current(_at(bench, design), bench.stance, bench.layout))


def sweep_axes(
    bench: Bench, design: Design, offers: Sequence[Offer], asked: Mapping[AxisName, Axis]
) -> dict[AxisName, FloatArray]:
    """Return the values of each input that are swept.

    Where the range is the usual one, the design's own value and the ratios on offer stand in for
    the values next to them, and the last of a limit's is none.
    """
    axes: dict[AxisName, FloatArray] = {}
    for name, own in zip(AXES, design, strict=True):
        axis = asked.get(name)
        if axis is not None:
            axes[name] = np.geomspace(axis.low, axis.high, axis.steps)
            continue
        low, high = axis_range(bench, design, name, offers)
        values = np.round(np.geomspace(low, high, DEFAULT_COUNTS[name]), DECIMALS[name])
        special = [own]
        if name == "ratio":
            special += [offer.ratio for offer in offers]
        elif name != "diameter":
            values[-1] = np.inf
        axes[name] = _with(values, special)
    count = math.prod(len(values) for values in axes.values())
    if count > MOST_DESIGNS:
        raise OutOfRangeError(
            f"That makes {count} designs; {MOST_DESIGNS} at most. Take fewer values of an axis."
        )
    return axes


def _with(values: FloatArray, special: Iterable[float]) -> FloatArray:
    """Return rising values with each special one in the place of the nearest that is not."""
    free = list(np.flatnonzero(np.isfinite(values)))
    taken = values.copy()
    for one in special:
        if not math.isfinite(one) or one in taken or not free:
            continue
        nearest = min(free, key=lambda index, one=one: abs(math.log(values[index] / one)))  # type: ignore[misc]
        taken[nearest] = one
        free.remove(nearest)
    return np.sort(taken)


class Sweep(NamedTuple):
    """All designs of a sweep and which of them nothing beats."""

    designs: FloatArray
    """Shape (designs, 4), in the order of `Design`."""
    figures: DesignFigures
    unbeaten: NDArray[np.bool_]


def sweep(bench: Bench, axes: Mapping[AxisName, FloatArray]) -> Sweep:
    """Return every combination of the axes' values with its figures."""
    grids = np.meshgrid(*(axes[name] for name in AXES), indexing="ij")
    designs = np.stack([grid.reshape(-1) for grid in grids], axis=-1)
    figures = figures_at(bench, **dict(zip(Design._fields, designs.T, strict=True)))
    unbeaten = never_beaten(figures.stop_time, figures.push_force, figures.least_voltage)
    return Sweep(designs, figures, unbeaten)


def ratio_band(bench: Bench, design: Design, span: tuple[float, float], share: float) -> TieBand:
    """Return where along the ratio, all else held, the sprint and stop is a tie with its best."""

    def time(ratio: FloatArray) -> FloatArray:
        return figures_at(
            bench,
            ratio=ratio,
            diameter_m=design.diameter_m,
            stator_a=design.stator_a,
            supply_a=design.supply_a,
        ).stop_time

    band = tie_band(time, low=span[0], high=span[1], share=share, nodes=BAND_NODES)
    return TieBand(math.nan, math.nan, ()) if band is None else band


def explore(
    study: Study,
    candidate: Candidate,
    settings: ExploreSettings,
    *,
    battery: str | None = None,
) -> dict[str, Any]:
    """Return the sweep of a candidate in plain values: best, ties, what nothing beats, what to buy.

    Raises `OutOfRangeError` where more designs are asked for than can be worked out at once.
    """
    bench, design = bench_of(study, candidate, battery), design_of(candidate)
    offers = offers_of(study, candidate)
    axes = sweep_axes(bench, design, offers, settings.axes)
    whole = sweep(bench, axes)
    return {
        "candidate": candidate.key,
        "name": candidate.name,
        "layout": bench.layout,
        "battery": bench.battery,
        "brownout_v": bench.brownout_v,
        "sprint_distance_m": bench.distance_m,
        "chosen": records(bench, [design])[0],
        **along_ratio(bench, design, offers, settings.share, _span(settings.axes)),
        "axes": {name: [_finite(value) for value in values] for name, values in axes.items()},
        "designs": len(whole.designs),
        **unbeaten_of(bench, whole, settings.most),
    }


def _span(axes: Mapping[AxisName, Axis]) -> tuple[float, float] | None:
    """Return the stretch of ratios that was asked for."""
    axis = axes.get("ratio")
    return None if axis is None or axis.low >= axis.high else (axis.low, axis.high)


def along_ratio(
    bench: Bench,
    design: Design,
    offers: Sequence[Offer],
    share: float,
    span: tuple[float, float] | None = None,
) -> dict[str, Any]:
    """Return the best ratio, the tie band and what can be bought, all else held.

    Looked for over the span, else over all that a study takes.
    """
    low, high = ratio_reach(bench, design) if span is None else span
    band = ratio_band(bench, design, (low, high), share)
    known = math.isfinite(band.best)
    best = records(bench, [design._replace(ratio=band.best)])[0] if known else None
    bought = records(bench, [design._replace(ratio=offer.ratio) for offer in offers])
    times = [one["sprint_stop_time_s"] for one in bought]
    quickest = min((time for time in times if time is not None), default=None)
    allowed = band.least * (1.0 + share)
    buyable = [
        {
            **one,
            "teeth": offer.teeth,
            "origin": offer.origin,
            "in_band": time is not None and known and time <= allowed,
            "best": time is not None and time == quickest,
        }
        for offer, one, time in zip(offers, bought, times, strict=True)
    ]
    return {
        "best": best,
        "tie_band": {
            "share": share,
            "allowed_s": _finite(allowed),
            "intervals": [list(interval) for interval in band.intervals],
            "searched": [low, high],
            "ends": [
                one
                for low_end, high_end in band.intervals
                for one in records(
                    bench, [design._replace(ratio=low_end), design._replace(ratio=high_end)]
                )
            ],
        },
        "buyable": buyable,
    }


def unbeaten_of(bench: Bench, whole: Sweep, most: int) -> dict[str, Any]:
    """Return the designs that nothing beats, quickest first, at most so many."""
    places = np.flatnonzero(whole.unbeaten)
    places = places[np.argsort(whole.figures.stop_time[places], kind="stable")]
    listed = [
        record(bench, Design(*whole.designs[place].tolist()), whole.figures, int(place))
        for place in places[:most]
    ]
    return {"unbeaten_count": len(places), "unbeaten": listed}
