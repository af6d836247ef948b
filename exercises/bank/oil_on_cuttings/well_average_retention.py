"""The average of a well's cuttings, and what its last section may have."""

from __future__ import annotations

import functools

import pint

from exercises.bank.oil_on_cuttings import Outcome
from exercises.fleet.envelope import OIL_ON_CUTTINGS
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, absolute
from exercises.model.possible import ANYTHING, RATIO
from exercises.model.working import Step
from pitside.cuttings import last_section_limit, well_average
from pitside.units import Q

TENTH = absolute(0.06, "%", because="shares are given to one place, and are answered to one place at least")
MASS = By("lb", "t")
SECTIONS = ("first", "second", "third")


def _shares(n: Known | Numbers) -> pint.Quantity:
    return Q([getattr(n, f"{name}_share").m_as("") for name in SECTIONS])


def _masses(n: Known | Numbers) -> pint.Quantity:
    return Q([getattr(n, f"{name}_mass").m_as("t") for name in SECTIONS], "t")


@functools.lru_cache(maxsize=256)
def _average(drawn: Numbers) -> pint.Quantity:
    return well_average(_shares(drawn), _masses(drawn))


def _plain_mean(n: Known) -> pint.Quantity:
    return Q(float(_shares(n).m_as("").mean()))


def _most(n: Known | Numbers, average: pint.Quantity) -> pint.Quantity:
    """What the last section may have, from the average so far: one section of all the mass drilled has it."""
    drilled = _masses(n).sum()
    return last_section_limit(n.limit, Q([average.m_as("")]), Q([drilled.m_as("t")], "t"), n.last_mass)


def _first_share(n: Numbers) -> pint.Quantity:
    """The first section has what brings the average of all three near the limit, on the drawn side of it."""
    average = n.limit + (n.off if n.so_far == "over" else -n.off)
    others = n.second_mass * n.second_share + n.third_mass * n.third_share
    return (average * _masses(n).sum() - others) / n.first_mass


def _expected(n: Numbers) -> pint.Quantity:
    """What the last section will have, clearly less or more than it may have."""
    most = _most(n, well_average(_shares(n), _masses(n)))
    return most - n.gap if n.end == "keeps" else most + n.gap


def _is_worth_asking(n: Known) -> bool:
    """A last section of a fifth of the drilled or more, clear verdicts, and a share that a machine can reach."""
    average, most = _average(n.drawn), _most(n, _average(n.drawn))
    return bool(
        0.25 < abs((average - n.limit).m_as("%")) <= 1.2
        and abs((most - n.expected).m_as("%")) > 0.5
        and n.last_mass >= 0.2 * _masses(n).sum()
        and 2.5 <= most.m_as("%") <= 16
        and 4.5 <= n.first_share.m_as("%") <= 11
        and 3.0 <= n.expected.m_as("%") <= 14
    )


EXERCISE = Exercise(
    title="The average of a well's cuttings",
    level=2,
    version=2,
    outcome=Outcome.LIMIT,
    digits=3,
    numbers=(
        Number("first_mass", Grid(420_000, 800_000, 10_000, "lb"), Grid(190, 360, 5, "t")),
        Number("second_mass", Grid(260_000, 500_000, 10_000, "lb"), Grid(120, 225, 5, "t")),
        Number("third_mass", Grid(130_000, 350_000, 10_000, "lb"), Grid(60, 160, 5, "t")),
        Number("second_share", Grid(5.5, 10.5, 0.1, "%")),
        Number("third_share", Grid(6.0, 12.0, 0.1, "%")),
        Number("last_mass", Grid(300_000, 640_000, 10_000, "lb"), Grid(140, 290, 5, "t")),
        Number("limit", Grid(6.9, 9.4, 2.5, "%")),
        Pick("so_far", ("under", "over")),
        Number("off", Grid(0.3, 0.7, 0.1, "%")),
        Derived("first_share", _first_share, "%", 1),
        Pick("end", ("keeps", "breaks")),
        Number("gap", Grid(0.6, 2.0, 0.1, "%")),
        Derived("expected", _expected, "%", 1),
    ),
    valid=_is_worth_asking,
    envelope=(
        Within("oil on the first section", lambda n: n.first_share, OIL_ON_CUTTINGS),
        Within("oil on the second section", lambda n: n.second_share, OIL_ON_CUTTINGS),
        Within("oil on the third section", lambda n: n.third_share, OIL_ON_CUTTINGS),
        Within("oil on the last section", lambda n: n.expected, OIL_ON_CUTTINGS),
    ),
    setting=(
        "Three sections of well Marram-2 were drilled with invert mud. Their cuttings, weighed wet, and the base oil "
        "on them by mass of wet cuttings: first section {first_mass} with {first_share}; second {second_mass} with "
        "{second_share}; third {third_mass} with {third_share}. Part of them were dried on the rig, part came from the "
        "shakers alone. The last section will give {last_mass}, and the machines as they are planned will leave "
        "{expected} on them. In this exercise the permit allows {limit} as the average of the whole well."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the average of the three sections drilled, in percent?",
            unit="%",
            solve=lambda n: _average(n.drawn),
            plausible=Range(5, 12, "%"),
            possible=RATIO,
            tolerance=TENTH,
            marks=Marks(2),
            slips=(
                Slip(
                    "plain mean",
                    _plain_mean,
                    "You took the plain mean. A section with more cuttings counts for more: weigh each share with its "
                    "mass.",
                ),
                Slip(
                    "weighed the wrong way round",
                    lambda n: well_average(_shares(n), Q((1 / _masses(n).m_as("t")).tolist(), "t")),
                    "You gave the small sections the great weight. Multiply each share by its mass, and divide by all "
                    "the mass.",
                ),
            ),
            working=(
                Step(
                    "Oil on all of them:",
                    "({first_mass} * {first_share} + {second_mass} * {second_share} + {third_mass} * {third_share}) / "
                    "100",
                    "oil",
                    MASS,
                    5,
                ),
                Step("All the cuttings:", "{first_mass} + {second_mass} + {third_mass}", "all", MASS),
                Step("Oil over cuttings.", "{oil} / {all} * 100"),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the most that the cuttings of the last section may have, for the well to keep the limit?",
            unit="%",
            uses=("a",),
            solve=lambda n: _most(n, n.a),
            plausible=Range(2.5, 16, "%"),
            possible=ANYTHING,
            conventions=(Convention("average not rounded", lambda n: _most(n, _average(n.drawn))),),
            tolerance=absolute(
                0.25, "%", because="an average rounded to 0.05 % moves it by that times drilled over last mass"
            ),
            marks=Marks(3),
            slips=(
                Slip(
                    "limit and average as two equal parts",
                    lambda n: 2 * n.limit - n.a,
                    "You gave the last section as much weight as all the others. Weigh both with their masses.",
                ),
                Slip(
                    "drilled mass as the whole well",
                    lambda n: (n.limit - n.a) * (_masses(n).sum() / n.last_mass),
                    "This is only the room that the drilled sections left. The last section's own share of the limit "
                    "comes on top.",
                ),
                Slip(
                    "plain mean of four sections",
                    lambda n: 4 * n.limit - 3 * _plain_mean(n),
                    "You counted sections as if they were alike. Weigh each with the mass of its cuttings.",
                ),
            ),
            working=(
                Step("Mass drilled:", "{first_mass} + {second_mass} + {third_mass}", "drilled", MASS),
                Step(
                    "Oil that the whole well may have:", "{limit} / 100 * ({drilled} + {last_mass})", "allowed", MASS, 5
                ),
                Step("Oil that it has so far:", "{a} / 100 * {drilled}", "so_far", MASS, 5),
                Step("What is left, over the mass of the last section.", "({allowed} - {so_far}) / {last_mass} * 100"),
            ),
        ),
        Choice(
            key="c",
            ask="What do you tell the rig? Use your answers.",
            options=(
                Option(
                    "go on",
                    "The average so far is within the limit, and with the machines as planned the whole well stays "
                    "within it.",
                    "Compare the average so far with {limit}, and what the last section may have with {expected}.",
                ),
                Option(
                    "dry later",
                    "The average so far is within the limit, but with the machines as planned the whole well goes "
                    "over it.",
                    "Compare the average so far with {limit}, and what the last section may have with {expected}.",
                ),
                Option(
                    "comes back",
                    "The average so far is over the limit, but with the machines as planned the last section brings "
                    "it back.",
                    "Compare the average so far with {limit}, and what the last section may have with {expected}.",
                ),
                Option(
                    "dry now",
                    "The average so far is over the limit, and with the machines as planned it stays over it.",
                    "Compare the average so far with {limit}, and what the last section may have with {expected}.",
                ),
            ),
            right=lambda n: (
                ("go on" if n.b >= n.expected else "dry later")
                if n.a <= n.limit
                else ("comes back" if n.b >= n.expected else "dry now")
            ),
            uses=("a", "b"),
            marks=Marks(2),
            reason=(
                "The average so far is {a}; the limit is {limit}. The last section may have {b} and will have "
                "{expected} with the machines as planned. Where that is too much, cuttings are dried further or "
                "shipped. The permit's own text decides how averages are taken."
            ),
        ),
    ),
)
