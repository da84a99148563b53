"""The verdict in a few sentences: who leads, what it gains and loses, who fails and by how much.

Every sentence is computed from the figures of an evaluation; nothing here weighs opinions.

Contents
--------
Sentence: one sentence with its kind, the candidates and the question that it is about.
verdict: all sentences, the lead first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from models.quantities import METRICS, TIE_SHARE
from models.study.schema import Study
from models.trade.comparison import Comparison, closeness, compare, shares_between
from models.trade.phrases import FEATS, GAINS, Names, capitalised, listed
from models.trade.standing import Standing, standings
from models.units import UnitSystem, quoted, show

Kind = Literal["lead", "good", "watch", "bad"]

MOST_GAINS = 3
"""So many gains and losses stand in a sentence; the table has the rest."""


@dataclass(frozen=True)
class Sentence:
    """One sentence of the verdict."""

    kind: Kind
    text: str
    candidates: tuple[str, ...]
    """Keys of the candidates it is about."""
    question: str
    """Key of the question that it helps to answer."""


@dataclass(frozen=True)
class _Case:
    """Everything that the sentences are computed from."""

    payload: Mapping[str, Any]
    study: Study
    system: UnitSystem
    names: Names
    table: Comparison
    standings: Mapping[str, Standing]
    race: _Race

    @property
    def baseline(self) -> str:
        """Key of what the robot drives on today."""
        return str(self.payload["baseline"])

    def figure(self, key: str, metric: str) -> float | None:
        """Return one number of a candidate, None where it has none."""
        value = self.standings[key].metrics.get(metric)
        return float(value) if isinstance(value, int | float) else None

    def say(self, value: float, unit: str, *, digits: int = 3) -> str:
        """Return a value as sentences show it."""
        return show(value, unit, self.system, digits=digits)


@dataclass(frozen=True)
class _Race:
    """What decides who is quickest: the first cycle, or the sprint where there is no cycle."""

    words: str
    times: Mapping[str, float]
    """Seconds by candidate; who cannot do it is missing."""
    question: str
    ahead: Mapping[str, Mapping[str, float]]
    """In what share of the draws one candidate is quicker than another."""

    def near(self, key: str, other: str) -> bool:
        """Return whether two times are the same or a tie."""
        shares = shares_between(self.ahead, key, other)
        return closeness(self.times[key], self.times[other], "s", ahead=shares) != "apart"

    def tied_with(self, key: str, others: Sequence[str]) -> list[str]:
        """Return those among others whose time is no more than a tie away, itself included."""
        return [other for other in others if other in self.times and self.near(other, key)]


def verdict(payload: Mapping[str, Any], study: Study, system: UnitSystem) -> list[Sentence]:
    """Return the verdict on an evaluated study, the lead first, then failures, then cautions.

    Parameters
    ----------
    payload : what `evaluate_study` returned for the whole study
    study : the study that was evaluated
    system : units in which figures are said
    """
    everyone = list(payload["candidates"])
    baseline = str(payload["baseline"])
    case = _Case(
        payload=payload,
        study=study,
        system=system,
        names=Names(everyone, baseline),
        table=compare(payload),
        standings=standings(payload, study),
        race=_race(everyone, payload.get("ahead", {})),
    )
    passing = [key for key, standing in case.standings.items() if standing.passes]
    ranked = sorted((key for key in passing if key in case.race.times), key=case.race.times.get)  # type: ignore[arg-type]
    leaders = case.race.tied_with(ranked[0], ranked) if ranked else []
    return [
        _lead(case, ranked, leaders),
        *_gains(case, leaders),
        *_others(case, ranked, leaders),
        *_failures(case),
        *_brownouts(case),
        *_heavy(case),
        *_tipping(case),
        *_autonomous(case),
        *_unknown(case),
        *_feats(case),
    ]


def _race(everyone: Sequence[Mapping[str, Any]], ahead: Mapping[str, Any]) -> _Race:
    for name, run in everyone[0]["routes"].items():
        times = {
            str(one["key"]): float(one["routes"][name]["time_s"])
            for one in everyone
            if one["routes"].get(name, {}).get("time_s") is not None
        }
        if run["kind"] == "cycle" and times:
            return _Race(f"over “{name}”", times, "cycle", ahead.get(f"route_s:{name}", {}))
    times = {
        str(one["key"]): float(one["metrics"]["sprint_stop_time_s"])
        for one in everyone
        if one["metrics"].get("sprint_stop_time_s") is not None
    }
    return _Race("in the sprint and stop", times, "quick", ahead.get("sprint_stop_time_s", {}))


def _lead(case: _Case, ranked: Sequence[str], leaders: Sequence[str]) -> Sentence:
    if len(case.standings) == 1:
        return _lone(case)
    if not ranked:
        return _nobody(case)
    if case.baseline in leaders:
        return _stay(case, leaders)
    times, words = case.race.times, case.race.words
    pace = listed([case.say(times[key], "s") for key in leaders])
    text = f"{case.names.all(leaders)} {_passing(case, leaders)} and "
    text += "is the quickest" if len(leaders) == 1 else "are a tie for the quickest"
    text += f" {words}: {pace}, {_against_baseline(case, leaders)}."
    text += _quicker_still(case, leaders[0])
    return Sentence("lead", capitalised(text), tuple(leaders), case.race.question)


def _passing(case: _Case, keys: Sequence[str]) -> str:
    """Return that candidates pass what they must, and no more than is known."""
    unknown = any(case.standings[key].fit_unknown for key in keys)
    if len(keys) == 1:
        return "keeps the limits" if unknown else "fits, keeps the limits"
    return "keep the limits" if unknown else "fit, keep the limits"


def _against_baseline(case: _Case, leaders: Sequence[str]) -> str:
    """Return how the leaders' time stands to that of a baseline that is not among them."""
    times, base = case.race.times, case.baseline
    name = case.names(base)
    if base not in times:
        return f"which {name} cannot do at all"
    if base in case.race.tied_with(leaders[0], [base]):
        return f"a tie with {name}"
    gain = times[base] - times[leaders[0]]
    amount = case.say(abs(gain), "s", digits=2)
    most = "up to " if len(leaders) > 1 else ""
    return f"{most}{amount} {'less' if gain > 0 else 'more'} than {name}"


def _quicker_still(case: _Case, leader: str) -> str:
    """Return who would be quicker than the leader but does not pass, as a further sentence."""
    times = case.race.times
    better = [
        key
        for key, standing in case.standings.items()
        if not standing.passes
        and key in times
        and times[key] < times[leader]
        and not case.race.near(key, leader)
    ]
    if not better:
        return ""
    fails = "does not pass" if len(better) == 1 else "do not pass"
    return f" {capitalised(case.names.all(better))} would be quicker still but {fails}."


def _lone(case: _Case) -> Sentence:
    key = next(iter(case.standings))
    text = "There is one candidate only, so there is nothing to compare it with yet"
    if key in case.race.times:
        text += f"; {case.names(key)} takes {case.say(case.race.times[key], 's')} {case.race.words}"
    return Sentence("lead", f"{text}.", (key,), case.race.question)


def _nobody(case: _Case) -> Sentence:
    """Return the lead where nobody passes, or nobody that passes has a time."""
    passing = [key for key, standing in case.standings.items() if standing.passes]
    if passing:
        verb = "passes" if len(passing) == 1 else "pass"
        text = f"{case.names.all(passing)} {verb}, but no time is known {case.race.words}."
        return Sentence("lead", capitalised(text), tuple(passing), case.race.question)
    nearest = min(
        (key for key in case.standings if case.standings[key].miss_m is not None),
        key=lambda key: case.standings[key].miss_m or 0.0,
        default=None,
    )
    text = "Nothing here passes as it stands."
    if nearest is not None:
        miss = case.say(case.standings[nearest].miss_m or 0.0, "m", digits=2)
        text += f" {capitalised(case.names(nearest))} comes closest: it lacks {miss} of room."
    return Sentence("lead", text, tuple(case.standings), "fit")


def _stay(case: _Case, leaders: Sequence[str]) -> Sentence:
    race, base = case.race, case.baseline
    others = [key for key in leaders if key != base]
    time = case.say(race.times[base], "s")
    if not others:
        text = f"Nothing that passes is quicker {race.words} than {case.names(base)}, with {time}."
    else:
        verb = "is" if len(others) == 1 else "are"
        text = f"{case.names.all(others)} {verb} no quicker {race.words} than {case.names(base)} "
        text += f"({time}) by more than a tie: {_tie_words(case, others, base)}."
    leader = min(leaders, key=lambda key: race.times[key])
    return Sentence(
        "lead", capitalised(text + _quicker_still(case, leader)), tuple(leaders), race.question
    )


def _tie_words(case: _Case, others: Sequence[str], base: str) -> str:
    """Return why some times are a tie with the baseline's."""
    if all(shares_between(case.race.ahead, key, base) for key in others):
        return "neither is quicker in nine of ten draws of what is uncertain"
    return "less than 5 % lies between them"


def _gains(case: _Case, leaders: Sequence[str]) -> list[Sentence]:
    """Return what the first leader gains and gives up beside the race, and how a second differs."""
    ahead = [key for key in leaders if key != case.baseline]
    if not ahead:
        return []
    found = _against(case, ahead[0], case.baseline)
    if len(ahead) > 1:
        found.append(_between(case, ahead[0], ahead[1]))
    return found


def _weighed(case: _Case, key: str, other: str) -> dict[str, list[str]]:
    """Return how a candidate's figures read against another's: better, worse and ties."""
    lists: dict[str, list[str]] = {"better": [], "worse": [], "tie": []}
    for metric, words in GAINS.items():
        value, standard = case.figure(key, metric), case.figure(other, metric)
        if value is None or standard is None:
            continue
        if metric == "sprint_stop_time_s" and case.race.question == "quick":
            continue
        unit, better = METRICS[metric].unit, METRICS[metric].better
        shares = shares_between(case.payload.get("ahead", {}).get(metric, {}), key, other)
        if closeness(value, standard, unit, ahead=shares) != "apart":
            lists["tie"].append(words.tie)
            continue
        side = "better" if (value > standard) == (better == "higher") else "worse"
        amount = case.say(abs(value - standard), unit, digits=2)
        lists[side].append(getattr(words, side).format(amount))
    return lists


def _against(case: _Case, key: str, base: str) -> list[Sentence]:
    """Return what a leader gains and gives up against the baseline beside the race itself."""
    name, lists = case.names(key), _weighed(case, key, base)
    found = []
    if lists["better"]:
        text = f"{name} also {listed(lists['better'][:MOST_GAINS])}."
        found.append(Sentence("good", text, (key,), case.race.question))
    if lists["worse"]:
        text = f"In return {name} {listed(lists['worse'][:MOST_GAINS])}."
        found.append(Sentence("watch", text, (key,), case.race.question))
    if lists["tie"]:
        verb = "is a tie" if len(lists["tie"]) == 1 else "are ties"
        text = f"{listed(lists['tie'][:MOST_GAINS])} {verb} with {case.names(base)}."
        found.append(Sentence("good", capitalised(text), (key,), case.race.question))
    return found


def _between(case: _Case, first: str, second: str) -> Sentence:
    """Return what tells two leaders apart that are a tie in the race."""
    lists = _weighed(case, second, first)
    one, other = case.names(first), case.names(second)
    told = [listed(lists[side][:2]) for side in ("better", "worse") if lists[side]]
    if not told:
        text = f"{one} and {other} are a tie in everything else too."
    else:
        whole = all(len(lists[side]) <= 2 for side in ("better", "worse"))
        rest = "; the rest is a tie" if whole and lists["tie"] else ""
        text = f"Against {one}, {other} {' but '.join(told)}{rest}."
    return Sentence("good", text, (first, second), case.race.question)


def _others(case: _Case, ranked: Sequence[str], leaders: Sequence[str]) -> list[Sentence]:
    """Return how those that pass but do not lead stand."""
    behind = [key for key in ranked if key not in leaders and key != case.baseline]
    if not behind:
        return []
    times, best = case.race.times, leaders[0]
    gaps = listed([case.say(times[key] - times[best], "s", digits=2) for key in behind])
    come = "comes" if len(behind) == 1 else "come"
    text = f"{case.names.all(behind)} {_passing(case, behind)} too and {come} {gaps} behind "
    text += f"{case.names(best)} {case.race.words}."
    return [Sentence("watch", capitalised(text), tuple(behind), case.race.question)]


def _failures(case: _Case) -> list[Sentence]:
    found = []
    for key, standing in case.standings.items():
        for failure in standing.failures:
            text = f"{case.names(key)} {failure.words(case.system)}"
            if key == case.baseline and failure.question == "fit" and failure.is_room:
                text += " It stands on the robot today, so check the drawing"
                text += " of the body and of the keep-out."
            found.append(Sentence("bad", capitalised(text), (key,), failure.question))
    return found


def _brownouts(case: _Case) -> list[Sentence]:
    threshold = float(case.study.power.brownout_v)
    lowest = {key: case.figure(key, "min_bus_voltage_v") for key in case.standings}
    down = {key: low for key, low in lowest.items() if low is not None and low < threshold}
    close = {
        key: low
        for key, low in lowest.items()
        if low is not None and low >= threshold and closeness(low, threshold, "v") != "apart"
    }
    found = []
    if down:
        verb = "browns out" if len(down) == 1 else "brown out"
        found.append(_sag(case, "bad", verb, down, threshold))
    if close:
        verb = "comes close to a brownout" if len(close) == 1 else "come close to a brownout"
        found.append(_sag(case, "watch", verb, close, threshold))
    return found


def _sag(
    case: _Case, kind: Kind, verb: str, lowest: Mapping[str, float], threshold: float
) -> Sentence:
    falls = listed([case.say(low, "v") for low in lowest.values()])
    named = case.study.power.battery
    on = "" if named is None else f" on {quoted(named)}"
    text = f"{case.names.all(lowest)} {verb} in the sprint{on}: the bus falls to {falls}, and the "
    text += f"controller cuts out below {case.say(threshold, 'v')}."
    return Sentence(kind, capitalised(text), tuple(lowest), "battery")


def _heavy(case: _Case) -> list[Sentence]:
    """Return who keeps the mass limit by less than its figures are sure of."""
    left = {
        key: float(entry["margin"])
        for key, standing in case.standings.items()
        for entry in (standing.limits.get("legal_mass") or {},)
        if entry.get("margin") is not None and entry.get("limit") is not None
        if 0.0 <= entry["margin"] < TIE_SHARE * entry["limit"]
    }
    if not left:
        return []
    amounts = [
        f"{case.names.letters([key])} {case.say(by, 'kg', digits=2)}" for key, by in left.items()
    ]
    text = f"Little is left of the mass limit: {listed(amounts)}. Weigh the parts before deciding."
    return [Sentence("watch", text, tuple(left), "fit")]


_TIPS = (
    ("tip_forward_mps2", "drive off"),
    ("tip_brake_mps2", "brake"),
    ("tip_side_mps2", "corner"),
)


def _tipping(case: _Case) -> list[Sentence]:
    """Return a caution for each pose in which a drive can do more than the balance allows."""
    risks: dict[str, dict[str, dict[str, float]]] = {}
    for key, standing in case.standings.items():
        for metric, verb in _TIPS:
            limit, can = case.figure(key, metric), standing.can_do(metric)
            pose = standing.worst_pose.get(metric)
            if limit is not None and can is not None and pose and 0.0 <= limit < can:
                risks.setdefault(pose, {}).setdefault(verb, {})[key] = limit
    return [_tip_caution(case, pose, verbs) for pose, verbs in risks.items()]


def _tip_caution(case: _Case, pose: str, verbs: Mapping[str, Mapping[str, float]]) -> Sentence:
    keys = [key for key in case.standings if any(key in group for group in verbs.values())]
    they = "it" if len(keys) == 1 else "they"
    limits = listed(
        [
            f"{case.say(min(group.values()), 'mps2', digits=2)} to {verb}"
            for verb, group in verbs.items()
        ]
    )
    who = "All of them" if len(keys) == len(case.standings) > 2 else case.names.all(keys)
    text = f"{who} can {listed(list(verbs), last='or')} harder than {they} may in the pose "
    text += f"“{pose}” without tipping over. The limit there is {limits}."
    return Sentence("watch", capitalised(text), tuple(keys), "upright")


def _autonomous(case: _Case) -> list[Sentence]:
    found = []
    for route in case.study.routes:
        late, cannot = {}, {}
        for one in case.payload["candidates"]:
            run = one["routes"].get(route.name, {})
            if run.get("time_s") is None:
                cannot[str(one["key"])] = str(run.get("reason") or "no time was found")
            elif run.get("margin_s") is not None and run["margin_s"] < 0.0:
                late[str(one["key"])] = -float(run["margin_s"])
        for key, reason in cannot.items():
            text = f"{case.names(key)} cannot drive “{route.name}”: {reason.rstrip('.')}."
            found.append(Sentence("bad", capitalised(text), (key,), "cycle"))
        if late:
            over = listed([case.say(by, "s", digits=2) for by in late.values()])
            verb = "is" if len(late) == 1 else "are"
            text = f"{case.names.all(late)} {verb} {over} too slow for “{route.name}”."
            found.append(Sentence("bad", capitalised(text), tuple(late), "cycle"))
    return found


def _unknown(case: _Case) -> list[Sentence]:
    """Return whose fit nobody can tell yet."""
    keys = [key for key, standing in case.standings.items() if standing.fit_unknown]
    if not keys:
        return []
    if not case.study.robot.keepouts:
        text = "The robot has no keep-outs yet, so nobody can say what fits around the mechanisms."
        return [Sentence("watch", text, tuple(keys), "fit")]
    verb = "fits" if len(keys) == 1 else "fit"
    text = f"Whether {case.names.all(keys)} {verb} is not known: no bodies are drawn."
    return [Sentence("watch", text, tuple(keys), "fit")]


def _feats(case: _Case) -> list[Sentence]:
    """Return who is best at what, where one alone is."""
    if len(case.standings) < 2:
        return []
    best: dict[str, list[str]] = {}
    for metric, words in FEATS.items():
        alone = [cell.key for cell in case.table.row(metric).cells if cell.best]
        if len(alone) == 1:
            best.setdefault(alone[0], []).append(words)
    if not best:
        return []
    parts = [f"{case.names(key)} at {listed(best[key])}" for key in case.standings if key in best]
    return [Sentence("good", f"Best at what: {'; '.join(parts)}.", tuple(best), "quick")]
