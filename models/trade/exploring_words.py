"""What the explorer and the limit finder found, in plain sentences.

Contents
--------
ratio_text, limit_text, band_text: numbers as they stand in a sentence.
lead_words: the answer, two or three sentences.
offer_words: what can be bought.
exchange_words: what a picked design loses and gains against the chosen one.
limit_words, tread_words: the limits that keep the bus up, and what the tyres take.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from models.trade.comparison import LEAST_DIFFERENCE, closeness
from models.trade.phrases import listed
from models.units import UnitSystem, show

Kind = Literal["good", "watch", "bad"]
Said = tuple[Kind, str]

WORTH_SAYING_V = 0.2
"""A smaller difference in bus voltage is not worth a sentence [V]."""


def ratio_text(ratio: float, *, digits: int = 3) -> str:
    """Return a ratio as it is said.

    >>> ratio_text(6.7461), ratio_text(12.08)
    ('6.75:1', '12.1:1')
    """
    return f"{_ratio_digits(ratio, digits)}:1"


def _ratio_digits(ratio: float, digits: int = 3) -> str:
    decimals = max(0, digits - 1 - math.floor(math.log10(ratio)))
    return f"{ratio:.{decimals}f}"


def band_text(low: float, high: float) -> str:
    """Return a stretch of ratios, rounded inwards so that what is said lies inside.

    >>> band_text(5.4127, 7.1893)
    '5.42 to 7.18'
    """
    step = 0.01 if high < 20.0 else 0.1
    inner_low, inner_high = math.ceil(low / step) * step, math.floor(high / step) * step
    if inner_low > inner_high:
        return f"{low:.4g} to {high:.4g}"
    places = 2 if step == 0.01 else 1
    return f"{inner_low:.{places}f} to {inner_high:.{places}f}"


def limit_text(limit: float | None, system: UnitSystem) -> str:
    """Return a current limit, or that there is none.

    >>> limit_text(45.0, UnitSystem.SI), limit_text(None, UnitSystem.SI)
    ('45 A', 'none')
    """
    return "none" if limit is None else show(limit, "a", system, decimals=_amp_decimals(limit))


def _amp_decimals(limit: float) -> int:
    """Return the decimals that do not round a limit up.

    >>> [_amp_decimals(limit) for limit in (45.0, 7.4, 7.48)]
    [0, 1, 2]
    """
    return next((digits for digits in (0, 1) if abs(limit - round(limit, digits)) < 1e-9), 2)


def lead_words(found: Mapping[str, Any], system: UnitSystem) -> list[str]:
    """Return the answer: the quickest ratio, the tie about it, where the chosen one stands."""
    best, band, chosen = found["best"], found["tie_band"], found["chosen"]
    distance = show(found["sprint_distance_m"], "m", system)
    if best is None:
        return ["No ratio gets it going: the drive cannot overcome its rolling drag."]
    time = show(best["sprint_stop_time_s"], "s", system)
    at_end = _at_end(best["ratio"], band["searched"])
    edge = " (the edge of what was looked at)" if at_end else ""
    quickest = f"{ratio_text(best['ratio'])}{edge}"
    sentences = [f"{quickest} is quickest over {distance}, start to stop: {time}."]
    stretches = listed([band_text(*interval) for interval in band["intervals"]])
    share = f"{100.0 * band['share']:.3g} %"
    sentences.append(f"Anything from {stretches} is a tie with it, within {share}.")
    sentences.append(_where_chosen(chosen, best, band, system))
    spread = _voltage_choice(band, system)
    return [*sentences, spread] if spread else sentences


def _at_end(ratio: float, searched: Sequence[float]) -> bool:
    return min(abs(math.log(ratio / end)) for end in searched) < 1e-3


def _where_chosen(
    chosen: Mapping[str, Any], best: Mapping[str, Any], band: Mapping[str, Any], system: UnitSystem
) -> str:
    own = ratio_text(chosen["ratio"])
    time = chosen["sprint_stop_time_s"]
    if time is None:
        return f"With {own} it does not get going."
    if any(low <= chosen["ratio"] <= high for low, high in band["intervals"]):
        return f"{own} lies in the tie."
    lost = show(time - best["sprint_stop_time_s"], "s", system, decimals=2)
    return f"{own} lies outside: it costs {lost}."


def _voltage_choice(band: Mapping[str, Any], system: UnitSystem) -> str:
    """Return what to choose by where time does not tell, "" where the bus tells nothing either."""
    if len(band["intervals"]) != 1:
        return ""
    low, high = (one["min_bus_voltage_v"] for one in band["ends"])
    if low is None or high is None or abs(high - low) < WORTH_SAYING_V:
        return ""
    end = band["intervals"][0][1 if high > low else 0]
    gain = show(abs(high - low), "v", system, decimals=1)
    return f"Inside it the bus tells them apart: up to {gain} higher towards {ratio_text(end)}."


def offer_words(found: Mapping[str, Any]) -> str:
    """Return which of the ratios on offer are in the tie and which is the quickest."""
    offers = found["buyable"]
    if not offers:
        return (
            "The study names no ratios on offer. Type them with the module type or the "
            "candidate's drive, and they stand here as marks."
        )
    inside = [one for one in offers if one["in_band"]]
    best = next((one for one in offers if one["best"]), None)
    if best is None:
        return "No ratio on offer gets it going."
    quickest = ratio_text(best["ratio"])
    if not inside:
        return f"No ratio on offer lies in the tie; {quickest} comes nearest."
    if len(inside) == len(offers):
        many = "Both ratios" if len(offers) == 2 else f"All {len(offers)} ratios"
        which = f"{many} on offer lie" if len(offers) > 1 else "The one ratio on offer lies"
        return f"{which} in the tie; {quickest} is the quickest of them."
    if len(inside) == 1:
        return f"Of {len(offers)} ratios on offer only {quickest} lies in the tie."
    names = listed([_ratio_digits(one["ratio"]) for one in inside])
    return f"Of {len(offers)} ratios on offer, {names} lie in the tie; {quickest} is quickest."


_EXCHANGED: tuple[tuple[str, str, bool, str], ...] = (
    ("sprint_stop_time_s", "s", False, ""),
    ("min_bus_voltage_v", "v", True, ""),
    ("push_force_n", "n", True, " of push"),
)
"""Figure, unit, whether more is better, and what is said behind the amount."""


def exchange_words(chosen: Mapping[str, Any], picked: Mapping[str, Any], system: UnitSystem) -> str:
    """Return what one loses and gains by taking the picked design instead of the chosen.

    >>> figures = {"sprint_stop_time_s": 1.90, "min_bus_voltage_v": 6.9, "push_force_n": 510.0}
    >>> other = {"sprint_stop_time_s": 1.92, "min_bus_voltage_v": 9.0, "push_force_n": 510.0}
    >>> exchange_words(figures, other, UnitSystem.SI)
    'You lose 0.02 s, a tie, and gain 2.1 V. The push stays the same.'
    """
    if picked["sprint_stop_time_s"] is None:
        return "The picked design does not get going."
    if chosen["sprint_stop_time_s"] is None:
        return "The picked design gets going, the chosen one does not."
    lost: list[str] = []
    gained: list[str] = []
    same: list[str] = []
    for key, unit, more_is_better, ending in _EXCHANGED:
        before, after = chosen[key], picked[key]
        difference = after - before
        if _nothing(difference, unit):
            same.append({"s": "time", "v": "bus voltage", "n": "push"}[unit])
            continue
        tie = closeness(after, before, unit) != "apart"
        amount = show(abs(difference), unit, system, decimals=_difference_decimals(unit))
        words = f"{amount}{ending}{', a tie,' if tie and unit == 's' else ''}"
        (gained if (difference > 0) == more_is_better else lost).append(words)
    if not lost and not gained:
        return "Nothing that could be measured changes."
    parts = []
    if lost:
        parts.append(f"lose {listed(lost)}")
    if gained:
        parts.append(f"gain {listed(gained)}")
    sentence = f"You {' and '.join(parts)}".rstrip(",").replace(", and gain,", " and gain")
    stays = f" The {listed(same)} {'stays' if len(same) == 1 else 'stay'} the same." if same else ""
    return f"{sentence}.{stays}"


def _difference_decimals(unit: str) -> int:
    return {"s": 2, "v": 1}.get(unit, 0)


def _nothing(difference: float, unit: str) -> bool:
    least = {"v": 0.05, "n": 0.5}.get(unit, LEAST_DIFFERENCE.get(unit, 0.0))
    return abs(difference) < least


def limit_words(found: Mapping[str, Any], system: UnitSystem) -> list[Said]:
    """Return what the finder found: the limits, what they cost, and the other ways."""
    target = show(found["target_v"], "v", system, decimals=1)
    own, answer = found["own"], found["found"]
    said: list[Said] = [_own_words(found, target, system)]
    if found["status"] == "not needed":
        lowest = show(_lowest(found["without"]), "v", system, decimals=1)
        said.append(
            ("good", f"No limit is needed for {target}: without any the bus stays at {lowest}.")
        )
        return said
    if found["status"] == "out of reach":
        reached = show(_lowest(answer), "v", system, decimals=1)
        resting = show(found["resting_v"], "v", system, decimals=1)
        said.append(
            ("bad", f"No limits keep {target}: even at rest the bus stands at {resting}, and the "
             f"closest, {_pair(answer, system)}, reaches {reached}.")
        )  # fmt: skip
        return said
    cost = _cost(found["without"], answer, system, "no limits at all")
    lowest = show(_lowest(answer), "v", system, decimals=1)
    said.append(
        ("good", f"Quickest that keeps {target}: {_pair(answer, system)}. "
         f"The bus stays at {lowest}; {cost}.")
    )  # fmt: skip
    if found["own_holds"] is False and own["sprint_stop_time_s"] is not None:
        said[-1] = (said[-1][0], f"{said[-1][1][:-1]}, {_cost(own, answer, system, 'now')}.")
    for key, words in (("keeping", "Keeping its stator limit"), ("stator_alone", "Without any "
                       "supply limit")):  # fmt: skip
        other = found[key]
        if other is not None:
            lost = _cost(answer, other, system, "that")
            said.append(("watch", f"{words} it takes {_pair(other, system)}; {lost}."))
    return said


def _own_words(found: Mapping[str, Any], target: str, system: UnitSystem) -> Said:
    own = found["own"]
    if own["sprint_stop_time_s"] is None:
        return ("bad", "With its own limits it does not get going.")
    sprint = show(own["min_bus_voltage_v"], "v", system, decimals=1)
    shove = show(own["push_bus_voltage_v"], "v", system, decimals=1)
    limits = _pair(own, system)
    begin = f"With {limits}" if limits != "no limits" else "Without limits, as it is"
    where = f"{begin} the bus falls to {sprint} in the sprint and {shove} in a shove"
    if found["own_holds"]:
        return ("good", f"{where}: {target} is kept.")
    below = _lowest(own) < found["brownout_v"]
    return ("bad" if below else "watch",
            f"{where}: {'a brownout' if below else f'less than {target}'}.")  # fmt: skip


def _lowest(one: Mapping[str, Any]) -> float:
    sprint = one["min_bus_voltage_v"]
    shove = float(one["push_bus_voltage_v"])
    return shove if sprint is None else min(float(sprint), shove)


def _pair(one: Mapping[str, Any], system: UnitSystem) -> str:
    """Return both limits in words."""
    stator, supply = one["stator_limit_a"], one["supply_limit_a"]
    parts = []
    if supply is not None:
        parts.append(f"a supply limit of {limit_text(supply, system)}")
    if stator is not None:
        parts.append(f"a stator limit of {limit_text(stator, system)}")
    return listed(parts) if parts else "no limits"


def _cost(
    before: Mapping[str, Any], after: Mapping[str, Any], system: UnitSystem, than: str
) -> str:
    first, last = before["sprint_stop_time_s"], after["sprint_stop_time_s"]
    if first is None or last is None:
        return "the other does not get going"
    difference = last - first
    if abs(difference) < LEAST_DIFFERENCE["s"]:
        return f"no slower than {than}"
    amount = show(abs(difference), "s", system, decimals=2)
    return f"{amount} {'slower' if difference > 0 else 'quicker'} than {than}"


def tread_words(found: Mapping[str, Any], system: UnitSystem) -> str:
    """Return at which motor current the tyres break away, what protects them, and its cost."""
    tread = found["tread"]
    slip = show(tread["slip_current_a"], "a", system, decimals=0)
    begin = f"The tyres break away at {slip} in every motor."
    if not tread["can_slip"]:
        able = show(tread["able_current_a"], "a", system, decimals=0)
        return (
            f"{begin} From a standstill the motors reach {able} at most, so they cannot spin the "
            "wheels in a shove: the tread needs no limit."
        )
    if tread["own_protects"] and found["own"]["stator_limit_a"] is not None:
        own = limit_text(found["own"]["stator_limit_a"], system)
        return f"{begin} Its stator limit of {own} lies below that and protects the tread."
    before, after = tread["without"], tread["with"]
    cost = _cost(before, after, system, "without")
    push = ""
    if after["push_force_n"] is not None and before["push_force_n"] - after["push_force_n"] > 0.5:
        lost = show(before["push_force_n"] - after["push_force_n"], "n", system, digits=2)
        push = f" and {lost} less push"
    limit = limit_text(tread["limit_a"], system)
    return (
        f"{begin} A stator limit of {limit} keeps them from spinning in a shove and saves tread: "
        f"{cost}{push}."
    )
