"""`switchover measure STUDY`: what a characterised drive's constants imply, if they can be true."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap
from pathlib import Path
from typing import Any

WIDTH = 78
SIGNS = {"good": "+", "watch": "?", "bad": "!", "none": "-"}


def add_measure(commands: Any) -> None:
    """Add the command to the parser's commands."""
    words = "hold a characterised drive's constants against a candidate"
    parser: argparse.ArgumentParser = commands.add_parser("measure", help=words, description=words)
    parser.set_defaults(command=run_measure)
    parser.add_argument("study", metavar="STUDY.json", type=Path)
    parser.add_argument("--candidate", metavar="KEY", help="which one; today's where left out")
    parser.add_argument("--kv", required=True, metavar="NUMBER", help="as it is written")
    parser.add_argument("--ks", metavar="NUMBER", help="as it is written")
    parser.add_argument("--ka", metavar="NUMBER", help="as it is written")
    parser.add_argument(
        "--unit", metavar="UNIT",
        help="what kV is counted in: m, in, ft, wheel_rev, wheel_rad, motor_rev, motor_rpm, with "
        ":share behind it for a share of 12 V; worked out where left out",
    )  # fmt: skip
    parser.add_argument("--units", choices=["si", "inch-pound"], default="si", help="of the text")
    parser.add_argument("--json", action="store_true", help="everything, for programs")


def run_measure(options: argparse.Namespace) -> int:
    """Print what the constants imply and what a mentor would say to them."""
    from models.errors import NotFoundError  # noqa: PLC0415
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.characterised import (  # noqa: PLC0415
        UNITS,
        Written,
        judge_candidate,
        payload_of,
        unit_of_key,
    )
    from models.trade.characterised_words import mentor_words, unit_words  # noqa: PLC0415
    from models.units import UnitSystem, quoted, show  # noqa: PLC0415
    from webapp.cli import read_file, say  # noqa: PLC0415  the command line takes this module in

    study = parse_study(read_document(read_file(options.study)))
    key = options.candidate
    candidate = study.baseline if key is None else study.candidate(key)
    velocity = _number("--kv", options.kv, above_zero=True)
    statics, moving = (
        None if text is None else _number(option, text)
        for option, text in (("--ks", options.ks), ("--ka", options.ka))
    )
    written = Written(velocity, statics, moving)
    unit = None
    if options.unit is not None:
        unit = unit_of_key(options.unit)
        if unit is None:
            names = ", ".join(one.key for one in UNITS)
            raise NotFoundError(f"{quoted(options.unit)} is no unit of kV. There are {names}.")
    judged = judge_candidate(study, candidate, written, unit)
    system = UnitSystem(options.units)
    said = mentor_words(judged, system)
    if options.json:
        payload = {
            "study": study.name,
            "candidate": candidate.key,
            **payload_of(judged),
            "said": [{"kind": one.kind, "text": one.text} for one in said],
        }
        say(json.dumps(payload, indent=1, allow_nan=False))
        return 0
    lines = [study.name, f"{candidate.name}: constants of its drive", ""]
    for kind, text in said:
        lines += textwrap.wrap(f"{SIGNS[kind]} {text}", WIDTH, subsequent_indent="  ")
    lines += ["", "12/kV in every unit:"]
    for guess in judged.guesses:
        marks = [" plausible"] * guess.plausible
        speed = show(guess.speed, "mps", system)
        lines.append(f"  {unit_words(guess.unit):<36}{speed:>14}{''.join(marks)}")
    sys.stdout.write("\n".join(lines) + "\n")
    return 0


def _number(option: str, text: str, *, above_zero: bool = False) -> float:
    """Return a number as typed after an option; refused with the limits where it cannot be."""
    from models.errors import OutOfRangeError, UnitError  # noqa: PLC0415
    from models.units import parse_number  # noqa: PLC0415

    try:
        value = parse_number(text, "")
    except UnitError as error:
        raise OutOfRangeError(f"{option}: {error}") from None
    if not 0.0 <= value <= 1e5 or (above_zero and value == 0.0):
        least = "above 0" if above_zero else "0"
        raise OutOfRangeError(f"{option}: type {least} to 100000; {text} was given.")
    return value
