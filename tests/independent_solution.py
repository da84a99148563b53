"""The figures of a study a second time, by other means and with nothing of the program's own code.

Time integration (scipy's solve_ivp, relative tolerance 1e-10) instead of quadrature over speed,
bracketed roots (brentq) and nested minimisation instead of closed forms. Slow and plain on
purpose: it reads a study document and works on single numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import atan2, cos, hypot, inf, isinf, isnan, pi, sin, sqrt
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar

G = 9.80665


def limit_or_none(value: float | None) -> float:
    return inf if value is None else value


@dataclass
class Solution:
    """One candidate of a study document whose numbers are plain SI."""

    document: dict[str, Any]
    candidate: dict[str, Any]
    known: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        power, drive, wheels = (
            self.document["power"], self.candidate["drive"], self.candidate["wheels"],
        )  # fmt: skip
        motor = self.document["motors"][drive["motor"]]
        self.layout = self.candidate["layout"]
        self.R = motor["nominal_v"] / motor["stall_current_a"]
        self.stall = motor["stall_current_a"]
        self.If = motor["free_current_a"]
        self.kT = motor["stall_torque_nm"] / (self.stall - self.If)
        self.wf = motor["free_speed_rpm"] * 2 * pi / 60
        self.kE = (motor["nominal_v"] - self.If * self.R) / self.wf
        self.J = motor.get("rotor_inertia_kgm2", 0.0)
        self.Voc, self.Ia = power["open_circuit_v"], power.get("accessory_current_a", 0.0)
        self.Rb = power["internal_resistance_ohm"] + power.get("main_wiring_ohm", 0.0)
        self.Rw = drive.get("branch_ohm", 0.0)
        self.n, self.Gr, self.eta = drive["motor_count"], drive["ratio"], drive["efficiency"]
        self.Ist = limit_or_none(drive.get("stator_limit_a"))
        self.Isup = limit_or_none(drive.get("supply_limit_a"))
        self.steer = drive.get("steer_time_s", 0.0) if self.layout == "swerve" else 0.0
        self.r = wheels["diameter_m"] / 2
        self.nw, self.Jw = wheels["count"], wheels.get("inertia_kgm2", 0.0)
        self.mu = wheels["grip"]
        self.mus = wheels.get("side_grip", self.mu)
        self.crr = wheels.get("rolling_coefficient", 0.0)
        self.V0 = self.Voc - self.Rb * self.Ia
        self.Rt = self.n * self.Rb + self.Rw
        self._masses()

    def _masses(self) -> None:
        parts = [*self.document["robot"]["parts"], *self.candidate["parts"]]
        self.M = sum(p["mass_kg"] * p.get("quantity", 1) for p in parts)
        at = [
            sum(p["mass_kg"] * p.get("quantity", 1) * p["centre_m"][k] for p in parts) / self.M
            for k in range(3)
        ]
        self.X, self.Y, self.H = at
        self.Izz = 0.0
        for p in parts:
            m = p["mass_kg"] * p.get("quantity", 1)
            sx, sy, _ = p.get("size_m", (0, 0, 0))
            dx, dy = p["centre_m"][0] - self.X, p["centre_m"][1] - self.Y
            self.Izz += m * (sx * sx + sy * sy) / 12 + m * (dx * dx + dy * dy)
        wheels = self.candidate["wheels"]
        half_l, half_t = wheels["wheelbase_m"] / 2, wheels["track_m"] / 2
        insets = {}
        if self.candidate.get("modules"):
            for name, corner in self.candidate["modules"]["corners"].items():
                insets[name] = corner.get("inset_m", [0.0, 0.0])
        place = {
            (end, side): (
                (1 if end == "front" else -1) * (half_l - insets.get(f"{end}_{side}", [0, 0])[0]),
                (1 if side == "left" else -1) * (half_t - insets.get(f"{end}_{side}", [0, 0])[1]),
            )
            for end in ("front", "rear")
            for side in ("left", "right")
        }
        front = (place["front", "left"][0] + place["front", "right"][0]) / 2
        rear = (place["rear", "left"][0] + place["rear", "right"][0]) / 2
        self.L = front - rear
        self.Tr = (
            place["front", "left"][1] - place["front", "right"][1]
            + place["rear", "left"][1] - place["rear", "right"][1]
        ) / 2  # fmt: skip
        self.xf, self.xr = front - self.X, self.X - rear
        self.D = self.crr * self.M * G
        self.mrot = (self.n * self.J * self.Gr**2 + self.nw * self.Jw) / self.r**2

    # --- motor and bus

    def bus_of_motor(self, emf: float, current: float) -> float:
        """Bus current of one of n equal motors: the lower root, bracketed."""
        return self.bus_of_power((emf + self.R * current) * current)

    def bus_of_power(self, power: float) -> float:
        most = self.V0 / (2 * self.Rt) if self.Rt > 0 else inf
        if self.Rt == 0:
            return power / self.V0

        def balance(ib: float) -> float:
            return self.V0 * ib - self.Rt * ib * ib - power

        if balance(most) <= 0:
            return most
        return float(brentq(balance, 0.0, most, xtol=1e-13, rtol=1e-14))

    def current(self, emf: float) -> tuple[float, str]:
        """Greatest motor current, the supply limit as the current whose bus current reaches it."""
        best, word = (self.V0 - emf) / (self.R + self.Rt), "voltage"
        if self.Ist < best:
            best, word = self.Ist, "stator limit"
        if not isinf(self.Isup) and best > 0 and self.bus_of_motor(emf, best) > self.Isup:
            best = float(
                brentq(
                    lambda i: self.bus_of_motor(emf, i) - self.Isup, 0.0, best,
                    xtol=1e-12, rtol=1e-14,
                )
            )  # fmt: skip
            word = "supply limit"
        return best, word

    def wheel_force(self, current: float) -> float:
        return max(self.n * self.eta * self.Gr * self.kT * (current - self.If) / self.r, 0.0)

    def factors(self, theta: float) -> tuple[float, float, float]:
        s = 1 / (abs(cos(theta)) + abs(sin(theta)))
        if self.layout == "mecanum":
            return s, s, s / sqrt(2)
        if self.layout == "omni":
            return sqrt(2) * s, s / sqrt(2), s / sqrt(2)
        return 1.0, 1.0, 1.0

    # --- going somewhere

    def acceleration(self, v: float, theta: float) -> tuple[float, float, float]:
        """Acceleration, and the force of the front and rear half on chassis and rotating parts."""
        kv, kf, km = self.factors(theta)
        mu, m, mass, drag = self.mu * km, self.mrot / kv**2, self.M, self.D
        force = kf * self.wheel_force(self.current(self.kE * v / kv * self.Gr / self.r)[0])
        tip = G * self.xr / self.H
        if self.layout == "tank":
            a = min((force - drag) / (mass + m), (mu * mass * G - drag) / mass, tip)
            whole = (mass + m) * a + drag
            return a, whole / 2, whole / 2

        def halves(a: float) -> tuple[float, float]:
            front = max(mass * (G * self.xr - a * self.H) / self.L, 0.0)
            rear = max(mass * (G * self.xf + a * self.H) / self.L, 0.0)
            return min(force / 2 - m * a / 2, mu * front), min(force / 2 - m * a / 2, mu * rear)

        def excess(a: float) -> float:
            return sum(halves(a)) - drag - mass * a

        if excess(tip) >= 0:
            a = tip
        else:
            low = -drag / mass - 1.0
            a = float(brentq(excess, low, tip, xtol=1e-13, rtol=1e-14))
        front, rear = halves(a)
        # Where tipping holds it back the grip of the unloaded front is gone; the rear gives way
        rear = min(rear, mass * a + drag - front)
        return a, front + m * a / 2, rear + m * a / 2

    def bus_total(self, v: float, theta: float, front: float, rear: float) -> float:
        """Total current, the two halves of the motors solved together."""
        kv, kf, _ = self.factors(theta)
        emf = self.kE * v / kv * self.Gr / self.r
        each = self.eta * self.Gr * self.kT / self.r * kf * self.n / 2
        powers = []
        for half in (front, rear):
            current = self.If + half / each
            powers.append((emf + self.R * current) * current)

        def branch(at_bus: float, power: float) -> float:
            if self.Rw == 0:
                return power / at_bus
            return (at_bus - sqrt(max(at_bus**2 - 4 * self.Rw * power, 0.0))) / (2 * self.Rw)

        def balance(total: float) -> float:
            at_bus = self.V0 - self.Rb * total
            return self.n / 2 * sum(branch(at_bus, power) for power in powers) - total

        if self.Rb == 0:
            return balance(0.0) + self.Ia
        # As if all motors worked as hard as the hardest: at least as much as they take
        most = self.n * self.bus_of_power(max(powers))
        return float(brentq(balance, 0.0, most * (1 + 1e-9) + 1e-9, xtol=1e-11)) + self.Ia

    def brake(self, theta: float) -> float:
        kv, kf, km = self.factors(theta)
        limit = self.stall if isinf(self.Ist) else self.Ist
        force = kf * self.n * self.Gr * self.kT * (limit + self.If) / (self.r * self.eta)
        return min(
            (force + self.D) / (self.M + self.mrot / kv**2), km * self.mu * G,
            G * self.xf / self.H,
        )  # fmt: skip

    def travel(self, theta: float) -> Any:
        """Dense solution of (speed, distance, energy) over time along a way."""
        if ("travel", theta) not in self.known:
            self.known["travel", theta] = self._travel(theta)
        return self.known["travel", theta]

    def _travel(self, theta: float) -> Any:
        def slope(_t: float, state: np.ndarray) -> list[float]:
            v = max(float(state[0]), 0.0)
            a, front, rear = self.acceleration(v, theta)
            if theta != 0.0:
                return [a, v, 0.0]
            total = self.bus_total(v, theta, front, rear)
            return [a, v, (self.Voc - self.Rb * total) * total]

        if self.acceleration(0.0, theta)[0] <= 0:
            return None
        longest = 0.5 + 2.0 * self._longest() / max(self.top_speed(theta), 0.05)
        return solve_ivp(
            slope, (0.0, longest + 3.0), [0.0, 0.0, 0.0], method="DOP853", rtol=1e-10,
            atol=1e-11, dense_output=True, max_step=0.3,
        )  # fmt: skip

    def _longest(self) -> float:
        return max(self.document["yardsticks"]["sprint_distance_m"], 6.0)

    def top_speed(self, theta: float) -> float:
        """Where the motors' force and the drag meet."""
        kv, kf, _ = self.factors(theta)

        def excess(v: float) -> float:
            current = self.current(self.kE * v / kv * self.Gr / self.r)[0]
            working = self.n * self.eta * self.Gr * self.kT * (current - self.If) / self.r
            return kf * working - self.D

        fastest = kv * self.V0 / self.kE * self.r / self.Gr
        if excess(0.0) <= 0:
            return 0.0
        return float(brentq(excess, 0.0, fastest * 1.01, xtol=1e-12, rtol=1e-13))

    def time_over(self, distance: float, theta: float, *, stop: bool) -> tuple[float, float]:
        """Time and greatest speed over a distance, passing its end or stopping there."""
        if distance == 0:
            return 0.0, 0.0
        run = self.travel(theta)
        if run is None:
            return float("nan"), float("nan")
        braking = self.brake(theta)

        def short_of(t: float) -> float:
            v, x, _ = run.sol(t)
            return x + (v * v / (2 * braking) if stop else 0.0) - distance

        t = float(brentq(short_of, 0.0, run.t[-1], xtol=1e-13, rtol=1e-14))
        v = float(run.sol(t)[0])
        return (t + v / braking if stop else t), v

    def time_to_speed(self, speed: float) -> float | None:
        run = self.travel(0.0)
        if run is None or speed >= self.top_speed(0.0) or run.y[0, -1] <= speed:
            return None
        return float(brentq(lambda t: run.sol(t)[0] - speed, 0.0, run.t[-1], xtol=1e-13))

    def peak_current(self, end_speed: float) -> float:
        """Greatest total current from rest to a speed, sampled finely and then refined."""

        def total(v: float) -> float:
            _, front, rear = self.acceleration(v, 0.0)
            return self.bus_total(v, 0.0, front, rear)

        speeds = np.linspace(0.0, end_speed, 401)
        values = [total(float(v)) for v in speeds]
        best = int(np.argmax(values))
        low, high = speeds[max(best - 1, 0)], speeds[min(best + 1, 400)]
        found = minimize_scalar(
            lambda v: -total(float(v)), bounds=(low, high), method="bounded",
            options={"xatol": 1e-11},
        )  # fmt: skip
        return max(values[best], -float(found.fun))

    # --- turning in place

    @cached_property
    def axle_loads(self) -> tuple[list[float], list[float], list[float]]:
        wheels = self.candidate["wheels"]
        k = wheels["count"] // 2
        at = [self.candidate["wheels"]["wheelbase_m"] * (0.5 - i / (k - 1)) for i in range(k)]
        grips = [
            wheels["omni_side_grip"] if i in wheels.get("omni_axles", []) else self.mus
            for i in range(k)
        ]
        carrying = list(range(k))
        if wheels.get("centre_drop_m", 0.0) > 0 and k % 2:
            centre = k // 2
            carrying = list(range(centre + 1)) if self.X > 0 else list(range(centre, k))
        while True:
            middle = sum(at[i] for i in carrying) / len(carrying)
            spread = sum((at[i] - middle) ** 2 for i in carrying)
            loads = [0.0] * k
            for i in carrying:
                tilt = (self.X - middle) * (at[i] - middle) / spread if spread else 0.0
                loads[i] = self.M * G * (1 / len(carrying) + tilt)
            if min(loads) >= 0:
                return at, loads, grips
            carrying = [i for i in carrying if loads[i] >= 0]

    @cached_property
    def turn(self) -> tuple[float, float, float]:
        """Yaw factor, resistance and the greatest force that grip passes."""
        cap = self.mu * self.M * G
        if self.layout == "swerve":
            return 1 / hypot(self.L / 2, self.Tr / 2), self.D, cap
        if self.layout == "mecanum":
            return 2 / (self.L + self.Tr), self.D, cap / sqrt(2)
        if self.layout == "omni":
            return sqrt(2) / ((self.L + self.Tr) / 2), self.D, cap
        at, loads, grips = self.axle_loads

        def dissipation(yaw: float, x0: float) -> float:
            return sum(
                load * hypot(self.mu * (1 - yaw * self.Tr / 2), grip * yaw * (x - x0))
                for x, load, grip in zip(at, loads, grips, strict=True)
            )

        def best_over_x0(yaw: float) -> float:
            return float(
                minimize_scalar(
                    lambda x0: dissipation(yaw, x0), bounds=(at[-1], at[0]), method="bounded",
                    options={"xatol": 1e-12},
                ).fun
            )  # fmt: skip

        found = minimize_scalar(
            best_over_x0, bounds=(1e-9, 2 / self.Tr), method="bounded", options={"xatol": 1e-12}
        )
        yaw, least = float(found.x), float(found.fun)
        edge = best_over_x0(2 / self.Tr)
        if edge <= least:
            yaw, least = 2 / self.Tr, edge
        return yaw, least + self.D, cap

    def turning(self) -> Any:
        if "turning" not in self.known:
            self.known["turning"] = self._turning()
        return self.known["turning"]

    def _turning(self) -> Any:
        yaw, resistance, cap = self.turn
        inertia = self.Izz * yaw**2 + self.mrot

        def slope(_t: float, state: np.ndarray) -> list[float]:
            u = max(float(state[0]), 0.0)
            force = self.wheel_force(self.current(self.kE * u * self.Gr / self.r)[0])
            return [(min(force, cap) - resistance) / inertia, u]

        if slope(0.0, np.zeros(2))[0] <= 0:
            return None
        return solve_ivp(
            slope, (0.0, 3.0 + 2.0 * pi / self._spin()), [0.0, 0.0], method="DOP853",
            rtol=1e-10, atol=1e-11, dense_output=True, max_step=0.3,
        )  # fmt: skip

    def turn_time(self, angle: float, *, steer: bool) -> float:
        """Time to turn by an angle and stop, without or with the modules' steering."""
        extra = self.steer if steer else 0.0
        if angle == 0:
            return extra
        run = self.turning()
        if run is None:
            return float("nan")
        yaw, resistance, cap = self.turn
        limit = self.stall if isinf(self.Ist) else self.Ist
        force = self.n * self.Gr * self.kT * (limit + self.If) / (self.r * self.eta)
        braking = min(force + resistance, max(cap, resistance)) / (self.Izz * yaw**2 + self.mrot)

        def short_of(t: float) -> float:
            u, x = run.sol(t)
            return x + u * u / (2 * braking) - angle / yaw

        t = float(brentq(short_of, 0.0, run.t[-1], xtol=1e-13, rtol=1e-14))
        return t + float(run.sol(t)[0]) / braking + extra

    # --- routes

    def route_time(self, route: dict[str, Any]) -> float:
        at, heading = route["start"]["at_m"], route["start"]["heading_deg"] * pi / 180
        whole = 0.0
        for leg in route["legs"]:
            to = leg.get("to_m", at)
            distance = hypot(to[0] - at[0], to[1] - at[1])
            end = None if leg.get("heading_deg") is None else leg["heading_deg"] * pi / 180
            move, heading = self._leg(
                distance, atan2(to[1] - at[1], to[0] - at[0]), heading, end,
                leg.get("may_reverse", True),
            )  # fmt: skip
            whole += max(move, leg.get("prepare_s", 0.0)) + leg.get("action_s", 0.0)
            at = to
        return whole

    def _leg(
        self, distance: float, bearing: float, heading: float, end: float | None, reverse: bool
    ) -> tuple[float, float]:
        def between(first: float, second: float) -> float:
            angle = abs((second - first + pi) % (2 * pi) - pi)
            return 0.0 if angle < 1e-9 else angle

        if self.layout != "tank":
            last = heading if end is None else end
            angle = between(heading, last)
            drive = self.time_over(distance, bearing - heading, stop=True)[0] if distance else 0.0
            moves = distance > 0 or angle > 0
            move = max(drive, self.turn_time(angle, steer=False))
            return move + (self.steer if moves else 0.0), last
        if distance == 0:
            last = heading if end is None else end
            return self.turn_time(between(heading, last), steer=False), last
        options = []
        for way in (bearing, bearing + pi) if reverse else (bearing,):
            last = way if end is None else end
            turns = [
                self.turn_time(between(heading, way), steer=False),
                self.turn_time(between(way, last), steer=False),
            ]
            options.append((self.time_over(distance, 0.0, stop=True)[0] + sum(turns), last))
        usable = [option for option in options if not isnan(option[0])]
        if not usable:
            return options[0]
        # Forwards wins a tie
        first = usable[0]
        return min(usable, key=lambda o: o[0]) if usable[-1][0] < first[0] - 1e-9 else first

    # --- everything

    def metrics(self) -> dict[str, Any]:
        yard = self.document["yardsticks"]
        distance = yard["sprint_distance_m"]
        time, end = self.time_over(distance, 0.0, stop=False)
        going = not isnan(time)
        figures: dict[str, Any] = {
            "mass_kg": self.M,
            "cg_x_m": self.X,
            "cg_z_m": self.H,
            "yaw_inertia_kgm2": self.Izz,
            "free_speed_mps": self.factors(0.0)[0] * self.wf * self.r / self.Gr,
            "top_speed_mps": self.top_speed(0.0) or None,
            "brake_mps2": self.brake(0.0),
            "sprint_time_s": time if going else None,
            "sprint_end_speed_mps": end if going else None,
            "sprint_stop_time_s": self.time_over(distance, 0.0, stop=True)[0] if going else None,
            "accel_time_s": self.time_to_speed(yard["target_speed_mps"]),
            **self._push(),
            **self._grade(),
        }
        if going:
            peak = self.peak_current(end)
            least = self.Voc - self.Rb * peak
            figures["peak_bus_current_a"] = peak
            figures["min_bus_voltage_v"] = least
            figures["browns_out"] = least < self.document["power"]["brownout_v"]
            figures["sprint_energy_j"] = float(self.travel(0.0).sol(time)[2])
        run = self.turning()
        for name, angle in (("turn90_s", pi / 2), ("turn180_s", pi)):
            figures[name] = None if run is None else self.turn_time(angle, steer=True)
        figures["spin_rate_radps"] = None if run is None else self._spin()
        return figures

    def _spin(self) -> float:
        yaw, resistance, _ = self.turn

        def excess(u: float) -> float:
            current = self.current(self.kE * u * self.Gr / self.r)[0]
            working = self.n * self.eta * self.Gr * self.kT * (current - self.If) / self.r
            return working - resistance

        return yaw * float(brentq(excess, 0.0, self.V0 / self.kE * self.r / self.Gr * 1.01))

    def _push(self) -> dict[str, Any]:
        _, kf, km = self.factors(0.0)
        current, word = self.current(0.0)
        force = kf * self.wheel_force(current)
        mu = self.mu * km
        if self.layout == "tank":
            front = rear = min(force, mu * self.M * G) / 2
            hold = sum(load * grip for _, load, grip in zip(*self.axle_loads, strict=True))
        else:
            front = min(force / 2, mu * self.M * G * self.xr / self.L)
            rear = min(force / 2, mu * self.M * G * self.xf / self.L)
            hold = self.mu * self.M * G / (1 if self.layout == "swerve" else sqrt(2))
        each = self.eta * self.Gr * self.kT / self.r * kf * self.n / 2
        return {
            "push_force_n": front + rear,
            "push_limited_by": "traction" if front + rear < force * (1 - 1e-12) else word,
            "push_motor_current_a": self.If + max(front, rear) / each,
            "push_bus_current_a": self.bus_total(0.0, 0.0, front, rear),
            "side_hold_force_n": hold,
        }

    def _grade(self) -> dict[str, Any]:
        _, kf, km = self.factors(0.0)
        force = kf * self.wheel_force(self.current(0.0)[0])
        weight = self.M * G

        def excess(theta: float) -> float:
            return force - weight * (sin(theta) + self.crr * cos(theta))

        steepest = atan2(1.0, self.crr)
        by_motor = pi / 2
        if excess(steepest) < 0:
            by_motor = float(brentq(excess, -pi / 2, steepest, xtol=1e-14))
        three = {
            "traction": atan2(self.mu * km - self.crr, 1.0),
            "motor": by_motor,
            "tip": atan2(self.xr, self.H),
        }
        word = min(three, key=lambda name: three[name])
        degrees = three[word] * 180 / pi
        return {"grade_deg": degrees if degrees > 0 else None, "grade_limited_by": word}
