"""What a search for arrangements found, in words.

Contents
--------
verdict_words: the outcome in one or two sentences.
corner_words: how the modules of an arrangement stand.
move_words, trim_words, change_words, shift_words: what has to give.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from models.trade.phrases import listed
from models.units import UnitSystem, show

NEXT_TO_NOTHING = 1e-5
"""Parts of a move below this are not worth a word [m]."""


def verdict_words(found: Mapping[str, Any], system: UnitSystem) -> tuple[str, str]:
    """Return a kind (good, watch, bad) and what the search found in words."""
    if not found["fit_known"]:
        return "watch", "No bodies or no keep-outs are given, so the fit is not known."
    if not found["steered"]:
        if found["feasible"]:
            return "good", "It fits as it is drawn: nothing has to move."
        return "bad", " ".join(["It does not fit as it is drawn.", *found["always"]])
    count = f"{found['searched']:,}".replace(",", "\u202f")
    if found["feasible"]:
        best = found["arrangements"][0]
        area = show(best["support_area_m2"], "m2", system, digits=3)
        fits = f"{found['feasible']:,}".replace(",", "\u202f")
        verb = "arrangement fits" if found["feasible"] == 1 else "arrangements fit"
        return "good", (
            f"{fits} of {count} {verb}. The best stands on {area}, with "
            f"{corner_words(best['corners'], system)}."
        )
    reasons = " ".join(found["always"])
    if found["nearest"]:
        changes = found["nearest"][0]["changes"]
        if changes:
            first = listed([change_words(change, system, short=True) for change in changes])
            reasons = " ".join([reasons, f"The nearest would if {first}."]).strip()
    elif not reasons:
        reasons = (
            "In each of them modules overlap each other or another body, leave the frame or "
            "stand too tall; moving keep-outs does not help. Try a longer range."
        )
    return "bad", f"None of {count} arrangements fits. {reasons}".strip()


def corner_words(corners: Mapping[str, Mapping[str, Any]], system: UnitSystem) -> str:
    """Return how the modules stand: "the front upright, the rear inverted, moved in 10 mm"."""
    words = []
    for end in ("front", "rear"):
        left, right = (_one(corners[f"{end}_{side}"], system) for side in ("left", "right"))
        if left == right:
            words.append(f"the {end} {left}")
        else:
            words += [f"{end} left {left}", f"{end} right {right}"]
    return "; ".join(words) if any(" in " in word for word in words) else ", ".join(words)


def _one(corner: Mapping[str, Any], system: UnitSystem) -> str:
    words = str(corner["orientation"])
    parts = [
        f"{_inset(value, system)} {way}"
        for value, way in zip(corner["inset_m"], ("along", "across"), strict=True)
        if value > NEXT_TO_NOTHING
    ]
    return f"{words}, moved in {' and '.join(parts)}" if parts else words


def _inset(value: float, system: UnitSystem) -> str:
    """Return a length that was chosen, without the zeros of one that was measured."""
    number, _, unit = show(value, "m", system, small=True).partition(" ")
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {unit}"


def move_words(by: tuple[float, float] | list[float], system: UnitSystem) -> str:
    """Return a move in plan: "12.4 mm forward", "5 mm: 3 mm back and 4 mm right"."""
    ways = (("forward", "back"), ("left", "right"))
    parts = [
        f"{show(abs(part), 'm', system, digits=3, small=True)} {names[0 if part > 0 else 1]}"
        for part, names in zip(by, ways, strict=True)
        if abs(part) > NEXT_TO_NOTHING
    ]
    if len(parts) < 2:
        distance = (by[0] ** 2 + by[1] ** 2) ** 0.5
        return parts[0] if parts else show(distance, "m", system, digits=2, small=True)
    whole = show((by[0] ** 2 + by[1] ** 2) ** 0.5, "m", system, digits=3, small=True)
    return f"{whole} ({' and '.join(parts)})"


def trim_words(trim: Mapping[str, float], system: UnitSystem) -> str:
    """Return what to cut off a keep-out: "56 mm off its bottom"."""
    parts = [
        f"{show(trim[end], 'm', system, digits=3, small=True)} off its {name}"
        for end, name in (("bottom_m", "bottom"), ("top_m", "top"))
        if trim[end] > 0.0
    ]
    return " and ".join(parts)


def change_words(change: Mapping[str, Any], system: UnitSystem, *, short: bool = False) -> str:
    """Return what a keep-out has to do, what is less first; `short` gives that alone.

    "Move “lift foot” 12 mm back, or trim it by 56 mm off its bottom"; short: "“lift foot” were
    moved 12 mm back".
    """
    name = f"“{change['keepout']}”"
    ways: list[tuple[float, str, str]] = []
    if change["move"] is not None:
        way = move_words(change["move"]["by_m"], system)
        ways.append((change["move"]["distance_m"], "move {} " + way, f"moved {way}"))
    if change["trim"] is not None:
        way = trim_words(change["trim"], system)
        ways.append((sum(change["trim"].values()), f"trim {{}} by {way}", f"trimmed by {way}"))
    ways.sort()
    if short:
        return f"{name} were {ways[0][2] if ways else 'gone'}"
    if not ways:
        return f"{name} would have to go"
    words = ", or ".join(
        way[1].format(name if index == 0 else "it") for index, way in enumerate(ways)
    )
    return words[0].upper() + words[1:]


def shift_words(shift: Mapping[str, Any], system: UnitSystem) -> str:
    """Return what a body has to do: "Shift “gearbox left” 9 mm forward"."""
    if shift["move"] is None:
        return (
            f"There is no place for “{shift['body']}” inside the frame, clear of every keep-out "
            "and body"
        )
    return f"Shift “{shift['body']}” {move_words(shift['move']['by_m'], system)}"
