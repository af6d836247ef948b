"""Exercises of the lesson weighting."""

from exercises.model import Exercise

EXERCISES: tuple[Exercise, ...] = ()
