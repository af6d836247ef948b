"""API numbers of five screens from their D100, edges of the ranges among them."""

from __future__ import annotations

import pint

from exercises.bank.shakers import Outcome
from exercises.fleet.envelope import D100_OF_SCREEN
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import Choice, Column, Known, Marks, Option, PrintedColumn, Row, RowSlip, Table, absolute
from exercises.model.working import Step
from pitside.screens import LADDER, api_designation, d100_range
from pitside.units import Q

#: Designations that each screen may have; neighbours of all of them lie on the certain part of the ladder.
GROUPS = {
    "one": ("40", "45", "50"),
    "two": ("60", "70", "80"),
    "three": ("100", "120", "140"),
    "four": ("170", "200", "230"),
    "five": ("270", "325"),
}
#: Which two screens have a D100 that is the very end of a range.
EDGES = ("one three", "one four", "two three", "two four", "two five", "three five", "one five")
#: What one may want to know of a screen, and where it is found.
ASKED = {
    "how many wires lie side by side in an inch": "mesh",
    "how large the largest openings are in a dry test": "number",
    "which of two screens of one designation takes more mud": "conductance",
    "which share of the solids of a size the shaker removes today": "samples",
}
INCH = Q(1.0, "in")
DESIGNATIONS = [step.designation for step in LADDER]
#: The ranges in use, as a card in the shaker house prints them: number, above, up to.
CARD = "; ".join(
    f"API {step.designation}: above {step.above.m_as('um'):g} up to {step.up_to.m_as('um'):g}"
    for step in LADDER
    if 35 <= step.designation <= 400
)


def _d100(screen: str) -> Derived:
    def work(n: Numbers) -> pint.Quantity:
        above, up_to = d100_range(int(getattr(n, f"label_{screen}")))
        return up_to if screen in n.edges.split() else above + (up_to - above) * n.place

    return Derived(f"d100_{screen}", work, "um", 1)


def _mesh(screen: str) -> Derived:
    """Wires to an inch of one square cloth whose largest opening is the D100: the rest of the inch is wire."""
    return Derived(
        f"mesh_{screen}",
        lambda n: Q(float(round(((1 - n.wire) * INCH / getattr(n, f"d100_{screen}")).m_as("")))),
        "fraction",
        0,
    )


def _label(screen: str) -> Derived:
    """The designation as a number, for the worked solution."""
    return Derived(f"api_{screen}", lambda n: Q(float(getattr(n, f"label_{screen}"))), "fraction", 0)


def _d100_of(n: Known, row: str) -> pint.Quantity:
    return getattr(n, f"d100_{row}")


def _number(n: Known, row: str) -> pint.Quantity:
    return Q(float(api_designation(_d100_of(n, row))))


def _beside(n: Known, row: str, steps: int) -> pint.Quantity:
    """The designation so many steps finer on the ladder."""
    return Q(float(DESIGNATIONS[DESIGNATIONS.index(int(api_designation(_d100_of(n, row)))) + steps]))


EXERCISE = Exercise(
    title="Which API number does the screen have?",
    level=1,
    version=2,
    outcome=Outcome.SCREENS,
    numbers=(
        *(Pick(f"label_{screen}", labels) for screen, labels in GROUPS.items()),
        Pick("edges", EDGES),
        Pick("asked", tuple(ASKED)),
        Number("place", Grid(0.15, 0.85, 0.05)),
        Number("wire", Grid(0.34, 0.48, 0.01)),  # share of the inch that is wire, not opening
        *(_d100(screen) for screen in GROUPS),
        *(_mesh(screen) for screen in GROUPS),
        *(_label(screen) for screen in GROUPS),
    ),
    envelope=(
        Within("D100 of the coarsest screen", lambda n: n.d100_one, D100_OF_SCREEN),
        Within("D100 of the finest screen", lambda n: n.d100_five, D100_OF_SCREEN),
        Within("wire of the finest screen", lambda n: INCH / n.mesh_five - n.d100_five, Usual(20, 60, "um")),
    ),
    setting=(
        "Five screens in the store of rig Heron 4 have lost their labels. Each still carries its serial number, and "
        "the test papers with these numbers give the D100 of the dry test and the mesh count. A card "
        "on the wall has the ranges of D100, in micrometres, for each "
        f"API number: {CARD}."
    ),
    parts=(
        Table(
            key="a",
            ask="Give the API number of each screen.",
            corner="Screen",
            rows=tuple(Row(screen, f"Screen {screen}") for screen in GROUPS),
            columns=(
                PrintedColumn("D100", lambda row: f"{{d100_{row.key}}}"),
                PrintedColumn("Mesh count", lambda row: f"{{mesh_{row.key}}}"),
                Column(
                    key="number",
                    title="API number",
                    unit="fraction",
                    whole=True,
                    solve=_number,
                    plausible={
                        "one": Range(40, 50),
                        "two": Range(60, 80),
                        "three": Range(100, 140),
                        "four": Range(170, 230),
                        "five": Range(270, 325),
                    },
                    tolerance=absolute(0.4, "fraction", because="a designation is a name: it is right or wrong"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "next coarser",
                            lambda n, row: _beside(n, row, -1),
                            "This is the next coarser number. The upper end of a range belongs to it; the lower end "
                            "does not.",
                        ),
                        RowSlip(
                            "next finer",
                            lambda n, row: _beside(n, row, 1),
                            "This is the next finer number. Find the range that the D100 itself lies in, and do not "
                            "round it down.",
                        ),
                        RowSlip(
                            "mesh count",
                            lambda n, row: getattr(n, f"mesh_{row}"),
                            "This is the mesh count. Wires of another thickness leave other holes: only the D100 "
                            "gives the API number.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            f"Find the range on the card with {{d100_{row}}} above its lower end and not above its "
                            "upper end. Its number is:",
                            f"{{api_{row}}}",
                            digits=2 if row in ("one", "two") else 3,
                        ),
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask="Where do you look to learn {asked}?",
            options=(
                Option(
                    "mesh",
                    "At the mesh count.",
                    "The mesh count tells how many wires there are, neither how wide the holes are nor what flows.",
                ),
                Option(
                    "number",
                    "At the API number and the D100 beside it.",
                    "The API number comes from a dry test: it names the opening, and says nothing of wires, flow or "
                    "the mud of today.",
                ),
                Option(
                    "conductance",
                    "At the conductance and the non-blanked area.",
                    "Conductance and area tell what flow of mud the screen takes. They say nothing of sizes.",
                ),
                Option(
                    "samples",
                    "At samples of what is discarded and what goes through.",
                    "Samples tell how the screen cuts now. What was asked stands on the label or papers.",
                ),
            ),
            right=lambda n: ASKED[n.asked],
            marks=Marks(1),
            reason=(
                "The API number names the sieve whose opening lies nearest to the D100 of a dry test; conductance and "
                "area tell of flow; the mesh count of wires. How the screen cuts today only samples can tell."
            ),
        ),
    ),
)
