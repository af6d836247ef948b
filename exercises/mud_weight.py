"""Exercises of the lesson mud weight."""

from exercises.model import Exercise

EXERCISES: tuple[Exercise, ...] = ()
