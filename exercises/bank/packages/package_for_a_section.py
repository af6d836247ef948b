"""A case: shakers, cones and a centrifuge for a section, within limits of room, flow, power and drilled solids."""

from __future__ import annotations

import functools

import pint

from exercises.bank.packages import CARRIED, Outcome
from exercises.fleet.envelope import (
    DRILLED_SOLIDS,
    DRILLING_RATE,
    FEED_PUMP_HEAD,
    FEED_TO_DESILTER_CONE,
    FINES_BOWL_FEED,
    FLOW_OVER_FINE_SCREENS,
    FLOW_OVER_FINEST_SCREENS,
    OPEN_CONE_MUD_WEIGHT,
    POWER_OF_RATED,
    SHAKER_POWER,
    SMALL_BOWL_POWER,
)
from exercises.fleet.machines import DESILTER, FEED_PUMP, FINES_BOWL, SHAKER
from exercises.fleet.rigs import MIDDLE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range, System, mislabelled
from exercises.model.parts import Choice, Chosen, Known, Limit, Marks, Numeric, Option, Point, Slip, Written, relative
from exercises.model.working import Step
from pitside.circuit import SectionPlan, steady_state
from pitside.cyclones import Bank, number_of_cones, pump_duty
from pitside.materials import LOW_GRAVITY
from pitside.removal import drilled_solids_rate
from pitside.units import WATER_4C, Q

LOOK = "Your shakers must carry the flow with its margin when one is out, on screens no coarser than API 140."


def _wanted(n: Known | Numbers) -> pint.Quantity:
    return n.flow * (1 + n.margin)


def _carry(n: Known, shakers: pint.Quantity, share: float = 1.0) -> bool:
    """Whether the shakers carry the flow with one of them out of service."""
    return bool((shakers - 1) * n.shaker_flow * share >= _wanted(n))


def _rock(n: Known | Numbers) -> pint.Quantity:
    return drilled_solids_rate(n.hole, n.rate)


def _pump(n: Known | Numbers, cones: pint.Quantity | float) -> pint.Quantity:
    figures = (n.cone_flow.m_as("m**3/s"), n.mud_weight.m_as("kg/m**3"), n.head.m_as("m"), n.efficiency.m_as(""))
    return cones * Q(_pump_of_one(*figures), "W")


@functools.lru_cache(maxsize=4096)
def _pump_of_one(flow: float, mud_weight: float, head: float, efficiency: float) -> float:
    """Shaft power, W, that the pump takes for one cone."""
    duty = pump_duty(Q(flow, "m**3/s"), Q(mud_weight, "kg/m**3"), Q(head, "m"), efficiency)
    return float(duty.shaft_power.m_as("W"))


def _power(
    n: Known | Numbers, shakers: pint.Quantity | float, pump: pint.Quantity, feed: pint.Quantity
) -> pint.Quantity:
    """What they draw while they run: the centrifuge what it draws empty, and more with its feed."""
    return shakers * n.shaker_power + pump + _centrifuge(n, feed)


def _centrifuge(n: Known | Numbers, feed: pint.Quantity) -> pint.Quantity:
    return n.empty_power + (n.full_power - n.empty_power) * (feed / n.full_feed)


def _rated(n: Known, shakers: pint.Quantity | float) -> pint.Quantity:
    """What supply and cables are sized on: the motors, whatever they draw."""
    return shakers * n.shaker_power + n.motor + n.full_power


def _staying(n: Known | Numbers) -> pint.Quantity:
    return _rock(n) * (1 - n.shaker_share) * (1 - n.cone_share)


@functools.lru_cache(maxsize=20_000)
def _steady(hole: float, rate: float, removal: float, wet: float, feed: float, solids: float) -> float:
    """Steady share of drilled solids, from m, m/s and m3/s; the volumes of hole and pits play no part in it."""
    plan = SectionPlan(
        hole_diameter=Q(hole, "m"),
        length=Q(1000, "m"),
        rate_of_penetration=Q(rate, "m/s"),
        hole_volume=Q(100, "m**3"),
        pit_volume=Q(100, "m**3"),
        least_pit=Q(80, "m**3"),
        greatest_pit=Q(120, "m**3"),
        removal=removal,
        mud_on_cuttings=wet,
        treated_flow=Q(feed, "m**3/s"),
        treated_solids=solids,
    )
    return steady_state(plan).solids_fraction


def _solids(n: Known | Numbers, feed: pint.Quantity) -> pint.Quantity:
    """Drilled solids that the mud tends to, with this feed to the centrifuge."""
    removal = round(1 - float((1 - n.shaker_share) * (1 - n.cone_share)), 9)
    figures = (n.hole.m_as("m"), n.rate.m_as("m/s"), removal, n.wet.m_as(""), feed.m_as("m**3/s"), n.caught.m_as(""))
    return Q(_steady(*(float(figure) for figure in figures)))


def _screens(n: Known) -> str | tuple[str, ...]:
    flows = {"usual": 1.0, "finer": float(n.finer), "finest": float(n.finest)}
    return tuple(key for key in ("finer", "usual", "finest") if _carry(n, n.a, flows[key])) or "coarse"


def _most_power(n: Numbers) -> pint.Quantity:
    """Enough for the largest sound numbers of shakers and cones, and for some feed over the least that will do."""
    return _power(n, n.places, n.motor, n.design + n.full_feed / 6)


def _with_full_feed(n: Known) -> pint.Quantity:
    """Power of the fewest sound shakers and cones, with all that the centrifuge can take."""
    pump = _pump(n, number_of_cones(_wanted(n), n.cone_flow))
    return _power(n, Bank.for_flow(_wanted(n), n.shaker_flow, spare=1).modules, pump, n.full_feed)


def _in_water(weight: pint.Quantity) -> pint.Quantity:
    """Low-gravity solids that make water of this density: bentonite and drilled solids together."""
    return (weight - WATER_4C) / (LOW_GRAVITY - WATER_4C)


def _can_be_told(n: Known) -> bool:
    """Three to five shakers, eight cones or more, a usual limit of drilled solids; no quotient on its last digit."""
    shakers = (_wanted(n) / n.shaker_flow).m_as("")
    cones = (_wanted(n) / n.cone_flow).m_as("")
    return bool(
        0.05 <= shakers % 1 <= 0.95
        and 0.05 <= cones % 1 <= 0.95
        and 1 < shakers < 4
        and 8 <= cones <= 28
        and all(
            abs(machines * n.shaker_flow * share / _wanted(n) - 1) >= 0.02
            for machines in (2, 3, 4, 5)
            for share in (1, n.finer, n.finest)
        )
        and Q(3.5, "percent") <= n.limit <= Q(8, "percent")
        and Q(0.5, "percent") <= _in_water(n.mud_weight) - n.limit <= Q(4, "percent")
        and abs(n.finest - n.finer**2) <= 0.06  # a step of the ladder costs about the same share each time
        and _with_full_feed(n) >= 1.01 * n.supply  # so that there is a feed too large to choose
    )


EXERCISE = Exercise(
    title="A package for a section",
    level=3,
    minutes=75,
    combines=("shakers", "hydrocyclones", "centrifuges", "dilution", "active-system"),
    version=6,
    outcome=Outcome.SIZE,
    tolerance=CARRIED,
    numbers=(
        MIDDLE_HOLE.flow.number("flow", (10, "gal/min"), (2, "m3/h")),
        Number("margin", Grid(10, 20, 5, "%")),
        DESILTER.mud_weight.part(8.9, 9.6).number("mud_weight", (0.1, "lb/gal"), (10, "kg/m3")),
        Number("hole", Grid(12.25, 12.25, 0.01, "in"), Grid(311, 311, 1, "mm")),
        MIDDLE_HOLE.rate.part(40, 80).number("rate", (5, "ft/h"), (1, "m/h")),
        FLOW_OVER_FINE_SCREENS.part(320, 400).number("shaker_flow", (10, "gal/min"), (2, "m3/h")),
        SHAKER.power.rated.number("shaker_power", (0.5, "hp"), (0.5, "kW")),
        Number("shaker_share", Grid(40, 55, 5, "%")),
        Number("finer", Grid(0.80, 0.90, 0.05)),
        Number("finest", Grid(0.60, 0.80, 0.05)),
        DESILTER.flow.number("cone_flow", (2, "gal/min"), (0.5, "m3/h")),
        Number("cone_share", Grid(30, 45, 5, "%")),
        FEED_PUMP.head.part(80, 100).number("head", (1, "ft"), (0.5, "m")),
        FEED_PUMP.efficiency.part(60, 70).number("efficiency", (1, "%")),
        Number("wet", Grid(1.0, 1.5, 0.1)),
        Number("caught", Grid(30, 45, 5, "%")),
        Number("full_feed", Grid(120, 120, 5, "gal/min"), Grid(27, 27, 1, "m3/h")),
        FINES_BOWL.power.rated.number("full_power", (1, "hp"), (1, "kW")),
        FINES_BOWL.power.empty.number("empty_share", (1, "%")),
        Derived("empty_power", lambda n: n.full_power * n.empty_share, By("hp", "kW"), 0),
        Number("design", Grid(45, 75, 5, "gal/min"), Grid(10, 17, 1, "m3/h")),
        Number("in_hand", Grid(10, 10, 5, "gal/min"), Grid(2, 2, 1, "m3/h")),
        Derived("places", lambda n: Q(Bank.for_flow(_wanted(n), n.shaker_flow, spare=1).modules + 1), "fraction", 0),
        Derived("motor", lambda n: _pump(n, number_of_cones(_wanted(n), n.cone_flow) + 2.5), By("hp", "kW"), 1),
        # A little above what the suggested feed reaches, so that a feed somewhat below it is sound too.
        Derived("limit", lambda n: _solids(n, n.design - n.in_hand / 4), "%", 1),
        Derived("supply", _most_power, By("hp", "kW"), 0),
    ),
    valid=_can_be_told,
    envelope=(
        Within("flow over a shaker, API 140", lambda n: n.shaker_flow, FLOW_OVER_FINE_SCREENS),
        Within("flow over a shaker, API 170", lambda n: n.shaker_flow * n.finer, FLOW_OVER_FINE_SCREENS),
        Within("flow over a shaker, API 200", lambda n: n.shaker_flow * n.finest, FLOW_OVER_FINEST_SCREENS),
        Within("power of a shaker", lambda n: n.shaker_power, SHAKER_POWER),
        Within("feed of a cone", lambda n: n.cone_flow, FEED_TO_DESILTER_CONE),
        Within("mud weight at open cones", lambda n: n.mud_weight, OPEN_CONE_MUD_WEIGHT),
        Within("head of the pump", lambda n: n.head, FEED_PUMP_HEAD),
        Within("drilling rate", lambda n: n.rate, DRILLING_RATE),
        Within("feed of the bowl", lambda n: n.g, FINES_BOWL_FEED),
        Within("rated power of the bowl", lambda n: n.full_power, SMALL_BOWL_POWER),
        Within("power of the bowl, drawn of rated", lambda n: _centrifuge(n, n.g) / n.full_power, POWER_OF_RATED),
        Within("power of the plant, drawn of rated", lambda n: n.i / n.j, POWER_OF_RATED),
        Within("drilled solids in the long run", lambda n: n.h, DRILLED_SOLIDS),
    ),
    setting=(
        "Size the package for a section of Marram-1 of {hole}, drilled by rig Heron 4 at {rate} with unweighted mud "
        "of {mud_weight}, circulated at {flow}. The rock has no pores, and the hole stays in gauge. Shakers and cones "
        "must carry {margin} more than the circulation.\n\n"
        "- **Shakers**: they must carry this with one of them out of service. One takes {shaker_flow} of this mud "
        "on API 140 screens and draws {shaker_power}, which is also its rated power; the deck has places for "
        "{places}. They take out {shaker_share} of the rock (use this share whatever screens you choose below).\n"
        "- **Cones**: one takes {cone_flow} at its head; a cone that is not needed is shut off. They take out "
        "{cone_share} of what the shakers let pass.\n"
        "- **Pump of the cones**: it makes a head of {head} of the mud at an efficiency of {efficiency}; its motor is "
        "rated at {motor} at the shaft and may not give more.\n"
        "- **Discard**: each volume of rock that shakers and cones throw out takes {wet} volumes of mud with it.\n"
        "- **Centrifuge**: it takes mud from the pits and throws out {caught} of the drilled solids in its feed. With "
        "its pump it is rated at {full_power}, which it draws at its largest feed of {full_feed}; empty it draws "
        "{empty_power}, and in between the power rises evenly with the feed.\n"
        "- **Power**: while the plant runs it may draw {supply} at its shafts; the engines have no more to spare. "
        "Supply and cables are sized on the rated power of all its motors, which may be more, since not every motor "
        "runs full at once.\n"
        "- **Mud**: in the long run it may hold {limit} drilled solids; bentonite and salt add to its weight.\n\n"
        "Lifting, zones for electrical equipment, guards and lockout follow the rules of the site."
    ),
    parts=(
        Chosen(
            key="a",
            ask="How many shakers do you order? A whole number, up to 8. Any number that keeps all limits is right.",
            grid=Grid(1, 8, 1),
            digits=1,
            suggest=lambda n: n.places,
            limits=(
                Limit(
                    "flow with one out of service",
                    lambda n: _carry(n, n.a),
                    "With one of these out of service the rest do not carry the flow with its margin.",
                    marks=2,
                ),
                Limit(
                    "room on the deck", lambda n: n.a <= n.places, "There are not so many places on the deck.", marks=1
                ),
            ),
            reason=(
                "{a} fill the deck. With one out the rest carry the flow with its margin, and finer screens can be "
                "put on. One fewer is sound too."
            ),
        ),
        Choice(
            key="b",
            ask=(
                "Which screens do you put on your shakers? More than one may be right for your number of shakers: give "
                "one of them."
            ),
            options=(
                Option(
                    "coarse",
                    "API 100, which lets each shaker take 1.40 times its flow on API 140.",
                    LOOK,
                    never_right=True,
                ),
                Option("usual", "API 140.", LOOK),
                Option("finer", "API 170, which lets each shaker take {finer} times its flow on API 140.", LOOK),
                Option("finest", "API 200, which lets each shaker take {finest} times its flow on API 140.", LOOK),
            ),
            right=_screens,
            uses=("a",),
            marks=Marks(2),
            reason=(
                "API 140 is the coarsest that gives the share of the setting. Finer ones are sound as long as all "
                "shakers but one still carry the flow with its margin."
            ),
        ),
        Chosen(
            key="c",
            ask=(
                "How many cones do you open on the desilter? A whole number, up to 36. Any number that keeps all "
                "limits is right."
            ),
            grid=Grid(1, 36, 1),
            digits=2,
            suggest=lambda n: number_of_cones(_wanted(n), n.cone_flow),
            limits=(
                Limit(
                    "flow with its margin",
                    lambda n: n.c * n.cone_flow >= _wanted(n),
                    "These cones take less than the flow with its margin: mud slips past them.",
                    marks=2,
                ),
                Limit(
                    "motor of the pump",
                    lambda n: _pump(n, n.c) <= n.motor,
                    "So many cones ask more of the pump than its motor gives.",
                    marks=2,
                ),
            ),
            reason="{c} cones are the fewest that take the flow with its margin; one or two more still suit the motor.",
        ),
        Numeric(
            key="d",
            ask=By(
                "What power does the pump take at its shaft with your cones, in hp?",
                "What power does the pump take at its shaft with your cones, in kW?",
            ),
            unit=By("hp", "kW"),
            uses=("c",),
            solve=lambda n: _pump(n, n.c),
            plausible=Range(22, 60, "hp"),
            marks=Marks(2),
            slips=(
                Slip(
                    "efficiency left out",
                    lambda n: _pump(n, n.c) * n.efficiency,
                    "This is what the mud gets. The shaft must bring more: divide by the efficiency.",
                    keeps=1,
                ),
                Slip(
                    "power for water",
                    lambda n: _pump(n, n.c) * (WATER_4C / n.mud_weight),
                    "This is the power for water. The head is of the mud: put its specific gravity in.",
                    keeps=1,
                ),
                Slip("one cone", lambda n: _pump(n, 1), "This is for one cone. The pump feeds all of them."),
            ),
            working=(
                Step(
                    By(
                        "Flow times head times specific gravity, over 3960 and the efficiency.",
                        "Density times 9.81 times head times flow in cubic metres a second, over the efficiency.",
                    ),
                    By(
                        "{c} * {cone_flow} * {head} * ({mud_weight} / 8.345) / (3960 * {efficiency} / 100)",
                        "{mud_weight} * 9.81 * {head} * {c} * {cone_flow} / 3600 / ({efficiency} / 100) / 1000",
                    ),
                ),
            ),
        ),
        Numeric(
            key="e",
            ask=By(
                "How much rock comes up in an hour, in barrels?", "How much rock comes up in an hour, in cubic metres?"
            ),
            unit=By("bbl/h", "m3/h"),
            solve=_rock,
            plausible=Range(5, 12, "bbl/h"),
            marks=Marks(2),
            slips=(
                Slip(
                    "radius for diameter",
                    lambda n: _rock(n) * 4,
                    "Your answer is four times too large: the formula with pi / 4 takes the diameter, squared.",
                ),
                Slip(
                    "cubic feet called barrels",
                    lambda n: mislabelled(_rock(n), "ft3/h", "bbl/h"),
                    "This is in cubic feet. A barrel holds 5.615 of them: divide, or divide inches squared by 1029.4.",
                    only=System.FIELD,
                ),
                Slip(
                    "pi left out",
                    lambda n: n.hole**2 * n.rate,
                    "This is the rock of a square hole. Multiply by pi / 4.",
                ),
            ),
            working=(
                Step(
                    By("Diameter squared over 1029.4, times the rate.", "A circle of this diameter, times the rate."),
                    By("{hole}**2 / 1029.4 * {rate}", "pi / 4 * ({hole} / 1000)**2 * {rate}"),
                ),
            ),
        ),
        Numeric(
            key="f",
            ask="How much of this rock gets past shakers and cones into the pits, in an hour?",
            unit=By("bbl/h", "m3/h"),
            uses=("e",),
            solve=lambda n: n.e * (1 - n.shaker_share) * (1 - n.cone_share),
            plausible=Range(1.4, 5.2, "bbl/h"),
            marks=Marks(2),
            slips=(
                Slip(
                    "shares added",
                    lambda n: n.e * (1 - n.shaker_share - n.cone_share),
                    "You added the two shares. The cones take theirs of what the shakers let pass: multiply what is "
                    "left.",
                    keeps=0.5,
                ),
                Slip(
                    "cones left out",
                    lambda n: n.e * (1 - n.shaker_share),
                    "This is what gets past the shakers. The cones take out some of it.",
                    keeps=1,
                ),
                Slip(
                    "what is discarded",
                    lambda n: n.e * (1 - (1 - n.shaker_share) * (1 - n.cone_share)),
                    "This is what shakers and cones discard. The rest gets past them.",
                    keeps=1,
                ),
            ),
            working=(
                Step(
                    "What the shakers let pass, and of that what the cones let pass:",
                    "{e} * (1 - {shaker_share} / 100) * (1 - {cone_share} / 100)",
                ),
            ),
        ),
        Chosen(
            key="g",
            ask=By(
                "What feed do you give the centrifuge? Up to 120 gal/min, to the nearest 5 gal/min. Any feed that "
                "keeps all limits is right.",
                "What feed do you give the centrifuge? Up to 27 m³/h, to the nearest 1 m³/h. Any feed that keeps all "
                "limits is right.",
            ),
            grid=By(Grid(5, 120, 5, "gal/min"), Grid(1, 27, 1, "m3/h")),
            uses=("a", "d"),
            suggest=lambda n: n.design + n.in_hand,
            limits=(
                Limit(
                    "drilled solids in the long run",
                    lambda n: _solids(n, n.g) <= n.limit,
                    "With so small a feed the drilled solids rise over their limit in the long run.",
                    marks=3,
                ),
                Limit(
                    "power of the plant",
                    lambda n: _power(n, n.a, n.d, n.g) <= n.supply,
                    "With so large a feed shakers, pump and centrifuge draw more than the engines have to spare.",
                    marks=2,
                ),
            ),
            outcome=Outcome.DEFEND,
            reason="{g} keeps the drilled solids under {limit} with a little in hand, and the plant within {supply}.",
        ),
        Numeric(
            key="h",
            ask=(
                "What share of drilled solids does the mud tend to with your feed, in percent? What gets into the pits "
                "leaves in three ways, each at this share: in the mud on the discarded rock, in the mud that fills "
                "the new "
                "hole, and in what the centrifuge throws out (it throws out its share of the solids in its feed)."
            ),
            unit="%",
            uses=("g",),
            solve=lambda n: _solids(n, n.g),
            plausible=Range(3, 8, "%"),
            tolerance=relative(0.015, because="four figures carried with three digits each"),
            marks=Marks(4),
            outcome=Outcome.DEFEND,
            slips=(
                Slip(
                    "centrifuge alone",
                    lambda n: _staying(n) / (n.g * n.caught),
                    "You let the centrifuge alone take them away. Some leave in the mud on the rock and in the new "
                    "hole.",
                    keeps=2,
                ),
                Slip(
                    "all of the centrifuge's feed",
                    lambda n: _staying(n) / (n.g + _rock(n) + (_rock(n) - _staying(n)) * n.wet),
                    "You let the centrifuge clean all of its feed. It throws out only its share of the solids in it.",
                    keeps=2,
                ),
                Slip(
                    "new hole left out",
                    lambda n: _staying(n) / (n.g * n.caught + (_rock(n) - _staying(n)) * n.wet),
                    "You left out the new hole. The mud that fills it takes its drilled solids out of the pits.",
                    keeps=2,
                ),
            ),
            working=(
                Step(
                    "Rock in an hour:",
                    By("{hole}**2 / 1029.4 * {rate}", "pi / 4 * ({hole} / 1000)**2 * {rate}"),
                    "rock",
                    By("bbl/h", "m3/h"),
                ),
                Step(
                    "What gets into the pits:",
                    "{rock} * (1 - {shaker_share} / 100) * (1 - {cone_share} / 100)",
                    "stays",
                    By("bbl/h", "m3/h"),
                ),
                Step("Mud on the discarded rock:", "({rock} - {stays}) * {wet}", "clinging", By("bbl/h", "m3/h")),
                Step(
                    By(
                        "Mud whose solids the centrifuge takes out (60 / 42 turns gal/min into bbl/h):",
                        "Mud whose solids the centrifuge takes out:",
                    ),
                    By("{g} * 60 / 42 * {caught} / 100", "{g} * {caught} / 100"),
                    "cleaned",
                    By("bbl/h", "m3/h"),
                ),
                Step(
                    "What gets in over all that leaves; the new hole takes as much mud as there was rock:",
                    "{stays} / ({clinging} + {rock} + {cleaned}) * 100",
                ),
            ),
        ),
        Numeric(
            key="i",
            ask=By(
                "What do all your shakers, pump and centrifuge draw together at your feed, all of them running, in hp?",
                "What do all your shakers, pump and centrifuge draw together at your feed, all of them running, in kW?",
            ),
            unit=By("hp", "kW"),
            uses=("a", "d", "g"),
            solve=lambda n: _power(n, n.a, n.d, n.g),
            plausible=Range(50, 160, "hp"),
            marks=Marks(2),
            slips=(
                Slip(
                    "centrifuge at its largest feed",
                    lambda n: _power(n, n.a, n.d, n.full_feed),
                    "This is the load at the largest feed. At your feed the centrifuge draws less: what it draws "
                    "empty, and a part of the rest.",
                    keeps=1,
                ),
                Slip(
                    "nothing drawn empty",
                    lambda n: n.a * n.shaker_power + n.d + n.full_power * (n.g / n.full_feed),
                    "You let the power of the centrifuge go with its feed alone. It draws a good part of it empty, to "
                    "turn the bowl.",
                    keeps=1,
                ),
                Slip(
                    "one shaker",
                    lambda n: _power(n, 1, n.d, n.g),
                    "You counted one shaker. All that you ordered may run: multiply.",
                    keeps=1,
                ),
                Slip(
                    "pump left out",
                    lambda n: _power(n, n.a, 0 * n.d, n.g),
                    "You left out the pump of the cones. Add your answer to (d).",
                    keeps=1,
                ),
            ),
            working=(
                Step(
                    "The centrifuge: what it draws empty, and the rest in proportion to its feed:",
                    "{empty_power} + ({full_power} - {empty_power}) * {g} / {full_feed}",
                    "bowl",
                ),
                Step("Shakers, pump and centrifuge:", "{a} * {shaker_power} + {d} + {bowl}"),
            ),
        ),
        Numeric(
            key="j",
            ask=By(
                "On what power do you have supply and cables sized, in hp at the shafts?",
                "On what power do you have supply and cables sized, in kW at the shafts?",
            ),
            unit=By("hp", "kW"),
            uses=("a",),
            solve=lambda n: _rated(n, n.a),
            plausible=Range(75, 190, "hp"),
            marks=Marks(2),
            slips=(
                Slip(
                    "what the centrifuge draws empty",
                    lambda n: _rated(n, n.a) - n.full_power + n.empty_power,
                    "You took what the centrifuge draws empty. Supply and cables must bear what it is rated for, "
                    "whatever it draws today.",
                    keeps=0.5,
                ),
                Slip(
                    "pump left out",
                    lambda n: n.a * n.shaker_power + n.full_power,
                    "You left out the motor of the pump. Add what it is rated for.",
                    keeps=1,
                ),
                Slip(
                    "one shaker",
                    lambda n: _rated(n, 1),
                    "You counted one shaker. All that you ordered may run: multiply.",
                    keeps=1,
                ),
            ),
            working=(
                Step(
                    "The rated power of all motors: shakers, pump and centrifuge:",
                    "{a} * {shaker_power} + {motor} + {full_power}",
                ),
            ),
        ),
        Written(
            key="k",
            ask=(
                "Defend your package to the rig manager in five or six sentences: each limit and how much is left to "
                "it, what fails first if a machine goes down, and what you would change if the rock came up twice as "
                "fast."
            ),
            points=(
                Point("Compares room, flow, motor, power and drilled solids with their limits, with own figures.", 2),
                Point("Says what happens with a shaker, the cone pump or the centrifuge out of service.", 2),
                Point(
                    "Twice the rock: more feed or a second centrifuge, finer screens or dilution, with its price.", 1
                ),
                Point(
                    "Names a trade-off of the own choice, such as finer screens against room, or feed against power.", 1
                ),
            ),
            model=(
                "I list my shakers, cones, pump power, total power and drilled solids, each beside its limit. With "
                "one shaker out the others still carry the flow. Without the cones or the centrifuge the drilled "
                "solids climb over their limit, so I say which mud I would dilute or how I would slow down until it "
                "runs. Twice the rock nearly doubles the share of drilled solids: I would raise the feed as far as "
                "power allows, then add a centrifuge or dilute. My choice trades something: more shakers take room "
                "but allow finer screens; more feed lowers the solids but takes power, and loses more liquid with the "
                "discard."
            ),
            outcome=Outcome.DEFEND,
        ),
    ),
)
