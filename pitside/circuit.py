"""The active mud system over time while a section is drilled.

``SectionPlan``: hole, pits, mud, machines, limits, prices. ``drill_section``: works it through time and gives a
``History``. ``steady_state``: where the mud ends up, solved directly. ``solids_build_up``: the exact way there while
the pit is kept at its level.

The mud is drilled solids, weighting material and liquid, well mixed. Each part of drilling acts all the time:

* The bit makes hole. Rock goes into the mud, with the liquid of its pores; mud goes down to fill the new hole, less the
  steel of the pipe that follows.
* The machines discard a share of the rock as it comes up, and mud that clings to it. A second machine may treat a side
  stream of the mud and discard a share of each of its parts.
* Mud may be lost down the hole.
* Clean mud, liquid and weighting material, is added for two reasons only: the pit would fall below its least volume, or
  drilled solids would exceed their limit. Weighting material in it, or beyond it, holds the mud weight; where drilled
  solids alone make the mud too heavy, none is added and the weight rises.
* Mud is dumped where the pit would rise above its greatest volume.

The state is stepped by the classic fourth-order Runge-Kutta method, each step cut where a limit is met, so that no step
straddles one, and short against the time in which the mud is renewed. Halving the steps moves no volume by more than
:data:`STEP_ERROR` of the mud. What came and went is stepped with the contents, so that each component balances to
rounding.
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass, fields
from typing import Any, NamedTuple

import numpy as np
import pint

from pitside.errors import CalculationError
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.removal import FREE, drilled_hole_volume
from pitside.units import (
    WATER_4C,
    Q,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_less_than_all,
    require_not_negative,
    require_share,
)

#: How far halving the steps may move any volume of a history, relative to the mud; the tests hold it.
STEP_ERROR = 1e-6
#: Steps of a history, unless told.
STEPS = 240
#: Nothing of it.
NO_STEEL, NO_FLOW, FREE_MATERIAL = Q(0.0, "m**2"), Q(0.0, "m**3/s"), Q(0.0, "money/kg")
#: How near to a limit counts as on it, relative.
_NEAR = 1e-10
#: Share of the mud that may be renewed in one step of the integrator; intervals in which more would be take several.
_LARGEST_TURNOVER = 0.1


class Component(enum.IntEnum):
    """What the mud is made of: the last axis of the arrays of a :class:`History`."""

    SOLIDS = 0
    WEIGHTING = 1
    LIQUID = 2


_MAY_BE_ZERO = (
    "hole_volume",
    "pit_volume",
    "mud_on_cuttings",
    "washout",
    "steel_displacement",
    "loss_rate",
    "treated_flow",
    "liquid_cost",
    "weighting_cost",
    "disposal_cost",
)
_ABOVE_ZERO = (
    "least_pit",
    "hole_diameter",
    "length",
    "rate_of_penetration",
    "solids_density",
    "weighting_density",
    "liquid_density",
)
_SHARES = ("removal", "treated_solids", "treated_weighting", "treated_liquid")


@quantity_fields(
    hole_diameter="[length]",
    length="[length]",
    rate_of_penetration="[velocity]",
    hole_volume="[volume]",
    pit_volume="[volume]",
    least_pit="[volume]",
    greatest_pit="[volume]",
    removal="[]",
    mud_on_cuttings="[]",
    mud_weight="[density]",
    solids_fraction="[]",
    solids_limit="[]",
    washout="[]",
    porosity="[]",
    steel_displacement="[volume]/[length]",
    loss_rate="[volumetric_flow_rate]",
    treated_flow="[volumetric_flow_rate]",
    treated_solids="[]",
    treated_weighting="[]",
    treated_liquid="[]",
    solids_density="[density]",
    weighting_density="[density]",
    liquid_density="[density]",
    liquid_cost="[currency]/[volume]",
    weighting_cost="[currency]/[mass]",
    disposal_cost="[currency]/[volume]",
)
@dataclass(frozen=True, kw_only=True)
class SectionPlan:
    """A section to drill and the system that it is drilled with; every figure a scalar, kept in SI.

    ``hole_diameter``: of the bit. ``length``: to drill. ``rate_of_penetration``: along the hole, waiting included.
    ``washout``: by volume. ``porosity``: of the rock. ``steel_displacement``: steel of the pipe in each length of hole.

    ``hole_volume``: mud in the hole at the start. ``pit_volume``: mud in the pits at the start, between ``least_pit``
    and ``greatest_pit``.

    ``removal``: share of the rock that the machines discard as it comes up. ``mud_on_cuttings``: volume of mud that is
    discarded with each volume of that rock. ``treated_flow``: of the side stream to a centrifuge or cyclones, and
    ``treated_solids``, ``treated_weighting``, ``treated_liquid``: shares of its parts that go to discard there.
    ``loss_rate``: mud lost down the hole.

    ``mud_weight``: at the start and to be held; None for a mud without weighting material, whose weight is what drilled
    solids make it. ``solids_fraction``: of drilled solids at the start. ``solids_limit``: not to be exceeded; None for
    no limit.

    ``solids_density``, ``weighting_density``, ``liquid_density``: of the three parts. ``liquid_cost``,
    ``weighting_cost``, ``disposal_cost``: of liquid added, of material added, of what is discarded or dumped.

    Raises :class:`CalculationError` for a wrong dimension and for a system that cannot be.
    """

    hole_diameter: pint.Quantity
    length: pint.Quantity
    rate_of_penetration: pint.Quantity
    hole_volume: pint.Quantity
    pit_volume: pint.Quantity
    least_pit: pint.Quantity
    greatest_pit: pint.Quantity
    removal: pint.Quantity | float
    mud_on_cuttings: pint.Quantity | float
    mud_weight: pint.Quantity | None = None
    solids_fraction: pint.Quantity | float = 0.0
    solids_limit: pint.Quantity | float | None = None
    washout: pint.Quantity | float = 0.0
    porosity: pint.Quantity | float = 0.0
    steel_displacement: pint.Quantity = NO_STEEL
    loss_rate: pint.Quantity = NO_FLOW
    treated_flow: pint.Quantity = NO_FLOW
    treated_solids: pint.Quantity | float = 0.0
    treated_weighting: pint.Quantity | float = 0.0
    treated_liquid: pint.Quantity | float = 0.0
    solids_density: pint.Quantity = LOW_GRAVITY
    weighting_density: pint.Quantity = BARITE
    liquid_density: pint.Quantity = WATER_4C
    liquid_cost: pint.Quantity = FREE
    weighting_cost: pint.Quantity = FREE_MATERIAL
    disposal_cost: pint.Quantity = FREE

    def __post_init__(self) -> None:
        given = _given(self)
        for name, number in given.items():
            require(np.ndim(number) == 0, f"{name.replace('_', ' ')} must be one figure, not a list")
        require_above_zero(**{name: given[name] for name in _ABOVE_ZERO})
        require_not_negative(**{name: given[name] for name in _MAY_BE_ZERO})
        require_share(**{name: given[name] for name in _SHARES})
        require_less_than_all(porosity=given["porosity"], solids_fraction=given["solids_fraction"])
        limit = given.get("solids_limit", 1.0)
        require(0 < limit <= 1, "solids limit must lie above 0, to 100 %")
        require(given["solids_fraction"] <= limit, "the mud must not start with more drilled solids than their limit")
        require(given["least_pit"] < given["greatest_pit"], "the pit's least volume must be below its greatest")
        require(
            given["least_pit"] <= given["pit_volume"] <= given["greatest_pit"],
            "the pit must start between its least and its greatest volume",
        )
        require(
            given["liquid_density"] < given["weighting_density"], "weighting material must be denser than the liquid"
        )
        if "mud_weight" in given:
            _require_weighted(given)

    @property
    def duration(self) -> pint.Quantity:
        """Time that drilling the section takes, s."""
        return self.length / self.rate_of_penetration


def _given(plan: SectionPlan) -> dict[str, Any]:
    """The figures of a plan that are given, as plain SI numbers."""
    return {field.name: value.magnitude for field in fields(plan) if (value := getattr(plan, field.name)) is not None}


def _require_weighted(given: dict[str, float]) -> None:
    """The mud weight is one that weighting material can give to the liquid with its drilled solids."""
    unweighted = _density(given, given["solids_fraction"], 0.0)
    require(
        unweighted <= given["mud_weight"] * (1 + _NEAR),
        "the mud weight lies below that of its liquid and drilled solids: give a higher one, or none if the mud "
        "holds no weighting material",
    )
    require(given["mud_weight"] < given["weighting_density"], "the mud weight must be below that of the material")
    require(
        given["solids_fraction"] + _weighting_fraction(given, given["solids_fraction"]) < 1,
        "the mud would hold no liquid",
    )


def _density(given: dict[str, float], solids: float, weighting: float) -> float:
    """Mud weight from fractions, kg/m3."""
    liquid = 1 - solids - weighting
    return solids * given["solids_density"] + weighting * given["weighting_density"] + liquid * given["liquid_density"]


def _weighting_fraction(given: dict[str, float], solids: float) -> float:
    """Fraction of weighting material that gives the mud its weight."""
    lacking = given["mud_weight"] - _density(given, solids, 0.0)
    return lacking / (given["weighting_density"] - given["liquid_density"])


class _System(NamedTuple):
    """A plan in plain SI numbers, worked out as far as time leaves it alone."""

    rock: float  # m3/s that the bit makes
    pore_liquid: float
    room: float  # m3/s by which the mud's room in the hole grows
    removed: float  # m3/s of rock that the machines discard as it comes
    clinging: float  # m3/s of mud with it
    lost: float
    treated: np.ndarray  # m3/s of each component that the side machine would discard of a mud of it alone
    densities: np.ndarray
    mud_weight: float | None
    solids_limit: float | None
    start: np.ndarray  # m3 of each component
    hole: float  # m3 of mud in the hole at the start
    least_pit: float
    greatest_pit: float

    @property
    def leaving(self) -> float:
        """Mud that leaves whole, m3/s."""
        return self.clinging + self.lost

    @property
    def turnover(self) -> float:
        """Share of the mud that is renewed in time, 1/s, at the most."""
        rate = self.leaving + self.treated.max() + self.rock + self.pore_liquid
        if self.solids_limit is not None:
            rate = max(rate, (self.rock - self.removed) / self.solids_limit)
        return rate / (self.hole + self.least_pit)


def _system(plan: SectionPlan) -> _System:
    given = {name: float(figure) for name, figure in _given(plan).items()}
    hole_rate = float(
        (drilled_hole_volume(plan.hole_diameter, plan.length, plan.washout) / plan.duration).m_as("m**3/s")
    )
    rock = hole_rate * (1 - given["porosity"])
    removed = given["removal"] * rock
    solids = given["solids_fraction"]
    weighting = _weighting_fraction(given, solids) if "mud_weight" in given else 0.0
    shares = np.array([given["treated_solids"], given["treated_weighting"], given["treated_liquid"]])
    volume = given["hole_volume"] + given["pit_volume"]
    room = hole_rate - given["steel_displacement"] * given["rate_of_penetration"]
    require(room >= -_NEAR * hole_rate, "the steel of the pipe must not take more room than the hole gives")
    room = max(room, 0.0)
    return _System(
        rock=rock,
        pore_liquid=hole_rate - rock,
        room=room,
        removed=removed,
        clinging=removed * given["mud_on_cuttings"],
        lost=given["loss_rate"],
        treated=given["treated_flow"] * shares,
        densities=np.array([given["solids_density"], given["weighting_density"], given["liquid_density"]]),
        mud_weight=given.get("mud_weight"),
        solids_limit=given.get("solids_limit"),
        start=volume * np.array([solids, weighting, 1 - solids - weighting]),
        hole=given["hole_volume"],
        least_pit=given["least_pit"],
        greatest_pit=given["greatest_pit"],
    )


#: Rows of the state, each over the components: what the mud holds, and what came and went since the start.
_CONTENTS, _DRILLED, _MIXED, _DISCARDED, _DUMPED, _LOST = range(6)
#: Limits that the mud may meet.
_AT_SOLIDS, _AT_LEAST, _AT_GREATEST, _AT_WEIGHT = range(4)


def _beyond(contents: np.ndarray, time: float, system: _System) -> np.ndarray:
    """How far the mud lies beyond each limit, relative; below zero where it keeps it."""
    volume = contents.sum()
    pit = volume - system.hole - system.room * time
    solids = -np.inf if system.solids_limit is None else contents[0] / volume - system.solids_limit
    weight = -np.inf
    if system.mud_weight is not None:
        weight = 1 - contents @ system.densities / (volume * system.mud_weight)
    return np.array([solids, (system.least_pit - pit) / volume, (pit - system.greatest_pit) / volume, weight])


def _rates(contents: np.ndarray, at: np.ndarray, system: _System) -> np.ndarray:
    """Rates of change of the state, m3/s, where the limits in ``at`` are met."""
    shares = contents / contents.sum()
    rates = np.zeros((6, 3))
    rates[_DRILLED] = system.rock, 0.0, system.pore_liquid
    rates[_DISCARDED] = system.clinging * shares + system.treated * shares
    rates[_DISCARDED, 0] += system.removed
    rates[_LOST] = system.lost * shares
    unaided = rates[_DRILLED] - rates[_DISCARDED] - rates[_LOST]
    rates[_MIXED] = _mixed(unaided, at, system)
    surplus = unaided.sum() + rates[_MIXED].sum() - system.room
    if at[_AT_GREATEST] and surplus > 0:
        rates[_DUMPED] = surplus * shares
    rates[_CONTENTS] = unaided + rates[_MIXED] - rates[_DUMPED]
    return rates


def _mixed(unaided: np.ndarray, at: np.ndarray, system: _System) -> tuple[float, float, float]:
    """Clean mud that must be added so that no limit that is met is passed: rates of its components."""
    growth = unaided.sum()
    added = 0.0
    if at[_AT_LEAST]:
        added = max(added, system.room - growth)
    if at[_AT_SOLIDS] and system.solids_limit is not None:
        added = max(added, unaided[0] / system.solids_limit - growth)
    if not at[_AT_WEIGHT] or system.mud_weight is None:
        return 0.0, 0.0, added
    _, heavy, light = system.densities
    lacking = system.mud_weight * growth - unaided @ system.densities
    weighting = max(0.0, (lacking + added * (system.mud_weight - light)) / (heavy - light))
    if weighting > added:
        # Even clean mud of nothing else is too light, so that material goes in by itself.
        weighting = added = lacking / (heavy - system.mud_weight)
    return 0.0, weighting, added - weighting


def _stepped(state: np.ndarray, step: float, at: np.ndarray, system: _System) -> np.ndarray:
    """The state one step on, by the classic Runge-Kutta method."""
    contents = state[_CONTENTS]
    first = _rates(contents, at, system)
    second = _rates(contents + step / 2 * first[_CONTENTS], at, system)
    third = _rates(contents + step / 2 * second[_CONTENTS], at, system)
    fourth = _rates(contents + step * third[_CONTENTS], at, system)
    return state + step / 6 * (first + 2 * (second + third) + fourth)


def _advanced(state: np.ndarray, time: float, step: float, system: _System) -> np.ndarray:
    """The state one interval on, which is cut wherever the mud meets a limit that it did not lie on."""
    end = time + step
    for _ in range(100):
        at = _beyond(state[_CONTENTS], time, system) > -_NEAR
        left = end - time
        after = _stepped(state, left, at, system)
        if not np.any(_beyond(after[_CONTENTS], end, system)[~at] > _NEAR):
            return after
        least, greatest = 0.0, left
        while greatest - least > 1e-13 * step:
            middle = (least + greatest) / 2
            after = _stepped(state, middle, at, system)
            if np.any(_beyond(after[_CONTENTS], time + middle, system)[~at] > 0):
                greatest = middle
            else:
                least = middle
        state = _stepped(state, greatest, at, system)
        time += greatest
    raise CalculationError("the mud meets its limits again and again: set them further apart, or take more steps")


@dataclass(frozen=True, eq=False)
class History:
    """What became of the mud while a section was drilled. Arrays over n + 1 times, the start first.

    ``time``, s. ``contents``, m3 of each component in the mud, and since the start, m3 of each: ``drilled``, ``mixed``
    (clean mud), ``discarded`` by the machines, ``dumped`` from the pits, ``lost`` down the hole; shape (n + 1, 3), the
    last axis by :class:`Component`. Everything else follows from these.
    """

    plan: SectionPlan
    time: pint.Quantity
    contents: pint.Quantity
    drilled: pint.Quantity
    mixed: pint.Quantity
    discarded: pint.Quantity
    dumped: pint.Quantity
    lost: pint.Quantity

    @property
    def depth(self) -> pint.Quantity:
        """Length drilled since the start, m."""
        return self.time * self.plan.rate_of_penetration

    @property
    def mud_volume(self) -> pint.Quantity:
        """Mud in hole and pits, m3."""
        return self.contents.sum(axis=1)

    @property
    def hole_volume(self) -> pint.Quantity:
        """Mud in the hole, m3."""
        return self.plan.hole_volume + _system(self.plan).room * Q(1.0, "m**3/s") * self.time

    @property
    def pit_volume(self) -> pint.Quantity:
        """Mud in the pits, m3."""
        return self.mud_volume - self.hole_volume

    def fraction(self, component: Component) -> pint.Quantity:
        """Volume fraction of a component of the mud."""
        return self.contents[:, component] / self.mud_volume

    @property
    def solids_fraction(self) -> pint.Quantity:
        """Volume fraction of drilled solids in the mud."""
        return self.fraction(Component.SOLIDS)

    @property
    def mud_weight(self) -> pint.Quantity:
        """Density of the mud, kg/m3."""
        plan = self.plan
        densities = (plan.solids_density, plan.weighting_density, plan.liquid_density)
        return Q(self.contents.magnitude @ [density.magnitude for density in densities], "kg") / self.mud_volume

    @property
    def clean_mud(self) -> pint.Quantity:
        """Clean mud added since the start, m3."""
        return self.mixed.sum(axis=1)

    @property
    def weighting_mass(self) -> pint.Quantity:
        """Weighting material added since the start, kg."""
        return self.mixed[:, Component.WEIGHTING] * self.plan.weighting_density

    @property
    def waste(self) -> pint.Quantity:
        """What was discarded and dumped since the start, m3."""
        return (self.discarded + self.dumped).sum(axis=1)

    @property
    def cost(self) -> pint.Quantity:
        """Cost of liquid, weighting material and disposal since the start, money."""
        liquid = self.mixed[:, Component.LIQUID] * self.plan.liquid_cost
        return liquid + self.weighting_mass * self.plan.weighting_cost + self.waste * self.plan.disposal_cost

    @property
    def greatest_mixing_rate(self) -> pint.Quantity:
        """Most clean mud that had to be mixed in an interval, as a rate, m3/s: more than the rig can mix is no plan."""
        return (np.diff(self.clean_mud.magnitude) / np.diff(self.time.magnitude)).max() * Q(1.0, "m**3/s")

    @property
    def imbalance(self) -> float:
        """Greatest gap between what came, went and is there, of any component at any time, relative to the mud."""
        change = self.contents - self.contents[0]
        gap = change - self.drilled - self.mixed + self.discarded + self.dumped + self.lost
        return float(np.max(np.abs(gap.magnitude)) / self.mud_volume.magnitude.max())


def drill_section(plan: SectionPlan, steps: int = STEPS) -> History:
    """The mud through time while a section is drilled.

    d contents / dt = drilled + mixed - discarded - dumped - lost, for each component

    Parameters
    ----------
    plan : the section and its system.
    steps : number of intervals of the history, all of one length.

    Returns
    -------
    A :class:`History`.

    Raises
    ------
    CalculationError : fewer than one step; a mud that cannot keep its limits.

    Valid range: mud that is well mixed all the time, clean mud at hand as fast as it is needed.
    Source: volume balance, derived; handbook figures that it reproduces are in the tests.

    >>> plan = SectionPlan(
    ...     hole_diameter=Q(12.25, "in"), length=Q(1000, "m"), rate_of_penetration=Q(15, "m/h"),
    ...     hole_volume=Q(600, "bbl"), pit_volume=Q(800, "bbl"), least_pit=Q(700, "bbl"), greatest_pit=Q(1000, "bbl"),
    ...     removal=Q(80, "percent"), mud_on_cuttings=1.5, mud_weight=Q(11, "lb/gal"), solids_limit=Q(6, "percent"),
    ... )
    >>> history = drill_section(plan)
    >>> print(f"{history.solids_fraction[-1].to('percent'):.1f~P}, {history.clean_mud[-1].to('bbl'):.0f~P} added")
    4.5 %, 857 bbl added
    """
    system = _system(plan)
    require(steps >= 1, "a history takes at least one step")
    duration = float(plan.duration.magnitude)
    step = duration / steps
    states = np.zeros((steps + 1, 6, 3))
    states[0, _CONTENTS] = system.start
    parts = math.ceil(system.turnover * step / _LARGEST_TURNOVER)
    for number in range(steps):
        state = states[number]
        for part in range(parts):
            state = _advanced(state, (number + part / parts) * step, step / parts, system)
        states[number + 1] = state
    rows = (Q(states[:, row], "m**3") for row in range(6))
    return History(plan, Q(np.linspace(0.0, duration, steps + 1), "s"), *rows)


@dataclass(frozen=True)
class SteadyState:
    """Where the mud ends up if drilling goes on, volumes kept. Fractions are numbers, rates in SI.

    ``mud_weight``: above the plan's where drilled solids alone make it so. ``clean_mud``, ``weighting`` (of it, a mass
    rate): to be added. ``discard``: leaves the machines. ``surplus``: mud to be dumped or stored, above zero where
    drilled solids must be diluted further than the pit level asks for.
    """

    solids_fraction: float
    weighting_fraction: float
    mud_weight: pint.Quantity
    clean_mud: pint.Quantity
    weighting: pint.Quantity
    discard: pint.Quantity
    surplus: pint.Quantity


def steady_state(plan: SectionPlan) -> SteadyState:
    """Composition that the mud of a plan tends to, and what it takes to hold it.

    solids_fraction = rock that stays / (mud that leaves whole + treated solids + growth of the mud's room in the hole),
    or the plan's limit where that is lower, with a surplus that makes up the balance

    Parameters
    ----------
    plan : the section and its system; its length and starting mud play no part.

    Returns
    -------
    A :class:`SteadyState`.

    Raises
    ------
    CalculationError : a system in which nothing takes drilled solids away, or that gains more liquid than it uses.

    Valid range: pit kept at its level. How long it takes is in :func:`solids_build_up`; many sections end before.
    Source: volume balance, derived.

    >>> plan = SectionPlan(
    ...     hole_diameter=Q(12.25, "in"), length=Q(1000, "m"), rate_of_penetration=Q(15, "m/h"),
    ...     hole_volume=Q(600, "bbl"), pit_volume=Q(800, "bbl"), least_pit=Q(700, "bbl"), greatest_pit=Q(1000, "bbl"),
    ...     removal=Q(80, "percent"), mud_on_cuttings=1.5, mud_weight=Q(11, "lb/gal"),
    ... )
    >>> state = steady_state(plan)
    >>> print(f"{state.solids_fraction:.4f}, {state.clean_mud.to('bbl/h'):.1f~P}, {state.surplus.to('bbl/h'):.1f~P}")
    0.0909, 14.3 bbl/h, 0.0 bbl/h
    """
    system = _system(plan)
    staying = system.rock - system.removed
    carried = system.leaving + system.treated[0] + system.room
    require(carried > 0 or staying == 0, "nothing takes drilled solids away: there is no steady state")
    solids = float(staying / carried) if staying > 0 else 0.0
    surplus = 0.0
    if system.solids_limit is not None and solids > system.solids_limit:
        surplus = staying / system.solids_limit - carried
        solids = system.solids_limit
    require(solids < 1, "the mud turns to rock: there is no steady state")
    heavy, light = system.densities[1:]
    weight = solids * system.densities[0] + (1 - solids) * light
    weighting = 0.0
    if system.mud_weight is not None and weight < system.mud_weight:
        weighting = (system.mud_weight - weight) / (heavy - light)
        weight = system.mud_weight
    shares = np.array([solids, weighting, 1 - solids - weighting])
    leaving = (system.leaving + system.treated + system.room + surplus) * shares
    material, liquid = leaving[1], leaving[2] - system.pore_liquid
    require(liquid >= 0, "the rock's pores give more liquid than the mud uses: there is no steady state")
    discard = system.removed + (system.clinging + system.treated) @ shares
    flows = (material + liquid, discard, surplus)
    clean_mud, discarded, dumped = (Q(float(flow), "m**3/s") for flow in flows)
    return SteadyState(
        solids, weighting, Q(weight, "kg/m**3"), clean_mud, Q(float(material * heavy), "kg/s"), discarded, dumped
    )


@quantities(returns="[]", time="[time]")
def solids_build_up(plan: SectionPlan, time: pint.Quantity) -> pint.Quantity:
    """Drilled solids in the mud after a time, exactly, while the pit is kept at its level.

    fraction = steady + (start - steady) * (volume / start volume) ** (-carried / growth),
    with the growth of the mud's room in the hole; an exponential where there is none

    Parameters
    ----------
    plan : the section and its system.
    time : since the start (h or d); scalar or array.

    Returns
    -------
    Volume fraction of drilled solids.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative time; as :func:`steady_state`.

    Valid range: the pit starts at its least volume and is kept there, drilled solids keep below their limit.
    Source: the balance of :func:`drill_section` solved, derived.

    >>> plan = SectionPlan(
    ...     hole_diameter=Q(12.25, "in"), length=Q(1000, "m"), rate_of_penetration=Q(15, "m/h"),
    ...     hole_volume=Q(600, "bbl"), pit_volume=Q(800, "bbl"), least_pit=Q(800, "bbl"), greatest_pit=Q(1000, "bbl"),
    ...     removal=Q(80, "percent"), mud_on_cuttings=1.5, mud_weight=Q(11, "lb/gal"),
    ... )
    >>> [f"{share:.4f}" for share in solids_build_up(plan, Q([0, 24, 72], "h")).magnitude]
    ['0.0000', '0.0205', '0.0454']
    """
    require_not_negative(time=time)
    system = _system(plan)
    carried = system.leaving + system.treated[0] + system.room
    staying = system.rock - system.removed
    require(carried > 0, "nothing takes drilled solids away: there is no steady state")
    steady, start, volume = staying / carried, system.start[0] / system.start.sum(), system.start.sum()
    if system.room > 0:
        fading = np.exp(-carried / system.room * np.log1p(system.room * time.magnitude / volume))
    else:
        fading = np.exp(-carried * time.magnitude / volume)
    return Q(steady + (start - steady) * fading)
