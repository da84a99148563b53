"""`switchover decide STUDY`: what gates, criteria and weights say of each candidate."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

DRAWS = 2000
SEED = 1
PLACES = ("1st", "2nd", "3rd")


def add_decide(commands: Any) -> None:
    """Add the command to the parser's commands."""
    words = "weigh the candidates by the study's gates and criteria"
    parser: argparse.ArgumentParser = commands.add_parser("decide", help=words, description=words)
    parser.set_defaults(command=run_decide)
    parser.add_argument("study", metavar="STUDY.json", type=Path)
    parser.add_argument(
        "--draws", type=int, default=DRAWS, help=f"draws of the uncertain inputs ({DRAWS:,})"
    )
    parser.add_argument("--seed", type=int, default=SEED, help="of the random numbers (1)")
    parser.add_argument("--json", action="store_true", help="everything, for programs")


def run_decide(options: argparse.Namespace) -> int:
    """Print gates, scores, ranks and flips."""
    from models.errors import OutOfRangeError  # noqa: PLC0415
    from models.study import parse_study, read_document  # noqa: PLC0415
    from models.trade.choosing import basis_of, decision_of  # noqa: PLC0415
    from webapp.cli import read_file, say  # noqa: PLC0415  the command line takes this module in

    if not 1 <= options.draws <= 100_000:
        raise OutOfRangeError(f"Draws are from 1 to 100000; {options.draws} was given.")
    if options.seed < 0:
        raise OutOfRangeError(f"The seed is a whole number from 0; {options.seed} was given.")
    study = parse_study(read_document(read_file(options.study)))
    basis = basis_of(study, count=options.draws, seed=options.seed)
    payload = {
        "study": study.name,
        **decision_of(study, basis, seed=options.seed),
    }
    if options.json:
        say(json.dumps(payload, indent=1, allow_nan=False))
    else:
        sys.stdout.write(decision_text(payload))
    return 0


def decision_text(payload: dict[str, Any]) -> str:
    """Return a decision as lines of text."""
    from models.trade.choosing import flip_words, gate_words  # noqa: PLC0415

    lines = [payload["study"], ""]
    names = {one["key"]: one["name"] for one in payload["candidates"]}
    if not payload["criteria"]:
        lines.append("The study states no criteria, so nothing can be weighed yet.")
    for gate in payload["gates"]:
        idle = " (every candidate passes it)" if gate["idle"] else ""
        lines.append(f"Must: {gate_words(gate)}{idle}")
    lines.append("")
    for one in payload["candidates"]:
        lines += [_candidate_line(one), *_rank_lines(one)]
    if payload["leader"]:
        lines += ["", f"First under the stated weights: {names[payload['leader']]}."]
    lines += [flip_words(flip, names) for flip in payload["flips"]]
    return "\n".join(lines) + "\n"


def _candidate_line(one: dict[str, Any]) -> str:
    head = f"{one['letter']}  {one['name']}: "
    if not one["passes"]:
        return f"{head}fails {', '.join(map(_named, one['failed_gates']))}"
    if one["score"] is None:
        missing = ", ".join(map(_named, one["not_scored"]))
        return f"{head}not scored" + (f", it has no {missing}" if missing else "")
    spread = ""
    if one["score_p90"] > one["score_p10"]:
        spread = f" ({one['score_p10']:.3f} to {one['score_p90']:.3f} in 8 of 10 draws)"
    return f"{head}score {one['score']:.3f}{spread}"


def _named(metric: str) -> str:
    from models.quantities import METRICS  # noqa: PLC0415

    return f"“{METRICS[metric].name}”" if metric in METRICS else metric


def _rank_lines(one: dict[str, Any]) -> list[str]:
    shares = one["rank_acceptability"]
    if not shares:
        return []
    places = [
        f"{PLACES[rank] if rank < len(PLACES) else f'{rank + 1}th'} {share:.0%}"
        for rank, share in enumerate(shares)
    ]
    return [f"   under any weights at all: {', '.join(places)}"]
