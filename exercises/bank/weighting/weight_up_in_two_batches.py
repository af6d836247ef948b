"""Weighting up in two batches, no faster than the mud goes round."""

from __future__ import annotations

import pint

from exercises.bank.weighting import SUM_OF_VOLUMES, TO_ONE_PERCENT, Outcome
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, relative
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


def _mixing_time(n: Known) -> pint.Quantity:
    return (n.a + n.c) / min(n.d, n.hopper)


def _job_can_be(n: Known) -> bool:
    """Two steps of 0.5 to 1.3 lb/gal, and a hopper that is clearly faster than one round of the mud allows."""
    steps = (n.halfway - n.mud_weight).m_as("lb/gal"), (n.target - n.halfway).m_as("lb/gal")
    if not all(0.5 <= step <= 1.3 for step in steps):
        return False
    limit = (_first(n) / _time_round(n) / n.hopper).m_as("")
    return bool(0.4 <= limit <= 0.85)


EXERCISE = Exercise(
    title="Weighting up in two batches",
    level=2,
    version=1,
    outcome=Outcome.WEIGHTING_UP,
    numbers=(
        Number("volume", Grid(600, 1200, 20, "bbl"), Grid(95, 190, 1, "m3")),
        Number("mud_weight", Grid(10.0, 13.0, 0.1, "lb/gal"), Grid(1200, 1560, 10, "kg/m3")),
        Number("halfway", Grid(10.5, 14.0, 0.1, "lb/gal"), Grid(1260, 1680, 10, "kg/m3")),
        Number("target", Grid(11.0, 15.0, 0.1, "lb/gal"), Grid(1320, 1800, 10, "kg/m3")),
        Number("barite", Grid(35.0, 35.0, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
        Number("flow", Grid(400, 800, 10, "gal/min"), Grid(1500, 3000, 50, "L/min")),
        Number("hopper", Grid(8, 24, 1, "sack/min"), Grid(350, 1000, 10, "kg/min")),
    ),
    valid=_job_can_be,
    setting=(
        "Rig Northern Gannet has {volume} of mud of {mud_weight} in hole and pits. Well Saltreed-7 needs {target}. The "
        "program asks for two batches: first to {halfway} all round, then to {target}. There is room in the pits: the "
        "volume grows. Take the density of barite as {barite}. Barite dust harms the lungs, and sacks harm the back: "
        "the rig's own rules on masks and lifting come first."
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
            plausible=Range(150, 1300, "sack"),
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
            plausible=Range(600, 1300, "bbl"),
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
            plausible=Range(150, 1400, "sack"),
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
                "The first batch must be spread over one whole round of the mud, so that all of it gets its share. The "
                "pump moves {flow}. How many sacks a minute may be mixed at most? Take the {volume} for the round.",
                "The first batch must be spread over one whole round of the mud, so that all of it gets its share. The "
                "pump moves {flow}. How many kilograms a minute may be mixed at most? Take the {volume} for the round.",
            ),
            unit=By("sack/min", "kg/min"),
            uses=("a",),
            solve=lambda n: n.a / _time_round(n),
            plausible=Range(3, 21, "sack/min"),
            tolerance=relative(0.015, because=ROUNDED_MASS),
            marks=Marks(2),
            outcome=Outcome.PLANNING,
            slips=(
                Slip(
                    "an hour for the round",
                    lambda n: n.a / Q(1.0, "h"),
                    "You spread the barite over one hour. A round takes the volume over the flow: work that time out.",
                ),
                Slip(
                    "42 left out",
                    lambda n: n.a / (mislabelled(n.volume, "bbl", "gal") / n.flow),
                    "You divided barrels by gallons a minute. Turn the barrels into gallons: the round takes 42 times "
                    "as long.",
                    only=System.FIELD,
                ),
                Slip(
                    "pounds called sacks",
                    lambda n: mislabelled(n.a / _time_round(n), "lb/min", "sack/min"),
                    "This is the rate in pounds a minute. A sack holds 100 lb: divide by 100.",
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
                    "One round of the mud:", By("{volume} * 42 / {flow}", "{volume} * 1000 / {flow}"), "minutes", "min"
                ),
                Step("The first batch over that time:", By("{a} / {minutes}", "{a} * 1000 / {minutes}")),
            ),
        ),
        Numeric(
            key="e",
            ask=(
                "The hopper can take {hopper}. Both batches are mixed as fast as the hopper and the limit of (d) "
                "allow. How many hours of mixing is that, for both batches together?"
            ),
            unit="h",
            uses=("a", "c", "d"),
            solve=_mixing_time,
            plausible=Range(0.7, 8, "h"),
            tolerance=relative(0.02, because="hours are given to a tenth, or to a few minutes"),
            marks=Marks(2, unit=1),
            outcome=Outcome.PLANNING,
            slips=(
                Slip(
                    "the rate of the hopper",
                    lambda n: (n.a + n.c) / n.hopper,
                    "You mixed as fast as the hopper can. The limit of (d) is slower: it decides.",
                ),
                Slip(
                    "the second batch alone",
                    lambda n: n.c / min(n.d, n.hopper),
                    "This is one batch. Add the barite of both.",
                ),
                MINUTES_CALLED_HOURS.of(_mixing_time),
                Slip(
                    "pounds divided by sacks",
                    lambda n: 100 * _mixing_time(n),
                    "You divided pounds by sacks a minute. Use sacks above the line as well.",
                    only=System.FIELD,
                ),
                Slip(
                    "tonnes divided by kilograms",
                    lambda n: _mixing_time(n) / 1000,
                    "You divided tonnes by kilograms a minute. Turn the tonnes into kilograms first.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step("Barite of both batches:", "{a} + {c}", "both", By("sack", "t")),
                Step(
                    "The hopper could do more than the limit of (d): the limit decides. In hours:",
                    By("{both} / {d} / 60", "{both} * 1000 / {d} / 60"),
                ),
            ),
        ),
    ),
)
