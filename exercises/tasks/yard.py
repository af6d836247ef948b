"""Yard programmes: which tasks a school of one, three or five days watches, and how groups rotate through stations."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from exercises.tasks import TASKS, Task

#: Candidates in a group at a station: while one is watched, the others follow. Common practice, no source.
GROUP = 4
#: In a group for tasks of half an hour, so that a round still ends in half a day. A larger class holds it twice.
PAIR = 2
#: Minutes to walk to the next station, and for the observer to finish the notes.
CHANGE = 10

#: The group and the tasks of each round of stations, by the days of the school. The tasks of a round take about as
#: long, so that no group waits long. A retort and the decanter are watched where the plant has the time for them.
STATIONS: dict[int, tuple[tuple[int, tuple[str, ...]], ...]] = {
    1: ((GROUP, ("weigh-mud", "set-the-pool", "set-spray")),),
    3: (
        (GROUP, ("weigh-mud", "sand-content", "funnel")),
        (GROUP, ("set-the-pool", "manifold-head", "set-spray")),
        (GROUP, ("read-torque-and-act", "gas-alarm-drill", "shift-handover")),
    ),
    5: (
        (GROUP, ("weigh-mud", "sand-content", "funnel")),
        (GROUP, ("viscometer", "move-mud", "manifold-head")),
        (GROUP, ("set-the-pool", "measure-deck-motion", "set-spray")),
        (GROUP, ("clear-a-plugged-cone", "sample-over-and-under", "read-torque-and-act")),
        (PAIR, ("change-a-screen", "start-a-desilter", "mix-barite")),
    ),
}


@dataclass(frozen=True)
class Round:
    """A round of stations: each group is at each station once, and all change at the same time."""

    tasks: tuple[Task, ...]
    group: int

    @property
    def slot(self) -> int:
        """Minutes that every group has at a station: the longest task, once for each of the group, and the change."""
        return self.group * max(task.minutes for task in self.tasks) + CHANGE

    @property
    def minutes(self) -> int:
        return self.slot * len(self.tasks)

    @property
    def turns(self) -> Iterator[tuple[Task, ...]]:
        """Of each turn the task of each group, in the order of the groups; nobody is twice at a station."""
        for turn in range(len(self.tasks)):
            yield tuple(self.tasks[(turn + group) % len(self.tasks)] for group in range(len(self.tasks)))

    @property
    def timetable(self) -> Iterator[tuple[int, int, tuple[Task, ...]]]:
        """Each turn with the minutes of the round at which it begins and ends, walk and notes included."""
        for number, tasks in enumerate(self.turns):
            yield number * self.slot, (number + 1) * self.slot, tasks

    @property
    def kit(self) -> tuple[str, ...]:
        """What must be there, each thing once."""
        return tuple(dict.fromkeys(thing for task in self.tasks for thing in task.kit))


def programme(days: int) -> Sequence[Round]:
    """The rounds of the yard of a school of so many days. Raises: :class:`KeyError` where there is no such plan."""
    return [Round(tuple(TASKS[name] for name in names), group) for group, names in STATIONS[days]]
