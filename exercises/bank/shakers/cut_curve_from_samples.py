"""The cut curve of a running shaker from samples of what it discards and what goes through."""

from __future__ import annotations

import functools

import pint

from exercises.bank.shakers import Outcome
from exercises.fleet.envelope import CUT_OF_SHAKER
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Derived, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Convention,
    Known,
    Marks,
    Numeric,
    Option,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    absolute,
    relative,
)
from exercises.model.working import Step
from pitside.screens import CutPoints, cut_points, cut_size, removed_share
from pitside.units import Q

ROWS = ("s1", "s2", "s3", "s4", "s5", "s6", "s7")
#: Seven sieves that follow each other, by the finest: openings of ASTM E11 in micrometres.
STACKS = {
    "fine": (45, 53, 63, 75, 90, 106, 125),
    "middle": (53, 63, 75, 90, 106, 125, 150),
    "coarse": (75, 90, 106, 125, 150, 180, 212),
    "coarsest": (90, 106, 125, 150, 180, 212, 250),
}
#: What is seen at a shaker, and what it means.
SEEN = {
    "some solids of twice the D100 are found in what goes through": "torn",
    "the D50 is finer than yesterday with the same screen, and mud runs off the end of the deck": "blinded",
    "the curve is smooth, no coarse solids go through, and the D50 is some micrometres below the D100": "normal",
}
#: Solids of each size that reach the shaker, as shares of the drawn feed: fewer of the coarse ones.
ARRIVING = (1.0, 0.93, 0.84, 0.72, 0.58, 0.43, 0.28)

OVER_LOGARITHMS = "straight over the logarithms of the sizes"
INTERPOLATED = relative(0.015, because="a share given to 0.1 % moves the size by up to 0.4 %, a reading by eye by more")
ONE_PLACE = absolute(0.11, "%", because="rates of three or four digits; shares are given to one place")


def _size(row: str) -> Derived:
    return Derived(row, lambda n: Q(float(STACKS[n.stack][ROWS.index(row)]), "um"), "um", 0)


def _share(n: Numbers, row: str) -> float:
    """Share removed on a smooth curve through the drawn cut: half at the cut, steeper with more sharpness."""
    fourth, fifth = (STACKS[n.stack][i] for i in (3, 4))
    cut = fourth + (fifth - fourth) * n.place.m_as("")
    return float(1 / (1 + (cut / STACKS[n.stack][ROWS.index(row)]) ** n.sharpness.m_as("")))


def _over(row: str) -> Derived:
    return Derived(f"over_{row}", lambda n: n.feed * ARRIVING[ROWS.index(row)] * _share(n, row), "g/min", 0)


def _under(row: str) -> Derived:
    return Derived(f"under_{row}", lambda n: n.feed * ARRIVING[ROWS.index(row)] * (1 - _share(n, row)), "g/min", 0)


def _rates(n: Known, row: str) -> tuple[pint.Quantity, pint.Quantity]:
    return getattr(n, f"over_{row}"), getattr(n, f"under_{row}")


def _between(n: Known, low: str, high: str, share: float) -> pint.Quantity:
    """Size at a share between two neighbouring sieves, from the shares that the candidate found."""
    sizes = Q([getattr(n, row).m_as("um") for row in (low, high)], "um")
    return cut_size(sizes, Q([n[f"a.{row}.share"].m_as("") for row in (low, high)]), share)


def _between_logarithms(n: Known, low: str, high: str, share: float) -> pint.Quantity:
    """The same on a straight line over the logarithms of the sizes."""
    finer, coarser = getattr(n, low), getattr(n, high)
    shares = [n[f"a.{row}.share"].m_as("") for row in (low, high)]
    return finer * (coarser / finer).m_as("") ** ((share - shares[0]) / (shares[1] - shares[0]))


@functools.lru_cache(maxsize=256)
def _points(drawn: Numbers) -> CutPoints:
    def rates(kind: str) -> pint.Quantity:
        return Q([getattr(drawn, f"{kind}_{row}").m_as("g/min") for row in ROWS], "g/min")

    return cut_points(Q([getattr(drawn, row).m_as("um") for row in ROWS], "um"), rates("over"), rates("under"))


def _is_read_between_set_sieves(n: Known) -> bool:
    """16, 50 and 84 % lie between the second and third, the fourth and fifth, the sixth and seventh sieve."""
    share = {row: removed_share(*_rates(n, row)).m_as("") for row in ROWS}
    pairs = (("s2", "s3", 0.16), ("s4", "s5", 0.50), ("s6", "s7", 0.84))
    return all(share[low] + 0.005 < wanted < share[high] - 0.005 for low, high, wanted in pairs)


def _interpolation(low: str, high: str, share: int) -> tuple[Step, ...]:
    return (
        Step(
            f"{share} % lies between {{{low}}} and {{{high}}}: a straight line between the two.",
            f"{{{low}}} + ({share} - {{a.{low}.share}}) / ({{a.{high}.share}} - {{a.{low}.share}}) "
            f"* ({{{high}}} - {{{low}}})",
        ),
    )


EXERCISE = Exercise(
    title="The cut curve of a running shaker",
    level=2,
    version=2,
    outcome=Outcome.SCREENS,
    tolerance=INTERPOLATED,
    numbers=(
        Pick("stack", tuple(STACKS)),
        Pick("seen", tuple(SEEN)),
        Number("feed", Grid(2000, 6000, 50, "g/min")),
        Number("place", Grid(0.10, 0.90, 0.05)),
        Number("sharpness", Grid(4.4, 5.2, 0.1)),
        *(_size(row) for row in ROWS),
        *(_over(row) for row in ROWS),
        *(_under(row) for row in ROWS),
    ),
    valid=_is_read_between_set_sieves,
    envelope=(Within("cut of the shaker", lambda n: n.b, CUT_OF_SHAKER),),
    setting=(
        "At one shaker of rig Heron 4 all that leaves the end of the screen was caught for ten timed seconds, and a "
        "sample of what goes through was taken at the same time. How much goes through was found from the flow to the "
        "shaker less the discard. Both samples were sieved wet on one stack of sieves. The table has the dry solids of "
        "each size in the whole of the two streams, worked out for a minute; take the size printed for all grains of "
        "its row. Coarser grains, which the table leaves out, are all discarded. The "
        "mud can bring gas, and the deck and its drive move: whoever takes the samples tells those who watch the gas "
        "detectors first, stops and leaves when the alarm sounds, catches the discard at the end of the chute in a pan "
        "with a long handle, and keeps off the deck, by the rig's own rules."
    ),
    parts=(
        Table(
            key="a",
            ask="Find the share of the solids of each size that the shaker removes, in percent to one place.",
            corner="Sieve",
            rows=tuple(Row(row, f"{{{row}}}") for row in ROWS),
            columns=(
                PrintedColumn("Discarded", lambda row: f"{{over_{row.key}}}"),
                PrintedColumn("Through", lambda row: f"{{under_{row.key}}}"),
                Column(
                    key="share",
                    title="Share removed",
                    unit="%",
                    digits=3,
                    solve=lambda n, row: removed_share(*_rates(n, row)),
                    plausible=Range(2, 98, "%"),
                    tolerance=ONE_PLACE,
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "discard over through",
                            lambda n, row: _rates(n, row)[0] / _rates(n, row)[1],
                            "You divided by what goes through. Divide by all that arrives: discarded and through "
                            "together.",
                            rows=ROWS[1:],
                        ),
                        RowSlip(
                            "through over discard",
                            lambda n, row: _rates(n, row)[1] / _rates(n, row)[0],
                            "You divided what goes through by the discard. Put the discard over all that arrives.",
                            rows=ROWS[:1],
                        ),
                        RowSlip(
                            "share that goes through",
                            lambda n, row: 1 - removed_share(*_rates(n, row)),
                            "This is the share that goes through. The discarded solids belong above the line.",
                        ),
                    ),
                    working=lambda row: (
                        Step(
                            "Discarded over all that arrives.",
                            f"{{over_{row}}} / ({{over_{row}}} + {{under_{row}}}) * 100",
                        ),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=(
                "What is the D50, the size at which half is removed? Read between the two sieves on either side of it: "
                "a straight line over the sizes, or over their logarithms, is accepted here and below."
            ),
            unit="um",
            uses=("a.s4.share", "a.s5.share"),
            solve=lambda n: _between(n, "s4", "s5", 0.50),
            conventions=(Convention(OVER_LOGARITHMS, lambda n: _between_logarithms(n, "s4", "s5", 0.50)),),
            plausible=Range(75, 180, "um"),
            marks=Marks(2),
            slips=(
                Slip(
                    "D84 read",
                    lambda n: _points(n.drawn).d84,
                    "This is the size at which 84 % is removed. Go into the curve at 50 %.",
                ),
                Slip(
                    "D16 read",
                    lambda n: _points(n.drawn).d16,
                    "This is the size at which 16 % is removed. Go into the curve at 50 %.",
                ),
            ),
            working=_interpolation("s4", "s5", 50),
        ),
        Numeric(
            key="c",
            ask="What is the D16, the size at which 16 % is removed?",
            unit="um",
            uses=("a.s2.share", "a.s3.share"),
            solve=lambda n: _between(n, "s2", "s3", 0.16),
            conventions=(Convention(OVER_LOGARITHMS, lambda n: _between_logarithms(n, "s2", "s3", 0.16)),),
            plausible=Range(53, 125, "um"),
            marks=Marks(1),
            slips=(
                Slip(
                    "share through for share removed",
                    lambda n: _points(n.drawn).d84,
                    "Of this size 16 % goes through. The D16 is the size at which 16 % is removed, a finer one.",
                ),
                Slip("D50 read", lambda n: _points(n.drawn).d50, "This is the D50. Go into the curve at 16 % removed."),
            ),
            working=_interpolation("s2", "s3", 16),
        ),
        Numeric(
            key="d",
            ask="What is the D84, the size at which 84 % is removed?",
            unit="um",
            uses=("a.s6.share", "a.s7.share"),
            solve=lambda n: _between(n, "s6", "s7", 0.84),
            conventions=(Convention(OVER_LOGARITHMS, lambda n: _between_logarithms(n, "s6", "s7", 0.84)),),
            plausible=Range(106, 250, "um"),
            marks=Marks(1),
            slips=(
                Slip(
                    "share through for share removed",
                    lambda n: _points(n.drawn).d16,
                    "Of this size 84 % goes through. The D84 is the size at which 84 % is removed, a coarser one.",
                ),
                Slip("D50 read", lambda n: _points(n.drawn).d50, "This is the D50. Go into the curve at 84 % removed."),
            ),
            working=_interpolation("s6", "s7", 84),
        ),
        Choice(
            key="e",
            ask="On another shaker {seen}. What do you make of it?",
            options=(
                Option(
                    "torn",
                    "Mud gets past the screen: look for a hole in it, or a bad seal.",
                    "A hole shows as solids far above the cut in what goes through.",
                ),
                Option(
                    "blinded",
                    "Grains of nearly the size of its openings plug it: clean or change the screen.",
                    "A plugged screen cuts finer than before and takes less mud.",
                ),
                Option(
                    "normal",
                    "Nothing is wrong: a dry test and a running shaker give different sizes.",
                    "Look again at the coarse solids, and at the mud that runs off the end.",
                ),
            ),
            right=lambda n: SEEN[n.seen],
            marks=Marks(1),
            reason=(
                "The D100 names the largest opening in a dry test. On a running shaker mud wets the wires, fines ride "
                "on coarse cuttings and near-size grains get few chances, so the cut moves with mud and load. Coarse "
                "solids below the screen, or mud off its end, are another matter. Stop and lock the shaker out before "
                "you look at its screens."
            ),
        ),
    ),
)
