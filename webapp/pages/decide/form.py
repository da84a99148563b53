"""What was typed of gates and criteria: as the form shows it and as the study keeps it.

Numbers are typed in the unit that the page shows for the row's figure and kept in SI; a box left
as it was shown keeps the stored value to the last digit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from models.errors import Fault, UnitError
from models.quantities import METRICS
from models.study.schema import Study
from models.trade.deciding import suggested_ends
from models.units import UnitSystem, parse_number, quoted
from webapp.forms import Typed, drop_blank_rows, split_name
from webapp.shared.choice.measures import TRUTHS, Measure, measure_of
from webapp.shared.editing import Posted, take_out_row

SECTION = "decision"
GATES, CRITERIA = "gates", "criteria"
LIMITS, ENDS = ("at_least", "at_most"), ("worst", "best")
BOXES = {GATES: ("metric", *LIMITS, "is"), CRITERIA: ("metric", "weight", *ENDS)}
HEAVIEST = 1000.0
KEPT_DIGITS = 12
"""Significant figures of a number that was converted from the unit in which it was typed."""
Figures = Mapping[str, Mapping[str, Any]]


@dataclass
class Row:
    """One gate or criterion as typed."""

    texts: dict[str, str]
    was: str = ""
    """The number of the stored row that it began as, "" for a new one."""
    measure: Measure | None = None
    note: str = ""


@dataclass
class DecisionRows:
    """The rows of the form."""

    gates: list[Row] = field(default_factory=list)
    criteria: list[Row] = field(default_factory=list)

    def of(self, table: str) -> list[Row]:
        """Return the rows of one table."""
        return self.gates if table == GATES else self.criteria


def stored_rows(study: Study, figures: Figures, system: UnitSystem) -> DecisionRows:
    """Return the rows of a saved study, numbers in the units of the page."""
    if study.decision is None:
        return DecisionRows()
    rows = DecisionRows()
    for table, stored in _stored(study).items():
        for place, texts in enumerate(_texts(one, figures, system) for one in stored):
            measure = _measure(texts["metric"], figures, system)
            rows.of(table).append(Row(texts, str(place), measure))
    return rows


def _stored(study: Study) -> dict[str, list[dict[str, Any]]]:
    """Return a study's gates and criteria with their values as numbers."""
    decision = study.decision
    if decision is None:
        return {GATES: [], CRITERIA: []}
    gates = [
        {"metric": one.metric, "at_least": one.at_least, "at_most": one.at_most, "is": one.is_}
        for one in decision.gates
    ]
    criteria = [
        {"metric": one.metric, "weight": one.weight, "worst": one.worst, "best": one.best}
        for one in decision.criteria
    ]
    return {GATES: gates, CRITERIA: criteria}


def _texts(one: Mapping[str, Any], figures: Figures, system: UnitSystem) -> dict[str, str]:
    measure = _measure(one["metric"], figures, system)
    return {name: _text(name, value, measure) for name, value in one.items()}


def _text(name: str, value: Any, measure: Measure | None) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return TRUTHS[value]
    if name == "weight" or measure is None:
        return f"{float(value):.6g}"
    return measure.typed(float(value))


def _measure(metric: str, figures: Figures, system: UnitSystem) -> Measure | None:
    if metric not in METRICS:
        return None
    return measure_of(metric, [own.get(metric) for own in figures.values()], system)


class DecisionForm:
    """The typed gates and criteria, with what is wrong with them."""

    def __init__(self, posted: Posted, figures: Figures) -> None:
        self.system, self.figures = posted.system, figures
        self.base: dict[str, Any] = posted.base.document.get(SECTION) or {}
        self._before = _stored(posted.base.study)
        if not posted.changes_form:
            drop_blank_rows(posted.typed)
        take_out_row(posted)
        typed = posted.typed.at((SECTION,)) or Typed()
        self.rows = DecisionRows(
            **{table: self._read(typed.children.get(table), table) for table in BOXES}
        )
        self.focus = self._obey(posted)
        self.faults: list[Fault] = []
        self.value = {
            **self.base,
            GATES: [self._gate(row, place) for place, row in enumerate(self.rows.gates)],
            CRITERIA: [self._criterion(row, place) for place, row in enumerate(self.rows.criteria)],
        }
        self._check_weights()

    @property
    def edits(self) -> dict[str, Any]:
        """The section as a study keeps it."""
        empty = not self.base and not any(self.value[table] for table in BOXES)
        kept = {key: part for key, part in self.value.items() if part or key in self.base}
        return {SECTION: None if empty else kept}

    def _read(self, typed: Typed | None, table: str) -> list[Row]:
        children = typed.children if typed is not None else {}
        rows = []
        for number in sorted(step for step in children if isinstance(step, int)):
            child = children[number]
            texts = {name: self._posted(child, name) for name in BOXES[table]}
            measure = _measure(texts["metric"], self.figures, self.system)
            rows.append(Row(texts, child.text("was") or "", measure))
        return rows

    @staticmethod
    def _posted(typed: Typed, name: str) -> str:
        box = typed.children.get(name)
        return (box.text() or "") if box is not None else ""

    def _obey(self, posted: Posted) -> str:
        """Change the rows as the pressed button asks; return the field or button to go to next."""
        action, name, _ = posted.row
        path = split_name(name)[0]
        if path[:1] != (SECTION,) or len(path) < 2 or path[1] not in BOXES:
            return ""
        rows = self.rows.of(str(path[1]))
        if action == "add":
            rows.append(Row(dict.fromkeys(BOXES[str(path[1])], "")))
            return f"{name}.{len(rows) - 1}.metric"
        if action == "remove":
            return f"button:add:{SECTION}.{path[1]}"
        place = path[2] if len(path) > 2 else None
        if action == "suggest" and isinstance(place, int) and place < len(rows):
            self._suggest(rows[place])
            return f"{name}.worst"
        return ""

    def _suggest(self, row: Row) -> None:
        """Fill in worst and best from the candidates' figures."""
        measure = row.measure
        if measure is None:
            row.note = "Choose the figure first."
            return
        ends = suggested_ends(measure.key, [own.get(measure.key) for own in self.figures.values()])
        if ends is None:
            row.note = "The candidates' figures suggest nothing here; type both."
            return
        for name, end in zip(ENDS, ends, strict=True):
            row.texts[name] = measure.typed(end)

    def _fault(self, place: str, message: str, *, given: str = "", limit: str = "") -> None:
        self.faults.append(Fault(place, message, given=given or None, limit=limit or None))

    def _kept(self, table: str, row: Row) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return the stored row that a row began as: in the document, and with plain values."""
        numbers = self._before[table]
        if not row.was.isascii() or not row.was.isdigit() or int(row.was[:4]) >= len(numbers):
            return {}, {}
        place = int(row.was[:4])
        return dict((self.base.get(table) or [])[place]), numbers[place]

    def _metric(self, table: str, row: Row, place: int) -> str:
        metric = row.texts["metric"]
        where = f"{SECTION}.{table}[{place}].metric"
        one = "gate" if table == GATES else "criterion"
        if not metric:
            self._fault(where, f"Choose the figure of this {one}, or take its row out.")
        elif metric not in METRICS:
            self._fault(
                where, f"There is no figure {quoted(metric)}; choose one of the list.", given=metric
            )
        elif metric in [other.texts["metric"] for other in self.rows.of(table)[:place]]:
            advice = "put both limits into one row" if table == GATES else "take one row out"
            name = METRICS[metric].name
            self._fault(where, f"There is another {one} on “{name}” above; {advice}.", given=metric)
        return metric

    def _number(
        self, row: Row, name: str, where: str, before: tuple[dict[str, Any], dict[str, Any]]
    ) -> tuple[Any, float | None]:
        """Return what is kept for a typed number, and its value; text and None where it is none."""
        text, measure = row.texts[name], row.measure
        raw, values = before
        same = values.get("metric") == row.texts["metric"]
        stored = values.get(name)
        if same and stored is not None and text == _text(name, stored, measure):
            return raw.get(name), float(stored)
        plain = name == "weight" or measure is None
        unit = "" if plain or measure is None else measure.unit
        shown = "" if plain or measure is None else measure.text
        try:
            value = parse_number(text, unit, default_unit_text=shown or None)
        except UnitError as error:
            self._fault(where, str(error), given=text)
            return text, None
        value = float(f"{value:.{KEPT_DIGITS}g}")
        if not -1e9 <= value <= 1e9:
            self._fault(where, "That number is out of reach; a figure lies below 1e9.", given=text)
            return text, None
        return (int(value) if value.is_integer() else value), value

    def _gate(self, row: Row, place: int) -> dict[str, Any]:
        where = f"{SECTION}.{GATES}[{place}]"
        before = self._kept(GATES, row)
        gate: dict[str, Any] = {"metric": self._metric(GATES, row, place)}
        values: dict[str, float | None] = {}
        for name in LIMITS:
            if row.texts[name]:
                gate[name], values[name] = self._number(row, name, f"{where}.{name}", before)
        said = row.texts["is"]
        if said:
            gate["is"] = {"yes": True, "no": False}.get(said, said)
        self._check_gate(row, where, values)
        return gate

    def _check_gate(self, row: Row, where: str, values: Mapping[str, float | None]) -> None:
        measure, said = row.measure, row.texts["is"]
        if measure is None:
            return
        if measure.kind == "number":
            if said:
                self._fault(
                    f"{where}.is", f"“{measure.name}” is a number: give it a limit, and leave "
                    "“is” empty.", given=said,
                )  # fmt: skip
            elif not values:
                unit = f" in {measure.text}" if measure.text else ""
                self._fault(
                    f"{where}.at_least",
                    f"Say how much it has to be{unit}, at least or at most; a gate without a limit "
                    "holds nobody back.",
                )
            self._check_limits(measure, where, values)
            return
        for name in LIMITS:
            if row.texts[name]:
                words = "yes or no" if measure.kind == "truth" else "a word"
                self._fault(
                    f"{where}.{name}", f"“{measure.name}” is {words}: leave the limits empty and "
                    "say which under “is”.", given=row.texts[name],
                )  # fmt: skip
        if not said:
            self._fault(f"{where}.is", f"Say what “{measure.name}” has to be.")
        elif measure.kind == "truth" and said not in TRUTHS.values():
            self._fault(f"{where}.is", "Choose yes or no.", given=said)

    def _check_limits(
        self, measure: Measure, where: str, values: Mapping[str, float | None]
    ) -> None:
        low, high = values.get("at_least"), values.get("at_most")
        if low is not None and high is not None and low > high:
            self._fault(
                f"{where}.at_least",
                f"Nothing is at least {measure.typed(low)} and at most {measure.typed(high)} "
                f"{measure.text}".rstrip()
                + "; the first has to be the lesser.",
            )

    def _criterion(self, row: Row, place: int) -> dict[str, Any]:
        where = f"{SECTION}.{CRITERIA}[{place}]"
        before = self._kept(CRITERIA, row)
        criterion: dict[str, Any] = {"metric": self._metric(CRITERIA, row, place)}
        measure = row.measure
        if measure is not None and measure.kind == "word":
            self._fault(
                f"{where}.metric", f"“{measure.name}” is a word, which has no score; use it as a "
                "gate.",
            )  # fmt: skip
        values: dict[str, float | None] = {}
        for name in ("weight", *ENDS):
            if not row.texts[name]:
                self._fault(f"{where}.{name}", _MISSING[name])
                continue
            kept, values[name] = self._number(row, name, f"{where}.{name}", before)
            criterion[name] = kept
        weight = values.get("weight")
        if weight is not None and not 0.0 <= weight <= HEAVIEST:
            self._fault(
                f"{where}.weight", f"A weight lies from 0 to {HEAVIEST:g}; “the other way round is "
                "better” is said by worst and best.", given=row.texts["weight"],
            )  # fmt: skip
        worst, best = values.get("worst"), values.get("best")
        if worst is not None and worst == best:
            said = f"{row.texts['best']} {measure.text if measure else ''}".strip()
            self._fault(
                f"{where}.best", f"Worst and best are both {said}; the score runs between two "
                "different figures.", given=row.texts["best"],
            )  # fmt: skip
        return criterion

    def _check_weights(self) -> None:
        weights = [one.get("weight") for one in self.value[CRITERIA]]
        numbers = [_plain(one) for one in weights]
        if numbers and all(one == 0.0 for one in numbers):
            self._fault(
                f"{SECTION}.{CRITERIA}[0].weight",
                "All weights are 0; give at least one criterion a weight above it.",
            )


_MISSING = {
    "weight": "Type a weight; 0 keeps the criterion and counts it for nothing.",
    "worst": "Type the figure that counts 0, or take one from the candidates by “suggest ends”.",
    "best": "Type the figure that counts 1, or take one from the candidates by “suggest ends”.",
}


def _plain(value: Any) -> float | None:
    """Return the number of a kept weight, which may carry a range."""
    if isinstance(value, dict):
        value = value.get("value")
    try:
        return float(value)
    except (TypeError, ValueError):
        return None


def names_of(rows: DecisionRows) -> list[str]:
    """Return the names of all boxes on the page."""
    return [
        f"{SECTION}.{table}.{place}.{name}"
        for table, boxes in BOXES.items()
        for place in range(len(rows.of(table)))
        for name in boxes
    ]


def shown_decision(value: Mapping[str, Any], rows: Sequence[Row]) -> list[float | None]:
    """Return each criterion's share of all weights, None where they do not hold yet."""
    weights = [_plain(one.get("weight")) for one in value.get(CRITERIA) or []]
    known = [one for one in weights if one is not None and one >= 0.0]
    total = sum(known)
    if len(known) < len(rows) or not total > 0.0:
        return [None] * len(rows)
    return [one / total for one in known]
