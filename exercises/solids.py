"""Exercises of the lesson solids."""

from exercises.model import Exercise

EXERCISES: tuple[Exercise, ...] = ()
