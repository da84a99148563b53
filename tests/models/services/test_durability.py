"""What a save has answered for is there, though the program dies and others write meanwhile."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from models.services import Store, StudyState, list_revisions, open_store

ROOT = Path(__file__).resolve().parents[3]
WRITER = """
import sys
from models.errors import SaveConflictError
from models.services import load_study, open_store, save_sections

store = open_store(sys.argv[1])
print("ready", flush=True)
for turn in range(int(sys.argv[3])):
    while True:
        state = load_study(store, sys.argv[2])
        try:
            saved = save_sections(
                store, sys.argv[2], base_revision=state.latest_number,
                edits={"notes": f"{sys.argv[4]} {turn}"}, author=sys.argv[4], note=str(turn),
            )
        except SaveConflictError:
            continue
        break
    print(saved.state.revision.number, flush=True)
"""


def start_writer(url: str, study_id: str, turns: int, name: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, url, study_id, str(turns), name],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )


def test_a_program_that_is_killed_loses_no_answered_save(
    store: Store, state: StudyState, database_url: str
) -> None:
    answered = 1
    with start_writer(database_url, state.study_id, 10_000, "Kim") as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        for _ in range(5):
            answered = int(writer.stdout.readline())
        writer.kill()
        rest = writer.stdout.read().split()
    answered = int(rest[-1]) if rest else answered
    again = open_store(database_url)
    numbers = [one.number for one in list_revisions(again, state.study_id)]
    if again.engine.dialect.name == "sqlite":
        with again.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    again.close()
    assert answered >= 6
    assert numbers[0] >= answered
    assert numbers == list(range(numbers[0], 0, -1))


def test_two_programs_that_save_at_once_lose_nothing(
    store: Store, state: StudyState, database_url: str
) -> None:
    names = ["Kim", "Lee"]
    writers = [start_writer(database_url, state.study_id, 4, name) for name in names]
    answers = [writer.communicate()[0].split()[1:] for writer in writers]
    revisions = list_revisions(store, state.study_id)
    assert [writer.returncode for writer in writers] == [0, 0]
    assert sorted(int(number) for each in answers for number in each) == list(range(2, 10))
    assert {(one.author, one.note) for one in revisions[:-1]} == {
        (name, str(turn)) for name in names for turn in range(4)
    }
