"""Decisions on record: write one, look it over, confirm; read it later beside what came of it."""
