"""Eight save at once and the program is killed: what was answered is there, once, and whole."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from sqlalchemy import select

from models.services import Store, create_study, load_study, open_store, save_sections
from models.storage.checking import examine
from models.storage.tables import RequestRow, RevisionRow

ROOT = Path(__file__).resolve().parents[3]
KILLS = int(os.environ.get("TEST_KILLS", "4"))
"""How often the program is killed; 100 takes about ten minutes."""
SEED = int(os.environ.get("TEST_KILLS_SEED", "11"))
WRITER_PROGRAM = """
import random, sys, threading
from models.errors import SaveConflictError
from models.services import load_study, open_store, save_sections

url, first, *studies = sys.argv[1:]
store = open_store(url)
saying = threading.Lock()

def say(*words):
    with saying:
        sys.stdout.write(" ".join(map(str, words)) + "\\n")
        sys.stdout.flush()

def save(study, once):
    while True:
        base = load_study(store, study).latest_number
        try:
            return save_sections(
                store, study, base_revision=base, edits={"notes": once}, author="w", note="",
                once=once,
            ).state.revision.number
        except SaveConflictError:
            continue

def write(writer):
    chance, turn = random.Random(f"{first} {writer}"), 0
    while True:
        turn += 1
        study, once = chance.choice(studies), f"{first}-{writer}-{turn}"
        say("asks", study, once)
        number = save(study, once)
        say("saved", study, once, number)
        if chance.random() < 0.2:
            again = save(study, once)
            say("saved", study, once, again)

say("ready")
threads = [threading.Thread(target=write, args=(n,)) for n in range(8)]
for thread in threads:
    thread.start()
"""


def killed(url: str, turn: int, studies: list[str], after_s: float) -> list[list[str]]:
    """Let the program save until it is killed; return what it said, whole lines only."""
    command = [sys.executable, "-c", WRITER_PROGRAM, url, str(turn), *studies]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == "ready\n"
        time.sleep(after_s)
        assert program.poll() is None
        program.kill()
        said = program.stdout.read()
    return [line.split() for line in said.splitlines(keepends=True) if line.endswith("\n")]


def saves_in(store: Store) -> list[Any]:
    with store.reading() as session:
        query = select(RequestRow.once, RequestRow.study_id, RequestRow.number)
        return list(session.execute(query).all())


def test_nothing_that_was_answered_is_lost_twice_or_half_there(
    database_url: str, document: dict[str, Any]
) -> None:
    store = open_store(database_url)
    studies = [
        create_study(store, {**document, "name": f"Study {n}"}, author="", note="").study_id
        for n in range(4)
    ]
    store.close()
    chance = random.Random(SEED)
    asked: dict[str, str] = {}
    answered: dict[str, tuple[str, int]] = {}
    for turn in range(KILLS):
        for what, study, once, *number in killed(
            database_url, turn, studies, chance.uniform(0.2, 1.5)
        ):
            if what == "asks":
                asked[once] = study
                continue
            assert answered.setdefault(once, (study, int(number[0]))) == (study, int(number[0]))
        store = open_store(database_url)
        assert [one for one in examine(store.engine) if not one.good] == []
        found = {once: (study, number) for once, study, number in saves_in(store)}
        assert {once: found.get(once) for once in answered} == answered
        assert set(found) <= set(asked)
        with store.reading() as session:
            rows = session.execute(
                select(RevisionRow.study_id, RevisionRow.number, RevisionRow.document)
            ).all()
        notes = {
            row.document["notes"]: (row.study_id, row.number) for row in rows if row.number > 1
        }
        assert notes == found
        assert len(rows) == len(found) + len(studies)
        for once in sorted(set(asked) - set(answered))[-3:]:  # whoever got no answer asks again
            edits, base = {"notes": once}, load_study(store, asked[once]).latest_number
            state = save_sections(
                store, asked[once], base_revision=base, edits=edits, author="w", note="", once=once
            ).state
            assert once not in found or state.revision.number == found[once][1]
            answered[once] = (asked[once], state.revision.number)
        store.close()
    assert len(answered) > KILLS
    sys.stdout.write(f"{KILLS} kills, {len(answered)} answered, {len(found)} found at the last\n")
