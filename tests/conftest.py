"""What holds for every test: property tests draw the same cases everywhere and race no clock."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("switchover", deadline=None, derandomize=True, database=None)
settings.load_profile("switchover")
