"""Five cones and their gauge: which cone is plugged, worn or roping, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations

import pint

from exercises.bank.hydrocyclones import DRILLED, FACTORS, WATER, Outcome
from exercises.fleet.envelope import UNDERFLOW_OF_DESILTER_CONE, UNWEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, Told
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip
from exercises.model.working import Step
from pitside.cyclones import feed_pressure
from pitside.pumps import head_from_pressure
from pitside.units import WATER_4C, Q

CONES = ("one", "two", "three", "four", "five")
#: What the cones of the bank do; two are in order. The first of them is not asked for.
STATES = ("rope", "worn", "plugged", "spray", "spray")
#: Solids by volume and flow (gal/min) of an underflow in each state. From memory: a rope is thick and slow; an apex
#: that is worn wide throws much of what is hardly thicker than the mud.
SOLIDS = {"rope": (0.53, 0.58), "worn": (0.055, 0.075), "spray": (0.26, 0.40)}
FLOWS = {"rope": (0.45, 0.75), "worn": (3.4, 4.8), "spray": (1.0, 1.7)}
#: A worn cone throws more than a cone in order ever does.
UNDERFLOW_WITH_A_WORN_APEX = Usual(0.4, 5.0, "gal/min")
#: Head over the cones (ft) in each state of the header.
HEADS = {"low": (44, 60), "right": (72, 78), "high": (92, 106)}

#: What is done at a cone of each kind. Common practice, no source.
ACTS = {
    "rope": "Open its apex or take load off the bank until it sprays with air in its middle.",
    "worn": "Have the pump locked out, see that no pressure is left, and change the apex for one of the bank's size.",
    "plugged": "Have the pump locked out, see that no pressure is left, and clear the apex with a tool, from the side.",
    "spray": "Leave this cone as it is.",
}
#: What else may be seen at a bank, and what it means. Common practice, no source.
MORE = {
    "the needle of the gauge swings, and the feed pump rattles.": "air",
    "all apexes run nearly dry, and the overflow line runs full down into the next tank, with no vent on it.": "vent",
    "half of the cones are shut, and the gauge stands well above what it read on the first good day.": "few",
    "all cones are open and the gauge reads well, but mud runs on to the next tank in the equalising line.": "round",
}
#: The head that the cones are made for.
MADE_FOR = By("70 to 80 ft", "21.3 to 24.4 m")
SIZE = By("4 in", "102 mm")
OTHER_HEAD = By.each(lambda system: f"Compare the head of (a) with {MADE_FOR.of(system)}.")
OTHER_CONE = "Read the line of this cone once more: what flows out, and is it thick or thin?"


def _states(n: Numbers | Known) -> list[str]:
    return [STATES[int(place)] for place in n.order.split()]


def _state(n: Numbers | Known, cone: str) -> str:
    return _states(n)[CONES.index(cone)]


def _which(n: Known, state: str) -> str:
    return CONES[_states(n).index(state)]


def _between(ends: tuple[float, float], share: pint.Quantity) -> float:
    return ends[0] + (ends[1] - ends[0]) * float(share.m_as(""))


def _flow(cone: str) -> Callable[[Numbers], pint.Quantity]:
    def flow(n: Numbers) -> pint.Quantity:
        state = _state(n, cone)
        return Q(0.0 if state == "plugged" else _between(FLOWS[state], getattr(n, f"{cone}_pace")), "gal/min")

    return flow


def _density(cone: str) -> Callable[[Numbers], pint.Quantity]:
    def density(n: Numbers) -> pint.Quantity:
        state = _state(n, cone)
        share = _between(SOLIDS["spray" if state == "plugged" else state], getattr(n, f"{cone}_place"))
        lightest = n.mud_weight if state == "worn" else n.water
        return lightest + share * (n.drilled - lightest)

    return density


def _line(cone: str) -> Callable[[Numbers], str]:
    """What is measured at a cone; nothing can be weighed where nothing flows."""
    return lambda n: (
        "no flow | nothing to weigh" if _state(n, cone) == "plugged" else f"{{{cone}_flow}} | {{{cone}_density}}"
    )


def _header(n: Known) -> str:
    head = float(n.a.m_as("ft"))
    return "low" if head < 70 else "right" if head <= 80 else "high"


def _cones(advice: str) -> tuple[Option, ...]:
    return tuple(Option(cone, f"Cone {number}", advice) for number, cone in enumerate(CONES, 1))


EXERCISE = Exercise(
    title="Five cones and a gauge",
    level=2,
    version=3,
    outcome=Outcome.UNDERFLOW,
    numbers=(
        Number("mud_weight", Grid(8.8, 9.4, 0.1, "lb/gal"), Grid(1050, 1130, 10, "kg/m3")),
        Pick("order", tuple(" ".join(order) for order in sorted(set(permutations("01234"))))),
        Pick("header", tuple(HEADS)),
        Number("header_place", Grid(0, 1, 0.05)),
        Pick("asked", tuple(CONES)),
        Pick("more", tuple(MORE)),
        *(Number(f"{cone}_place", Grid(0, 1, 0.05)) for cone in CONES),
        *(Number(f"{cone}_pace", Grid(0, 1, 0.05)) for cone in CONES),
        WATER,
        DRILLED,
        Derived(
            "pressure",
            lambda n: feed_pressure(n.mud_weight, Q(_between(HEADS[n.header], n.header_place), "ft")),
            By("psi", "kPa"),
            By(1, 0),
        ),
        *(Derived(f"{cone}_flow", _flow(cone), By("gal/min", "L/min"), By(2, 1)) for cone in CONES),
        *(Derived(f"{cone}_density", _density(cone), By("lb/gal", "kg/m3"), By(1, -1)) for cone in CONES),
        *(Told(f"{cone}_line", _line(cone)) for cone in CONES),
        Told("asked_number", lambda n: str(CONES.index(n.asked) + 1)),
    ),
    envelope=(
        Within("unweighted mud", lambda n: n.mud_weight, UNWEIGHTED_MUD),
        Within(
            "underflow of a cone that does not wear",
            lambda n: getattr(n, f"{n.asked}_flow") if _state(n, n.asked) in ("rope", "spray") else None,
            UNDERFLOW_OF_DESILTER_CONE,
        ),
        Within(
            "underflow of the worn cone",
            lambda n: getattr(n, f"{_which(n, 'worn')}_flow"),
            UNDERFLOW_WITH_A_WORN_APEX,
        ),
    ),
    setting=By.each(
        lambda system: (
            f"The {SIZE.of(system)} cones of the desilter on rig Heron 4 run in unweighted mud of "
            f"{{mud_weight}}. All are of one make and "
            "take their feed from one header, whose gauge reads {pressure}. They are made for a head of "
            f"{MADE_FOR.of(system)} of the mud itself. The underflow of each cone was caught for a minute and "
            "weighed:\n\n| | Underflow | Its weight |\n| --- | ---: | ---: |\n"
            + "\n".join(f"| Cone {number} | {{{cone}_line}} |" for number, cone in enumerate(CONES, 1))
            + "\n\nDrilled solids weigh {drilled} and water {water}. A cone ropes when more than half of its underflow "
            "is solids. A header under pressure can throw mud into eyes: goggles on, and no hand under an apex that "
            "runs."
        )
    ),
    parts=(
        Numeric(
            key="a",
            ask="What head of its own mud stands at the header?",
            unit=By("ft", "m"),
            outcome=Outcome.FEED,
            solve=lambda n: head_from_pressure(n.pressure, n.mud_weight),
            plausible=Range(43, 108, "ft"),
            tolerance=FACTORS,
            digits=3,
            conventions=(Convention("0.052", lambda n: n.pressure / n.mud_weight / Q(0.052, "psi/ft/(lb/gal)")),),
            marks=Marks(1),
            slips=(
                Slip(
                    "head of water",
                    lambda n: head_from_pressure(n.pressure, WATER_4C),
                    "This is the head of water at that pressure. Mud is heavier, so its head is less.",
                ),
                Slip(
                    "pressure called head",
                    lambda n: Q(n.pressure.m_as("psi"), "ft"),
                    "This is the reading in psi. Divide it by 0.052 and by the mud weight to get feet.",
                    only=System.FIELD,
                ),
                Slip(
                    "9.81 left out",
                    lambda n: head_from_pressure(n.pressure, n.mud_weight) * 9.80665,
                    "You left gravity out: divide by 9.81 m/s² as well.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By("Pressure over 0.05195 and the mud weight.", "Pressure over density and gravity."),
                    By("{pressure} / (0.05195 * {mud_weight})", "{pressure} * 1000 / ({mud_weight} * 9.807)"),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="What does the header tell you?",
            outcome=Outcome.FEED,
            uses=("a",),
            options=(
                Option("low", "The head is too low: the cones cut coarse, even with good apexes.", OTHER_HEAD),
                Option("right", "The head is right: look at the cones themselves.", OTHER_HEAD),
                Option("high", "The head is too high: the cones wear fast and gain little.", OTHER_HEAD),
            ),
            right=_header,
            marks=Marks(1),
            reason="The head is {a}. Cones are set by the head of the mud, not by a pressure that fits all muds.",
        ),
        Choice(
            key="c",
            ask="Which cone ropes?",
            options=_cones("A rope is thick and slow: more than half of it is solids, and little flows."),
            right=lambda n: _which(n, "rope"),
            marks=Marks(1),
            reason="Its underflow is the heaviest and the slowest of those that flow; more than half of it is solids.",
        ),
        Choice(
            key="d",
            ask="Which cone has a worn apex?",
            options=_cones("A wide apex throws much, and what it throws is hardly heavier than the mud."),
            right=lambda n: _which(n, "worn"),
            marks=Marks(1),
            reason="It throws two to four times as much as its neighbours, and its underflow is nearly mud.",
        ),
        Choice(
            key="e",
            ask="A wrong head is put right at the pump. What do you do at cone {asked_number} itself?",
            options=tuple(Option(state, act, OTHER_CONE) for state, act in ACTS.items()),
            right=lambda n: _state(n, n.asked),
            marks=Marks(2),
            reason=(
                "A rope needs a wider apex or less load, a worn apex a new one, a plugged one a tool, once the pump is "
                "locked out and the pressure is gone. A cone that throws a spray of about a third of solids is left "
                "alone."
            ),
        ),
        Choice(
            key="f",
            ask="On another day this is seen at the bank: {more} What is the matter?",
            outcome=Outcome.FEED,
            options=(
                Option("air", "The feed pump draws air.", "Air makes the needle swing and the pump rattle."),
                Option(
                    "vent",
                    "The overflow header has no vent: the full line pulls on the cones like a siphon.",
                    "A siphon draws solids up from all cones.",
                ),
                Option(
                    "few",
                    "Too few cones are open for this pump.",
                    "Count the cones that are shut, and look at the gauge.",
                ),
                Option(
                    "round", "Mud goes round the bank to the next tank.", "Follow the mud through the equalising line."
                ),
            ),
            right=lambda n: MORE[n.more],
            marks=Marks(1),
            reason=(
                "A needle that swings means air. An overflow line that runs full down to the next tank sucks; a vent "
                "at its top ends that. Shut cones push the pressure up. What the bank does not take goes round it."
            ),
        ),
    ),
)
