"""Evaluation of a study file for programs."""
