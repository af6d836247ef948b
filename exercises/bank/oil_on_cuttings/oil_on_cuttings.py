"""Oil on cuttings from a retort sheet: wet basis, dry basis, recovery check and verdict."""

from __future__ import annotations

import pint

from exercises.bank.oil_on_cuttings import Outcome
from exercises.fleet.envelope import OIL_OFF_DRYING_DECK
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute, relative
from exercises.model.possible import RATIO
from exercises.model.working import Step
from pitside.cuttings import CLOSURE_LIMITS, closes, closure, dry_basis, wet_basis
from pitside.units import Q

BALANCE = relative(0.006, because="a balance of mass; volumes and masses given to three digits")
HALF_POINT = absolute(0.4, "%", because="a check against 95 to 105 %; rounding of early results moves it by 0.2 points")
#: Wrong turns that take millilitres for grams.
ONE_TO_ONE = Q(1, "g/mL")


def _dry(n: Numbers) -> pint.Quantity:
    """What is left in the retort: the sample less its liquids, and less what the test lost or misread."""
    return n.wet_mass * (1 - n.lost) - n.oil * n.density - n.water * ONE_TO_ONE


def _closure(n: Known) -> pint.Quantity:
    return closure(n.wet_mass, n.dry_mass, n.oil, n.density, n.water)


def _verdict(n: Known) -> str:
    if not closes(n.c):
        return "again"
    return "keeps" if n.a <= n.limit else "over"


def _can_be_told(n: Known) -> bool:
    """Neither the share nor the recovery is so near its limit that rounding tips it; half of the tests are over."""
    wet, back = wet_basis(n.oil, n.density, n.wet_mass), _closure(n)
    clear = all(abs((back - limit).m_as("")) > 0.007 for limit in CLOSURE_LIMITS)
    return bool(
        clear
        and OIL_OFF_DRYING_DECK.holds(wet)
        and 0.75 <= (wet / n.limit).m_as("") <= 1.25
        and abs((wet / n.limit).m_as("") - 1) > 0.015
    )


EXERCISE = Exercise(
    title="Oil on cuttings from a retort",
    level=2,
    version=3,
    outcome=Outcome.RETENTION,
    tolerance=BALANCE,
    numbers=(
        Number("wet_mass", Grid(95.0, 130.0, 0.5, "g")),
        Number("oil", Grid(6.0, 17.0, 0.2, "mL")),
        Number("density", Grid(0.79, 0.84, 0.01, "g/mL")),
        Number("water", Grid(3.0, 10.0, 0.2, "mL")),
        Number("lost", Grid(-1.5, 8.0, 0.5, "%")),
        Number("limit", Grid(6.9, 8.4, 0.5, "%")),
        Derived("dry_mass", _dry, "g", 1),
    ),
    valid=_can_be_told,
    envelope=(Within("oil off the deck, wet", lambda n: n.a, OIL_OFF_DRYING_DECK),),
    setting=(
        "On another well of Sandpiper 2, also drilled with invert mud, a drying deck was tried. The retort sheet of "
        "its cuttings: wet cuttings {wet_mass}; base oil in the receiver {oil}, of {density}; water in the receiver "
        "{water}, of 1 g/mL; dry cuttings left in the retort {dry_mass}. In this exercise the permit allows {limit} "
        "base oil by mass of wet cuttings. A retort is hot, and oil vapour burns: run it under the hood, by the "
        "laboratory's procedure."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the base oil by mass of wet cuttings, in percent?",
            unit="%",
            digits=3,
            solve=lambda n: wet_basis(n.oil, n.density, n.wet_mass),
            plausible=Range(4, 13, "%"),
            marks=Marks(2),
            slips=(
                Slip(
                    "millilitres called grams",
                    lambda n: wet_basis(n.oil, ONE_TO_ONE, n.wet_mass),
                    "You used millilitres as if they were grams. Oil is lighter than water: multiply its volume by "
                    "its density.",
                ),
                Slip(
                    "dry basis",
                    lambda n: dry_basis(n.oil, n.density, n.dry_mass),
                    "You divided by the dry cuttings. The wet basis takes the whole sample as it went in.",
                ),
            ),
            working=(Step("Mass of the oil over the wet sample.", "{oil} * {density} / {wet_mass} * 100"),),
        ),
        Numeric(
            key="b",
            ask="What is the base oil by mass of dry cuttings, in percent?",
            unit="%",
            digits=3,
            solve=lambda n: dry_basis(n.oil, n.density, n.dry_mass),
            plausible=Range(4, 17, "%"),
            possible=RATIO,
            marks=Marks(2),
            slips=(
                Slip(
                    "millilitres called grams",
                    lambda n: dry_basis(n.oil, ONE_TO_ONE, n.dry_mass),
                    "You used millilitres as if they were grams. Multiply the volume of the oil by its density.",
                ),
                Slip(
                    "wet basis",
                    lambda n: wet_basis(n.oil, n.density, n.wet_mass),
                    "You divided by the wet sample. The dry basis takes what is left in the retort.",
                ),
            ),
            working=(Step("Mass of the oil over the dry cuttings.", "{oil} * {density} / {dry_mass} * 100"),),
        ),
        Numeric(
            key="c",
            ask="Which share of the sample's mass did the retort give back, in percent?",
            unit="%",
            solve=_closure,
            plausible=Range(91, 103, "%"),
            possible=RATIO,
            tolerance=HALF_POINT,
            marks=Marks(2),
            slips=(
                Slip(
                    "water left out",
                    lambda n: closure(n.wet_mass, n.dry_mass, n.oil, n.density, Q(0, "mL")),
                    "You left the water out. Dry cuttings, oil and water together must give the sample back.",
                ),
                Slip(
                    "millilitres of oil called grams",
                    lambda n: closure(n.wet_mass, n.dry_mass, n.oil, ONE_TO_ONE, n.water),
                    "You added the oil's millilitres as grams. Multiply them by the density of the oil.",
                ),
                Slip(
                    "oil left out",
                    lambda n: closure(n.wet_mass, n.dry_mass, Q(0, "mL"), n.density, n.water),
                    "You left the oil out. Dry cuttings, oil and water together must give the sample back.",
                ),
            ),
            working=(
                Step("Mass of the oil:", "{oil} * {density}", "oil_mass", "g"),
                Step("All that came back, over the sample.", "({dry_mass} + {oil_mass} + {water}) / {wet_mass} * 100"),
            ),
        ),
        Choice(
            key="d",
            ask=(
                "A retort counts only if it gives back 95 to 105 % of the mass. What do you write under the sheet? Use "
                "your answers."
            ),
            options=(
                Option(
                    "keeps",
                    "The test counts, and the cuttings keep the limit.",
                    "Look at the recovery first: outside 95 to 105 % nothing is proved. Then compare the wet basis "
                    "with {limit}.",
                ),
                Option(
                    "over",
                    "The test counts, and the cuttings are over the limit.",
                    "Look at the recovery first. Then compare the wet basis with {limit}, not the dry basis, which is "
                    "always higher.",
                ),
                Option(
                    "again",
                    "The test does not count: find the fault and run it again.",
                    "The recovery lies within 95 to 105 %, so the test counts, whether its result is welcome or not.",
                ),
            ),
            right=_verdict,
            uses=("a", "c"),
            marks=Marks(2),
            outcome=Outcome.LIMIT,
            reason=(
                "The recovery is {c}, and the oil by mass of wet cuttings {a}; the limit is {limit}. A test that gives "
                "back too little or too much proves nothing. The permit's own text and limits come before this "
                "exercise."
            ),
        ),
    ),
)
