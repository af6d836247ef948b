"""The exercise bank: one module a lesson, each with its ``EXERCISES``."""

from exercises import mud_weight, solids, weighting
from exercises.model import Exercise

#: Lessons in the order of the book: the name that exercises carry, and the title.
LESSONS = {
    "mud-weight": "Mud weight and pressure",
    "weighting": "Weighting up and cutting back",
    "solids": "Solids in the mud",
}

#: Every exercise by its id, in the order of the lessons.
BANK: dict[str, Exercise] = {
    exercise.id: exercise for module in (mud_weight, weighting, solids) for exercise in module.EXERCISES
}
