"""Choosing panels from the store by flow, cut and near-size grains, and what to do at the deck."""

from __future__ import annotations

from itertools import permutations

import pint

from exercises.bank.shakers import Outcome
from exercises.fleet.envelope import FLOW_OVER_FINE_SCREENS, FLOW_OVER_SHAKER, PUMP_RATE
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Known,
    Marks,
    Option,
    Point,
    PrintedColumn,
    Row,
    RowSlip,
    Table,
    Written,
    relative,
)
from exercises.model.working import Step
from pitside.errors import CalculationError
from pitside.screens import api_designation
from pitside.units import Q

#: Panels in the order of the list, and kinds of them from the finest to the coarsest.
PANELS = ("one", "two", "three", "four")
KINDS = ("finest", "fine", "coarse", "coarsest")
#: API 170 and API 140: a shaker takes less on them.
FINE_KINDS = KINDS[:2]
PANELS_OF_A_DECK = 4
#: How far flow and what a deck carries lie apart at least, so that no rounding decides.
CLEAR = 1.12
#: What a deck carries at most or at least, dressed with one kind or another: more than is ever sent over one.
MOST_OF_A_DECK = Usual(120, 1000, "gal/min")

#: What the deck shows, and what to do about it. Common practice, no source.
DECKS = {
    "The mud covers a quarter of the deck, the discard is dry, no panel is torn, and fine sand goes through.": "finer",
    "The mud covers the whole deck. The cloth is clean, the flow was raised, and a spare shaker is there.": "coarser",
    "The mud covers the whole deck, though the flow is the same as before. Grains that do not brush out sit in the "
    "holes of the cloth.": "plugged",
    "A pill with lost-circulation material comes back from the well, and the mud engineer wants to keep it in the "
    "mud.": "pill",
    "One panel at the end of the deck has a tear as long as a hand.": "torn",
}
SAME_DECK = "This is for another deck. What covers the screen, what leaves it, and what goes through it?"


def _of_panel(n: Numbers | Known, panel: str, kind_of_number: str) -> pint.Quantity:
    """A number of the kind of panel that the list has in this place."""
    kind = KINDS[int(n.order.split()[PANELS.index(panel)])]
    return getattr(n, f"{kind}_{kind_of_number}")


def _listed(panel: str) -> tuple[Derived, ...]:
    return (
        Derived(f"d100_{panel}", lambda n: _of_panel(n, panel, "d100"), "um", 0),
        Derived(f"api_{panel}", lambda n: Q(float(api_designation(_of_panel(n, panel, "d100")))), "fraction", 0),
        Derived(
            f"conductance_{panel}",
            lambda n: _of_panel(n, panel, "d100") / Q(1, "um") * _of_panel(n, panel, "openness"),
            "fraction",
            2,
        ),
        Derived(f"area_{panel}", lambda n: _of_panel(n, panel, "area"), By("ft2", "m2"), By(1, 2)),
    )


def _passes(n: Numbers) -> pint.Quantity:
    """Flow through each unit of area of 1 kD/mm, such that the drawn kind is the finest that carries the flow.

    Raises: CalculationError where a finer kind carries about as much, so that it could not be the finest.
    """
    area = {
        kind: getattr(n, f"{kind}_d100").m_as("um")
        * getattr(n, f"{kind}_openness").m_as("")
        * getattr(n, f"{kind}_area")
        for kind in KINDS
    }
    needed = n.flow / (n.shakers - 1) / PANELS_OF_A_DECK
    if n.carries == "none":
        return needed / max(area.values()) / n.spare
    at = KINDS.index(n.carries)
    most_of_finer = max((area[kind] for kind in KINDS[:at]), default=area[n.carries] / n.spare)
    if area[n.carries] < CLEAR**2 * most_of_finer:
        raise CalculationError("a finer kind carries about as much")
    return needed / (area[n.carries] * most_of_finer) ** 0.5


def _deck(n: Known, panel: str) -> pint.Quantity:
    return PANELS_OF_A_DECK * getattr(n, f"conductance_{panel}") * getattr(n, f"area_{panel}") * n.passes


def _finest(n: Known) -> str:
    """The panel with the smallest D100 of those of which the decks that run carry the flow."""
    carry = [panel for panel in PANELS if n[f"a.{panel}.deck"] * (n.shakers - 1) >= n.flow]
    return min(carry, key=lambda panel: getattr(n, f"d100_{panel}"), default="none")


def _near_size(n: Known) -> str:
    return next(panel for panel in PANELS if n.least_grain <= getattr(n, f"d100_{panel}") <= n.largest_grain)


def _of_one_deck(n: Known) -> pint.Quantity:
    """What each deck gets while one shaker is stopped."""
    return n.flow / (n.shakers - 1)


def _is_clear(n: Known) -> bool:
    decks = [_deck(n, panel) for panel in PANELS]
    shares = [float((deck * (n.shakers - 1) / n.flow).m_as("")) for deck in decks]
    return (
        all(not 0.96 < share < 1.04 for share in shares)
        and all(MOST_OF_A_DECK.holds(deck) for deck in decks)
        and FLOW_OVER_FINE_SCREENS.holds(n.flow / n.shakers)
        and (n.carries not in FINE_KINDS or FLOW_OVER_FINE_SCREENS.holds(_of_one_deck(n)))
    )


def _panels(advice: str) -> tuple[Option, ...]:
    return tuple(Option(panel, f"Panel {number}", advice) for number, panel in enumerate(PANELS, 1))


EXERCISE = Exercise(
    title="Which panels for the decks?",
    level=2,
    version=2,
    outcome=Outcome.SCREENS,
    tolerance=relative(0.01, because="conductance and area are given to two or three figures; the product is exact"),
    digits=3,
    numbers=(
        Number("flow", Grid(760, 1200, 10, "gal/min"), Grid(173, 272, 1, "m3/h")),
        Number("shakers", Grid(3, 4, 1)),
        Number("finest_d100", Grid(84, 92, 1, "um")),
        Number("fine_d100", Grid(108, 116, 1, "um")),
        Number("coarse_d100", Grid(139, 150, 1, "um")),
        Number("coarsest_d100", Grid(180, 194, 1, "um")),
        *(Number(f"{kind}_openness", Grid(0.010, 0.016, 0.001)) for kind in KINDS),
        *(Number(f"{kind}_area", Grid(5.5, 8.5, 0.1, "ft2"), Grid(0.51, 0.79, 0.01, "m2")) for kind in KINDS),
        Pick("order", tuple(" ".join(order) for order in permutations("0123"))),
        # Fine panels the oftenest: "none" would be right in most draws else.
        Pick("carries", (*2 * (FINE_KINDS + KINDS), "none")),
        Number("spare", Grid(1.1, 1.2, 0.01)),
        Pick("plugs", KINDS),
        Pick("deck", tuple(DECKS)),
        *(number for panel in PANELS for number in _listed(panel)),
        Derived("passes", _passes, By("gal/min/ft2", "m3/h/m2"), By(1, 1)),
        Derived("least_grain", lambda n: 0.93 * getattr(n, f"{n.plugs}_d100"), "um", 0),
        Derived("largest_grain", lambda n: 1.07 * getattr(n, f"{n.plugs}_d100"), "um", 0),
    ),
    valid=_is_clear,
    envelope=(
        Within("flow from the well", lambda n: n.flow, PUMP_RATE),
        Within("flow over each shaker", lambda n: n.flow / n.shakers, FLOW_OVER_SHAKER),
        Within("flow over each with one stopped", _of_one_deck, FLOW_OVER_SHAKER),
        Within(
            "flow over each with one stopped, if API 140 or finer carries it",
            lambda n: _of_one_deck(n) if n.carries in FINE_KINDS else None,
            FLOW_OVER_FINE_SCREENS,
        ),
    ),
    setting=(
        "Rig Heron 4 pumps {flow} over {shakers:n} shakers of one deck each; it has no other that runs. A deck takes "
        "four panels, all of one kind. The store has:\n\n| | D100 | API number | Conductance | Non-blanked area |\n| "
        "--- | ---: | ---: | ---: | ---: |\n"
        + "\n".join(
            f"| Panel {number} | {{d100_{panel}}} | {{api_{panel}:n}} | {{conductance_{panel}:n}} kD/mm | "
            f"{{area_{panel}}} |"
            for number, panel in enumerate(PANELS, 1)
        )
        + "\n\nWith cuttings on them, panels of 1 kD/mm carry {passes} of this mud, by non-blanked area (heavier or "
        "thicker mud: less), and other panels carry in proportion to their conductance. Before a hand goes near a "
        "deck, the flow goes "
        "elsewhere, the shaker stops, and it is locked out by the rules of the site."
    ),
    parts=(
        Table(
            key="a",
            ask="What does a deck of four panels of each kind carry?",
            corner="Kind",
            rows=tuple(Row(panel, f"Panel {number}") for number, panel in enumerate(PANELS, 1)),
            columns=(
                PrintedColumn("D100", lambda row: f"{{d100_{row.key}}}"),
                Column(
                    key="deck",
                    title="Flow of a deck",
                    unit=By("gal/min", "m3/h"),
                    solve=_deck,
                    plausible=Range(118, 1010, "gal/min"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "one panel",
                            lambda n, row: _deck(n, row) / PANELS_OF_A_DECK,
                            "This is the flow of one panel. A deck has four of them.",
                        ),
                        RowSlip(
                            "conductance left out",
                            lambda n, row: _deck(n, row) / getattr(n, f"conductance_{row}"),
                            "You left the conductance out: this flow is for 1 kD/mm.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Four panels, each with its conductance and its area, at the flow of 1 kD/mm.",
                            f"4 * {{conductance_{row}}} * {{area_{row}}} * {{passes}}",
                            digits=3,
                        ),
                    ),
                ),
            ),
        ),
        Choice(
            key="b",
            ask=(
                "All shakers have one kind of panels, and one shaker at a time is stopped to change them. Which is the "
                "finest kind with which the others then still carry the flow?"
            ),
            options=(
                *_panels(
                    "Share the flow among the shakers that still run, and compare it with the decks of (a). Of the "
                    "kinds that carry it, take the one with the smallest D100."
                ),
                Option(
                    "none",
                    "None of them: some mud would run over the ends.",
                    "Share the flow among the shakers that still run: at least one kind of (a) carries it.",
                ),
            ),
            right=_finest,
            uses=tuple(f"a.{panel}.deck" for panel in PANELS),
            marks=Marks(2),
            reason=(
                "With one shaker stopped, the others have to carry {flow} together. Conductance or API number alone "
                "does not decide it: the area counts as much."
            ),
        ),
        Choice(
            key="c",
            ask=(
                "The sand that comes now has most of its grains from {least_grain} to {largest_grain}. Which kind do "
                "they plug most easily?"
            ),
            options=_panels("Grains that are nearly as large as the holes sit fast. Compare the sand with each D100."),
            right=_near_size,
            marks=Marks(1),
            reason=(
                "Grains of {least_grain} to {largest_grain} are nearly as large as the largest holes of this kind. "
                "Much finer ones fall through, and much coarser ones walk off."
            ),
        ),
        Choice(
            key="d",
            ask="Another day: {deck} What is right?",
            options=(
                Option("finer", "Dress the deck with finer panels, one shaker after the other.", SAME_DECK),
                Option(
                    "coarser",
                    "The flow is too much for the deck: share it over more decks, or take more open panels.",
                    SAME_DECK,
                ),
                Option(
                    "plugged",
                    "Stop it and clean the panels, then dress it with a clearly finer or clearly coarser kind.",
                    SAME_DECK,
                ),
                Option(
                    "pill",
                    "If the mud engineer says so, use panels coarser than the material while it comes back, and "
                    "change back when it has gone.",
                    SAME_DECK,
                ),
                Option(
                    "torn",
                    "Stop it and change this panel, or plug it if its book allows a plug of that size.",
                    SAME_DECK,
                ),
            ),
            right=lambda n: DECKS[n.deck],
            marks=Marks(2),
            reason=(
                "A deck that is nearly dry has room for a finer cut. One that is flooded is short of open area: find "
                "out whether flow or plugging took it. A tear lets everything past."
            ),
        ),
        Written(
            key="e",
            ask=(
                "A new hand wants the panel with the largest conductance. Explain to him in two or three sentences why "
                "you may choose another one."
            ),
            points=(
                Point("says that flow goes with conductance times open area, so conductance alone does not tell", 1),
                Point("says that the more open panel usually has larger holes and lets more solids into the mud", 1),
            ),
            model=(
                "How much mud a panel takes goes with its conductance times its open area, so a panel with more area "
                "can take more. And the most open panel mostly has the largest holes: it carries the flow, but what it "
                "lets through stays in our mud. So I take the finest one that still carries the flow."
            ),
        ),
    ),
)
