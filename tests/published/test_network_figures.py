"""Networks against a published circulating load, closed forms of circuit analysis, and SciPy's sparse solver."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import spsolve

from pitside.particles import SizeDistribution, typical_barite, typical_drilled_fines
from pitside.partition import PartitionCurve
from pitside.separation import Mixer, Network, Separator, Solid, Splitter, Stream, liquid_share_for, mix, separate
from pitside.units import Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = pytest.mark.published

ROCK = Solid("rock", Q(2.65, "SG"))
BARITE, DRILLED = Solid("barite", Q(4.2, "SG")), Solid("drilled solids", Q(2.6, "SG"))
WATER = Q(1.0, "SG")
NPTEL = "NPTEL lecture 11 on material balance in mineral processing"
SCIPY = "SciPy, sparse solution of all lines at once"


class Constant:
    """A separator that sends the same share of everything down."""

    def __init__(self, share: float) -> None:
        self.share = share

    def to_underflow(self, sizes, solid_density):
        return Q(np.full(np.broadcast_shapes(sizes.shape, solid_density.shape), self.share))


def solids(tonnes_per_hour: float) -> Stream:
    one_size = SizeDistribution(Q([50, 60], "um"), np.array([1.0]))
    volume = (Q(tonnes_per_hour, "t/h") / ROCK.density).m_as("m**3/s")
    return Stream(Q(1, "m**3/s"), WATER, one_size.edges, (ROCK,), Q(np.array([[volume]]), "m**3/s"))


def cyclone_in_closed_circuit():
    """A cyclone whose underflow (to the mill) comes back to its feed, 300 t/h of fresh feed, 70 % to the underflow."""
    return Network(
        {"fresh": solids(300.0)},
        [
            Mixer("sump", ["fresh", "milled"], "feed"),
            Separator("cyclone", "feed", "underflow", "overflow", Constant(0.7), 0.4),
            Mixer("mill", ["underflow"], "milled"),
        ],
    ).solve()


def mass(line: str):
    return cyclone_in_closed_circuit()[line].mass_rate_of(ROCK)


CLOSED = [
    Check(
        claim="underflow of a cyclone in closed circuit, 70 % to the underflow, 300 t/h fresh",
        compute=lambda: mass("underflow"),
        value=700.0,
        unit="t/h",
        absolute=0.5,
        because="printed to a tonne",
        source=NPTEL,
        status=Status.SEEN,
        wrong_turns=(("70 % of the fresh feed", lambda: 0.7 * mass("fresh")),),
    ),
    Check(
        claim="its overflow, 300 t/h",
        compute=lambda: mass("overflow"),
        value=300.0,
        unit="t/h",
        absolute=0.5,
        because="printed to a tonne",
        source=NPTEL,
        status=Status.SEEN,
        wrong_turns=(("30 % of the fresh feed", lambda: 0.3 * mass("fresh")),),
    ),
]


def rougher_cleaner(p: float):
    """Cleaner's overflow back to the rougher: the share of the feed that leaves by the cleaner's underflow."""
    units = [
        Mixer("sump", ["fresh", "back"], "feed"),
        Separator("rougher", "feed", "concentrate", "tails", Constant(p), 0.5),
        Separator("cleaner", "concentrate", "clean", "back", Constant(p), 0.5),
    ]
    return Network({"fresh": solids(100.0)}, units).solve().recovery(ROCK, "clean")


def rougher_scavenger(p: float):
    """Scavenger's underflow back to the rougher: the share that leaves by the rougher's underflow."""
    units = [
        Mixer("sump", ["fresh", "back"], "feed"),
        Separator("rougher", "feed", "concentrate", "middlings", Constant(p), 0.5),
        Separator("scavenger", "middlings", "back", "tails", Constant(p), 0.5),
    ]
    return Network({"fresh": solids(100.0)}, units).solve().recovery(ROCK, "concentrate")


def rougher_scavenger_cleaner(p: float):
    """Both of them: the share that leaves by the cleaner's underflow."""
    units = [
        Mixer("sump", ["fresh", "from cleaner", "from scavenger"], "feed"),
        Separator("rougher", "feed", "concentrate", "middlings", Constant(p), 0.5),
        Separator("cleaner", "concentrate", "clean", "from cleaner", Constant(p), 0.5),
        Separator("scavenger", "middlings", "from scavenger", "tails", Constant(p), 0.5),
    ]
    return Network({"fresh": solids(100.0)}, units).solve().recovery(ROCK, "clean")


#: Where each machine of a circuit sends what goes down and what goes over.
MOVES = {
    "rougher and cleaner": {"rougher": ("cleaner", "tails"), "cleaner": ("out", "rougher")},
    "rougher and scavenger": {"rougher": ("out", "scavenger"), "scavenger": ("rougher", "tails")},
    "rougher, cleaner and scavenger": {
        "rougher": ("cleaner", "scavenger"),
        "cleaner": ("out", "rougher"),
        "scavenger": ("rougher", "tails"),
    },
}


def walked(circuit: str, p: float) -> float:
    """Chance that a grain that walks from machine to machine, down with chance p, comes out: an absorbing chain."""
    moves = MOVES[circuit]
    places = list(moves)
    stays, leaves = np.eye(len(places)), np.zeros(len(places))
    for row, place in enumerate(places):
        for chance, goes_to in zip((p, 1 - p), moves[place], strict=True):
            if goes_to in moves:
                stays[row, places.index(goes_to)] -= chance
            elif goes_to == "out":
                leaves[row] += chance
    return float(np.linalg.solve(stays, leaves)[places.index("rougher")])


CIRCUIT_CHECKS = [
    Check(
        claim=f"{name} with recycle, each machine sending {p:.0%} down",
        compute=lambda circuit=circuit, p=p: circuit(p),
        value=lambda name=name, p=p: walked(name, p),
        unit="",
        relative=1e-9,
        because="a balance of lines against the walk of one grain; only rounding of floating point remains",
        source="absorbing chain of one grain's walk, solved with numpy",
        status=Status.DERIVED,
        wrong_turns=(("one machine", lambda p=p: Q(p)),),
    )
    for p in (0.3, 0.7, 0.9)
    for name, circuit in (
        ("rougher and cleaner", rougher_cleaner),
        ("rougher and scavenger", rougher_scavenger),
        ("rougher, cleaner and scavenger", rougher_scavenger_cleaner),
    )
]

MUD = Stream.of_mud(
    Q(250, "gal/min"), WATER, {BARITE: (0.15, typical_barite()), DRILLED: (0.06, typical_drilled_fines())}
)


def curve(cut_point: float) -> PartitionCurve:
    return PartitionCurve(Q(cut_point, "um"), Q(2.6, "SG"), WATER, 2.2, bypass=0.08)


#: Five machines with two recycles and a bleed; invented.
PLANT = Network(
    {"mud": MUD, "water": Stream.of_liquid(Q(60, "gal/min"), WATER, like=MUD)},
    [
        Mixer("suction", ["mud", "water", "second overflow", "bleed back"], "feed"),
        Separator("first", "feed", "first underflow", "first overflow", curve(30.0), 0.10),
        Separator("second", "first underflow", "heavy", "second overflow", curve(18.0), 0.15),
        Separator("third", "first overflow", "third underflow", "third overflow", curve(9.0), 0.10),
        Splitter("bleed", "third underflow", {"bleed back": 0.6, "bleed out": 0.4}),
        Separator("fourth", "third overflow", "fourth underflow", "clean", curve(4.0), 0.10),
        Separator("fifth", "fourth underflow", "fines", "fifth overflow", curve(2.0), 0.20),
    ],
)


def by_scipy(kind: Solid, line: str) -> float:
    """Rate of a kind in a line, gal/min, from one sparse system with a row for every line and size class."""
    lines = ["mud", "water"]
    for unit in PLANT.units:
        if isinstance(unit, Separator):
            lines += [unit.underflow, unit.overflow]
        else:
            lines += [unit.product] if isinstance(unit, Mixer) else list(unit.products)
    rows, columns, values = [], [], []

    def goes(source: str, target: str, share: np.ndarray | float) -> None:
        classes = np.arange(MUD.sizes.size)
        rows.extend(lines.index(target) * MUD.sizes.size + classes)
        columns.extend(lines.index(source) * MUD.sizes.size + classes)
        values.extend(-np.broadcast_to(share, classes.shape))

    for unit in PLANT.units:
        if isinstance(unit, Separator):
            cut_point = unit.curve.cut_point.m_as("um") * (1.6 / (kind.density.m_as("SG") - 1)) ** 0.5
            down = 0.92 * (1 - np.exp(-np.log(2) * (MUD.sizes.m_as("um") / cut_point) ** 2.2)) + 0.08
            goes(unit.feed, unit.underflow, down)
            goes(unit.feed, unit.overflow, 1 - down)
        elif isinstance(unit, Mixer):
            for source in unit.feeds:
                goes(source, unit.product, 1.0)
        else:
            for target, share in unit.products.items():
                goes(unit.feed, target, share)
    size = len(lines) * MUD.sizes.size
    system = sparse.eye(size, format="csc") + sparse.csc_matrix((values, (rows, columns)), shape=(size, size))
    fed = np.zeros(size)
    fed[: MUD.sizes.size] = MUD.rates.m_as("gal/min")[MUD.solids.index(kind)]
    start = lines.index(line) * MUD.sizes.size
    return float(spsolve(system, fed)[start : start + MUD.sizes.size].sum())


SPARSE = [
    Check(
        claim=f"{kind.name} in the line '{line}' of five machines with two recycles",
        compute=lambda kind=kind, line=line: PLANT.solve()[line].rate_of(kind),
        value=lambda kind=kind, line=line: by_scipy(kind, line),
        unit="gal/min",
        relative=1e-9,
        because="the same equations set up line by line; only rounding of floating point remains",
        source=SCIPY,
        status=Status.DERIVED,
        wrong_turns=(
            (
                "one cut point for both densities",
                lambda kind=kind, line=line: (
                    Network({"mud": replaced(kind), "water": PLANT.feeds["water"]}, PLANT.units)
                    .solve()[line]
                    .rates.sum()
                ),
            ),
        ),
    )
    for kind in (BARITE, DRILLED)
    for line in ("heavy", "clean", "fines", "feed")
]


def replaced(kind: Solid) -> Stream:
    """The solids of one kind, taken for solids of another density."""
    other = Solid("taken for another", Q(3.4, "SG"))
    place = MUD.solids.index(kind)
    return Stream(MUD.liquid_rate, WATER, MUD.edges, (other,), MUD.rates[place : place + 1])


def separated():
    return separate(MUD, curve(10.0), liquid_share_for(MUD, curve(10.0), Q(55, "percent")))


STREAMS = [
    Check(
        claim="density of an underflow of 55 % solids",
        compute=lambda: separated().underflow.density,
        value=lambda: np.dot(
            [separated().underflow.fraction_of(kind).magnitude for kind in (BARITE, DRILLED)] + [0.45],
            [4.2, 2.6, 1.0],
        ),
        unit="g/cm**3",
        relative=1e-9,
        because="the average by volume; only rounding of floating point remains",
        source="volume and mass balance, by numpy",
        status=Status.DERIVED,
        wrong_turns=(("all of it barite", lambda: 0.55 * BARITE.density + 0.45 * WATER),),
    ),
    Check(
        claim="mud and its parts weigh the same again",
        compute=lambda: mix(*separated()).density,
        value=lambda: 0.79 * 1.0 + 0.15 * 4.2 + 0.06 * 2.6,
        unit="g/cm**3",
        relative=1e-9,
        because="the average by volume; only rounding of floating point remains",
        source="volume and mass balance",
        status=Status.DERIVED,
        wrong_turns=(("the overflow alone", lambda: separated().overflow.density),),
    ),
]

CHECKS = CLOSED + CIRCUIT_CHECKS + SPARSE + STREAMS


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


def test_a_circulating_load_of_seven_to_three():
    """Seen, NPTEL lecture 11: 700 t/h go round for 300 t/h of fresh feed."""
    found = cyclone_in_closed_circuit()
    assert found.recovery(ROCK, "underflow").magnitude == pytest.approx(700 / 300)


def test_barite_and_drilled_solids_of_the_handbooks_pair_go_the_same_way():
    """Seen, drilling fluids processing text: 10 um barite with 15 um drilled solids; exact in a liquid of SG 1.32."""
    one = PartitionCurve(Q(15, "um"), Q(2.6, "SG"), Q(1.32, "SG"), 2.5, bypass=0.1)
    barite, drilled = one.to_underflow(Q(10, "um"), Q(4.2, "SG")), one.to_underflow(Q(15, "um"), Q(2.6, "SG"))
    assert barite.magnitude == pytest.approx(drilled.magnitude, rel=1e-9)
