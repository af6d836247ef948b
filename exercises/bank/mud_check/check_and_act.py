"""A mud check beside its programme: what stands out, what to do next, and what the gels say of a stop."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.bank.mud_check import Outcome
from exercises.fleet.envelope import UNWEIGHTED_MUD, WEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick
from exercises.model.parts import Choice, Marks, Option, Point, Written
from pitside.units import Q

#: What each state adds to the readings of yesterday: weight (lb/gal), funnel (s), plastic viscosity (cP), yield point
#: (lbf/100 ft2), sand (%), low-gravity solids (%), bentonite equivalent (lb/bbl), chlorides (as a multiple).
READINGS = ("weight", "funnel", "viscosity", "point", "sand", "low", "blue", "chloride")
STATES = {
    "sand": (0.1, 2, 1, 1, 0.75, 0.5, 0, 1.0),
    "fines": (0.4, 9, 13, 2, 0.0, 3.0, 0.5, 1.0),
    "clay": (0.2, 16, 4, 14, 0.0, 1.5, 10, 1.0),
    "salt": (0.1, 14, 1, 15, 0.0, 0.2, 0, 4.5),
    "water": (-0.2, -4, -3, -3, 0.0, -0.5, -2, 0.9),
    "well": (-0.2, 10, 0, 11, 0.0, -0.5, -2, 3.0),
}
SAYS = {
    "sand": "Sand passes the shakers.",
    "fines": "Fine drilled solids build up.",
    "clay": "Clay of the well swells in the mud.",
    "salt": "Salt comes into the mud; its weight and volume hardly change.",
    "water": "Somebody ran fresh water into the mud.",
    "well": "Salt water of the well flows into the mud.",
}
ACTS = {
    "sand": "Look for a torn or badly seated screen and an open bypass, and see that the cones run.",
    "fines": "Check that bowl and screens work well. Then work out how much dilution is still needed.",
    "clay": "Ask the mud engineer for inhibition and dilution, and take finer screens where the flow allows.",
    "salt": "Tell the driller at once, then the mud engineer: find where the salt comes from, the well or a sack, and "
    "treat for it.",
    "water": "Call the driller at once: he checks the well for flow. Then find the open water valve, shut it, and "
    "say how much ran in.",
    "well": "Call the driller at once: light and salty mud and rising pits can be a flow from the well.",
}
OTHER_STATE = "That would move other lines of the check. Which lines moved most, and which stayed?"
#: Gels after 10 s, 10 min and 30 min, and what they say. Common practice, no source.
GELS = {"flat": (7, 10, 12), "climbing": (7, 19, 38), "none": (1, 1, 2)}


def _added(reading: str, unit: str) -> Callable[[Numbers], pint.Quantity]:
    place = READINGS.index(reading)

    def today(n: Numbers) -> pint.Quantity:
        moved = STATES[n.state][place] * float(n.strength.m_as(""))
        return getattr(n, f"{reading}_before") + Q(moved, unit)

    return today


def _sand(n: Numbers) -> pint.Quantity:
    """A sand tube is read to a quarter of a percent."""
    return n.sand_before + Q(STATES[n.state][READINGS.index("sand")], "percent")


def _chloride(n: Numbers) -> pint.Quantity:
    times = 1 + (STATES[n.state][-1] - 1) * float(n.strength.m_as(""))
    return n.chloride_before * times


def _gel(place: int) -> Callable[[Numbers], pint.Quantity]:
    return lambda n: Q(GELS[n.gels][place] * float(n.gel_strength.m_as("")), "lbf_100ft2")


def _pits_before(n: Numbers) -> pint.Quantity:
    """Yesterday nothing but the new hole moved the pits."""
    return -n.fall


def _pits(n: Numbers) -> pint.Quantity:
    """The pits rise where water runs in or the well flows, and fall a little where hole is drilled."""
    return n.rise if n.state in ("water", "well") else -n.fall


STRESS = By("lbf/100ft2", "Pa")

EXERCISE = Exercise(
    title="The check and what comes next",
    level=2,
    version=4,
    outcome=Outcome.NEXT_STEP,
    numbers=(
        Pick("state", tuple(STATES)),
        Pick("gels", tuple(GELS)),
        Number("strength", Grid(0.85, 1.15, 0.05)),
        Number("gel_strength", Grid(0.8, 1.2, 0.05)),
        Number("weight_before", Grid(9.6, 11.5, 0.1, "lb/gal"), Grid(1150, 1380, 10, "kg/m3")),
        Number("funnel_before", Grid(46, 54, 1, "s")),
        Number("viscosity_before", Grid(16, 20, 1, "cP"), Grid(16, 20, 1, "mPa.s")),
        Number("point_before", Grid(12, 16, 1, "lbf/100ft2"), Grid(6.0, 8.0, 0.5, "Pa")),
        Number("sand_before", Grid(0.25, 0.25, 0.25, "%")),
        Number("low_before", Grid(3.5, 5.0, 0.5, "%")),
        Number("blue_before", Grid(18, 23, 0.5, "lb/bbl"), Grid(51, 66, 1, "kg/m3")),
        Number("chloride_before", Grid(600, 1500, 50)),
        Number("rise", Grid(12, 30, 1, "bbl"), Grid(2.0, 5.0, 0.2, "m3")),
        Number("fall", Grid(2, 8, 1, "bbl"), Grid(0.4, 1.2, 0.2, "m3")),
        Derived("weight", _added("weight", "lb/gal"), By("lb/gal", "kg/m3"), By(1, -1)),
        Derived("funnel", _added("funnel", "s"), "s", 0),
        Derived("viscosity", _added("viscosity", "cP"), By("cP", "mPa.s"), 0),
        Derived("point", _added("point", "lbf_100ft2"), STRESS, By(0, 1)),
        Derived("sand", _sand, "%", 2),
        Derived("low", _added("low", "percent"), "%", 1),
        Derived("blue", _added("blue", "lb/bbl"), By("lb/bbl", "kg/m3"), By(1, 0)),
        Derived("chloride", _chloride, "fraction", -2),
        Derived("pits_before", _pits_before, By("bbl", "m3"), By(0, 1)),
        Derived("pits", _pits, By("bbl", "m3"), By(0, 1)),
        Derived("first_gel", _gel(0), STRESS, By(0, 1)),
        Derived("second_gel", _gel(1), STRESS, By(0, 1)),
        Derived("third_gel", _gel(2), STRESS, By(0, 1)),
    ),
    envelope=(
        Within("mud weight", lambda n: n.weight, Usual(UNWEIGHTED_MUD.low, WEIGHTED_MUD.high, "lb/gal")),
        Within("low-gravity solids with bentonite", lambda n: n.low, Usual(2, 10, "%")),
        Within("plastic viscosity", lambda n: n.viscosity, Usual(8, 40, "cP")),
    ),
    setting=(
        "Rig Heron 4 drills with a lightly weighted water-base mud that should stay as it was yesterday. New hole "
        "takes a little mud each hour. What has changed began some hours ago. Nobody has told you of a transfer or a "
        "treatment. Both checks were taken at the suction:\n\n| | Yesterday | Today |\n| --- | ---: | ---: |\n| Mud "
        "weight | {weight_before} | {weight} |\n| "
        "Funnel | {funnel_before} | {funnel} |\n| Plastic viscosity | {viscosity_before} | {viscosity} |\n| Yield "
        "point | {point_before} | {point} |\n| Sand | {sand_before} | {sand} |\n| Low-gravity solids | {low_before} | "
        "{low} |\n| Bentonite equivalent | {blue_before} | {blue} |\n| Chlorides (mg/L) | {chloride_before:n} | "
        "{chloride:n} |\n| Change of the pits in the last hour | {pits_before} | {pits} |\n\nTreating the mud is for "
        "the mud engineer, and the well for the driller; the solids hand tells both what he found."
    ),
    parts=(
        Choice(
            key="a",
            ask="What has happened?",
            options=tuple(Option(state, says, OTHER_STATE) for state, says in SAYS.items()),
            right=lambda n: n.state,
            marks=Marks(2),
            reason=(
                "Weight {weight_before} to {weight}, plastic viscosity {viscosity_before} to {viscosity}, yield point "
                "{point_before} to {point}, sand {sand_before} to {sand}, bentonite equivalent {blue_before} to "
                "{blue}, chlorides {chloride_before:n} to {chloride:n} mg/L, pits {pits}. Read them together: no line "
                "tells it alone. A little less in the pits each hour fills the new hole; the driller is told of them "
                "all the same."
            ),
        ),
        Choice(
            key="b",
            ask="What do you do first?",
            options=tuple(Option(state, act, OTHER_STATE) for state, act in ACTS.items()),
            right=lambda n: n.state,
            marks=Marks(2),
            reason="A reading is taken to be acted on. Whatever may be the well goes to the driller before all else.",
        ),
        Choice(
            key="c",
            ask=(
                "On another day the gels are {first_gel} after 10 s, {second_gel} after 10 min and {third_gel} after "
                "30 min. The pumps stop for half an hour. What do you expect then?"
            ),
            outcome=Outcome.RHEOLOGY,
            options=(
                Option(
                    "flat",
                    "Cuttings and barite stay up, and the pumps start easily.",
                    "Do the three gels stay close together, and are they more than nothing?",
                ),
                Option(
                    "climbing",
                    "The mud has set: ask the driller to break it slowly, for starting takes much pressure.",
                    "Do the gels keep climbing from the first to the third?",
                ),
                Option(
                    "none",
                    "Barite and cuttings have sunk: tell the driller, stir the tanks, expect light mud first, then "
                    "heavy.",
                    "Is there a gel at all that could carry a grain?",
                ),
            ),
            right=lambda n: n.gels,
            marks=Marks(1),
            reason=(
                "{first_gel}, {second_gel}, {third_gel}: gels that come fast and stay carry the grains; gels that "
                "climb and climb hold the whole column; without gels everything sinks."
            ),
        ),
        Written(
            key="d",
            ask=(
                "Tell the mud engineer by telephone, in two or three sentences, what you found in (a) and which "
                "readings show it."
            ),
            points=(
                Point("names the two or three lines that moved, with figures of yesterday and today", 1),
                Point("keeps what was read apart from what is only guessed, and says what is checked next", 1),
            ),
            model=(
                "Yesterday and today at the suction: weight {weight_before} and {weight}, plastic viscosity "
                "{viscosity_before} and {viscosity}, yield point {point_before} and {point}, chlorides "
                "{chloride_before:n} and {chloride:n} mg/L, sand {sand_before} and {sand}. That is what I read; the "
                "cause is my conclusion. I repeat the two lines that moved most now, and call you back."
            ),
        ),
    ),
)
