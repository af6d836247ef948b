"""Removal performance of a section."""

from __future__ import annotations

import pint

from exercises.bank.dilution import Outcome
from exercises.fleet.envelope import DRILLED_SOLIDS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Known, Marks, Numeric, Slip, absolute, relative
from exercises.model.usual_slips import upside_down
from exercises.model.working import Step
from pitside.removal import (
    clean_mud,
    dilution_factor,
    drilled_hole_volume,
    drilled_solids,
    mud_built,
    removal_performance,
    total_dilution,
)
from pitside.units import Q

BALANCE = relative(0.01, because="a volume balance of figures given to two or three digits")


def _solids(n: Known) -> pint.Quantity:
    return drilled_solids(n.diameter, n.length, n.washout, n.porosity)


def _is_a_usual_section(n: Known) -> bool:
    """A system that removes between 40 and 90 % of what is drilled."""
    if n.porosity == n.washout or not Q(2, "percent") <= 1 - n.share - n.drilled <= Q(7, "percent"):
        return False
    performance = removal_performance(mud_built(n.base_fluid, n.share), _solids(n), n.drilled)
    return bool(0.4 <= performance <= 0.9)


EXERCISE = Exercise(
    title="Removal performance of a section",
    level=2,
    version=4,
    outcome=Outcome.PERFORMANCE,
    tolerance=BALANCE,
    numbers=(
        Number("diameter", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("length", Grid(1800, 6000, 100, "ft"), Grid(550, 1800, 10, "m")),
        Number("washout", Grid(5, 20, 1, "%")),
        Number("porosity", Grid(8, 25, 1, "%")),
        Number("base_fluid", Grid(600, 3000, 20, "bbl"), Grid(100, 480, 5, "m3")),
        Number("share", Grid(86, 91, 1, "%")),
        Number("drilled", Grid(4.0, 7.0, 0.1, "%")),
    ),
    valid=_is_a_usual_section,
    envelope=(Within("drilled solids", lambda n: n.drilled, DRILLED_SOLIDS),),
    setting=(
        "Rig Heron 4 drilled {length} of {diameter} hole in well Marram-1. The caliper shows a washout of {washout} of "
        "the volume that the bit drills; the rock has a porosity of {porosity}. Over the section {base_fluid} of water "
        "were added to the mud. The retorts average {share} water and {drilled} drilled solids; the rest is bentonite, "
        "lubricant and salt."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of rock, without its pores, went into the mud?",
            unit=By("bbl", "m3"),
            solve=_solids,
            plausible=Range(200, 1200, "bbl"),
            marks=Marks(2),
            slips=(
                Slip(
                    "porosity left out",
                    lambda n: drilled_hole_volume(n.diameter, n.length, n.washout),
                    "This is the volume of the hole. The pores are no rock: multiply by 100 % minus the porosity.",
                ),
                Slip(
                    "washout left out",
                    lambda n: drilled_solids(n.diameter, n.length, 0.0, n.porosity),
                    "You left the washout out. It is drilled rock too: multiply by 100 % plus the washout.",
                ),
                Slip(
                    "washout on the diameter",
                    lambda n: drilled_solids(n.diameter * (1 + n.washout), n.length, 0.0, n.porosity),
                    "You made the diameter larger by the washout. It is given by volume: enlarge the volume.",
                ),
                Slip(
                    "pores alone",
                    lambda n: drilled_hole_volume(n.diameter, n.length, n.washout) * n.porosity,
                    "This is the volume of the pores. The rock is the rest: multiply by 100 % minus the porosity.",
                ),
            ),
            working=(
                Step(
                    By("Hole of the bit's size, in barrels:", "Hole of the bit's size:"),
                    By("{diameter}**2 / 1029.4 * {length}", "pi / 4 * ({diameter} / 1000)**2 * {length}"),
                    "hole",
                    By("bbl", "m3"),
                    digits=5,
                ),
                Step("With the washout, without the pores:", "{hole} * (1 + {washout} / 100) * (1 - {porosity} / 100)"),
            ),
        ),
        Numeric(
            key="b",
            ask="What volume of mud was built with the water?",
            unit=By("bbl", "m3"),
            solve=lambda n: mud_built(n.base_fluid, n.share),
            plausible=Range(600, 4200, "bbl"),
            marks=Marks(1),
            slips=(
                Slip(
                    "water taken as the mud",
                    lambda n: n.base_fluid,
                    "This is the water alone. The mud holds other things too: divide by the share of water.",
                ),
                Slip(
                    "multiplied by the share",
                    lambda n: n.base_fluid * n.share,
                    "You multiplied by the share of water. The mud is more than its water: divide by the share.",
                ),
            ),
            working=(Step("Water over its share of the mud.", "{base_fluid} / ({share} / 100)"),),
        ),
        Numeric(
            key="c",
            ask=(
                "Suppose that the machines take nothing out. In what volume of mud is all the rock {drilled}? Count "
                "the rock as part of the mud."
            ),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: total_dilution(n.a, n.drilled),
            plausible=Range(2500, 30_000, "bbl"),
            marks=Marks(1),
            slips=(
                Slip(
                    "multiplied by the share",
                    lambda n: n.a * n.drilled,
                    "You multiplied by the share of drilled solids. Divide: the rock is a small part of that mud.",
                ),
                Slip(
                    "clean mud only",
                    lambda n: clean_mud(n.a, n.drilled),
                    "You took the rock off. The rock over its share is the whole mud, rock and all.",
                ),
            ),
            working=(Step("Rock over its share of the mud.", "{a} / ({drilled} / 100)"),),
        ),
        Numeric(
            key="d",
            ask="What is the dilution factor? Give two or three decimals.",
            unit="fraction",
            digits=3,
            uses=("b", "c"),
            solve=lambda n: dilution_factor(n.b, n.c),
            plausible=Range(0.09, 0.61),
            tolerance=absolute(0.01, "fraction", because="it is given to two decimals"),
            marks=Marks(1),
            slips=(
                upside_down(lambda n: Q(1.0) * n.c / n.b, "The mud that was built goes above the line."),
                Slip(
                    "performance for factor",
                    lambda n: 1 - n.b / n.c,
                    "This is the removal performance. The factor is the mud built over the total dilution.",
                ),
            ),
            working=(Step("Mud built over total dilution.", "{b} / {c}"),),
        ),
        Numeric(
            key="e",
            ask="What is the removal performance of the solids-control system, in percent?",
            unit="%",
            digits=3,
            uses=("d",),
            solve=lambda n: Q(1.0) - n.d,
            plausible=Range(39, 91, "%"),
            tolerance=absolute(1, "%", because="a dilution factor with two decimals carries one percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "factor as performance",
                    lambda n: Q(1.0) * n.d,
                    "This is the dilution factor. It says what was not removed: take it off 100 %.",
                ),
                Slip("sum with the factor", lambda n: Q(1.0) + n.d, "You added the factor. Take it off 100 %."),
            ),
            working=(Step("What dilution did not have to do.", "100 * (1 - {d})"),),
        ),
    ),
)
