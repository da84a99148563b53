"""Routes with poses, margins and passed points a second time, by time integration.

Nothing of the program's own code: what a pose changes is done to the document, the support
polygon's reach is found by walking a ray until it leaves the polygon, and each leg is integrated
over time until it meets its braking curve.
"""

from __future__ import annotations

from copy import deepcopy
from itertools import pairwise
from math import atan2, cos, hypot, inf, isnan, nan, pi, sin, sqrt, tan
from typing import Any

from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.independent_solution import G, Solution


class Routes:
    """One candidate of a study document whose numbers are plain SI."""

    def __init__(self, document: dict[str, Any], candidate: dict[str, Any]) -> None:
        self.document, self.candidate = document, candidate
        self.margin = document["yardsticks"].get("tip_margin", 0.0)
        self.known: dict[str | None, Solution] = {}
        self.linked = candidate["layout"] == "tank"

    def solution(self, pose: str | None) -> Solution:
        """The candidate in a pose: its parts moved, what is carried added as parts."""
        if pose in self.known:
            return self.known[pose]
        document, candidate = deepcopy(self.document), deepcopy(self.candidate)
        poses = document["robot"].get("poses", [{"name": "drawn"}])
        setting = next((one for one in poses if one["name"] == pose), poses[0])
        for part in [*document["robot"]["parts"], *candidate["parts"]]:
            offset = setting.get("offsets", {}).get(part["name"], [0, 0, 0])
            part["centre_m"] = [at + by for at, by in zip(part["centre_m"], offset, strict=True)]
        for load in setting.get("loads", []):
            document["robot"]["parts"].append(dict(load))
        self.known[pose] = Solution(document, candidate)
        return self.known[pose]

    def reach(self, pose: str | None, direction: float) -> float:
        """How far the support polygon reaches from the centre of gravity."""
        one = self.solution(pose)
        wheels = self.candidate["wheels"]
        half_l, half_t = wheels["wheelbase_m"] / 2, wheels["track_m"] / 2
        insets = {}
        if self.candidate.get("modules"):
            for name, corner in self.candidate["modules"]["corners"].items():
                insets[name] = corner.get("inset_m", [0.0, 0.0])
        none = [0.0, 0.0]

        def at(end: int, side: int) -> tuple[float, float]:
            name = f"{'front' if end > 0 else 'rear'}_{'left' if side > 0 else 'right'}"
            inset = insets.get(name, none)
            return end * (half_l - inset[0]), side * (half_t - inset[1])

        def inside(far: float) -> bool:
            x, y = one.X + far * cos(direction), one.Y + far * sin(direction)
            if not (at(-1, 1)[0] + at(-1, -1)[0]) / 2 <= x <= (at(1, 1)[0] + at(1, -1)[0]) / 2:
                return False
            edges = []
            for side in (1, -1):
                (xf, yf), (xr, yr) = at(1, side), at(-1, side)
                edges.append(yr + (yf - yr) * (x - xr) / (xf - xr))
            return edges[1] <= y <= edges[0]

        assert inside(0.0)
        low, high = 0.0, 3.0
        for _ in range(80):
            middle = (low + high) / 2
            low, high = (middle, high) if inside(middle) else (low, middle)
        return low

    def cap(self, pose: str | None, direction: float) -> float:
        return (1 - self.margin) * G * self.reach(pose, direction) / self.solution(pose).H

    def law(self, leg: dict[str, Any], theta: float) -> tuple[Any, float]:
        """Acceleration over speed, and braking, on a leg."""
        pose, one = leg.get("pose"), self.solution(leg.get("pose"))
        way = 0.0 if self.linked else theta
        most = slow = inf
        if pose is not None or self.margin > 0:
            most, slow = self.cap(pose, theta + pi), self.cap(pose, theta)
        return (
            lambda v: min(one.acceleration(max(v, 0.0), way)[0], most),
            min(one.brake(way), slow),
        )

    def across(self, leg: dict[str, Any], theta: float) -> float:
        pose, one = leg.get("pose"), self.solution(leg.get("pose"))
        if self.linked:
            hold = sum(load * grip for _, load, grip in zip(*one.axle_loads, strict=True)) / one.M
        else:
            hold = one.mu * G / (1 if one.layout == "swerve" else sqrt(2))
        return min(hold, self.cap(pose, theta + pi / 2), self.cap(pose, theta - pi / 2))

    def run(
        self,
        legs: list[dict[str, Any]],
        lengths: list[float],
        thetas: list[float],
        bends: list[float],
    ) -> list[float]:
        """Times of legs that pass into one another and stop at the last."""
        laws = [self.law(leg, theta) for leg, theta in zip(legs, thetas, strict=True)]
        count = len(legs)
        ends = [0.0] * count
        tops = [
            self.solution(leg.get("pose")).top_speed(0.0 if self.linked else theta)
            for leg, theta in zip(legs, thetas, strict=True)
        ]
        for i in range(count - 1):
            # No leg is entered faster than the motors can drive it
            ends[i] = min(tops[i : i + 2]) * (1 - 1e-9)
            if bends[i] > 1e-9:
                room = min(lengths[i] / (2 if i else 1),
                           lengths[i + 1] / (2 if i + 1 < count - 1 else 1))  # fmt: skip
                radius = min(legs[i]["radius_m"], room / tan(bends[i] / 2))
                side = min(self.across(legs[i], thetas[i]), self.across(legs[i + 1], thetas[i + 1]))
                ends[i] = min(ends[i], sqrt(side * radius))
        for i in range(count - 1, 0, -1):
            ends[i - 1] = min(ends[i - 1], sqrt(ends[i] ** 2 + 2 * laws[i][1] * lengths[i]))
        times, speed = [], 0.0
        for i, (acceleration, braking) in enumerate(laws):
            if i < count - 1:
                ends[i] = min(ends[i], self._reaches(acceleration, speed, lengths[i]))
            times.append(self._leg(acceleration, braking, speed, ends[i], lengths[i]))
            speed = ends[i]
        return times

    @staticmethod
    def _integrated(acceleration: Any, speed: float, until: Any) -> tuple[float, float]:
        """Time and speed at which an event comes, from a speed."""
        found = solve_ivp(
            lambda _t, s: [acceleration(s[0]), s[0]], (0.0, 12.0), [speed, 0.0], method="DOP853",
            rtol=1e-10, atol=1e-11, max_step=0.2, dense_output=True,
        )  # fmt: skip
        if acceleration(speed) <= 0 and speed == 0:
            return nan, nan
        t = float(brentq(lambda t: until(*found.sol(t)), 0.0, 12.0, xtol=1e-13, rtol=1e-14))
        return t, float(found.sol(t)[0])

    def _reaches(self, acceleration: Any, speed: float, length: float) -> float:
        return self._integrated(acceleration, speed, lambda _v, x: x - length)[1]

    def _leg(
        self, acceleration: Any, braking: float, start: float, end: float, length: float
    ) -> float:
        if length == 0:
            return 0.0

        def short(v: float, x: float) -> float:
            return v * v - end * end - 2 * braking * (length - x)

        if short(start, 0.0) >= -1e-9:
            return (start - end) / braking
        t, top = self._integrated(acceleration, start, short)
        return t + (top - end) / braking

    def route_time(self, route: dict[str, Any]) -> float:
        """The whole route."""
        at, heading = route["start"]["at_m"], route["start"]["heading_deg"] * pi / 180
        legs, whole, index = route["legs"], 0.0, 0
        while index < len(legs):
            group = [legs[index]]
            while group[-1].get("pass"):
                index += 1
                group.append(legs[index])
            index += 1
            points = [at, *(leg.get("to_m", at) for leg in group)]
            time, heading = self._motion(group, points, heading)
            whole += max(time, group[-1].get("prepare_s", 0.0)) + group[-1].get("action_s", 0.0)
            at = points[-1]
        return whole

    def _motion(
        self, legs: list[dict[str, Any]], points: list[list[float]], heading: float
    ) -> tuple[float, float]:
        steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
        lengths = [hypot(*step) for step in steps]
        bearings = [atan2(step[1], step[0]) for step in steps]
        bends = [between(a, b) for a, b in pairwise(bearings)]
        if not self.linked:
            return self._free(legs, lengths, bearings, bends, heading)
        end = legs[-1].get("heading_deg")
        first, last = (self.solution(leg.get("pose")) for leg in (legs[0], legs[-1]))
        if lengths == [0.0]:
            final = heading if end is None else end * pi / 180
            return first.turn_time(between(heading, final), steer=False), final
        options = []
        for turned in (0.0, pi) if all(leg.get("may_reverse", True) for leg in legs) else (0.0,):
            final = bearings[-1] + turned if end is None else end * pi / 180
            drive = sum(self.run(legs, lengths, [turned] * len(legs), bends))
            turns = first.turn_time(between(heading, bearings[0] + turned), steer=False)
            turns += last.turn_time(between(bearings[-1] + turned, final), steer=False)
            options.append((drive + turns, final))
        if len(options) == 2 and (options[1][0] < options[0][0] - 1e-9 or isnan(options[0][0])):
            return options[1]
        return options[0]

    def _free(
        self,
        legs: list[dict[str, Any]],
        lengths: list[float],
        bearings: list[float],
        bends: list[float],
        heading: float,
    ) -> tuple[float, float]:
        thetas, turns, look = [], [], heading
        for leg, bearing in zip(legs, bearings, strict=True):
            thetas.append(bearing - look)
            end = leg.get("heading_deg")
            new = look if end is None else end * pi / 180
            turns.append(self.solution(leg.get("pose")).turn_time(between(look, new), steer=False))
            look = new
        drives = self.run(legs, lengths, thetas, bends) if sum(lengths) else [0.0]
        whole = since = 0.0
        for leg, drive, turn in zip(legs, drives, turns, strict=True):
            since += drive
            if leg.get("heading_deg") is not None:
                whole += max(since, turn)
                since = 0.0
        moves = sum(lengths) > 0 or any(turns)
        steer = self.solution(legs[0].get("pose")).steer if moves else 0.0
        return whole + since + steer, look


def between(first: float, second: float) -> float:
    angle = abs((second - first + pi) % (2 * pi) - pi)
    return 0.0 if angle < 1e-9 else angle
