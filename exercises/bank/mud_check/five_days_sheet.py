"""Five days of a solids sheet: the reading that does not fit, the trend, and when it meets its limit."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.bank.mud_check import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS, UNWEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.units import WATER_4C, Q

DAYS = ("one", "two", "three", "four", "five")
#: Solids of each day above the first's, in steps of the daily rise, by trend.
TRENDS = {
    "climbs": (0, 1, 2, 3, 4),
    "falls": (0, -0.6, -1.2, -1.8, -2.4),
    "levels": (0, 1.4, 2.0, 2.2, 2.2),
}
#: What is wrong with the doubtful line, and what is done about it. Common practice, no source.
WRONGS = {
    "sum": "Its solids and water do not add up to 100 %: find the slip of the pen, or run the retort again.",
    "weight": "Its weight does not fit its solids: tell the driller, prove the balance with water, and weigh again.",
}
#: What stands beside the sheet, and what it explains. Common practice, no source.
NOTES = {
    "the solids climb faster from the third day on. The log says that since then the bowl has been off for its "
    "bearings, and that the rate of drilling is the same": "machine",
    "the solids climb faster from the third day on. The log says that since then the bit has drilled soft clay, twice "
    "as fast as before": "hole",
    "the solids are lower from the third day on. The log says that a third of the active mud was dumped and built new "
    "on that day": "dilution",
    "the solids go down from the third day on. The log says that finer screens were put on that day, and that they "
    "carry the flow": "screens",
}
#: What a percent of low-gravity solids adds to water.
PERCENT_ADDS = By("0.13 lb/gal", "16 kg/m³")
OTHER_NOTE = "Which way would that push the solids, and who would have to know it to read the sheet?"


def _solids(at: int) -> Callable[[Numbers], pint.Quantity]:
    return lambda n: n.first + TRENDS[n.trend][at] * n.rise


def _is_odd(n: Numbers | Known, at: int, wrong: str) -> bool:
    return n.odd == DAYS[at] and n.wrong == wrong


def _weight(at: int) -> Callable[[Numbers], pint.Quantity]:
    """Water and drilled solids together; on a day with a wrong balance, as much heavier as the balance is out."""

    def weight(n: Numbers) -> pint.Quantity:
        solids = getattr(n, f"solids_{DAYS[at]}")
        right = WATER_4C * (1 - solids) + LOW_GRAVITY * solids
        return right + (Q(0.5, "lb/gal") if _is_odd(n, at, "weight") else Q(0, "lb/gal"))

    return weight


def _water(at: int) -> Callable[[Numbers], pint.Quantity]:
    """The rest of the cup; on a day with a wrong retort some of it was lost."""

    def water(n: Numbers) -> pint.Quantity:
        lost = Q(3, "percent") if _is_odd(n, at, "sum") else Q(0, "percent")
        return Q(100, "percent") - getattr(n, f"solids_{DAYS[at]}") - lost

    return water


def _daily(n: Known) -> pint.Quantity:
    return (n.solids_five - n.solids_one) / 4


EXERCISE = Exercise(
    title="Five days of the sheet",
    level=2,
    version=1,
    outcome=Outcome.SHEET,
    digits=3,
    numbers=(
        Pick("trend", tuple(TRENDS)),
        Pick("odd", DAYS[1:4]),
        Pick("wrong", tuple(WRONGS)),
        Pick("note", tuple(NOTES)),
        Number("first", Grid(4.6, 5.4, 0.1, "%")),
        Number("rise", Grid(0.3, 0.6, 0.05, "%")),
        Number("hole", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        *(Derived(f"solids_{day}", _solids(at), "%", 1) for at, day in enumerate(DAYS)),
        *(Derived(f"water_{day}", _water(at), "%", 1) for at, day in enumerate(DAYS)),
        *(Derived(f"weight_{day}", _weight(at), By("lb/gal", "kg/m3"), By(2, 0)) for at, day in enumerate(DAYS)),
    ),
    valid=lambda n: abs(_daily(n).m_as("percent")) >= 0.15,
    envelope=(
        Within("drilled solids on the last day", lambda n: n.solids_five, DRILLED_SOLIDS),
        Within("mud weight on the last day", lambda n: n.weight_five, UNWEIGHTED_MUD),
        Within("change in a day", lambda n: n.c, Usual(-0.6, 0.8, "%")),
    ),
    setting=By.each(
        lambda system: (
            "Rig Heron 4 drills {hole} hole with fresh water, native clay and nothing else: no oil, no barite, no "
            "salt. All solids are low-gravity solids of 2.60, so every percent of them adds about "
            f"{PERCENT_ADDS.of(system)} to water. The sheet of five days, each reading from the suction:\n\n| "
            "Day | Mud weight | Solids | Water |\n| --- | ---: | ---: | ---: |\n"
            + "\n".join(
                f"| {number} | {{weight_{day}}} | {{solids_{day}}} | {{water_{day}}} |"
                for number, day in enumerate(DAYS, 1)
            )
            + "\n\nThe programme allows 8 % of solids. One line of the sheet holds a reading that cannot be right."
        )
    ),
    parts=(
        Choice(
            key="a",
            ask="Which day holds the reading that cannot be right?",
            options=tuple(
                Option(
                    day,
                    f"Day {number}",
                    "Add solids and water of each day, and work out what weight they give together.",
                    never_right=day in ("one", "five"),
                )
                for number, day in enumerate(DAYS, 1)
            ),
            right=lambda n: n.odd,
            marks=Marks(2),
            reason=(
                "Solids and water of a mud without oil are 100 %, and its weight follows from them. One day breaks one "
                "of the two."
            ),
        ),
        Choice(
            key="b",
            ask="What is wrong with it?",
            options=tuple(
                Option(one, text, "Try both: add the shares, and work out the weight.") for one, text in WRONGS.items()
            ),
            right=lambda n: n.wrong,
            marks=Marks(1),
            reason="A reading that does not fit is taken again before anything is built on it. It is never rubbed out.",
        ),
        Numeric(
            key="c",
            ask=(
                "By how many percentage points did the solids change in a day, on average from the first to the last "
                "day? Put a minus sign before a fall."
            ),
            unit="%",
            solve=_daily,
            plausible=Range(-0.45, 0.65, "%"),
            tolerance=absolute(0.02, "%", because="solids are printed to a tenth of a percent, over four days"),
            marks=Marks(1),
            slips=(
                Slip(
                    "over five days",
                    lambda n: _daily(n) * 4 / 5,
                    "You divided by five. From the first to the fifth day four days pass.",
                ),
                Slip(
                    "all of the change",
                    lambda n: _daily(n) * 4,
                    "This is the change over all the days. Divide by the four days.",
                ),
                Slip(
                    "sign turned round",
                    lambda n: Q(-1.0) * _daily(n),
                    "Your sign is turned round: take the first day off the last.",
                ),
            ),
            working=(Step("The last day less the first, over four days:", "({solids_five} - {solids_one}) / 4"),),
        ),
        Choice(
            key="d",
            ask="What does the trend of the five days tell you?",
            options=(
                Option(
                    "climbs",
                    "Solids climb evenly: each day more rock gets into the mud than leaves or is diluted.",
                    "Look at the steps from day to day: do they stay alike, get smaller, or go down?",
                ),
                Option(
                    "levels",
                    "Solids have come to a steady height: as much leaves or is diluted as gets in.",
                    "Look at the steps from day to day: do they stay alike, get smaller, or go down?",
                ),
                Option(
                    "falls",
                    "Solids fall: more leaves or is diluted than gets in.",
                    "Look at the steps from day to day: do they stay alike, get smaller, or go down?",
                ),
            ),
            right=lambda n: n.trend,
            marks=Marks(2),
            reason=(
                "From {solids_one} over {solids_two}, {solids_three} and {solids_four} to {solids_five}: look at the "
                "steps, not at one day."
            ),
        ),
        Choice(
            key="e",
            ask="On the sheet of another well {note}. What do you write beside the sheet?",
            options=(
                Option(
                    "machine",
                    "Solids climb: the plant takes less out. Repair it before anything is diluted.",
                    OTHER_NOTE,
                ),
                Option(
                    "hole",
                    "Solids climb: more rock is made. Plan more dilution while it lasts, and weigh the discard.",
                    OTHER_NOTE,
                ),
                Option(
                    "dilution",
                    "Solids fell in one step: they were dumped, not removed. The plant is no better.",
                    OTHER_NOTE,
                ),
                Option("screens", "Solids turn down slowly: less gets in. Watch how long the panels last.", OTHER_NOTE),
            ),
            right=lambda n: NOTES[n.note],
            marks=Marks(1),
            reason=(
                "The same number can come from the hole, the plant or the dump valve: the log beside the sheet tells "
                "which."
            ),
        ),
    ),
)
