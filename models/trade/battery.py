"""The batteries of a study: the one in use, and every class that its figures are asked for.

A battery's open-circuit voltage and resistance are typed for a full one at 25 °C; charge and
temperature change them by the tables of `models.engineering.battery`.

Contents
--------
Battery, batteries_of, battery_in_use, battery_named: what a study has.
with_charge, at_charges: the same battery, more or less charged.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.battery import (
    REFERENCE_TEMPERATURE,
    capacity_share,
    resistance_share,
    resting_share,
)
from models.errors import NotFoundError
from models.study.power import Power
from models.study.schema import Study

FloatArray = NDArray[np.float64]

OWN_FIGURES = "As given"
"""Name of the battery that the power section describes by itself."""


class Battery(NamedTuple):
    """A battery as it is: what it rests at, what it costs in voltage, what it holds."""

    name: str
    kind: str
    """match, tired, practice or own."""
    open_circuit_v: float
    """At its charge and temperature."""
    internal_resistance_ohm: float
    """At its charge and temperature."""
    capacity_ah: float | None
    """Over 20 hours at its temperature when full; none where it is not stated."""
    charge: float
    """0 empty to 1 full."""
    temperature_c: float
    full_v: float
    """Open-circuit voltage when full, at 25 °C."""
    full_ohm: float
    """Resistance when full, at 25 °C."""


def with_charge(battery: Battery, charge: float) -> Battery:
    """Return the same battery at another charge.

    >>> full = Battery("A", "match", 12.65, 0.012, 18.0, 1.0, 25.0, 12.65, 0.012)
    >>> half = with_charge(full, 0.5)
    >>> round(half.open_circuit_v, 2), round(half.internal_resistance_ohm, 4)
    (12.24, 0.0144)
    """
    at = {"charge": charge, "temperature": battery.temperature_c}
    return battery._replace(
        open_circuit_v=battery.full_v * float(resting_share(**at)),
        internal_resistance_ohm=battery.full_ohm * float(resistance_share(**at)),
        charge=charge,
    )


def at_charges(
    batteries: Sequence[Battery], charges: Sequence[float] | None
) -> dict[str, FloatArray]:
    """Return `open_voltage` and `battery_resistance` of batteries as they are or at other charges.

    >>> full = Battery("A", "match", 12.65, 0.012, 18.0, 1.0, 25.0, 12.65, 0.012)
    >>> at_charges([full, full], [1.0, 0.5])["open_voltage"].round(2).tolist()
    [12.65, 12.24]
    """
    held = [one.charge for one in batteries] if charges is None else charges
    at = {"charge": np.array(held), "temperature": np.array([x.temperature_c for x in batteries])}
    return {
        "open_voltage": np.array([one.full_v for one in batteries]) * resting_share(**at),
        "battery_resistance": np.array([one.full_ohm for one in batteries])
        * resistance_share(**at),
    }


def _battery(
    name: str,
    kind: str,
    *,
    volts: float,
    ohms: float,
    capacity: float | None,
    charge: float = 1.0,
    temperature: float | None = None,
) -> Battery:
    warmth = REFERENCE_TEMPERATURE if temperature is None else float(temperature)
    held = None
    if capacity is not None:
        held = float(capacity) * float(capacity_share(temperature=warmth))
    full = Battery(name, kind, volts, ohms, held, 1.0, warmth, volts, ohms)
    return with_charge(full, charge)


def _own(power: Power) -> Battery:
    return _battery(
        OWN_FIGURES,
        "own",
        volts=float(power.open_circuit_v),
        ohms=float(power.internal_resistance_ohm),
        capacity=power.capacity_ah,
    )


def batteries_of(study: Study) -> tuple[Battery, ...]:
    """Return every battery of a study, the power section's own figures first."""
    power = study.power
    named = [
        _battery(
            one.name,
            one.kind,
            volts=float(power.open_circuit_v if one.open_circuit_v is None else one.open_circuit_v),
            ohms=float(one.internal_resistance_ohm),
            capacity=power.capacity_ah if one.capacity_ah is None else one.capacity_ah,
            charge=float(one.charge),
            temperature=one.temperature_c,
        )
        for one in power.batteries
    ]
    return (_own(power), *named)


def battery_named(study: Study, name: str) -> Battery:
    """Return the battery of a name, refused with the names there are."""
    own, *named = batteries_of(study)
    for battery in (*named, own):
        if battery.name == name:
            return battery
    names = ", ".join(f"“{one.name}”" for one in (own, *named))
    raise NotFoundError(f"No battery is called “{name}”. There are {names}.")


def battery_in_use(study: Study) -> Battery:
    """Return the battery that the study's figures stand for: the one it names, else its own."""
    name = study.power.battery
    return _own(study.power) if name is None else battery_named(study, name)
