"""A methylene-blue test: bentonite and drilled solids, what to do next, and what spoils the test."""

from __future__ import annotations

import pint

from exercises.bank.mud_check import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.working import Step
from pitside.bentonite import BLUE_FACTOR, BLUE_FACTOR_METRIC, bentonite_equivalent, split_low_gravity
from pitside.materials import LOW_GRAVITY
from pitside.units import Q

MUD = Q(2, "mL")
#: What the setting wants of the mud, lb/bbl: bentonite between two figures, drilled solids below one. Common practice.
LEAST_BENTONITE, MOST_BENTONITE, MOST_DRILLED = 15, 25, 45
#: Bentonite and drilled solids in lb/bbl, clear of those limits, by what is to be done.
STATES = {
    "fine": ((17, 23), (26, 38)),
    "drilled": ((17, 23), (53, 68)),
    "more": ((8, 12.5), (26, 38)),
    "clay": ((29, 34), (26, 38)),
}
#: What was done at the test, and which way it moves the result. Common practice, no source.
SPOILT = {
    "the peroxide was left out, though there is polymer in the mud": "high",
    "more blue was added and counted after the ring had stayed": "high",
    "the first faint ring was taken, without two more minutes of stirring": "low",
    "the syringe drew gas bubbles along with the mud": "low",
    "the blue ring showed, and showed again on a fresh spot after two more minutes of stirring": "same",
    "each spot was put on the paper with a clean glass rod": "same",
}
OTHER_STATE = "Compare both kinds of solids with what the setting wants, one after the other."
OTHER_WAY = "Did the flask get less mud, or blue that bentonite did not take? Then the result is moved."


def _between(ends: tuple[float, float], share: pint.Quantity) -> pint.Quantity:
    return Q(ends[0] + (ends[1] - ends[0]) * float(share.m_as("")), "lb/bbl")


def _low(n: Numbers) -> pint.Quantity:
    bentonite, drilled = STATES[n.state]
    return _between(bentonite, n.first) + _between(drilled, n.second)


def _blue(n: Numbers) -> pint.Quantity:
    """Blue that the drawn bentonite and drilled solids take, to half a millilitre."""
    bentonite = _between(STATES[n.state][0], n.first)
    equivalent = bentonite + (n.low - bentonite) / 9
    return Q(round((equivalent / BLUE_FACTOR * MUD).m_as("mL") * 2) / 2, "mL")


def _equivalent(n: Known) -> pint.Quantity:
    return bentonite_equivalent(n.blue, MUD)


def _bentonite(n: Known) -> pint.Quantity:
    return (n.a - n.low / 9) / (1 - 1 / 9)


def _state(n: Known) -> str:
    bentonite, drilled = (float(part.m_as("lb/bbl")) for part in (n.b, n.c))
    if drilled > MOST_DRILLED:
        return "drilled"
    return "more" if bentonite < LEAST_BENTONITE else "clay" if bentonite > MOST_BENTONITE else "fine"


def _is_clear(n: Known) -> bool:
    """No part so near to a limit that rounding decides."""
    parts = split_low_gravity(n.low, _equivalent(n))
    bentonite, drilled = (float(part.m_as("lb/bbl")) for part in (parts.bentonite, parts.drilled_solids))
    limits = (bentonite / LEAST_BENTONITE, bentonite / MOST_BENTONITE, drilled / MOST_DRILLED)
    return all(abs(share - 1) > 0.06 for share in limits)


NEAR = absolute(0.4, "lb/bbl", because="the blue is read to half a millilitre; 14.25 or 14.27 kg/m3 for 5 lb/bbl")

EXERCISE = Exercise(
    title="The blue test",
    level=2,
    version=2,
    outcome=Outcome.CLAY,
    tolerance=NEAR,
    digits=3,
    numbers=(
        Pick("state", tuple(STATES)),
        Number("first", Grid(0, 1, 0.05)),
        Number("second", Grid(0, 1, 0.05)),
        Pick("spoilt", tuple(SPOILT)),
        Derived("low", _low, By("lb/bbl", "kg/m3"), By(1, 0)),
        Derived("blue", _blue, "mL", 1),
    ),
    valid=_is_clear,
    envelope=(
        Within("bentonite", lambda n: n.b, Usual(7, 36, "lb/bbl")),
        Within("drilled solids by volume", lambda n: n.c / LOW_GRAVITY, DRILLED_SOLIDS),
    ),
    setting=By(
        "The retort of rig Heron 4 found {low} of low-gravity solids in the mud: bentonite and drilled solids, nothing "
        "else. In the methylene-blue test 2 mL of the mud took {blue} of blue. One mL of blue for each mL of mud "
        "stands for 5 lb/bbl of bentonite. One pound of drilled solids takes one ninth of the blue that one pound of "
        "bentonite takes. The programme wants 15 to 25 lb/bbl of bentonite and at most 45 lb/bbl of drilled solids. "
        "Acid and peroxide are used in the test: goggles and gloves on, and the flask is heated where the laboratory's "
        "rules say.",
        "The retort of rig Heron 4 found {low} of low-gravity solids in the mud: bentonite and drilled solids, nothing "
        "else. In the methylene-blue test 2 mL of the mud took {blue} of blue. One mL of blue for each mL of mud "
        "stands for 14.25 kg/m³ of bentonite. One kilogram of drilled solids takes one ninth of the blue that one "
        "kilogram of bentonite takes. The programme wants 43 to 71 kg/m³ of bentonite and at most 128 kg/m³ of drilled "
        "solids. Acid and peroxide are used in the test: goggles and gloves on, and the flask is heated where the "
        "laboratory's rules say.",
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the bentonite equivalent, if nothing but bentonite had taken the blue?",
            unit=By("lb/bbl", "kg/m3"),
            solve=_equivalent,
            plausible=Range(10, 44, "lb/bbl"),
            marks=Marks(1),
            conventions=(Convention("14.25 kg/m3", lambda n: bentonite_equivalent(n.blue, MUD, BLUE_FACTOR_METRIC)),),
            slips=(
                Slip(
                    "2 mL of mud left out",
                    lambda n: _equivalent(n) * 2,
                    "You took all of the blue for 1 mL of mud. The flask held 2 mL.",
                ),
                Slip(
                    "mud times two",
                    lambda n: _equivalent(n) * 4,
                    "You multiplied by the mud. Divide the blue by the 2 mL of mud.",
                ),
            ),
            working=(Step("Blue over mud, times the factor:", By("{blue} / 2 * 5", "{blue} / 2 * 14.25")),),
        ),
        Numeric(
            key="b",
            ask="How much bentonite is in the mud?",
            unit=By("lb/bbl", "kg/m3"),
            uses=("a",),
            solve=_bentonite,
            plausible=Range(7, 37, "lb/bbl"),
            marks=Marks(1),
            slips=(
                Slip(
                    "equivalent as bentonite",
                    lambda n: n.a,
                    "This is the equivalent. Some of the blue went to the drilled solids: take that off.",
                ),
                Slip(
                    "ninth taken off, and no more",
                    lambda n: n.a - n.low / 9,
                    (
                        "You took a ninth of all low-gravity solids off, and bentonite is among them. Divide by 8/9 as "
                        "well."
                    ),
                ),
            ),
            working=(
                Step(
                    "A ninth of the low-gravity solids off, over what is left of one:",
                    "({a} - {low} / 9) / (1 - 1 / 9)",
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="How much drilled solids is in it?",
            unit=By("lb/bbl", "kg/m3"),
            uses=("b",),
            solve=lambda n: n.low - n.b,
            plausible=Range(22, 75, "lb/bbl"),
            marks=Marks(1),
            slips=(
                Slip(
                    "all low-gravity solids",
                    lambda n: n.low,
                    "These are all low-gravity solids. Take the bentonite off.",
                ),
                Slip(
                    "added", lambda n: n.low + n.b, "You added the bentonite. It is a part of the low-gravity solids."
                ),
            ),
            working=(Step("Low-gravity solids without the bentonite:", "{low} - {b}"),),
        ),
        Choice(
            key="d",
            ask="What do you tell the mud engineer?",
            outcome=Outcome.NEXT_STEP,
            uses=("b", "c"),
            options=(
                Option("fine", "Both are as wanted: write it down, test again as usual.", OTHER_STATE),
                Option(
                    "drilled",
                    "Too many drilled solids: look at screens and cones, run the bowl, then dilute.",
                    OTHER_STATE,
                ),
                Option(
                    "more", "Bentonite is short: he may want to add some, wetted in fresh water first.", OTHER_STATE
                ),
                Option(
                    "clay",
                    "More bentonite than wanted: add none, find out whether the well gives clay, and dilute.",
                    OTHER_STATE,
                ),
            ),
            right=_state,
            marks=Marks(2),
            reason=(
                "Bentonite {b} and drilled solids {c}. Low-gravity solids are not all drilled: a mud with much "
                "bentonite and little rock needs no more machines."
            ),
        ),
        Choice(
            key="e",
            ask="At the next test {spoilt}. What does that do to the bentonite equivalent?",
            outcome=Outcome.NEXT_STEP,
            options=(
                Option("high", "It comes out too high: test again.", OTHER_WAY),
                Option("low", "It comes out too low: test again.", OTHER_WAY),
                Option(
                    "same",
                    "Nothing: that is how it is done.",
                    "This does move the result: think of mud in the flask, and of blue.",
                ),
            ),
            right=lambda n: SPOILT[n.spoilt],
            marks=Marks(1),
            reason=(
                "What was done: {spoilt}. Polymer takes blue too; blue beyond the ring counts too; bubbles are no mud."
            ),
        ),
    ),
)
