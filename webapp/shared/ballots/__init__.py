"""Ballots in words and strips: who weighs what how much, who prefers what, who wins for whom."""
