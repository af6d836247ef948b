"""Weighting up in two batches, no faster than the mud goes round."""

from __future__ import annotations

import pint

from exercises.bank.weighting import SUM_OF_VOLUMES, TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import BARITE_IN_BULK, WEIGHTED_MUD
from exercises.fleet.rigs import MIDDLE_HOLE, SANDPIPER_2
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Method, Numeric, Slip, relative
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, MINUTES_CALLED_HOURS, forty_two_left_out
from exercises.model.working import Step
from pitside.materials import BARITE
from pitside.units import Q
from pitside.weighting import weighting_mass, weighting_mass_fixed_final

ROUNDED_MASS = "the mass may be rounded to a few sacks or to 0.1 t, and the time to a few minutes"


def _first(n: Known) -> pint.Quantity:
    return weighting_mass(n.volume, n.mud_weight, n.halfway, n.barite)


def _time_round(n: Known) -> pint.Quantity:
    return n.volume / n.flow


def _limits(n: Known | Numbers) -> tuple[pint.Quantity, pint.Quantity]:
    """The rates at which each batch may be mixed by its own round, worked out from the drawn numbers."""
    first = weighting_mass(n.volume, n.mud_weight, n.halfway, n.barite)
    grown = n.volume + first / n.barite
    return first * n.flow / n.volume, weighting_mass(grown, n.halfway, n.target, n.barite) * n.flow / grown


def _mixer(n: Numbers) -> pint.Quantity:
    """A mixer that is slower than the faster of the two batches may be."""
    return max(_limits(n)) / n.pace


def _fastest_second(n: Known) -> pint.Quantity:
    """The second batch has more mud to go round, and so a round and a limit of its own."""
    return n.c / (n.b / n.flow)


def _mixing_time(n: Known) -> pint.Quantity:
    return n.a / min(n.d, n.hopper) + n.c / min(_fastest_second(n), n.hopper)


def _at_one_rate(n: Known) -> pint.Quantity:
    """Both batches as the first one is mixed."""
    return (n.a + n.c) / min(n.d, n.hopper)


def _two_rounds(n: Known) -> pint.Quantity:
    return (n.volume + n.b) / n.flow


def _job_can_be(n: Known) -> bool:
    """A mixer that a rig has; the round of the mud holds one batch back, the mixer clearly the other."""
    if not 100 <= n.hopper.m_as("kg/min") <= 600:
        return False
    limits = [(limit / n.hopper).m_as("") for limit in _limits(n)]
    return bool(0.56 <= min(limits) <= 0.93 and 1.07 <= max(limits) <= 1.38)


EXERCISE = Exercise(
    title="Weighting up in two batches",
    level=2,
    version=4,
    outcome=Outcome.WEIGHTING_UP,
    numbers=(
        Number("volume", Grid(1400, 2000, 20, "bbl"), Grid(224, 316, 2, "m3")),
        Number("mud_weight", Grid(10.0, 13.0, 0.1, "lb/gal"), Grid(1200, 1560, 10, "kg/m3")),
        Number("first_step", Grid(0.5, 1.0, 0.1, "lb/gal"), Grid(60, 120, 10, "kg/m3")),
        Number("second_step", Grid(0.5, 1.0, 0.1, "lb/gal"), Grid(60, 120, 10, "kg/m3")),
        Derived("allowed", lambda n: max(n.first_step, n.second_step), By("lb/gal", "kg/m3"), By(1, 0)),
        Derived("halfway", lambda n: n.mud_weight + n.first_step, By("lb/gal", "kg/m3"), By(1, 0)),
        Derived("target", lambda n: n.halfway + n.second_step, By("lb/gal", "kg/m3"), By(1, 0)),
        Number("barite", Grid(35.0, 35.0, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
        Number("flow", Grid(700, 1000, 10, "gal/min"), Grid(2650, 3800, 50, "L/min")),
        Number("pace", Grid(1.08, 1.36, 0.02)),
        Derived("hopper", _mixer, By("lb/min", "kg/min"), -1),
    ),
    valid=_job_can_be,
    envelope=(
        Within("active mud", lambda n: n.volume, SANDPIPER_2.active),
        Within("target", lambda n: n.target, WEIGHTED_MUD),
        Within("flow", lambda n: n.flow, MIDDLE_HOLE.flow),
        Within("barite in bulk", lambda n: n.hopper, BARITE_IN_BULK),
    ),
    setting=(
        "Rig Sandpiper 2, on a platform, has {volume} of mud of {mud_weight} in hole and pits. Well Marram-2 needs "
        "{target}. The programme asks for two batches: until all the mud weighs {halfway}, then to {target}. The "
        "programme allows a rise of {allowed} in one circulation. There is room in the pits: the volume "
        "grows. Take the density of barite as {barite}. The barite "
        "comes in bulk: air pushes it from a silo to the mixer. The driller and the mud logger are told before each "
        "batch. Barite dust harms the lungs, and a bulk hose is under pressure: masks stay on, and nobody opens a "
        "line before its pressure is gone."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "How many sacks of barite of 100 lb does the first batch take?",
                "How many tonnes of barite does the first batch take?",
            ),
            unit=By("sack", "t"),
            solve=_first,
            plausible=Range(300, 2600, "sack"),
            conventions=(
                Convention("barite of SG 4.20", lambda n: weighting_mass(n.volume, n.mud_weight, n.halfway, BARITE)),
            ),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            slips=(
                Slip(
                    "both batches at once",
                    lambda n: weighting_mass(n.volume, n.mud_weight, n.target, n.barite),
                    "This is the barite for the whole job. The first batch goes to {halfway} only.",
                ),
                Slip(
                    "old weight below the line",
                    lambda n: weighting_mass_fixed_final(n.volume, n.mud_weight, n.halfway, n.barite),
                    "You divided by barite minus the old mud weight. The volume grows: divide by barite minus the "
                    "weight after the batch.",
                ),
                forty_two_left_out(_first),
                KILOGRAMS_CALLED_TONNES.of(_first),
            ),
            working=(
                Step(
                    By("From {mud_weight} to {halfway}; 42 gal in a barrel.", "From {mud_weight} to {halfway}:"),
                    By(
                        "42 * {barite} * ({halfway} - {mud_weight}) / ({barite} - {halfway}) * {volume} / 100",
                        "{barite} * ({halfway} - {mud_weight}) / ({barite} - {halfway}) * {volume} / 1000",
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the volume of mud after the first batch?",
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.volume + n.a / n.barite,
            plausible=Range(1190, 2600, "bbl"),
            tolerance=SUM_OF_VOLUMES,
            marks=Marks(1),
            slips=(
                Slip(
                    "volume kept as it was",
                    lambda n: n.volume,
                    "This is the volume before. The barite adds its own volume: mass over density.",
                ),
                Slip("rise alone", lambda n: n.a / n.barite, "This is the rise. Add it to the volume that was there."),
                Slip(
                    "mud weight for the barite",
                    lambda n: n.volume + n.a / n.halfway,
                    "You divided the mass by the mud weight. Barite takes the room that its own density gives it.",
                ),
            ),
            working=(
                Step(
                    By("The barite's own volume; 42 gal in a barrel.", "The barite's own volume:"),
                    By("{a} * 100 / (42 * {barite})", "{a} * 1000 / {barite}"),
                    "rise",
                    By("bbl", "m3"),
                ),
                Step("On top of what was there:", "{volume} + {rise}"),
            ),
        ),
        Numeric(
            key="c",
            ask=By(
                "How many sacks of barite does the second batch take, from {halfway} to {target}?",
                "How many tonnes of barite does the second batch take, from {halfway} to {target}?",
            ),
            unit=By("sack", "t"),
            uses=("b",),
            solve=lambda n: weighting_mass(n.b, n.halfway, n.target, n.barite),
            plausible=Range(300, 2800, "sack"),
            conventions=(Convention("barite of SG 4.20", lambda n: weighting_mass(n.b, n.halfway, n.target, BARITE)),),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            slips=(
                Slip(
                    "volume before the first batch",
                    lambda n: weighting_mass(n.volume, n.halfway, n.target, n.barite),
                    "You used the volume before the first batch. The mud has grown: use your answer to (b).",
                ),
                Slip(
                    "from the first mud weight",
                    lambda n: weighting_mass(n.b, n.mud_weight, n.target, n.barite),
                    "You weighted up from {mud_weight} again. The second batch starts from {halfway}.",
                ),
                forty_two_left_out(lambda n: weighting_mass(n.b, n.halfway, n.target, n.barite)),
                KILOGRAMS_CALLED_TONNES.of(lambda n: weighting_mass(n.b, n.halfway, n.target, n.barite)),
            ),
            working=(
                Step(
                    "On the volume of (b):",
                    By(
                        "42 * {barite} * ({target} - {halfway}) / ({barite} - {target}) * {b} / 100",
                        "{barite} * ({target} - {halfway}) / ({barite} - {target}) * {b} / 1000",
                    ),
                ),
            ),
        ),
        Numeric(
            key="d",
            ask=By(
                "The first batch must be spread over at least one whole circulation of the mud, so that all of it gets "
                "its share. The pump moves {flow}. How many pounds a minute may be mixed at most? Take the {volume} "
                "for the circulation.",
                "The first batch must be spread over at least one whole circulation of the mud, so that all of it gets "
                "its share. The pump moves {flow}. How many kilograms a minute may be mixed at most? Take the {volume} "
                "for the circulation.",
            ),
            unit=By("lb/min", "kg/min"),
            uses=("a",),
            solve=lambda n: n.a / _time_round(n),
            plausible=Range(250, 2400, "lb/min"),
            tolerance=relative(0.015, because=ROUNDED_MASS),
            marks=Marks(2),
            outcome=Outcome.PLANNING,
            slips=(
                Slip(
                    "an hour for the round",
                    lambda n: n.a / Q(1.0, "h"),
                    "You spread the barite over one hour. A circulation takes the volume over the flow: work that time "
                    "out.",
                ),
                Slip(
                    "42 left out",
                    lambda n: n.a / (mislabelled(n.volume, "bbl", "gal") / n.flow),
                    "You divided barrels by gallons a minute. Turn the barrels into gallons: the circulation takes 42 "
                    "times as long.",
                    only=System.FIELD,
                ),
                Slip(
                    "sacks called pounds",
                    lambda n: mislabelled(n.a / _time_round(n), "sack/min", "lb/min"),
                    "This is the rate in sacks a minute. A sack holds 100 lb: multiply by 100.",
                    only=System.FIELD,
                ),
                Slip(
                    "tonnes called kilograms",
                    lambda n: mislabelled(n.a / _time_round(n), "t/min", "kg/min"),
                    "This is the rate in tonnes a minute. A tonne is 1000 kg: multiply by 1000.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    "One circulation of the mud:",
                    By("{volume} * 42 / {flow}", "{volume} * 1000 / {flow}"),
                    "minutes",
                    "min",
                ),
                Step("The first batch over that time:", By("{a} * 100 / {minutes}", "{a} * 1000 / {minutes}")),
            ),
        ),
        Numeric(
            key="e",
            ask=(
                "In the second batch the volume of (b) is circulated at least once: this batch has a limit of its own. "
                "The mixer can take {hopper}. Mix each batch at the lower of two rates, its own limit and the mixer's. "
                "How many hours of mixing is that, for both batches together?"
            ),
            unit="h",
            uses=("a", "b", "c", "d"),
            solve=_mixing_time,
            plausible=Range(1.6, 12, "h"),
            tolerance=relative(0.02, because="hours are given to a tenth, or to a few minutes"),
            marks=Marks(3, unit=1),
            outcome=Outcome.PLANNING,
            method=(
                Method(
                    "second",
                    By(
                        "How many pounds a minute may be mixed at most in the second batch, by its circulation?",
                        "How many kilograms a minute may be mixed at most in the second batch, by its circulation?",
                    ),
                    By("lb/min", "kg/min"),
                    _fastest_second,
                    relative(0.02, because=ROUNDED_MASS),
                    marks=1,
                    uses=("b", "c"),
                    plausible=Range(250, 2500, "lb/min"),
                ),
            ),
            slips=(
                Slip(
                    "one rate for both batches",
                    _at_one_rate,
                    "You mixed both batches at the rate of the first. The second has another mass and another "
                    "circulation: compare its own limit with the mixer.",
                ),
                Slip(
                    "two rounds",
                    _two_rounds,
                    "You took one circulation for each batch. In one of them the mixer is slower than the circulation "
                    "allows.",
                ),
                Slip(
                    "the second batch alone",
                    lambda n: n.c / min(_fastest_second(n), n.hopper),
                    "This is the second batch. Add the time of the first one.",
                ),
                MINUTES_CALLED_HOURS.of(_mixing_time),
            ),
            working=(
                Step(
                    "One circulation after the first batch:",
                    By("{b} * 42 / {flow}", "{b} * 1000 / {flow}"),
                    "turn",
                    "min",
                ),
                Step(
                    "The limit of the second batch:",
                    By("{c} * 100 / {turn}", "{c} * 1000 / {turn}"),
                    "second",
                    By("lb/min", "kg/min"),
                ),
                Step(
                    "The first batch at the smaller of {hopper} and the limit of (d):",
                    By("{a} * 100 / min({hopper}, {d})", "{a} * 1000 / min({hopper}, {d})"),
                    "one",
                    "min",
                ),
                Step(
                    "The second batch at the smaller of {hopper} and its own limit:",
                    By("{c} * 100 / min({hopper}, {second})", "{c} * 1000 / min({hopper}, {second})"),
                    "two",
                    "min",
                ),
                Step("Both together, in hours:", "({one} + {two}) / 60"),
            ),
        ),
    ),
)
