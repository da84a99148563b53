"""Outlines taken from a drawing: sent, given a unit and a place, looked at, taken over."""
