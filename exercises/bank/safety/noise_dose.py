"""The noise dose of a tour at the shakers."""

from __future__ import annotations

import pint

from exercises.bank.safety import Outcome
from exercises.fleet.envelope import NOISE_AT_SHAKERS, NOISE_AT_TANKS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, absolute, relative
from exercises.model.possible import RATIO
from exercises.model.working import Step
from pitside.noise import OSHA, permitted_time
from pitside.units import Q


def _dose(n: Known, shakers: pint.Quantity, tanks: pint.Quantity) -> pint.Quantity:
    return Q(1.0) * (n.at_shakers / shakers + n.at_tanks / tanks)


def _dose_drawn(n: Known) -> float:
    allowed = [permitted_time(level.m_as(""), OSHA) for level in (n.shakers, n.tanks)]
    return float(_dose(n, *allowed).m_as(""))


def _is_clear(n: Known) -> bool:
    """A tour of no more than ten hours in noise, its dose clear of what the rule allows."""
    dose = _dose_drawn(n)
    return n.at_shakers + n.at_tanks <= Q(10, "h") and abs(dose - 1) >= 0.12 and 0.4 <= dose <= 2.6


def _right(n: Known) -> pint.Quantity:
    return _dose(n, n.a, permitted_time(n.tanks.m_as(""), OSHA))


EXERCISE = Exercise(
    title="A tour in the noise",
    level=1,
    version=2,
    outcome=Outcome.EXPOSURE,
    numbers=(
        Number("shakers", Grid(91, 97, 1)),
        Number("tanks", Grid(84, 91, 1)),
        Number("at_shakers", Grid(1.0, 5.0, 0.5, "h")),
        Number("at_tanks", Grid(2.0, 6.0, 0.5, "h")),
    ),
    valid=_is_clear,
    envelope=(
        Within("noise at the shakers", lambda n: n.shakers, NOISE_AT_SHAKERS),
        Within("noise at the tanks", lambda n: n.tanks, NOISE_AT_TANKS),
    ),
    setting=(
        "A hand spends {at_shakers} of a tour at the shakers, where the meter shows {shakers} dB(A), and {at_tanks} at "
        "the tanks, where it shows {tanks} dB(A). The rule of this exercise allows 8 hours at 90 dB(A), half the "
        "time for each 5 dB more and double the time for each 5 dB less; between these, 8 hours over 2 to the power "
        "of (level − 90) / 5. Every hour at shakers and tanks counts, below 90 dB(A) too. Many countries have a "
        "stricter rule: on a rig the rule of the place decides. The rest of the tour is quiet and counts nothing. The "
        "levels are those without ear protection."
    ),
    parts=(
        Numeric(
            key="a",
            ask="How many hours does the rule allow at the shakers?",
            unit="h",
            solve=lambda n: permitted_time(n.shakers.m_as(""), OSHA),
            plausible=Range(2, 7.5, "h"),
            tolerance=relative(0.02, because="a time to one part in fifty, such as 4.6 for 4.59 h"),
            marks=Marks(2),
            slips=(
                Slip(
                    "half for each 3 dB",
                    lambda n: Q(8, "h") / 2 ** ((n.shakers.m_as("") - 90) / 3),
                    "You halved the time for each 3 dB, as other rules do. This rule halves it for each 5 dB.",
                ),
                Slip(
                    "time in proportion to the level",
                    lambda n: Q(8, "h") * 90 / n.shakers.m_as(""),
                    "You took the time in proportion to the level. It halves for each 5 dB.",
                ),
            ),
            working=(Step("Eight hours, halved for each 5 dB over 90:", "8 / 2**(({shakers} - 90) / 5)"),),
        ),
        Numeric(
            key="b",
            ask="What is the dose of the tour, in percent of what the rule allows?",
            unit="%",
            uses=("a",),
            solve=_right,
            plausible=Range(35, 270, "%"),
            possible=RATIO,
            tolerance=absolute(2, "%", because="times rounded to a tenth of an hour"),
            marks=Marks(2),
            slips=(
                Slip(
                    "shakers alone",
                    lambda n: Q(1.0) * n.at_shakers / n.a,
                    "You counted the shakers alone. Each place adds its share: its time over the time that is allowed.",
                ),
                Slip(
                    "all of the tour at the shakers",
                    lambda n: Q(1.0) * (n.at_shakers + n.at_tanks) / n.a,
                    "You took the whole tour at the level of the shakers. Add the shares of the two places.",
                ),
            ),
            working=(
                Step("What the rule allows at the tanks:", "8 / 2**(({tanks} - 90) / 5)", gives="quiet", unit="h"),
                Step("The two shares, added:", "({at_shakers} / {a} + {at_tanks} / {quiet}) * 100"),
            ),
        ),
        Choice(
            key="c",
            ask="What does the dose ask for?",
            uses=("b",),
            options=(
                Option(
                    "more",
                    "The dose is over what the rule allows: cut the time or the noise first, and wear protection "
                    "meanwhile.",
                    "Compare the dose with 100 %.",
                ),
                Option(
                    "kept",
                    "The dose is within the rule: keep the protection on at shakers and tanks, and have hearing "
                    "checked.",
                    "Compare the dose with 100 %.",
                ),
            ),
            right=lambda n: "more" if n.b > Q(1.0) else "kept",
            marks=Marks(1),
            reason="A dose over 100 % is more than the rule allows. Protection is the last help, not the first.",
        ),
    ),
)
