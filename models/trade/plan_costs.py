"""What a candidate's purchases cost and weigh.

Contents
--------
cost_figures: totals, against the budget.
purchase_costs: each purchase's own.
cost_of: what still has to be bought, None where nothing is known of it.
"""

from __future__ import annotations

from typing import Any

from models.study.planning import Purchase, Schedule
from models.study.schema import Candidate


def to_buy(purchase: Purchase) -> int:
    """Return how many have to be bought; the quantity counts the spares too.

    >>> to_buy(Purchase(name="wheels", quantity=6, in_stock=4, spares=2))
    2
    """
    return max(purchase.quantity - purchase.in_stock, 0)


def purchase_costs(purchase: Purchase) -> dict[str, Any]:
    """Return what one purchase comes to."""
    mass, express = purchase.mass_kg, purchase.express
    return {
        "quantity": purchase.quantity,
        "spares": purchase.spares,
        "in_stock": purchase.in_stock,
        "to_buy": to_buy(purchase),
        "unit_cost": float(purchase.unit_cost),
        "cost": to_buy(purchase) * float(purchase.unit_cost),
        "mass_kg": None if mass is None else float(mass) * (purchase.quantity - purchase.spares),
        "lead_days": None
        if purchase.lead_days is None
        else [float(days) for days in purchase.lead_days],
        "express": None
        if express is None
        else {
            "lead_days": [float(days) for days in express.lead_days],
            "extra_cost": float(express.extra_cost),
        },
    }


def cost_of(candidate: Candidate, *, baseline: bool) -> float | None:
    """Return what still has to be bought; None for a change that says nothing of its purchases.

    The baseline is there already: without purchases it costs nothing.
    """
    if not candidate.purchases and not baseline:
        return None
    return float(sum(to_buy(one) * one.unit_cost for one in candidate.purchases))


def cost_figures(
    candidate: Candidate, schedule: Schedule | None, *, baseline: bool
) -> dict[str, Any]:
    """Return the totals of money and mass, and what the budget leaves."""
    cost = cost_of(candidate, baseline=baseline)
    masses = [
        float(one.mass_kg) * (one.quantity - one.spares)
        for one in candidate.purchases
        if one.mass_kg is not None
    ]
    budget = None if schedule is None or schedule.budget is None else float(schedule.budget)
    left = None if budget is None or cost is None else budget - cost
    return {
        "to_buy": cost,
        "all": None
        if cost is None
        else float(sum(one.quantity * one.unit_cost for one in candidate.purchases)),
        "mass_kg": sum(masses) if masses else None,
        "mass_not_given": [one.name for one in candidate.purchases if one.mass_kg is None],
        "budget": budget,
        "over_by": -left if left is not None and left < 0 else None,
        "left": left if left is not None and left >= 0 else None,
        "currency": "" if schedule is None else schedule.currency,
    }
