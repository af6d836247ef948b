"""What the instructor's pages compute: how long a lesson takes, the days of a school, what it leaves out, and slips.

The minutes to show something are an instructor's estimate; everything else follows from the lessons, their outcomes
and the exercises, so that a new exercise moves the timetable.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from exercises import BANK, LESSONS, outcomes_of
from exercises.model import Exercise, Numeric, System
from exercises.model.drawing import draw
from exercises.model.numbers import in_system
from exercises.model.text import fill
from exercises.plans import (
    A_MARK as A_MARK,  # the timetables print them
)
from exercises.plans import (
    LONGEST_SITTING as LONGEST_SITTING,
)
from exercises.plans import (
    OPTIONAL_DAY,
    PLANS,
    exercise_minutes,
    minutes_of,
    must_pass,
    paper_of,
    practice_of,
    rounded,
    written_parts,
)

#: Minutes to show what the page on teaching says for a lesson: an estimate.
SHOWING: dict[str, int] = {
    "solids-cost": 20,
    "safety": 35,  # the site's own induction comes before the first morning
    "mud-weight": 15,
    "weighting": 15,
    "cutting-back": 10,
    "solids": 45,
    "mud-check": 40,
    "gas": 15,
    "sizes": 20,
    "settling": 25,
    "shakers": 20,
    "oil-on-cuttings": 15,
    "hydrocyclones": 20,
    "dilution": 10,
    "centrifuges": 15,
    "dewatering": 20,  # the jars are filled beforehand
    "active-system": 15,
    "tanks-and-pumps": 15,
    "running-a-well": 15,
    "packages": 10,
    "commissioning": 20,
    "fault-finding": 20,
    "barite-recovery": 10,
    "dual-gradient": 10,
}

#: Minutes of each half-day from its start to its end, its break among them, and the hour at which it starts.
HALF_DAY, BREAK = 240, 15
MORNING, AFTERNOON = 8 * 60, 13 * 60


@dataclass(frozen=True)
class School:
    """A school: its lessons day by day, the minutes of talk for each outcome, and the share of showing that it does."""

    days: tuple[tuple[str, ...], ...]
    an_outcome: int
    shows: float


FIVE_DAYS = School(PLANS[5], 8, 1.0)
THREE_DAYS = School(PLANS[3], 8, 1.0)
#: The five days, and a sixth one for crews who recover barite or lighten a riser.
SIX_DAYS = School((*PLANS[5], OPTIONAL_DAY), 8, 1.0)
#: People come back who have done it before: less showing, less talk.
REFRESHER = School(PLANS[1], 5, 0.5)


@dataclass(frozen=True)
class Block:
    """Some minutes of a half-day; ``lesson`` and ``exercise`` by their ids, ``part`` of a paper where it has parts."""

    what: str
    minutes: int
    lesson: str = ""
    exercise: str = ""
    part: int = 0


def talk_minutes(lesson: str, school: School = FIVE_DAYS) -> int:
    """Minutes to show, tell and answer questions."""
    return rounded(school.shows * SHOWING[lesson] + school.an_outcome * len(outcomes_of(lesson)))


def assessed(exercises: Iterable[Exercise]) -> set[str]:
    """The outcomes that exercises assess."""
    return {outcome for exercise in exercises for outcome in exercise.outcomes}


@dataclass(frozen=True)
class Day:
    """A day of a school: its two half-days as blocks, and the exercises that are left for the evening."""

    lessons: tuple[str, ...]
    halves: tuple[tuple[Block, ...], tuple[Block, ...]]
    evening: tuple[Exercise, ...]

    @property
    def held(self) -> tuple[Exercise, ...]:
        """The exercises and cases that are worked in class."""
        return tuple(BANK[block.exercise] for half in self.halves for block in half if block.exercise)


def days_of(school: School) -> tuple[Day, ...]:
    """Each day of a school. What does not fit in class is left for the evening.

    Talk and the day's paper come first, and the cases that belong to the paper. Then room is given to what must be
    passed, since nobody is examined in it unpractised, to an exercise of each lesson, to an exercise for each outcome
    that is still bare, to the other cases whose lessons have all been held, and to the rest. The rest wants an
    instructor least: the book's practice marks itself.
    """
    days: list[Day] = []
    for number, lessons in enumerate(school.days):
        held = {lesson for day in school.days[: number + 1] for lesson in day}
        seen = {one.id for day in days for one in (*day.held, *day.evening)}
        cases = [case for case in BANK.values() if case.level == 3 and case.id not in seen and _ready(case, held)]
        practice = [
            sorted(practice_of(lesson), key=lambda one: (not must_pass(one), one.level, one.marks))
            for lesson in lessons
        ]
        assessing = [one for one in paper_of(lessons) if one.level == 3]
        examined = [one for exercises in practice for one in exercises if must_pass(one)]
        chosen = _fitting(lessons, [], [*assessing, *examined, *(exercises[0] for exercises in practice)], school)
        for exercise in (one for exercises in practice for one in exercises):
            if not assessed(chosen).issuperset(exercise.outcomes):
                chosen = _fitting(lessons, chosen, [exercise], school)
        everything = [*cases, *(one for exercises in practice for one in exercises)]
        chosen = _fitting(lessons, chosen, everything, school)
        halves = _halves(lessons, chosen, school)
        if halves is None:
            raise ValueError(f"day {number + 1}: talk and paper alone do not fit")
        days.append(Day(lessons, halves, tuple(one for one in everything if one not in chosen)))
    return tuple(days)


def _ready(case: Exercise, held: set[str]) -> bool:
    """Whether all lessons that a case needs have been held."""
    return held.issuperset((case.lesson, *case.combines))


def _fitting(
    lessons: tuple[str, ...], chosen: list[Exercise], wanted: Iterable[Exercise], school: School
) -> list[Exercise]:
    """What is chosen already, and as much of what is wanted as fits, in its order."""
    for exercise in wanted:
        if exercise not in chosen and _halves(lessons, [*chosen, exercise], school) is not None:
            chosen = [*chosen, exercise]
    return chosen


def _halves(
    lessons: tuple[str, ...], chosen: list[Exercise], school: School
) -> tuple[tuple[Block, ...], tuple[Block, ...]] | None:
    """The two half-days with these exercises in them, or nothing if they do not fit.

    The last part of the paper closes the day. An earlier part is sat in the afternoon, as soon as its lessons are held.
    """
    blocks = []
    for lesson in lessons:
        blocks.append(Block("talk", talk_minutes(lesson, school), lesson))
        for exercise in practice_of(lesson):
            if exercise in chosen:
                blocks.append(Block("practice", exercise_minutes(exercise), lesson, exercise.id))
    blocks += [Block("case", exercise_minutes(one), one.lesson, one.id) for one in chosen if one.level == 3]
    morning: list[Block] = []
    while blocks and _sum(morning) + blocks[0].minutes <= HALF_DAY - BREAK:
        morning.append(blocks.pop(0))
    parts = written_parts(lessons)
    *earlier, last = [Block("paper", minutes_of(part), part=number) for number, part in enumerate(parts, 1)]
    if not earlier:
        last = Block("paper", last.minutes)
    for number, block in enumerate(earlier):
        asked = {exercise.lesson for exercise in parts[number]}
        held = [at for at, other in enumerate(blocks, 1) if other.what != "case" and other.lesson in asked]
        blocks.insert(max([*held, number]), block)
    if _sum(blocks) + last.minutes > HALF_DAY - BREAK:
        return None
    return _with_break(morning, []), _with_break(blocks, [last])


def _with_break(blocks: list[Block], last: list[Block]) -> tuple[Block, ...]:
    """A half-day: a break near its middle, what is left open, and what comes last."""
    spare = HALF_DAY - BREAK - _sum(blocks) - _sum(last)
    filled = [*blocks, *([Block("open", spare)] if spare else []), *last]
    at = min(range(1, len(filled)), key=lambda i: abs(_sum(filled[:i]) - HALF_DAY / 2), default=1)
    return (*filled[:at], Block("break", BREAK), *filled[at:])


def _sum(blocks: Iterable[Block]) -> int:
    return sum(block.minutes for block in blocks)


# Tables in Markdown ---------------------------------------------------------------------------------------------------

SAYS = {
    "break": "break",
    "open": "open: questions, the rig floor, the evening's exercises",
    "paper": "the day's paper",
}


def link(lesson: str) -> str:
    """A link from an instructor's page to a lesson."""
    return f"[{LESSONS[lesson].title}](../lessons/{lesson}.md)"


def clock(minutes: int) -> str:
    return f"{minutes // 60}:{minutes % 60:02d}"


def day_table(day: Day) -> str:
    """A day as a table: from when, what, how long; blocks of one lesson's practice together."""
    rows = ["| From | What | Minutes |", "| ---: | --- | ---: |"]
    for half, start in zip(day.halves, (MORNING, AFTERNOON), strict=True):
        now = start
        for row, minutes in _merged(half):
            rows.append(f"| {clock(now)} | {row} | {minutes} |")
            now += minutes
        rows.append(f"| {clock(now)} | **end of the {'morning' if start == MORNING else 'day'}** | **{now - start}** |")
    return "\n".join(rows)


def _merged(half: tuple[Block, ...]) -> list[tuple[str, int]]:
    rows: list[tuple[str, int]] = []
    before: Block | None = None
    for block in half:
        match block.what:
            case "talk":
                rows.append((link(block.lesson), block.minutes))
            case "practice" if before and (before.what, before.lesson) == (block.what, block.lesson):
                text, minutes = rows.pop()
                rows.append((f"{text}; {BANK[block.exercise].title}", minutes + block.minutes))
            case "practice":
                rows.append((f"practice: {BANK[block.exercise].title}", block.minutes))
            case "case":
                rows.append((f"**{BANK[block.exercise].title}**", block.minutes))
            case "paper" if block.part:
                rows.append((f"{SAYS[block.what]}, part {block.part}", block.minutes))
            case _:
                rows.append((SAYS[block.what], block.minutes))
        before = block
    return rows


def hours_table(days: tuple[Day, ...]) -> str:
    """Minutes of each kind on each day. Raises: ValueError if a day's minutes do not add up."""
    kinds = ("talk", "practice", "case", "paper", "open", "break")
    heads = ("Day", "Lessons", "Talk", "Practice", "Cases", "Paper", "Open", "Breaks", "Sum")
    rows = [f"| {' | '.join(heads)} |", "| ---" + " | ---:" * (len(heads) - 1) + " |"]
    sums = dict.fromkeys(kinds, 0)
    for number, day in enumerate(days, 1):
        blocks = [block for half in day.halves for block in half]
        minutes = {kind: _sum(block for block in blocks if block.what == kind) for kind in kinds}
        if sum(minutes.values()) != 2 * HALF_DAY:
            raise ValueError(f"day {number} has {sum(minutes.values())} minutes")
        sums = {kind: sums[kind] + minutes[kind] for kind in kinds}
        cells = (number, len(day.lessons), *minutes.values(), sum(minutes.values()))
        rows.append(f"| {' | '.join(map(str, cells))} |")
    cells = (sum(len(day.lessons) for day in days), *sums.values(), sum(sums.values()))
    rows.append(f"| **all** | {' | '.join(map(str, cells))} |")
    return "\n".join(rows)


def evening_text(day: Day) -> str:
    """What is left for the evening, in one sentence."""
    if not day.evening:
        return "Nothing is left for the evening."
    names = "; ".join(f"{one.title} ({exercise_minutes(one)})" for one in day.evening)
    return f"For the evening, with the minutes of each: {names}."


def paper_text(day: Day) -> str:
    """What the day's paper is made of, with its marks."""
    parts = written_parts(day.lessons)
    said = "" if len(parts) == 1 else f"The day's paper is sat in {len(parts)} parts. "
    for number, part in enumerate(parts, 1):
        names = "; ".join(f"{one.title}{' (must pass)' if must_pass(one) else ''}" for one in part)
        marks = f"{sum(one.marks for one in part):g} marks in {minutes_of(part)} minutes"
        name = f"Part {number}" if len(parts) > 1 else "The day's paper"
        said += f"{name}, {marks}: {names}. "
    asked = [one for part in parts for one in part]
    said += f"Of these {len(asked)} exercises {sum(one in day.held for one in asked)} are practised in class."
    for case in (one for one in paper_of(day.lessons) if one.level == 3):
        where = "worked in class" if case in day.held else "worked in the evening and handed in next morning"
        marks = f"{case.marks:g} marks in {exercise_minutes(case)} minutes"
        said += f" The case that belongs to it, {marks}: {case.title}, {where}."
    return said


def sixth_day_settings() -> str:
    """What the settings of a five-day school need for the optional day, as lines of school.toml."""
    lessons = "".join(f'    "{lesson}",\n' for lesson in OPTIONAL_DAY)
    text = f"# add to the lessons:\n{lessons}\n"
    [paper] = written_parts(OPTIONAL_DAY)  # short enough for one sitting
    exercises = "".join(f'    "{one.id}",\n' for one in paper)
    return f'{text}[[sitting]]\nid = "day6"\ntitle = "Day 6"\nweight = 1\nexercises = [\n{exercises}]\n'


def uncovered(school: School) -> dict[str, tuple[str, ...]]:
    """By lesson, the outcomes that a school neither practises in class nor examines."""
    days = days_of(school)
    exercised = {one.id: one for day in days for one in (*day.held, *paper_of(day.lessons))}
    done = assessed(exercised.values())
    left = {lesson: tuple(outcome for outcome in outcomes_of(lesson) if outcome not in done) for lesson in LESSONS}
    return {lesson: outcomes for lesson, outcomes in left.items() if outcomes}


def uncovered_table(school: School) -> str:
    """The outcomes that a school leaves out, and whether their lesson is held at all."""
    held = {lesson for day in school.days for lesson in day}
    rows = ["| Lesson | Held | Outcomes that are neither practised in class nor examined |", "| --- | --- | --- |"]
    for lesson, outcomes in uncovered(school).items():
        rows.append(f"| {link(lesson)} | {'yes' if lesson in held else 'no'} | {' '.join(outcomes)} |")
    return "\n".join(rows)


def marks_table() -> str:
    """Marks of the papers by lesson, for each school; a lesson that is not held has none."""
    schools = {"One day": REFRESHER, "Three days": THREE_DAYS, "Six days": SIX_DAYS}
    marks = {name: Counter(dict.fromkeys(LESSONS, 0.0)) for name in schools}
    for name, school in schools.items():
        for lessons in school.days:
            for one in paper_of(lessons):
                marks[name][one.lesson] += one.marks
    rows = [f"| Marks of the papers | {' | '.join(schools)} |", "| --- " + "| ---: " * len(schools) + "|"]
    for lesson in LESSONS:
        cells = (f"{marks[name][lesson]:g}" if marks[name][lesson] else "" for name in schools)
        rows.append(f"| {link(lesson)} | {' | '.join(cells)} |")
    rows.append(f"| **all** | {' | '.join(f'**{sum(marks[name].values()):g}**' for name in schools)} |")
    return "\n".join(rows)


def outcome_count() -> int:
    return sum(len(outcomes_of(lesson)) for lesson in LESSONS)


def usual_slip(exercise: str, item: str, slip: str, system: System = System.FIELD) -> str:
    """A slip of an exercise as a sentence, worked out on one draw: what is asked, what it gives, what to say.

    Raises: LookupError if the exercise, the item or the slip is not in the bank any more, which stops the build.
    """
    one = BANK[exercise]
    asked = {i.key: i for i in one.items}[item]
    if not isinstance(asked, Numeric):
        raise LookupError(f"{exercise} {item} has no slips")
    variant = draw(one, np.random.default_rng(1), system)
    values = {found.name: (found, value) for found, value in variant.slip_values(asked, variant.key)}
    found, wrong = values[slip]
    right = variant.shown_answer(asked, variant.key[item])
    advice = fill(in_system(found.advice, system), variant.numbers)
    given = variant.shown_answer(asked, wrong)
    return f"{one.title}, {slip}. One draw has {right}; the slip gives {given}. Say: “{advice}”"
