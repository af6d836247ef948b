"""A row of jars: which dose, what went wrong in a jar, and what comes before what."""

from __future__ import annotations

from collections.abc import Callable

import pint

from exercises.bank.dewatering import Outcome
from exercises.fleet.envelope import FINES_BOWL_FEED
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, Told
from exercises.model.parts import Before, Choice, Known, Marks, Numeric, Option, Order, Slip, relative
from exercises.model.working import Step
from pitside.dewatering import solution_flow
from pitside.units import Q

JARS = ("one", "two", "three", "four", "five")
#: Clear water (mm of 100) above the solids after five minutes, and what the lumps are like, by how many steps a jar
#: lies from the best dose. From memory of jar tests: too little leaves it cloudy, too much makes slime.
LOOKS = {
    -4: (2, "none to be seen"),
    -3: (4, "none to be seen"),
    -2: (9, "pin heads, the water cloudy"),
    -1: (21, "small and soft, the water cloudy"),
    0: (44, "like peas, firm, the water clear"),
    1: (45, "like peas, firm, the water clear"),
    2: (40, "large and slimy, the water clear"),
    3: (31, "slimy strings that stick to the rod"),
    4: (24, "slimy strings that stick to the rod"),
}
#: What was done to a jar of the best dose that failed, and how to go on. Common practice, no source.
FAILED = {
    "The lumps came, and went again while it was still being stirred fast.": "stir",
    "No lumps came, the mud is strongly alkaline, and no coagulant had been put in.": "charge",
    "Dry polymer was thrown onto the mud; it swims in fish eyes.": "dissolve",
    "The jar was filled from the top of a tank that had stood for a day.": "sample",
}
OTHER_JAR = "What was left out or done too hard in this jar: charge, solution, stirring or sample?"


def _best(n: Numbers | Known) -> int:
    return JARS.index(n.best)


def _dose(at: int) -> Callable[[Numbers], pint.Quantity]:
    return lambda n: n.first_dose + at * n.step


def _clear(at: int) -> Callable[[Numbers], pint.Quantity]:
    def clear(n: Numbers) -> pint.Quantity:
        return Q(LOOKS[at - _best(n)][0] * float(n.strength.m_as("")), "mm")

    return clear


def _lumps(at: int) -> Callable[[Numbers], str]:
    return lambda n: LOOKS[at - _best(n)][1]


def _chosen(n: Known) -> pint.Quantity:
    """The dose of the jar that the candidate chose."""
    return getattr(n, f"dose_{n.a}")


def _flow(n: Known) -> pint.Quantity:
    return solution_flow(n.feed, _chosen(n), n.strong)


EXERCISE = Exercise(
    title="A row of jars",
    level=2,
    version=3,
    outcome=Outcome.JAR_TEST,
    numbers=(
        Pick("best", JARS),
        Pick("failed", tuple(FAILED)),
        Number("first_dose", Grid(0.06, 0.14, 0.02, "lb/bbl"), Grid(0.20, 0.40, 0.05, "kg/m3")),
        Number("step", Grid(0.04, 0.08, 0.02, "lb/bbl"), Grid(0.10, 0.20, 0.05, "kg/m3")),
        Number("strength", Grid(0.9, 1.1, 0.05)),
        Number("strong", Grid(1.4, 2.0, 0.1, "lb/bbl"), Grid(4.0, 5.6, 0.2, "kg/m3")),
        Number("feed", Grid(40, 100, 5, "gal/min"), Grid(9, 22, 0.5, "m3/h")),
        *(Derived(f"dose_{jar}", _dose(at), By("lb/bbl", "kg/m3"), 2) for at, jar in enumerate(JARS)),
        *(Derived(f"clear_{jar}", _clear(at), "mm", 0) for at, jar in enumerate(JARS)),
        *(Told(f"lumps_{jar}", _lumps(at)) for at, jar in enumerate(JARS)),
        Derived("best_dose", lambda n: getattr(n, f"dose_{n.best}"), By("lb/bbl", "kg/m3"), 2),
    ),
    envelope=(
        Within("feed of the bowl", lambda n: n.feed, FINES_BOWL_FEED),
        Within("dose", lambda n: n.best_dose, Usual(0.05, 0.50, "lb/bbl")),
    ),
    setting=(
        "Rig Heron 4 wants to dewater its spare mud with a centrifuge. Five jars of the same mud got the same "
        "coagulant, then rising doses of flocculant. They were stirred gently and stood for five minutes. The mud "
        "stands 100 mm high in a jar; a difference of 2 mm or less of clear water does not count. Of jars that do "
        "equally well the school takes the least dose:\n\n| | Dry flocculant | Clear water on top | Lumps |\n| --- | "
        "---: | ---: | --- |\n"
        + "\n".join(
            f"| Jar {number} | {{dose_{jar}}} | {{clear_{jar}}} | {{lumps_{jar}}} |"
            for number, jar in enumerate(JARS, 1)
        )
        + "\n\nThe solution that the pump doses holds {strong} of dry flocculant; it cannot give more than the dose "
        "of jar 5. The bowl is to be fed with {feed} of mud. Coagulants burn eyes and skin, acid can drive hydrogen "
        "sulphide out of a mud, and polymer on the floor is as slippery as ice: goggles, gloves, gas meter on, and "
        "each spill cleared at once, dry."
    ),
    parts=(
        Choice(
            key="a",
            ask="From which jar do you take the dose?",
            options=tuple(
                Option(
                    jar,
                    f"Jar {number}",
                    "Look for firm lumps under clear water. Of the jars that have them, the least dose is enough; more "
                    "makes slime.",
                )
                for number, jar in enumerate(JARS, 1)
            ),
            right=lambda n: n.best,
            marks=Marks(2),
            reason=(
                "It is the least dose that gives firm lumps and clear water: {best_dose}. Below it the water stays "
                "cloudy; well above it the lumps turn to slime, which blinds the bowl and is paid for."
            ),
        ),
        Numeric(
            key="b",
            ask="To what flow of solution do you set the dosing pump for the dose of the jar that you chose in (a)?",
            outcome=Outcome.DOSE,
            uses=("a",),
            unit=By("gal/min", "m3/h"),
            solve=_flow,
            plausible=Range(1.5, 32, "gal/min"),
            tolerance=relative(
                0.02, because="the pump is set to half a gal/min or a tenth of a m³/h; the balance is exact"
            ),
            digits=3,
            marks=Marks(1),
            slips=(
                Slip(
                    "ratio upside down",
                    lambda n: n.feed * n.strong / _chosen(n),
                    "Your ratio is upside down: a stronger solution needs less flow.",
                ),
                Slip(
                    "all of the feed",
                    lambda n: n.feed,
                    "This is the feed. The solution is a part of it: dose over strength.",
                ),
            ),
            working=(Step("Feed times dose, over the strength:", "{feed} * {best_dose} / {strong}"),),
        ),
        Choice(
            key="c",
            ask="A jar of the same dose was made again and failed. {failed} What do you change?",
            options=(
                Option("stir", "Stir hard only to spread it, then slowly: hard stirring breaks the lumps.", OTHER_JAR),
                Option(
                    "charge", "Bring the acid or coagulant in first, until the mud takes the flocculant.", OTHER_JAR
                ),
                Option("dissolve", "Make a solution first, let it age, and add that.", OTHER_JAR),
                Option("sample", "Take a sample of what will be fed, from the stirred tank.", OTHER_JAR),
            ),
            right=lambda n: FAILED[n.failed],
            marks=Marks(2),
            reason=(
                "First the charge, then the bridge; a solution, not powder; gentle stirring; and the mud that is fed."
            ),
        ),
        Order(
            key="d",
            ask="Put the steps from jar to plant in a good order. Give the letters.",
            steps={
                "sample": "Take a sample of the mud that will be fed, and stir it.",
                "thin": "Thin it with water if it is too thick for lumps to sink.",
                "charge": "Add coagulant until water begins to separate from the mud.",
                "bridge": "Add flocculant solution in rising doses, one jar each.",
                "look": "Let the jars stand, then look and measure.",
                "pump": "Set the dosing pumps for the chosen dose and the feed.",
                "start": "Start the bowl, give it water, then mud, and look at water and cake.",
            },
            rules=(
                Before("sample", "thin", "First the sample: it is this mud that is thinned."),
                Before("thin", "bridge", "Thin it first: in thick mud no lump can sink."),
                Before(
                    "charge",
                    "bridge",
                    "Coagulant before flocculant: grains that push each other away cannot be bridged.",
                ),
                Before("sample", "charge", "First the sample, then what goes into it."),
                Before("bridge", "look", "Look after the flocculant has worked."),
                Before("look", "pump", "The jars tell the dose: look before you set the pump."),
                Before("pump", "start", "Set the pumps before mud is fed: mud without a dose comes out as mud."),
            ),
            marks=Marks(3),
            reason=(
                "Sample, thin, coagulant, flocculant, look, set the pumps, start. Coagulant may also go in before the "
                "thinning."
            ),
        ),
    ),
)
