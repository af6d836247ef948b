"""Grains that settle in a crowd."""

from __future__ import annotations

import pint

from exercises.bank.settling import LIQUID, Outcome
from exercises.fleet.envelope import ALL_SOLIDS, LIQUID_BETWEEN_GRAINS, VISCOSITY_BETWEEN_GRAINS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.settling import (
    STOKES_EXPONENT,
    hindered_velocity,
    reynolds_number,
    richardson_zaki_exponent,
    terminal_velocity,
)
from pitside.units import Q


def _alone(n: Numbers) -> pint.Quantity:
    return terminal_velocity(n.grain, LOW_GRAVITY, n.liquid, n.viscosity)


def _reynolds(n: Numbers) -> pint.Quantity:
    return reynolds_number(n.alone, n.grain, n.liquid, n.viscosity)


def _time(n: Known, velocity: pint.Quantity) -> pint.Quantity:
    return n.depth / velocity


def _is_clear(n: Known) -> bool:
    """A Reynolds number in the last line of the list, and grains that clearly reach the bottom in time or do not."""
    reynolds = n.reynolds.m_as("")
    hindered = hindered_velocity(n.alone, n.solids, richardson_zaki_exponent(n.reynolds))
    share = (_time(n, hindered) / n.stay).m_as("")
    return 1.1 <= reynolds <= 40 and not 0.8 <= share <= 1.25


EXERCISE = Exercise(
    title="Grains that settle in a crowd",
    level=2,
    version=3,
    outcome=Outcome.HINDERED,
    numbers=(
        Number("grain", Grid(140, 400, 10, "um")),
        Number("viscosity", Grid(2, 12, 0.5, "cP"), Grid(2, 12, 0.5, "mPa.s")),
        LIQUID,
        Number("solids", Grid(5, 25, 1, "%")),
        Number("depth", Grid(5.0, 9.0, 0.5, "ft"), Grid(1.5, 2.8, 0.1, "m")),
        Number("stay", Grid(1.0, 6.0, 0.5, "min")),
        Derived("alone", _alone, By("ft/min", "mm/s"), By(3, 2)),
        Derived("reynolds", _reynolds, "fraction", 2),
    ),
    valid=_is_clear,
    envelope=(
        Within("liquid between the grains", lambda n: n.liquid, LIQUID_BETWEEN_GRAINS),
        Within("viscosity between the grains", lambda n: n.viscosity, VISCOSITY_BETWEEN_GRAINS),
        Within("solids of the mud", lambda n: n.solids, ALL_SOLIDS),
    ),
    setting=(
        "On another well of rig Heron 4 a shaker screen has torn, and drilled grains of {grain} settle in the settling "
        "tank, through a liquid of "
        "{liquid} and {viscosity}. Taken as a smooth ball, one such grain alone would fall at {alone}, with a Reynolds "
        "number of {reynolds}; formulas for rough grains give less, but go on with this figure. The mud holds {solids} "
        "of solids by volume, and a grain in a crowd falls more slowly: velocity × (1 − solids)^n. Here n is 4.65 "
        "below a Reynolds number of 0.2, 4.35 Re^(−0.03) from 0.2 to 1, and 4.45 Re^(−0.1) from 1 to 500. The mud is "
        "{depth} deep in the tank and stays there for {stay}. A settling tank is a confined space: nobody goes in to "
        "look or to dig before agitator, pumps and valves are locked out, the air is tested, the permit is signed, and "
        "a standby person and the means of rescue are at the opening, all by the site's own rules."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the exponent n?",
            unit="fraction",
            digits=3,
            solve=lambda n: richardson_zaki_exponent(n.reynolds),
            plausible=Range(3, 4.42),
            tolerance=relative(0.005, because="it is given to two decimals"),
            marks=Marks(1),
            slips=(
                Slip(
                    "slow grains",
                    lambda n: Q(STOKES_EXPONENT),
                    "4.65 is for a Reynolds number below 0.2. Take the line of the list in which yours lies.",
                ),
                Slip(
                    "minus sign left out",
                    lambda n: richardson_zaki_exponent(n.reynolds) * n.reynolds**0.2,
                    "You raised the Reynolds number to a power without its minus sign.",
                ),
            ),
            working=(Step("The Reynolds number lies between 1 and 500.", "4.45 * {reynolds}**(-0.1)", digits=3),),
        ),
        Numeric(
            key="b",
            ask="How fast do the grains settle in this mud?",
            unit=By("ft/min", "mm/s"),
            uses=("a",),
            solve=lambda n: hindered_velocity(n.alone, n.solids, n.a),
            plausible=Range(0.4, 9, "ft/min"),
            tolerance=relative(0.01, because="an exponent rounded to 0.01 moves it by 0.3 %, rounding by less"),
            marks=Marks(2),
            slips=(
                Slip(
                    "solids for one minus solids",
                    lambda n: n.alone * n.solids.to("") ** n.a,
                    "You raised the solids to the power n. The grain keeps (1 − solids) to the power n.",
                ),
                Slip(
                    "no hindrance",
                    lambda n: n.alone,
                    "This is the velocity of a grain alone. In a crowd it is slower: multiply by (1 − solids)^n.",
                ),
                Slip(
                    "exponent as a factor",
                    lambda n: n.alone * (1 - n.solids.to("")),
                    "You multiplied by 1 − solids only once. Raise it to the power n.",
                ),
            ),
            working=(
                Step("What is left of the velocity:", "(1 - {solids} / 100)**({a})", "share", "fraction"),
                Step("Times the velocity of a grain alone:", "{alone} * {share}"),
            ),
        ),
        Numeric(
            key="c",
            ask="How long does a grain take from the surface to the bottom of the tank, in minutes?",
            unit="min",
            digits=3,
            uses=("b",),
            solve=lambda n: _time(n, n.b),
            plausible=Range(0.6, 22, "min"),
            tolerance=relative(0.01, because="an exact division of numbers that were rounded on the way"),
            marks=Marks(1),
            slips=(
                Slip(
                    "velocity of a grain alone",
                    lambda n: _time(n, n.alone),
                    "You divided by the velocity of a grain alone. Take the velocity in the crowd, from (b).",
                ),
                Slip(
                    "minutes and seconds mixed",
                    lambda n: _time(n, n.b) * 60,
                    By(
                        "Your time is sixty times too long. ft over ft/min gives minutes already.",
                        "This is the number of seconds. Divide by 60.",
                    ),
                ),
            ),
            working=(
                Step(
                    By("Depth over velocity.", "Depth over velocity, in mm and mm/s, and 60 s to the minute."),
                    By("{depth} / {b}", "{depth} * 1000 / {b} / 60"),
                    digits=3,
                ),
            ),
        ),
        Choice(
            key="d",
            ask="Take the mud as calm. Do grains that came in at the surface reach the bottom before the mud leaves?",
            options=(
                Option(
                    "yes", "Yes, all of them.", "Compare the time of (c) with the stay: they need longer than that."
                ),
                Option(
                    "no",
                    "No, none of them: they leave with the mud.",
                    "Compare the time of (c) with the stay: they need less than that.",
                ),
            ),
            right=lambda n: "yes" if n.c <= n.stay else "no",
            uses=("c",),
            marks=Marks(1),
            reason="A grain needs {c} from top to bottom; the mud stays for {stay}. Stirring makes it worse.",
        ),
    ),
)
