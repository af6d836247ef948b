"""Case: a riser return is cut to weight and built back to the mud of the well.

The grains of the printed shares come from a size distribution and a partition curve, so that the two plants differ as
machines of their cut points would.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pint

from exercises.bank.dual_gradient import AS_A_WEIGHT, FLOWS_ADDED, TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import (
    CUT_OF_SMALL_CONE_IN_MUD,
    DRILLED_SOLIDS,
    FLOW_OF_MODULE,
    LARGE_BOWL_FEED,
    LARGE_BOWL_POWER,
    PUMP_RATE,
    SOLIDS_THROUGH_LARGE_BOWL,
    UNDERFLOW_OF_BOWL,
    WEIGHTED_MUD,
)
from exercises.fleet.machines import FEED_PUMP, LARGE_BOWL
from exercises.fleet.rigs import SMALL_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, mislabelled
from exercises.model.parts import (
    Choice,
    Chosen,
    Column,
    Known,
    Limit,
    Marks,
    Method,
    Numeric,
    Option,
    Point,
    Row,
    RowSlip,
    Slip,
    Table,
    Written,
    absolute,
    relative,
)
from exercises.model.usual_slips import ratio_upside_down
from exercises.model.working import Step
from pitside.blending import mixture
from pitside.cyclones import pump_duty
from pitside.errors import CalculationError
from pitside.gradients import dual_gradient_mud_weight, riser_dilution_rate, riser_weight
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.particles import typical_barite, typical_drilled_fines
from pitside.partition import PartitionCurve
from pitside.power import energy
from pitside.separation import Solid, Stream, recovery, separate
from pitside.unit_names import read_unit
from pitside.units import Q, Quantity

BARITE_GRAINS, DRILLED_GRAINS = Solid("barite", BARITE), Solid("drilled solids", LOW_GRAVITY)
GRINDS = {"barite": typical_barite(), "drilled": typical_drilled_fines()}
DENSITIES = {"barite": BARITE, "drilled": LOW_GRAVITY}
#: Sharpness of both machines' curves: common practice for cones and bowls, no source.
SHARPNESS = 2.0
ONE = Q(1.0)
FLOW = By("gal/min", "L/min")
#: The rates of light fluid that the question offers.
OFFERED = By(Grid(100, 800, 10, "gal/min"), Grid(400, 3000, 50, "L/min"))
LIMITS = (
    "Work out the power of the machines that take the return, with one standing by, and the barite that passes; "
    "compare both with their limits."
)
#: The two machines that do the work; a settling pit does not.
MACHINES = ("cyclones", "centrifuges")


@dataclass(frozen=True)
class PrintedShares:
    """A separator known only by the shares that the question prints."""

    barite: float
    drilled: float

    def to_underflow(self, sizes: pint.Quantity, solid_density: pint.Quantity) -> pint.Quantity:
        heavy = solid_density > (BARITE + LOW_GRAVITY) / 2
        return Q(np.where(heavy, self.barite, self.drilled) * np.ones(sizes.shape))


def _share(material: str, machine: str) -> Callable[[Numbers], pint.Quantity]:
    def work(n: Numbers) -> pint.Quantity:
        curve = PartitionCurve(
            getattr(n, f"{machine}_cut"), LOW_GRAVITY, n.light, SHARPNESS, getattr(n, f"{machine}_liquid")
        )
        return recovery(GRINDS[material], DENSITIES[material], curve)

    return work


def _mud_weight(n: Numbers) -> pint.Quantity:
    volumes = Q([n.barite.m_as("%"), n.drilled.m_as("%"), 100 - n.barite.m_as("%") - n.drilled.m_as("%")], "L")
    densities = Q([BARITE.m_as("SG"), LOW_GRAVITY.m_as("SG"), n.light.m_as("SG")], "SG")
    return mixture(volumes, densities).density


def _equivalent(n: Known | Numbers, depth: str, riser: pint.Quantity) -> pint.Quantity:
    """The riser is full of mixture up to the rig: no air gap."""
    return dual_gradient_mud_weight(getattr(n, depth), riser, n.mud_weight, n.mudline)


def _in_riser(n: Known, dilution: pint.Quantity) -> pint.Quantity:
    return riser_weight(n.mud_rate, n.mud_weight, dilution, n.light)


def _at_both(n: Known, dilution: pint.Quantity) -> tuple[pint.Quantity, pint.Quantity]:
    """Equivalent mud weight at bottom and shoe with these rates of light fluid."""
    riser = _in_riser(n, dilution)
    return _equivalent(n, "depth", riser), _equivalent(n, "shoe", riser)


@functools.lru_cache(maxsize=256)
def _at_offered(numbers: Numbers) -> dict[float, tuple[float, float]]:
    """The same in kg/m3 for every offered rate, by that rate in m3/s: two limits ask for each, again and again."""
    grid = OFFERED.field if numbers["mud_rate"].unit == OFFERED.field.unit else OFFERED.metric  # type: ignore[union-attr]
    rates: pint.Quantity = Quantity([grid.at(index) for index in range(grid.count)], read_unit(grid.unit)).to("m**3/s")
    bottom, shoe = (weight.m_as("kg/m**3") for weight in _at_both(Known(numbers, {}), rates))
    return dict(zip(rates.m.tolist(), zip(bottom.tolist(), shoe.tolist(), strict=True), strict=True))


def _column(n: Known) -> tuple[pint.Quantity, pint.Quantity]:
    """Equivalent mud weight at bottom and shoe with the rate that was chosen."""
    known = _at_offered(n.drawn).get(float(n.a.m_as("m**3/s")))
    return (Q(known[0], "kg/m**3"), Q(known[1], "kg/m**3")) if known else _at_both(n, n.a)


def _aimed_dilution(n: Known | Numbers) -> pint.Quantity:
    return riser_dilution_rate(n.mud_rate, n.mud_weight, n.aim, n.light)


def _suggested(n: Known) -> pint.Quantity:
    unit, step = ("gal/min", 10) if n.depth.units == Q(1, "ft").units else ("L/min", 50)
    return Q(step * round(float(_aimed_dilution(n).m_as(unit)) / step), unit)


def _of(n: Known | Numbers, quantity: str, machine: str | None = None) -> pint.Quantity:
    machine = machine or n.e
    if machine not in MACHINES:
        raise CalculationError("a settling pit has no such figure")
    return getattr(n, f"{machine}_{quantity}")


def _number(ratio: pint.Quantity) -> float:
    return float(ratio.m_as(""))


def _needed(n: Known | Numbers, flow: pint.Quantity, machine: str | None = None) -> int:
    """Whole machines that take a flow."""
    return math.ceil(_number(flow / _of(n, "flow", machine)) - 1e-9)


@functools.lru_cache(maxsize=4096)
def _underflow(numbers: Numbers, dilution: float, machine: str) -> Stream:
    """Underflow of a machine, from the shares printed; ``dilution`` in m3/s."""
    n = Known(numbers, {})
    back = n.mud_rate + Q(dilution, "m**3/s")
    fraction = _number(n.mud_rate / back)
    solids = {
        BARITE_GRAINS: (n.barite * fraction, GRINDS["barite"]),
        DRILLED_GRAINS: (n.drilled * fraction, GRINDS["drilled"]),
    }
    shares = PrintedShares(_number(_of(n, "barite", machine)), _number(_of(n, "drilled", machine)))
    feed = Stream.of_mud(back, n.light, solids)
    return separate(feed, shares, _of(n, "liquid", machine)).underflow


def _heavy(n: Known) -> Stream:
    return _underflow(n.drawn, float(n.a.m_as("m**3/s")), n.e)


def _passed(n: Known | Numbers, machine: str) -> pint.Quantity:
    """Barite that leaves with the overflow of a plant."""
    return n.mud_rate * n.barite * (1 - getattr(n, f"{machine}_barite")) * BARITE


def _passed_barite(n: Known) -> pint.Quantity:
    _of(n, "barite")
    return _passed(n, n.e)


def _all_power(n: Known | Numbers, machine: str, back: pint.Quantity, spare: int) -> pint.Quantity:
    """Power of the machines that take a return, with so many beyond them."""
    return (_needed(n, back, machine) + spare) * getattr(n, f"{machine}_power")


def _power_limit(n: Numbers) -> pint.Quantity:
    """Room for either plant, or for the cyclones alone where the draw wants power to be short."""
    if n.short == "power":
        return 0.6 * _all_power(n, "centrifuges", n.mud_rate + _aimed_dilution(n), spare=1)
    return 1.05 * max(_all_power(n, machine, n.return_limit, spare=2) for machine in MACHINES)


def _deck(n: Numbers) -> pint.Quantity:
    areas = [(_needed(n, n.return_limit, machine) + 2) * getattr(n, f"{machine}_area") for machine in MACHINES]
    return 1.05 * max(areas)


def _catch(n: Numbers) -> pint.Quantity:
    """What the next stage can catch: the barite of either plant, or only that of the centrifuges."""
    less, more = (_passed(n, machine) for machine in ("centrifuges", "cyclones"))
    return (less + more) / 2 if n.short == "bowls" else 1.15 * more


def _pump_of_module(n: Numbers) -> pint.Quantity:
    return pump_duty(n.cyclones_flow, n.aim, n.head, n.efficiency).shaft_power


def _sound_plants(n: Known) -> tuple[str, ...]:
    """The plants that keep power and what the next stage can catch; both where a wrong return leaves none."""
    sound = tuple(
        machine
        for machine in MACHINES
        if _all_power(n, machine, n.d, spare=1) <= n.power and _passed(n, machine) <= n.catch
    )
    return sound or MACHINES


def _of_the_model(quantity: str) -> Derived:
    """A figure of the plant of the model answer, for its worked solution."""
    units: dict[str, str | By[str]] = {"power": By("hp", "kW"), "barite": "%", "drilled": "%", "liquid": "%"}
    return Derived(
        f"own_{quantity}",
        lambda n: getattr(n, f"{'centrifuges' if n.short == 'bowls' else 'cyclones'}_{quantity}"),
        units[quantity],
        1,
    )


def _drilled_after(n: Known, machine: str, dilution: pint.Quantity) -> pint.Quantity:
    """Share of drilled solids in the mud built back, from first to last."""
    heavy = _underflow(n.drawn, float(dilution.m_as("m**3/s")), machine)
    light = riser_dilution_rate(heavy.total_rate, heavy.density, n.mud_weight, n.light)
    return heavy.rate_of(DRILLED_GRAINS) / (heavy.total_rate + light)


def _solids_of_a_bowl(n: Known) -> pint.Quantity:
    heavy = _underflow(n.drawn, float(n.a.m_as("m**3/s")), "centrifuges")
    return heavy.solids_mass_rate / _needed(n, n.d, "centrifuges")


def _valid(n: Known) -> bool:
    """Room for a choice: with a sound plant, at any sound dilution, power and deck bear a machine more than needed.

    Centrifuges keep more barite, as the reasons say; the mud built back is clear of its limit for drilled solids.
    """
    suggested = _suggested(n)
    if not Q(250, "gal/min") <= suggested <= Q(550, "gal/min"):
        return False
    back = n.mud_rate + suggested
    bowls = _needed(n, back, "centrifuges")
    if _underflow(n.drawn, float(suggested.m_as("m**3/s")), "centrifuges").solids_mass_rate / bowls > Q(14.5, "t/h"):
        return False
    sound = {"power": ("cyclones",), "bowls": ("centrifuges",)}.get(n.short, MACHINES)
    if any(abs(_passed(n, machine) / n.catch - 1) < 0.05 for machine in MACHINES):
        return False
    if n.centrifuges_barite - n.cyclones_barite < Q(1, "percent"):
        return False
    for machine in sound:
        most = _needed(n, n.return_limit, machine) + 2
        if most * _of(n, "power", machine) > n.power or most * _of(n, "area", machine) > n.deck:
            return False
        drilled = _drilled_after(n, machine, suggested)
        if abs((drilled - n.most_drilled).m_as("%")) < 0.25:
            return False
    return True


_ROW_DEPTH = {"bottom": "depth", "shoe": "shoe"}


def _row_steps(row: str) -> tuple[Step, ...]:
    depth = _ROW_DEPTH[row]
    return (
        Step(
            "Weight times height of both fluids, over the depth from the rig:",
            f"({{b}} * {{mudline}} + {{mud_weight}} * ({{{depth}}} - {{mudline}})) / {{{depth}}}",
        ),
    )


def _build_back(n: Known) -> pint.Quantity:
    return riser_dilution_rate(n.h, n.i, n.mud_weight, n.light)


EXERCISE = Exercise(
    title="Case: a plant for the riser return",
    level=3,
    version=5,
    outcome=Outcome.PLANT,
    minutes=75,
    combines=("mud-weight", "cutting-back", "centrifuges", "barite-recovery"),
    numbers=(
        Number("depth", Grid(17_000, 21_000, 500, "ft"), Grid(5200, 6400, 100, "m")),
        Number("mudline", Grid(5000, 7000, 250, "ft"), Grid(1500, 2100, 50, "m")),
        Number("shoe", Grid(10_500, 12_500, 250, "ft"), Grid(3200, 3800, 50, "m")),
        SMALL_HOLE.flow.part(400, 460).number("mud_rate", (10, "gal/min"), (50, "L/min")),
        Number("barite", Grid(13.0, 16.0, 0.5, "%")),
        Number("drilled", Grid(3.0, 5.0, 0.5, "%")),
        Number("light", Grid(7.0, 7.4, 0.1, "lb/gal"), Grid(840, 890, 10, "kg/m3")),
        Derived("mud_weight", _mud_weight, By("lb/gal", "kg/m3"), By(2, 0)),
        Number("aim", Grid(9.4, 10.0, 0.1, "lb/gal"), Grid(1130, 1200, 10, "kg/m3")),
        Number("margin", Grid(0.3, 0.3, 0.1, "lb/gal"), Grid(35, 35, 5, "kg/m3")),
        Number("slack", Grid(0.07, 0.11, 0.01, "lb/gal"), Grid(8, 13, 1, "kg/m3")),
        Derived("pore", lambda n: _equivalent(n, "depth", n.aim) - n.margin - n.slack, By("lb/gal", "kg/m3"), By(2, 0)),
        Derived(
            "fracture", lambda n: _equivalent(n, "shoe", n.aim) + n.margin + n.slack, By("lb/gal", "kg/m3"), By(2, 0)
        ),
        Derived("return_limit", lambda n: n.mud_rate + 1.12 * _aimed_dilution(n), By("gal/min", "L/min"), By(-1, -2)),
        Number("cyclones_cut", Grid(12.0, 18.0, 0.5, "um")),
        Number("centrifuges_cut", Grid(6.0, 8.0, 0.5, "um")),
        Number("cyclones_liquid", Grid(11, 16, 1, "%")),
        Number("centrifuges_liquid", Grid(7, 11, 1, "%")),
        *(
            Derived(f"{machine}_{material}", _share(material, machine), "%", 1)
            for machine in MACHINES
            for material in ("barite", "drilled")
        ),
        Number("cyclones_flow", Grid(120, 240, 10, "gal/min"), Grid(460, 900, 20, "L/min")),
        LARGE_BOWL.feed.part(120, 170).number("centrifuges_flow", (10, "gal/min"), (20, "L/min")),
        FEED_PUMP.head.number("head", (1, "ft"), (0.5, "m")),
        FEED_PUMP.efficiency.number("efficiency", (1, "%")),
        Derived("cyclones_power", _pump_of_module, By("hp", "kW"), 1),
        LARGE_BOWL.power.rated.number("centrifuges_power", (5, "hp"), (3, "kW")),
        Number("cyclones_area", Grid(55, 65, 5, "ft2"), Grid(5.0, 6.0, 0.5, "m2")),
        Number("centrifuges_area", Grid(60, 75, 5, "ft2"), Grid(5.5, 7.0, 0.5, "m2")),
        # Bowls twice: their limit leaves the cyclones alone in too few draws else, and no option may be right in most.
        Pick("short", ("nothing", "power", "bowls", "bowls")),
        Derived("power", _power_limit, By("hp", "kW"), -1),
        Derived("deck", _deck, By("ft2", "m2"), By(-1, 0)),
        Derived("catch", _catch, By("lb/min", "kg/min"), By(-1, 0)),
        *(_of_the_model(quantity) for quantity in ("power", "barite", "drilled", "liquid")),
        Number("most_drilled", Grid(2.0, 5.5, 0.5, "%")),
    ),
    valid=_valid,
    envelope=(
        Within("rate of the mud", lambda n: n.mud_rate, PUMP_RATE),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("drilled solids", lambda n: n.drilled, DRILLED_SOLIDS),
        Within("flow of a module", lambda n: n.cyclones_flow, FLOW_OF_MODULE),
        Within("cut of a module", lambda n: n.cyclones_cut, CUT_OF_SMALL_CONE_IN_MUD),
        Within("feed of a bowl", lambda n: n.centrifuges_flow, LARGE_BOWL_FEED),
        Within("power of a bowl", lambda n: n.centrifuges_power, LARGE_BOWL_POWER),
        Within("solids through each bowl", _solids_of_a_bowl, SOLIDS_THROUGH_LARGE_BOWL),
        Within("weight of the underflow of bowls", lambda n: n.i if n.e == "centrifuges" else None, UNDERFLOW_OF_BOWL),
    ),
    setting=(
        "Rig Northern Gannet is to drill another well with two gradients. Mud of {mud_weight} comes up the well at "
        "{mud_rate}. Clean light fluid of {light} is pumped in at the sea floor, and the mixture fills the riser up "
        "to the rig. After the shakers a plant on deck separates the return: the overflow goes on to be cleaned to "
        "light fluid; the underflow falls into a mixing tank, where light fluid makes it mud of {mud_weight} again "
        "(below: the mud built back). The well takes more mud than that; the rest is built with the barite that the "
        "next stage catches, and is left out here.\n\n"
        "Depths are true vertical depths from the rig: sea floor {mudline}, casing shoe {shoe}, bottom {depth}. The "
        "fluids in the rock at the bottom press as mud of {pore} would; the rock at the shoe breaks at an equivalent "
        "of {fracture}. The plan of the well asks for a margin of {margin} to both, at rest. The flow line takes a "
        "return of at most {return_limit}.\n\n"
        "The mud holds {barite} barite (SG 4.20) and {drilled} drilled solids (SG 2.60) by volume; the rest is the "
        "same liquid as the light fluid, which holds no solids. The mud built back may hold at most {most_drilled} "
        "drilled solids. The plant, with what stands by, may take {power} at its shafts and {deck} of deck. Barite "
        "that leaves with the overflow is caught by the bowls of the next stage, which take at most {catch} of it.\n\n"
        "| One machine | cyclone module | centrifuge |\n"
        "|---|---|---|\n"
        "| takes at most | {cyclones_flow} | {centrifuges_flow} |\n"
        "| needs at its shaft | {cyclones_power} | {centrifuges_power} |\n"
        "| stands on | {cyclones_area} | {centrifuges_area} |\n"
        "| sends to the underflow: of the barite | {cyclones_barite} | {centrifuges_barite} |\n"
        "| of the drilled solids | {cyclones_drilled} | {centrifuges_drilled} |\n"
        "| of the liquid | {cyclones_liquid} | {centrifuges_liquid} |\n\n"
        "The shares hold for any dilution here. The plan of the well says what the heavier mud in the drill pipe does "
        "at rest, and what the column does when the light fluid stops. Both are left out here. Everything is "
        "invented. This is arithmetic for learning: deepwater well control is for certified people, who check every "
        "figure before a pump is touched."
    ),
    parts=(
        Chosen(
            key="a",
            ask=By(
                "Choose the rate of the light fluid, to the nearest 10 gal/min, so that the column keeps its margin "
                "at the bottom and at the shoe and the flow line can take the return. Any such rate is right.",
                "Choose the rate of the light fluid, to the nearest 50 L/min, so that the column keeps its margin "
                "at the bottom and at the shoe and the flow line can take the return. Any such rate is right.",
            ),
            grid=OFFERED,
            suggest=_suggested,
            limits=(
                Limit(
                    "holds the fluids at the bottom",
                    lambda n: _column(n)[0] >= n.pore + n.margin,
                    "At the bottom the column does not keep its margin above the pressure in the rock: so much light "
                    "fluid makes the riser too light.",
                    2,
                ),
                Limit(
                    "spares the shoe",
                    lambda n: _column(n)[1] <= n.fracture - n.margin,
                    "At the shoe the column does not keep its margin below the strength of the rock: so little light "
                    "fluid leaves the riser too heavy.",
                    2,
                ),
                Limit(
                    "flow line",
                    lambda n: n.mud_rate + n.a <= n.return_limit * 1.0001,
                    "The flow line cannot take mud and light fluid together at this rate.",
                    1,
                ),
            ),
            outcome=Outcome.RISER,
            reason=(
                "With {a} the column keeps its margin at both places, and there is some to either side. Any rate that "
                "keeps all three limits is as right."
            ),
        ),
        Numeric(
            key="b",
            ask="What does the mixture in the riser weigh at your rate?",
            unit=By("lb/gal", "kg/m3"),
            uses=("a",),
            solve=lambda n: _in_riser(n, n.a),
            plausible=Range(9.1, 10.3, "lb/gal"),
            tolerance=AS_A_WEIGHT,
            marks=Marks(2),
            outcome=Outcome.RISER,
            slips=(
                Slip(
                    "plain mean",
                    lambda n: (n.mud_weight + n.light) / 2,
                    "You took the mean of the two weights. The rates differ: weigh each fluid by its rate.",
                ),
                Slip(
                    "rates exchanged",
                    lambda n: riser_weight(n.a, n.mud_weight, n.mud_rate, n.light),
                    "You put the rate of each fluid to the weight of the other.",
                ),
                Slip(
                    "light fluid weightless",
                    lambda n: n.mud_weight * (n.mud_rate / (n.mud_rate + n.a)),
                    "You left the weight of the light fluid out. It adds its rate times its weight above the line.",
                ),
            ),
            working=(
                Step(
                    "Rate times weight of both, over both rates:",
                    "({mud_rate} * {mud_weight} + {a} * {light}) / ({mud_rate} + {a})",
                ),
            ),
        ),
        Table(
            key="c",
            ask="Which equivalent mud weight does the column at rest make at the two places?",
            rows=(Row("bottom", "bottom, at {depth}"), Row("shoe", "casing shoe, at {shoe}")),
            corner="place",
            columns=(
                Column(
                    key="weight",
                    title="equivalent mud weight",
                    unit=By("lb/gal", "kg/m3"),
                    uses=("b",),
                    solve=lambda n, row: _equivalent(n, _ROW_DEPTH[row], n.b),
                    plausible={"bottom": Range(10.3, 12.3, "lb/gal"), "shoe": Range(9.9, 12.0, "lb/gal")},
                    tolerance=AS_A_WEIGHT,
                    marks=Marks(2),
                    slips=(
                        RowSlip(
                            "plain mean",
                            lambda n, row: (n.b + n.mud_weight) / 2,
                            "You took the mean of riser and mud. Weigh each by its height in the column.",
                        ),
                        RowSlip(
                            "over the rock only",
                            lambda n, row: (
                                _equivalent(n, _ROW_DEPTH[row], n.b)
                                * getattr(n, _ROW_DEPTH[row])
                                / (getattr(n, _ROW_DEPTH[row]) - n.mudline)
                            ),
                            "You divided by the depth below the sea floor. The limits are given from the rig: divide "
                            "by the whole depth.",
                        ),
                        RowSlip(
                            "mud to the rig",
                            lambda n, row: n.mud_weight,
                            "This is the mud alone. Above the sea floor the riser holds the lighter mixture.",
                        ),
                    ),
                    working=_row_steps,
                ),
            ),
            outcome=Outcome.COLUMN,
        ),
        Numeric(
            key="d",
            ask="At what rate does the return reach the deck?",
            unit=By("gal/min", "L/min"),
            uses=("a",),
            solve=lambda n: n.mud_rate + n.a,
            plausible=Range(600, 1100, "gal/min"),
            tolerance=FLOWS_ADDED,
            marks=Marks(1),
            outcome=Outcome.RISER,
            slips=(
                Slip(
                    "light fluid alone",
                    lambda n: n.a,
                    "This is the light fluid alone. The mud comes back with it: add both.",
                ),
                Slip(
                    "mud alone",
                    lambda n: n.mud_rate,
                    "This is the mud alone. The light fluid comes back with it: add both.",
                ),
            ),
            working=(Step("What goes in comes back:", "{mud_rate} + {a}"),),
        ),
        Choice(
            key="e",
            ask=(
                "Which plant do you choose? It must keep to the power, the machine that stands by counted in, and "
                "pass no more barite than the next stage takes. If both plants do, either is right. What follows is "
                "marked on your choice."
            ),
            options=(
                Option(
                    "settling",
                    "A settling pit, since the barite sinks by itself.",
                    "The gels of the mud hold fine barite, and no pit on a deck gives it the hours it would need.",
                    never_right=True,
                ),
                Option("cyclones", "Cyclone modules.", LIMITS),
                Option("centrifuges", "Centrifuges.", LIMITS),
            ),
            right=_sound_plants,
            uses=("d",),
            marks=Marks(1),
            reason=(
                "Cyclone modules take little power and have no turning bowl, but let more barite pass and keep more "
                "liquid; centrifuges the other way round. Here {power} and {catch} decide, with {d} to take; where "
                "both plants keep them, the defence decides."
            ),
        ),
        Chosen(
            key="f",
            ask=(
                "Choose how many of these machines to put on the deck: with one of them out of service the others "
                "must take the return, and all together, with the one that stands by, must keep to power and deck. "
                "Any number that does both is right: give one."
            ),
            grid=Grid(1, 20, 1),
            uses=("d", "e"),
            suggest=lambda n: (_needed(n, n.d) + 1) * ONE,
            limits=(
                Limit(
                    "one out of service",
                    lambda n: (n.f - 1) * _of(n, "flow") >= n.d * 0.9999,
                    "With one machine out of service the others do not take the return.",
                    2,
                ),
                Limit(
                    "power and deck",
                    lambda n: n.f * _of(n, "power") <= n.power * 1.0001 and n.f * _of(n, "area") <= n.deck * 1.0001,
                    "All together they need more power than the plant may take, or do not fit on the deck given.",
                    2,
                ),
            ),
            reason="{f} machines take {d} with one out of service; one more would do as well.",
            digits=2,
        ),
        Numeric(
            key="g",
            ask="One of your machines stands by, the others run. What energy do they take at their shafts in a day, in "
            "kWh?",
            unit="kWh",
            uses=("e", "f"),
            solve=lambda n: energy((n.f - 1) * _of(n, "power")),
            plausible=Range(300, 34_000, "kWh"),
            tolerance=relative(0.01, because="0.746 for 0.7457 kW a horsepower, and a power to three figures"),
            marks=Marks(2),
            slips=(
                Slip(
                    "stand-by counted",
                    lambda n: energy(n.f * _of(n, "power")),
                    "You let the machine that stands by run too. Count only those that run.",
                ),
                Slip("one machine", lambda n: energy(_of(n, "power")), "This is one machine. Count all that run."),
                Slip(
                    "hp for kW",
                    lambda n: mislabelled(energy((n.f - 1) * _of(n, "power")), "hp*h", "kWh"),
                    "You used horsepower as if it were kilowatts. One horsepower is 0.746 kW.",
                    only=System.FIELD,
                ),
            ),
            working=(
                Step(
                    "The machines that run:",
                    By("({f} - 1) * {own_power} * 0.7457", "({f} - 1) * {own_power}"),
                    "running",
                    "kW",
                ),
                Step("In a day:", "{running} * 24"),
            ),
        ),
        Numeric(
            key="h",
            ask="At what rate does the underflow of your plant leave?",
            unit=By("gal/min", "L/min"),
            uses=("a", "e"),
            solve=lambda n: _heavy(n).total_rate,
            plausible=Range(85, 220, "gal/min"),
            method=tuple(
                Method(
                    key,
                    f"the {words} in it",
                    By("gal/min", "L/min"),
                    solve,
                    relative(0.015, because="three figures on the way"),
                    marks=1,
                    uses=("a", "e"),
                    plausible=plausible,
                )
                for key, words, solve, plausible in (
                    ("heavy", "barite", lambda n: _heavy(n).rate_of(BARITE_GRAINS), Range(33, 72, "gal/min")),
                    ("solids", "drilled solids", lambda n: _heavy(n).rate_of(DRILLED_GRAINS), Range(5, 22, "gal/min")),
                    ("liquid", "liquid", lambda n: _heavy(n).liquid_rate, Range(25, 150, "gal/min")),
                )
            ),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(4),
            slips=(
                Slip(
                    "liquid left out",
                    lambda n: _heavy(n).total_rate - _heavy(n).liquid_rate,
                    "You added the solids alone. Liquid goes down with them: add its share.",
                ),
                Slip(
                    "liquid of the mud alone",
                    lambda n: _heavy(n).total_rate - n.a * _of(n, "liquid"),
                    "You took the liquid of the mud alone. The light fluid is liquid too, and a share of it goes down.",
                ),
                Slip(
                    "fractions of the return",
                    lambda n: (
                        (n.mud_rate + n.a) * (n.barite * _of(n, "barite") + n.drilled * _of(n, "drilled"))
                        + _heavy(n).liquid_rate
                    ),
                    "You put the fractions of the mud on the whole return. The light fluid brings no solids: put them "
                    "on the rate of the mud.",
                ),
            ),
            working=(
                Step("Barite, on the rate of the mud:", "{mud_rate} * {barite} / 100 * {own_barite} / 100", "heavy"),
                Step("Drilled solids likewise:", "{mud_rate} * {drilled} / 100 * {own_drilled} / 100", "solids"),
                Step(
                    "Liquid, that of the mud and the light fluid:",
                    "({mud_rate} * (100 - {barite} - {drilled}) / 100 + {a}) * {own_liquid} / 100",
                    "liquid",
                ),
                Step("Together:", "{heavy} + {solids} + {liquid}"),
            ),
        ),
        Numeric(
            key="i",
            ask="What does the underflow weigh?",
            unit=By("lb/gal", "kg/m3"),
            uses=("a", "e", "h"),
            solve=lambda n: _heavy(n).mass_rate / n.h,
            plausible=Range(14.0, 23.2, "lb/gal"),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(3),
            slips=(
                Slip(
                    "liquid weightless",
                    lambda n: _heavy(n).solids_mass_rate / n.h,
                    "You left the weight of the liquid out. It adds its rate times its density.",
                ),
                Slip(
                    "all solids as barite",
                    lambda n: (
                        (_heavy(n).liquid_rate * n.light + (_heavy(n).total_rate - _heavy(n).liquid_rate) * BARITE)
                        / n.h
                    ),
                    "You counted the drilled solids as barite. They have their own density, SG 2.60.",
                ),
                Slip(
                    "mean of the three",
                    lambda n: (BARITE + LOW_GRAVITY + n.light) / 3,
                    "You took the mean of the three densities. Weigh each by its rate.",
                ),
            ),
            working=(
                Step("Barite in the underflow:", "{mud_rate} * {barite} / 100 * {own_barite} / 100", "heavy", FLOW),
                Step("Drilled solids:", "{mud_rate} * {drilled} / 100 * {own_drilled} / 100", "solids", FLOW),
                Step(
                    "Liquid:",
                    "({mud_rate} * (100 - {barite} - {drilled}) / 100 + {a}) * {own_liquid} / 100",
                    "liquid",
                    FLOW,
                ),
                Step(
                    By(
                        "Rate times density of the three, over all of the underflow. SG 1 is 8.345 lb/gal.",
                        "Rate times density of the three, over all of the underflow. SG 1 is 1000 kg/m³.",
                    ),
                    By(
                        "({heavy} * 4.20 * 8.345 + {solids} * 2.60 * 8.345 + {liquid} * {light}) / {h}",
                        "({heavy} * 4200 + {solids} * 2600 + {liquid} * {light}) / {h}",
                    ),
                ),
            ),
        ),
        Numeric(
            key="j",
            ask="At what rate must light fluid be mixed into the underflow to make mud of {mud_weight} of it again?",
            unit=By("gal/min", "L/min"),
            uses=("h", "i"),
            solve=_build_back,
            plausible=Range(60, 330, "gal/min"),
            tolerance=relative(0.02, because="a density rounded to 0.05 lb/gal moves the difference by 1 %"),
            marks=Marks(2),
            slips=(
                ratio_upside_down(
                    lambda n: n.h * ((n.mud_weight - n.light) / (n.i - n.mud_weight)),
                    "Underflow less mud goes above the line, mud less light fluid below it.",
                ),
                Slip(
                    "over underflow less light fluid",
                    lambda n: n.h * ((n.i - n.mud_weight) / (n.i - n.light)),
                    "You divided by underflow less light fluid. Divide by mud less light fluid.",
                ),
                Slip(
                    "ratio of the weights",
                    lambda n: n.h * (n.i / n.mud_weight - ONE),
                    "You left out that the light fluid has a weight: take it off below the line.",
                ),
            ),
            working=(
                Step(
                    "Underflow less mud, over mud less light fluid:",
                    "{h} * ({i} - {mud_weight}) / ({mud_weight} - {light})",
                ),
            ),
        ),
        Numeric(
            key="k",
            ask="What share of the mud built back is drilled solids, by volume?",
            unit="%",
            uses=("e", "h", "j"),
            solve=lambda n: n.mud_rate * n.drilled * _of(n, "drilled") / (n.h + n.j),
            plausible=Range(1.8, 5.8, "%"),
            tolerance=absolute(0.06, "%", because="a share rounded to a tenth of a percent, and rounded flows"),
            digits=3,
            marks=Marks(2),
            slips=(
                Slip(
                    "share of the underflow",
                    lambda n: n.mud_rate * n.drilled * _of(n, "drilled") / n.h,
                    "This is their share of the underflow. Light fluid is mixed in: divide by both together.",
                ),
                Slip(
                    "drilled solids of the overflow",
                    lambda n: n.mud_rate * n.drilled * (1 - _of(n, "drilled")) / (n.h + n.j),
                    "You took the drilled solids that leave with the overflow. Those in the underflow stay in the mud.",
                ),
            ),
            working=(
                Step(
                    "The drilled solids in the underflow:",
                    "{mud_rate} * {drilled} / 100 * {own_drilled} / 100",
                    "solids",
                    By("gal/min", "L/min"),
                ),
                Step("Over the mud built back, in percent:", "{solids} / ({h} + {j}) * 100", digits=3),
            ),
        ),
        Numeric(
            key="l",
            ask=By(
                "How many pounds of barite leave with the overflow each minute, for the next stage to catch?",
                "How many kilograms of barite leave with the overflow each minute, for the next stage to catch?",
            ),
            unit=By("lb/min", "kg/min"),
            uses=("e",),
            solve=_passed_barite,
            plausible=Range(80, 850, "lb/min"),
            tolerance=relative(0.015, because="barite at 35 or 35.05 lb/gal, and a share of three figures"),
            marks=Marks(2),
            slips=(
                Slip(
                    "barite of the underflow",
                    lambda n: n.mud_rate * n.barite * _of(n, "barite") * BARITE,
                    "This is the barite that is kept. What leaves is the rest of it.",
                ),
                Slip(
                    "weight of the mud",
                    lambda n: n.mud_rate * n.barite * (1 - _of(n, "barite")) * n.mud_weight,
                    "You weighed this barite as mud. Use the density of barite itself.",
                ),
            ),
            working=(
                Step(
                    By(
                        "What is not in the underflow; a gallon of barite weighs 35.05 lb:",
                        "What is not in the underflow; a litre of barite weighs 4.20 kg:",
                    ),
                    By(
                        "{mud_rate} * {barite} / 100 * (100 - {own_barite}) / 100 * 35.05",
                        "{mud_rate} * {barite} / 100 * (100 - {own_barite}) / 100 * 4.20",
                    ),
                ),
            ),
        ),
        Choice(
            key="m",
            ask="Compare the mud built back with the limit for drilled solids. What do you write in the plan?",
            options=(
                Option(
                    "over",
                    "The limit is passed: a part of the mud must be cleaned further or diluted before it goes down.",
                    "Compare your answer to (k) with the limit: the mud keeps it.",
                ),
                Option(
                    "kept",
                    "The limit is kept; go on watching it, for the fines build up with each round.",
                    "Compare your answer to (k) with the limit: the mud does not keep it.",
                ),
                Option(
                    "none",
                    "All drilled solids leave with the overflow: there is nothing to compare with a limit.",
                    "The plant sends most of the drilled solids down with the barite: look at its shares.",
                    never_right=True,
                ),
            ),
            uses=("k",),
            right=lambda n: "kept" if n.k <= n.most_drilled else "over",
            marks=Marks(1),
            reason="The mud built back holds {k}; the limit is {most_drilled}.",
        ),
        Written(
            key="n",
            ask=(
                "Defend your plan to the drilling superintendent in about ten sentences: the rate of light fluid, the "
                "plant and its number, the mud that it builds back, and what could go wrong."
            ),
            points=(
                Point("Gives the room at the bottom and at the shoe with figures, and which of the two is nearer.", 1),
                Point("Says which way each goes wrong: too much light fluid at the bottom, too little at the shoe.", 1),
                Point(
                    "Compares both plants with figures: power, liquid kept and barite passed; and says why this one.", 1
                ),
                Point("Names the machine that stands by, and what happens to the return when one fails.", 1),
                Point(
                    "Says what is still missing: barite for the next stage to catch, drilled solids and fines that "
                    "grow.",
                    1,
                ),
                Point(
                    "Names a hazard with its caution (turning bowl, pressure, light fluid that burns) or the loss of "
                    "light fluid in the riser, and leaves well control to certified people.",
                    1,
                ),
            ),
            model=(
                "The rate lies inside the window that bottom and shoe leave, with the room that the plan asks for at "
                "both; more light fluid would let the bottom flow, less would break the shoe. The return then stays "
                "below what the flow line can take. I give power and passed barite of both plants beside their limits "
                "and take one that keeps both. Cyclone modules need a small part of the power and have no turning "
                "bowl; but they let more barite pass and keep more liquid. Centrifuges keep more barite and less "
                "liquid, and their power, noise and crew are the price. Where both keep the limits I say which of "
                "these weighs more here. One machine stands by, so that the return is still treated when one plugs or "
                "is opened. The underflow is cut with light fluid to the weight of the mud. The next stage catches the "
                "barite that leaves with the overflow; what it misses is made up at the hopper. Most drilled solids "
                "come back with the barite, so they are measured every day, and fines are thrown out before they pass "
                "the limit. If the light fluid fails, the riser grows heavy: the driller hears at once, and certified "
                "people act by the plan. The light fluid burns: no sparks near the plant, hoses checked and tied, "
                "guards on, drives locked before work."
            ),
            outcome=Outcome.DEFENDING,
        ),
    ),
)
