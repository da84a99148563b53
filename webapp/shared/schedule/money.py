"""What a plan buys: each purchase, its money, mass and dates, and the sums against the budget."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from models.units import UnitSystem, show
from webapp.shared.schedule.words import NOT_GIVEN, day_words, money_words, short_day


@dataclass(frozen=True)
class PurchaseRow:
    """One purchase in words."""

    name: str
    to_buy: str
    spares: str
    cost: str
    mass: str
    ordered: str
    arrives: str
    latest: str
    express: str


def purchase_rows(one: dict[str, Any], units: UnitSystem, near: str) -> list[PurchaseRow]:
    """Return a candidate's purchases as a table in words; the year of `near` is not said."""
    currency = one["costs"]["currency"] if one["costs"] else ""
    return [_row(part, currency, units, near) for part in one["purchases"]]


def _row(part: dict[str, Any], currency: str, units: UnitSystem, near: str) -> PurchaseRow:
    coming = bool(part["order_on"])
    late = f", late {short_day(part['arrival_p90'], near)}" if part["arrival_p90"] else ""
    express = part["express"]
    lead = express["lead_days"] if express else None
    quicker = (
        f"{lead[0]:g} to {lead[2]:g} days for {money_words(express['extra_cost'], currency)} more"
        if express and lead
        else ""
    )
    return PurchaseRow(
        name=part["name"],
        to_buy=f"{part['to_buy']} of {part['quantity']}",
        spares=f"{part['spares']} spare" if part["spares"] else "",
        cost=money_words(part["cost"], currency) if part["unit_cost"] or not part["to_buy"]
        else NOT_GIVEN,
        mass=show(part["mass_kg"], "kg", units) if part["mass_kg"] is not None else NOT_GIVEN,
        ordered=day_words(part["order_on"], near) if coming else "in stock",
        arrives=f"{day_words(part['arrival_p50'], near)}{late}" if coming else "there",
        latest=_latest(part, near) if coming else "–",
        express=quicker,
    )  # fmt: skip


def _latest(part: dict[str, Any], near: str) -> str:
    if part["latest_order_on"]:
        return day_words(part["latest_order_on"], near)
    return "no day is early enough"


def unpriced(purchases: list[dict[str, Any]]) -> int:
    """Return how many purchases have to be bought and have no cost stated."""
    return sum(1 for part in purchases if part["to_buy"] and not part["unit_cost"])


def cost_words(
    costs: dict[str, Any] | None, purchases: list[dict[str, Any]]
) -> tuple[str, str, str]:
    """Return the money still to spend, how it stands to the budget, and its mark."""
    if costs is None or not purchases:
        return "nothing to buy", "", ""
    currency = costs["currency"]
    open_costs = unpriced(purchases)
    if open_costs and open_costs == sum(1 for part in purchases if part["to_buy"]):
        return NOT_GIVEN, "no purchase has a cost yet", ""
    words = money_words(costs["to_buy"], currency)
    under = mark = ""
    if costs["over_by"]:
        under, mark = f"{money_words(costs['over_by'], currency)} over the budget", "bad"
    elif costs["left"] is not None:
        under, mark = f"{money_words(costs['left'], currency)} of the budget left", "good"
    if open_costs:
        under = f"{under}; " if under else ""
        under += f"{open_costs} without a cost left out"
    return words, under, mark


def total_words(one: dict[str, Any], units: UnitSystem) -> str:
    """Return the sums of money and mass in one sentence."""
    costs = one["costs"]
    if costs is None or not one["purchases"]:
        return ""
    words, under, _ = cost_words(costs, one["purchases"])
    parts = [f"Still to buy: {words}{f' ({under})' if under else ''}."]
    if costs["all"] is not None and costs["all"] != costs["to_buy"]:
        everything = money_words(costs["all"], costs["currency"])
        parts.append(f"Had nothing been in stock: {everything}.")
    if costs["mass_kg"] is not None:
        parts.append(f"Built in, it weighs {show(costs['mass_kg'], 'kg', units)}.")
    return " ".join(parts)
