"""Which machine takes out solids of a given size?"""

from __future__ import annotations

import pint

from exercises.bank.sizes import Outcome
from exercises.fleet.envelope import CUT_OF_DESANDER_CONE, CUT_OF_DESILTER_CONE, CUT_OF_FINES_BOWL
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.settling import equal_settling_ratio
from pitside.units import WATER_4C, Q

#: Machines in the order in which the mud meets them.
MACHINES = {
    "screen": "The shaker's screen",
    "desander": "The desander",
    "desilter": "The desilter",
    "centrifuge": "The centrifuge",
}
GRAINS = ("first", "second", "third")
RATIO = equal_settling_ratio(BARITE, LOW_GRAVITY, WATER_4C)


def _takes(n: Known, grain: pint.Quantity) -> str:
    """The first machine of which the cut lies below the grain; the model takes a cut as sharp."""
    return next((machine for machine in MACHINES if grain > getattr(n, machine)), "none")


def _grain(which: str) -> Derived:
    """A grain for which the drawn machine is the first whose cut it clearly exceeds."""

    def size(n: Numbers) -> pint.Quantity:
        machine = getattr(n, f"{which}_machine")
        cuts = [getattr(n, name).m_as("um") for name in MACHINES]
        place = (*MACHINES, "none").index(machine)
        low = 1.3 * cuts[place] if place < len(cuts) else 1.0
        high = 0.76 * cuts[place - 1] if place else 1.9 * cuts[0]
        return Q(low * (high / low) ** getattr(n, f"{which}_place").m_as(""), "um")

    return Derived(f"{which}_grain", size, "um", 0)


def _is_clear(n: Known) -> bool:
    """Grains well away from every cut, each for another machine."""
    grains = (n.first_grain, n.second_grain, n.third_grain)
    for grain in grains:
        for machine in MACHINES:
            if 0.8 <= (grain / getattr(n, machine)).m_as("") <= 1.25:
                return False
    return len({_takes(n, grain) for grain in grains}) == len(grains)


def _options() -> tuple[Option, ...]:
    return (
        *(
            Option(
                machine,
                title,
                "Compare the grain with the cuts in the order of the machines. The first one with a finer cut than "
                "the grain takes most of them.",
            )
            for machine, title in MACHINES.items()
        ),
        Option(
            "none",
            "None of them alone: they stay in the mud until they are flocculated, diluted or dumped.",
            "Compare the grain with the finest cut: a machine here does cut finer than this grain.",
        ),
    )


def _which(key: str, grain: str) -> Choice:
    return Choice(
        key=key,
        ask=f"Which machine is the first to take out most of the drilled grains of {{{grain}}}?",
        options=_options(),
        right=lambda n: _takes(n, getattr(n, grain)),
        marks=Marks(1),
        reason=(
            f"The grain has {{{grain}}}. The machines cut at {{screen}} (screen), {{desander}} (desander), "
            "{desilter} (desilter) and {centrifuge} (centrifuge)."
        ),
    )


EXERCISE = Exercise(
    title="Which machine takes out this size?",
    level=1,
    version=2,
    outcome=Outcome.MACHINES,
    numbers=(
        Number("screen", Grid(98, 165, 1, "um")),
        Number("desander", Grid(42, 68, 1, "um")),
        Number("desilter", Grid(20, 30, 1, "um")),
        Number("centrifuge", Grid(5, 10, 1, "um")),
        *(Pick(f"{which}_machine", (*MACHINES, "none")) for which in GRAINS),
        *(Number(f"{which}_place", Grid(0.1, 0.9, 0.1)) for which in GRAINS),
        *(_grain(which) for which in GRAINS),
    ),
    valid=_is_clear,
    envelope=(
        Within("cut of the desander", lambda n: n.desander, CUT_OF_DESANDER_CONE),
        Within("cut of the desilter", lambda n: n.desilter, CUT_OF_DESILTER_CONE),
        Within("cut of the centrifuge", lambda n: n.centrifuge, CUT_OF_FINES_BOWL),
    ),
    setting=(
        "On rig Heron 4 an unweighted mud passes, in this order, a shaker with a screen that separates at {screen}, a "
        "desander that cuts at {desander}, a desilter that cuts at {desilter} and a centrifuge that cuts at "
        "{centrifuge}. All are sizes of drilled solids (specific gravity 2.60) in a liquid like water (1.00), and a "
        "machine takes most of the grains that are coarser than its cut. Before anybody reaches into one of them it "
        "is stopped "
        "and locked out by the rules of the site."
    ),
    parts=(
        _which("a", "first_grain"),
        _which("b", "second_grain"),
        _which("c", "third_grain"),
        Numeric(
            key="d",
            ask=(
                "Later the mud is weighted with barite (4.20). By Stokes' law, at what size of barite grains does the "
                "desilter cut in the same liquid, in µm?"
            ),
            unit="um",
            digits=3,
            solve=lambda n: n.desilter / RATIO,
            plausible=Range(14, 21.4, "um"),
            tolerance=relative(0.03, because="a size rounded to half a micrometre"),
            marks=Marks(2),
            slips=(
                Slip(
                    "multiplied by the ratio",
                    lambda n: n.desilter * RATIO,
                    "You multiplied by the ratio. Barite is heavier, so the grain that settles alike is the smaller "
                    "one: divide.",
                ),
                Slip(
                    "cut of drilled solids",
                    lambda n: n.desilter,
                    "This is the cut for drilled solids. Heavier barite settles faster, so finer grains of it are "
                    "thrown out.",
                ),
                Slip(
                    "no square root",
                    lambda n: n.desilter / RATIO**2,
                    "You divided by the ratio of the differences in density. The velocity goes with the square of the "
                    "size: take the root first.",
                ),
            ),
            working=(
                Step(
                    "How many times as large the drilled grain is that settles with a grain of barite:",
                    "sqrt((4.20 - 1) / (2.60 - 1))",
                    "ratio",
                    "fraction",
                ),
                Step("The cut of the drilled solids over that.", "{desilter} / {ratio}", digits=3),
            ),
        ),
    ),
)
