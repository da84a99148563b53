"""What was used last stays in memory, also between threads."""

from __future__ import annotations

import threading

from models.storage.recent import Recent


def test_the_value_unused_for_longest_goes_first() -> None:
    kept: Recent[str] = Recent(limit=2)
    kept.put("a", "A")
    kept.put("b", "B")
    kept.get("a")
    kept.put("c", "C")
    assert [kept.get(key) for key in "abc"] == ["A", None, "C"]


def test_threads_do_not_break_it() -> None:
    kept: Recent[int] = Recent(limit=3)
    wrong: list[int] = []

    def use(start: int) -> None:
        for key in range(start, start + 2000):
            kept.put(key % 7, key % 7)
            value = kept.get(key % 5)
            if value not in {None, key % 5}:
                wrong.append(key)

    threads = [threading.Thread(target=use, args=(start,)) for start in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
