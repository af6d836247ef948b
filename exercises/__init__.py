"""The exercises of the school: lessons in the order of the book, and the bank."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from exercises.model import Exercise


@dataclass(frozen=True)
class Lesson:
    """A lesson: the name that its exercises carry, its title, and the day of the five-day school.

    An ``optional`` lesson is held on a day of its own, for the crews who need it.
    """

    id: str
    title: str
    day: int
    optional: bool = False


#: Lessons by id, in the order of the book.
LESSONS: dict[str, Lesson] = {
    lesson.id: lesson
    for lesson in (
        Lesson("solids-cost", "Why solids cost money", 1),
        Lesson("safety", "Keeping people whole", 1),
        Lesson("mud-weight", "Mud weight and pressure", 1),
        Lesson("weighting", "Weighting up", 1),
        Lesson("cutting-back", "Cutting back and mixing", 1),
        Lesson("solids", "Solids in the mud", 2),
        Lesson("mud-check", "The mud check", 2),
        Lesson("gas", "Gas in the mud", 2),
        Lesson("sizes", "Sizes of solids", 2),
        Lesson("settling", "Settling", 3),
        Lesson("shakers", "Shakers and screens", 3),
        Lesson("oil-on-cuttings", "Oil on cuttings", 3),
        Lesson("hydrocyclones", "Hydrocyclones", 3),
        Lesson("dilution", "Removal performance and dilution", 3),
        Lesson("centrifuges", "Decanting centrifuges", 4),
        Lesson("dewatering", "Flocculation and dewatering", 4),
        Lesson("active-system", "The active system over time", 4),
        Lesson("tanks-and-pumps", "Tanks, pumps and power", 4),
        Lesson("running-a-well", "Running a well", 5),
        Lesson("packages", "Sizing and comparing packages", 5),
        Lesson("commissioning", "Commissioning, waste and handover", 5),
        Lesson("fault-finding", "Fault-finding", 5),
        Lesson("barite-recovery", "Barite recovery", 6, optional=True),
        Lesson("dual-gradient", "Dual gradient", 6, optional=True),
    )
}


class Bank(dict[str, Exercise]):
    """Exercises by id: ours, and behind them those of a school's own, whose ids are ``own``."""

    own: tuple[str, ...] = ()

    def with_own(self, own: Iterable[Exercise]) -> Bank:
        """This bank and a school's own exercises behind it; itself where there are none.

        Raises: :class:`ValueError` if one has the id of another exercise.
        """
        both = Bank(self)
        for exercise in own:
            if exercise.id in both:
                raise ValueError(f"there is an exercise {exercise.id} already; give it another id")
            both[exercise.id] = exercise
        both.own = tuple(both)[len(self) :]
        return both if both.own else self

    def __reduce__(self) -> tuple[Callable[[], Bank], tuple[()]]:
        """On another machine it is the bank of that installation; a school's own exercises stay where they are."""
        if self.own:
            raise TypeError("a school's own exercises cannot be sent anywhere")
        return _ours, ()


def _ours() -> Bank:
    return BANK


def _bank() -> Bank:
    """The ``EXERCISE`` of each ``exercises/bank/<lesson>/<id>.py``, by lesson, then by level."""
    found = Bank()
    for lesson in LESSONS:
        package = importlib.import_module(f"exercises.bank.{lesson.replace('-', '_')}")
        placed: list[Exercise] = []
        for module in pkgutil.iter_modules(package.__path__):
            exercise = importlib.import_module(f"{package.__name__}.{module.name}").EXERCISE
            placed.append(exercise.placed(module.name.replace("_", "-"), lesson))
        for exercise in sorted(placed, key=lambda e: (e.level, e.id)):
            if unknown := [name for name in exercise.combines if name not in LESSONS]:
                raise ValueError(f"exercise {exercise.id} combines {', '.join(unknown)}, which is no lesson")
            if exercise.id in found:
                raise ValueError(f"two exercises are called {exercise.id}")
            found[exercise.id] = exercise
    return found


#: Every exercise by its id, in the order of the lessons.
BANK: Bank = _bank()


def outcomes_of(lesson: str) -> tuple[str, ...]:
    """The learning outcomes of a lesson, in its own words: the members of its package's ``Outcome``."""
    return tuple(importlib.import_module(f"exercises.bank.{lesson.replace('-', '_')}").Outcome)
