"""Tables of the power page: what each candidate does on each battery, energy, loads, the day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from models.study.schema import Study
from models.trade.match import NO_BATTERY
from models.units import UnitSystem, show
from webapp.shared.candidates import CandidateMark
from webapp.shared.figures.table import FigureCell, FigureRow, Kind, figure_row
from webapp.shared.links import StudyLinks
from webapp.shared.power.words import (
    KINDS,
    WHEN,
    Driven,
    battery_shown,
    where_words,
)

SAG_ROWS = (
    ("sprint_min_v", "Lowest in the sprint"),
    ("push_min_v", "Lowest in a push"),
    ("match_min_v", "Lowest in the match"),
)
ENERGY = (
    ("Accessories and loads", ("loads",)),
    ("Main and branch wiring", ("main", "branches")),
    ("Motor windings, as heat", ("winding",)),
    ("Motor friction and gearing", ("gearing",)),
    ("Rolling, and scrub in turns", ("rolling", "turning")),
    ("Motion, lost in braking", ("kinetic",)),
)
"""Parts of the ledger as rows."""
CURRENT = Kind("a")
TIME = Kind("s")


@dataclass(frozen=True)
class BatteryRows:
    """One battery: what it is, and what every candidate does on it."""

    name: str
    about: str
    address: str
    in_use: bool
    shown: bool
    rows: list[FigureRow]


@dataclass(frozen=True)
class EnergyCell:
    """One part of one candidate's energy."""

    text: str
    width: float
    """Of its bar, in per cent of all."""
    share: str


@dataclass(frozen=True)
class LoadRow:
    """One thing that draws current beside the drive."""

    name: str
    current: str
    duty: str
    mean: str
    during: str


def own_rows(
    ones: Sequence[Driven], payload: dict[str, Any], system: UnitSystem
) -> list[FigureRow]:
    """Return what every candidate does on the battery that is shown."""
    brownout = float(payload["brownout_v"])
    matches = [one.figures["match"] for one in ones]
    rows = [FigureRow("Browns out", "", tuple(_verdict(one, brownout) for one in ones))]
    for key, name in SAG_ROWS:
        row = _volts(name, [one.row[key] for one in ones], brownout)
        if key == "match_min_v":
            row = _with_places(row, matches, system)
        rows.append(row)
    limits = [("Below brownout", "below_brownout_s", brownout)]
    if payload["warning_v"] is not None:
        limits.insert(0, ("Below the warning voltage", "below_warning_s", payload["warning_v"]))
    for name, key, limit in limits:
        seconds = [match[key] for match in matches]
        hint = f"{limit:g} V, in the match"
        rows.append(figure_row(name, TIME, seconds, system, none="no match", hint=hint))
    rows.append(_left(ones, system))
    rows.append(figure_row("Mean current in the match", CURRENT,
                           [match["mean_current_a"] for match in matches], system,
                           none="no match"))  # fmt: skip
    rows.append(
        FigureRow(
            "Worst battery that holds", "",
            tuple(
                FigureCell("none", missing=True) if one.figures["worst_battery"] == NO_BATTERY
                else FigureCell(battery_shown(one.figures["worst_battery"]))
                for one in ones
            ),
            hint="In the sprint and in a push.",
        )
    )  # fmt: skip
    if any(one.day is not None for one in ones):
        rows.append(_needed(ones))
    return rows


def _verdict(one: Driven, brownout: float) -> FigureCell:
    below = one.below(brownout)
    if not below:
        return FigureCell("✓ no")
    return FigureCell("✕ yes", f"in {', '.join(words for words, _ in below)}", "bad")


def _volts(name: str, values: Sequence[float | None], brownout: float) -> FigureRow:
    """Return a row of voltages; those below brownout say so and by how much."""
    cells = []
    for value in values:
        if value is None:
            cells.append(FigureCell("none", missing=True))
        elif value < brownout:
            cells.append(FigureCell(f"{value:.2f}", f"✕ {brownout - value:.2f} below", "bad"))
        else:
            cells.append(FigureCell(f"{value:.2f}"))
    return FigureRow(name, "V", tuple(cells))


def _with_places(
    row: FigureRow, matches: Sequence[dict[str, Any]], system: UnitSystem
) -> FigureRow:
    cells = []
    for cell, match in zip(row.cells, matches, strict=True):
        if not match["able"]:
            cells.append(FigureCell("no match", match["reason"], missing=True))
            continue
        where = where_words(match, system)
        note = f"{cell.note}, {where}" if cell.note else where
        cells.append(FigureCell(cell.text, note, cell.css or "faint"))
    return FigureRow(row.name, row.unit, tuple(cells), row.hint)


def _left(ones: Sequence[Driven], system: UnitSystem) -> FigureRow:
    cells = []
    for one in ones:
        match = one.figures["match"]
        if not match["able"]:
            cells.append(FigureCell("no match", missing=True))
        elif match["left_share"] is None:
            cells.append(FigureCell("not given", "capacity is missing", missing=True))
        else:
            used = show(match["charge_used_ah"], "ah", system, decimals=2)
            usable = show(match["usable_ah"], "ah", system, decimals=1)
            note = f"{used} of {usable} at that mean"
            empty = match["left_share"] <= 0.0
            cells.append(
                FigureCell(f"{100 * match['left_share']:.0f}",
                           f"✕ empty before the end: {note}" if empty else note,
                           "bad" if empty else "faint")
            )  # fmt: skip
    return FigureRow("Charge left after the match", "%", tuple(cells))


def _needed(ones: Sequence[Driven]) -> FigureRow:
    cells = []
    for one in ones:
        if one.day is None or not one.day.known:
            cells.append(FigureCell("not known", missing=True))
            continue
        short = one.day.needed > one.day.owned
        note = f"✕ {one.day.owned} there" if short else f"of {one.day.owned} there"
        cells.append(FigureCell(f"{one.day.needed}", note, "bad" if short else "faint"))
    return FigureRow("Batteries for the day", "", tuple(cells))


def battery_rows(
    ones: Sequence[Driven],
    payload: dict[str, Any],
    links: StudyLinks,
    system: UnitSystem,
    *,
    kept: list[str] | None = None,
) -> list[BatteryRows]:
    """Return every battery with what all candidates fall to on it; `kept` stay shown there."""
    brownout = float(payload["brownout_v"])
    found = []
    for place, battery in enumerate(payload["batteries"]):
        classes = [one.figures["classes"][place] for one in ones]
        worst = [one.figures["worst_battery"] == battery["name"] for one in ones]
        rows = [_volts(name, [row[key] for row in classes], brownout) for key, name in SAG_ROWS]
        shares = [row["left_share"] for row in classes]
        rows.append(
            FigureRow("Charge left after the match", "%", tuple(
                FigureCell("not known", missing=True) if share is None
                else FigureCell(f"{100 * share:.0f}", "✕ empty" if share <= 0.0 else "", "bad")
                for share in shares
            ))
        )  # fmt: skip
        rows.append(
            FigureRow("Stays above in sprint and push", "", tuple(
                FigureCell("✓ yes", "the worst that does" if least else "", "good")
                if row["stays_above"] else FigureCell("✕ no")
                for row, least in zip(classes, worst, strict=True)
            ))
        )  # fmt: skip
        about = [
            KINDS[battery["kind"]] if battery["name"] != payload["batteries"][0]["name"]
            else "the figures of the power section",
            show(battery["open_circuit_v"], "v", system, decimals=1),
            f"{1000 * battery['internal_resistance_ohm']:.1f} mΩ",
        ]  # fmt: skip
        if battery["charge"] < 1.0:
            about.append(f"{100 * battery['charge']:.0f} % charged")
        if battery["temperature_c"] != 25.0:
            about.append(show(battery["temperature_c"], "c", system))
        found.append(
            BatteryRows(
                battery_shown(battery["name"]), ", ".join(about),
                links.power(battery=battery["name"], show=kept), battery["in_use"],
                battery["name"] == payload["battery"], rows,
            )
        )  # fmt: skip
    return found


def energy_table(ones: Sequence[Driven]) -> dict[str, Any]:
    """Return where each candidate's energy of a match goes, and whether it closes."""
    able = [one for one in ones if one.figures["match"]["able"]]
    rows = []
    for name, keys in ENERGY:
        cells: list[EnergyCell | None] = []
        for one in able:
            match = one.figures["match"]
            joules = sum(part["joules"] for part in match["ledger"] if part["key"] in keys)
            share = joules / match["energy_j"] if match["energy_j"] else 0.0
            cells.append(
                EnergyCell(f"{joules / 1000:.1f}", round(min(max(100 * share, 0.0), 100.0), 1),
                           f"{100 * share:.0f} %")
            )  # fmt: skip
        rows.append((name, cells))
    return {
        "marks": [one.mark for one in able],
        "rows": rows,
        "given": [f"{one.figures['match']['energy_j'] / 1000:.1f}" for one in able],
        "inside": [f"{one.figures['match']['battery_heat_j'] / 1000:.1f}" for one in able],
        "open": max((abs(one.figures["match"]["closing_share"]) for one in able), default=0.0),
    }


def load_rows(study: Study, payload: dict[str, Any], system: UnitSystem) -> list[LoadRow]:
    """Return what draws when, the accessories first."""
    accessories = payload["accessory_a"]
    rows = []
    if accessories > 0.0:
        amperes = show(accessories, "a", system, digits=2)
        rows.append(LoadRow("Accessories", amperes, "always", amperes, WHEN["always"]))
    rows += [
        LoadRow(
            load["name"],
            show(load["current_a"], "a", system, digits=2),
            show(load["duty"], "share", system, decimals=0),
            show(load["current_a"] * load["duty"], "a", system, digits=2),
            WHEN.get(load["during"]) or legs_words(study, load["name"]),
        )
        for load in payload["loads"]
    ]
    return rows


def legs_words(study: Study, name: str) -> str:
    """Return in which legs of which routes a load runs."""
    parts = []
    for route in study.routes:
        legs = [str(place) for place, leg in enumerate(route.legs, 1) if name in leg.loads]
        if legs:
            word = "leg" if len(legs) == 1 else "legs"
            parts.append(f"{word} {', '.join(legs)} of “{route.name}”")
    return "; ".join(parts) if parts else "in no leg yet: name it in a leg of a route"


def day_rows(ones: Sequence[Driven]) -> list[tuple[list[CandidateMark], str]]:
    """Return the count of batteries in words, with the candidates that each holds for."""
    found: dict[str, list[CandidateMark]] = {}
    for one in ones:
        if one.day is None:
            continue
        words = one.day.sentence
        if not one.day.known:
            words = f"What a match takes is not known, so one match on a charge is taken. {words}"
        elif one.day.too_much:
            words = f"One match takes more than may be taken from a charge. {words}"
        found.setdefault(words, []).append(one.mark)
    return [(marks, words) for words, marks in found.items()]
