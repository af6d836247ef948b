"""How grains settle in a mud that is no simple liquid: held by a yield stress, slowed by shear-thinning.

``yield_number``, ``suspended_diameter``, ``yield_stress_to_suspend``: what a mud at rest holds. ``bingham_number``,
``bingham_drag_factor``, ``bingham_viscosity``, ``bingham_velocity``: settling in a Bingham mud.
``power_law_drag_factor``, ``power_law_viscosity``, ``power_law_velocity``: settling in a power-law mud.

Limits, all of them wide:

- Single smooth spheres in mud at rest. A mud that flows or is stirred has yielded, and holds nothing.
- The yield stress is that of slow shear (3 and 6 rev/min of the viscometer, or the gel), not the yield point of 300 and
  600 rev/min, which overestimates it ([GuoLiu2011] p. 22, seen). A gel grows with time at rest; none is modelled.
- ``liquid_density`` is that of what surrounds the grain: the mud for a cutting, the liquid between fines for barite.
- A crowd settles slower; see :func:`pitside.settling.hindered_factor`.

Two drag factors were worked out for this project and fitted. Flow round a sphere without inertia does the least work
of all flows that fit it, so trial flows bound its drag from above. Enough of them (splines in the logarithm of the
radius, two harmonics in the angle) come near it, to 0.2 % for a power law and 3 % for a yield stress alone; the tests
do the sum again. With inertia the sphere is given the drag of a Newtonian liquid of the viscosity that it then meets:
Ansley and Smith's drag of Bingham muds goes that way ([Woo], abstract seen); for power laws, within about 30 % (from
memory).

Consistency is the viscosity at a shear rate of 1/s, in Pa.s: stress = consistency * rate ** index, rate in 1/s.
"""

from __future__ import annotations

import enum
import warnings
from collections.abc import Callable

import numpy as np
import pint

from pitside.errors import ValidityWarning
from pitside.settling import NEWTON_DRAG, NEWTON_LIMIT
from pitside.units import GRAVITY, Q, quantities, require, require_above_zero, require_not_negative

#: Share of the root of the Bingham number in the drag factor: fitted here, within 2.5 % of trial flows, 0.003 to 1000.
ROOT_DRAG = 1.84
#: Cubic in (1 - index) of the power-law drag factor: fitted here, within 0.1 % of trial flows, index 0.3 to 1.
POWER_LAW_DRAG = (1.4798, -0.8822, -0.3413)
#: Flow index below which the power-law drag factor was not worked out.
LOWEST_INDEX = 0.3

_STEPS = 70


class SuspensionCriterion(enum.Enum):
    """Yield number, yield stress / (density difference * g * diameter), at which a sphere just rests; four opinions.

    ``SLOW_FLOW`` is the one to use; the others are conventions that stand in texts.
    """

    #: A third of the 0.143 of [Beris1985] (abstract seen; that theirs is 3 times this number is from memory, and trial
    #: flows confirm it to 3 %).
    SLOW_FLOW = 0.143 / 3
    #: Stokes' law with the yield stress as a viscosity at the shear rate velocity / diameter: from memory.
    STOKES = 1 / 18
    #: Ansley and Smith, 1967, the sphere in a sheath of yielding mud, 4 / (21 pi): from memory.
    SHEATH = 4 / (21 * np.pi)
    #: Drilling handbooks, the gel pulling on the whole surface of the sphere: from memory. It wants 3.5 times the gel.
    HANDBOOK = 1 / 6


def _excess(solid_density: pint.Quantity, liquid_density: pint.Quantity, acceleration: pint.Quantity) -> pint.Quantity:
    """Weight of a volume of solid in the liquid; above zero where it settles."""
    require_above_zero(solid_density=solid_density, liquid_density=liquid_density, acceleration=acceleration)
    return (solid_density - liquid_density) * acceleration


@quantities(
    returns="[]",
    yield_stress="[pressure]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    acceleration="[acceleration]",
)
def yield_number(
    yield_stress: pint.Quantity,
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Yield number of a grain in a mud: how strong the mud is against the weight of the grain.

    number = yield_stress / (|solid_density - liquid_density| * acceleration * diameter)

    Parameters
    ----------
    yield_stress : of the mud in slow shear (Pa or lbf/100ft2); scalar or array.
    diameter : of the grain (um or mm); scalar or array.
    solid_density, liquid_density : of the grain and of what surrounds it (kg/m3, SG or lb/gal); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.

    Returns
    -------
    Yield number; a grain rests above the number of a :class:`SuspensionCriterion`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative yield stress; a grain as dense as the mud; another
        value that is not above zero.

    Valid range: any.
    Source: the definition.

    >>> number = yield_number(Q(2, "Pa"), Q(2, "mm"), Q(2.6, "SG"), Q(1.2, "SG"))
    >>> print(f"{number.magnitude:.3f}, rests: {number > SuspensionCriterion.SLOW_FLOW.value}")
    0.073, rests: True
    """
    excess = abs(_excess(solid_density, liquid_density, acceleration))
    require_not_negative(yield_stress=yield_stress)
    require(excess.magnitude > 0, "a grain as dense as the mud needs nothing to hold it")
    require_above_zero(diameter=diameter)
    return yield_stress / (excess * diameter)


@quantities(
    returns="[length]",
    yield_stress="[pressure]",
    solid_density="[density]",
    liquid_density="[density]",
    acceleration="[acceleration]",
)
def suspended_diameter(
    yield_stress: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
    criterion: SuspensionCriterion = SuspensionCriterion.SLOW_FLOW,
) -> pint.Quantity:
    """Largest grain that a mud at rest holds for ever.

    diameter = yield_stress / (number of the criterion * |solid_density - liquid_density| * acceleration)

    Parameters
    ----------
    yield_stress : of the mud in slow shear (Pa or lbf/100ft2); scalar or array.
    solid_density, liquid_density : of the grain and of what surrounds it (kg/m3, SG or lb/gal); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.
    criterion : that of slow flow by default.

    Returns
    -------
    Diameter, m.

    Raises
    ------
    CalculationError : as :func:`yield_number`.

    Valid range: a smooth sphere alone in a mud at rest that neither gels further nor creeps.
    Source: [Beris1985], abstract seen, or the criterion named.

    >>> for criterion in SuspensionCriterion:
    ...     size = suspended_diameter(Q(2, "Pa"), Q(2.6, "SG"), Q(1.2, "SG"), criterion=criterion)
    ...     print(f"{criterion.name}: {size.to('mm'):.2f~P}")
    SLOW_FLOW: 3.06 mm
    STOKES: 2.62 mm
    SHEATH: 2.40 mm
    HANDBOOK: 0.87 mm
    """
    unit = Q(1.0, "m")
    return yield_number(yield_stress, unit, solid_density, liquid_density, acceleration) / criterion.value * unit


@quantities(
    returns="[pressure]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    acceleration="[acceleration]",
)
def yield_stress_to_suspend(
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
    criterion: SuspensionCriterion = SuspensionCriterion.SLOW_FLOW,
) -> pint.Quantity:
    """Yield stress in slow shear, or gel, that holds a grain in a mud at rest.

    yield_stress = number of the criterion * |solid_density - liquid_density| * acceleration * diameter

    Parameters
    ----------
    diameter : of the grain (um or mm); scalar or array.
    solid_density, liquid_density : of the grain and of what surrounds it (kg/m3, SG or lb/gal); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.
    criterion : that of slow flow by default.

    Returns
    -------
    Yield stress, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: as :func:`suspended_diameter`.
    Source: :func:`suspended_diameter` turned round.

    >>> barite = yield_stress_to_suspend(Q(75, "um"), Q(4.2, "SG"), Q(1.05, "SG"))
    >>> cutting = yield_stress_to_suspend(Q(6, "mm"), Q(2.6, "SG"), Q(1.2, "SG"))
    >>> print(f"{barite:.2f~P} holds barite, {cutting:.1f~P} a cutting")
    0.11 Pa holds barite, 3.9 Pa a cutting
    """
    require_above_zero(diameter=diameter)
    return criterion.value * abs(_excess(solid_density, liquid_density, acceleration)) * diameter


@quantities(
    returns="[]", velocity="[velocity]", diameter="[length]", plastic_viscosity="[viscosity]", yield_stress="[pressure]"
)
def bingham_number(
    velocity: pint.Quantity, diameter: pint.Quantity, plastic_viscosity: pint.Quantity, yield_stress: pint.Quantity
) -> pint.Quantity:
    """Bingham number of a grain that moves through a mud: yield stress against viscous stress.

    number = yield_stress * diameter / (plastic_viscosity * |velocity|)

    Parameters
    ----------
    velocity : of the grain against the mud, up or down (m/s or ft/min), not zero; scalar or array.
    diameter : of the grain (um or mm); scalar or array.
    plastic_viscosity, yield_stress : of the mud (mPa.s or cP; Pa or lbf/100ft2); scalar or array.

    Returns
    -------
    Bingham number.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a grain at rest; a negative yield stress; another value that is
        not above zero.

    Valid range: any.
    Source: the definition.

    >>> print(f"{bingham_number(Q(20, 'mm/s'), Q(5, 'mm'), Q(25, 'cP'), Q(1, 'Pa')).magnitude:.0f}")
    10
    """
    require(abs(velocity) > Q(0, "m/s"), "the grain must move: at rest its Bingham number has no end")
    require_not_negative(yield_stress=yield_stress)
    require_above_zero(diameter=diameter, plastic_viscosity=plastic_viscosity)
    return yield_stress * diameter / (plastic_viscosity * abs(velocity))


@quantities(returns="[]", number="[]")
def bingham_drag_factor(number: pint.Quantity | float) -> pint.Quantity:
    """How many times the drag of its plastic viscosity alone a Bingham mud has on a slow sphere.

    factor = 1 + 1.84 * sqrt(number) + number / (18 * 0.0477)

    Parameters
    ----------
    number : Bingham number, a plain number; scalar or array.

    Returns
    -------
    Drag over that of Stokes' law with the plastic viscosity.

    Raises
    ------
    CalculationError : a value with a unit; a negative number.

    Valid range: no inertia; number to 1000 and beyond, where the last term is that of [Beris1985].
    Source: fitted here, within 2.5 % of trial flows that the tests work out; 1 + 2.93 * number ** 0.83, from memory, is
        within 17 % of it from 0.1 to 100.

    >>> [f"{factor:.2f}" for factor in bingham_drag_factor([0, 0.1, 1, 10, 100]).magnitude]
    ['1.00', '1.70', '4.01', '18.47', '135.95']
    """
    require(number >= 0, "Bingham number must not be negative")
    number = Q(1.0) * number
    return 1 + ROOT_DRAG * number**0.5 + number / (18 * SuspensionCriterion.SLOW_FLOW.value)


@quantities(
    returns="[viscosity]",
    velocity="[velocity]",
    diameter="[length]",
    plastic_viscosity="[viscosity]",
    yield_stress="[pressure]",
)
def bingham_viscosity(
    velocity: pint.Quantity, diameter: pint.Quantity, plastic_viscosity: pint.Quantity, yield_stress: pint.Quantity
) -> pint.Quantity:
    """Viscosity that a slow grain meets in a Bingham mud: of the Newtonian liquid that would slow it as much.

    viscosity = plastic_viscosity * drag factor

    Parameters
    ----------
    velocity, diameter, plastic_viscosity, yield_stress : as :func:`bingham_number`.

    Returns
    -------
    Viscosity, Pa.s.

    Raises
    ------
    CalculationError : as :func:`bingham_number`.

    Valid range: as :func:`bingham_drag_factor`.
    Source: :func:`bingham_drag_factor`.

    >>> print(f"{bingham_viscosity(Q(20, 'mm/s'), Q(5, 'mm'), Q(25, 'cP'), Q(1, 'Pa')).to('cP'):.0f~P}")
    462 cP
    """
    factor = bingham_drag_factor(bingham_number(velocity, diameter, plastic_viscosity, yield_stress))
    return plastic_viscosity * factor


@quantities(
    returns="[velocity]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    plastic_viscosity="[viscosity]",
    yield_stress="[pressure]",
    acceleration="[acceleration]",
)
def bingham_velocity(
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    plastic_viscosity: pint.Quantity,
    yield_stress: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Settling velocity of a sphere in a Bingham mud at rest; nought where the mud holds it.

    viscosity = plastic_viscosity * drag factor at the velocity, and with it the law of
    :func:`pitside.settling.terminal_velocity`

    Parameters
    ----------
    diameter : of the grain (um or mm); scalar or array.
    solid_density, liquid_density : of the grain and of what surrounds it (kg/m3, SG or lb/gal); scalar or array.
    plastic_viscosity : of the mud (mPa.s or cP); scalar or array.
    yield_stress : of the mud in slow shear (Pa or lbf/100ft2); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.

    Returns
    -------
    Velocity, m/s; negative where the grain rises, and exactly 0 up to :func:`suspended_diameter`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative yield stress; another value that is not above zero.

    Valid range: the limits at the head of the module; Reynolds number, with the viscosity that the grain meets, up to
    1000, warns (ValidityWarning) above. Without yield stress it is :func:`pitside.settling.terminal_velocity`.
    Source: :func:`bingham_drag_factor`; with inertia as [Woo], abstract seen.

    >>> sizes = Q([2, 4, 6, 10], "mm")
    >>> found = bingham_velocity(sizes, Q(2.6, "SG"), Q(1.2, "SG"), Q(20, "cP"), Q(2, "Pa"))
    >>> [f"{velocity:.1f}" for velocity in found.m_as("mm/s")]
    ['0.0', '11.0', '69.4', '195.1']
    """
    excess = _excess(solid_density, liquid_density, acceleration)
    require_not_negative(yield_stress=yield_stress)
    require_above_zero(diameter=diameter, plastic_viscosity=plastic_viscosity)
    weight, size, density, viscosity, stress = np.broadcast_arrays(
        excess.magnitude,
        diameter.magnitude,
        liquid_density.magnitude,
        plastic_viscosity.magnitude,
        yield_stress.magnitude,
    )
    drive = np.abs(weight) * size**2 / 18
    root, hold = ROOT_DRAG * np.sqrt(viscosity * stress * size), stress * size / (18 * _HELD)
    spare = np.maximum(drive - hold, 0)
    slow = ((np.sqrt(root**2 + 4 * viscosity * spare) - root) / (2 * viscosity)) ** 2

    def resistance(velocity: np.ndarray) -> np.ndarray:
        return viscosity * velocity + root * np.sqrt(velocity) + hold

    return Q((np.sign(weight) * _with_inertia(slow, resistance, drive, density * size))[()], "m/s")


_HELD = SuspensionCriterion.SLOW_FLOW.value


def _with_inertia(
    slow: np.ndarray,
    resistance: Callable[[np.ndarray], np.ndarray],
    drive: np.ndarray,
    inertia: np.ndarray,
    excess_drag: float | np.ndarray = 1.0,
) -> np.ndarray:
    """Velocity at which drag and weight are even, by halving the way from nought to the velocity without inertia.

    ``resistance`` is the drag without inertia over 3 pi times the diameter, ``excess_drag`` what part of it is due to
    the mud being no Newtonian liquid and falls away with inertia; ``inertia`` is density times diameter.
    """

    def reynolds(velocity: np.ndarray) -> np.ndarray:
        plain = resistance(velocity) / excess_drag
        return np.divide(inertia * velocity**2, plain, out=np.zeros_like(slow), where=plain > 0)

    def drag(velocity: np.ndarray) -> np.ndarray:
        viscous = resistance(velocity) * (1 + 0.15 * reynolds(velocity) ** 0.687 / excess_drag)
        return np.maximum(viscous, NEWTON_DRAG / 24 * inertia * velocity**2)

    low, high = np.zeros_like(slow), slow
    for _ in range(_STEPS):
        middle = (low + high) / 2
        too_fast = drag(middle) > drive
        low, high = np.where(too_fast, low, middle), np.where(too_fast, middle, high)
    if np.any(reynolds(high) > NEWTON_LIMIT):
        warnings.warn(
            f"the drag of a mud on a grain is not known above a Reynolds number of {NEWTON_LIMIT:,.0f}",
            ValidityWarning,
            stacklevel=4,
        )
    return np.where(slow > 0, high, 0.0)


def _require_index(index: pint.Quantity | float) -> None:
    require((index > 0) & (index <= 1), "flow index must lie above 0 and up to 1: muds thin with shear")


@quantities(returns="[]", index="[]")
def power_law_drag_factor(index: pint.Quantity | float) -> pint.Quantity:
    """How many times Stokes' drag, with the viscosity at the shear rate velocity / diameter, a power-law mud has.

    factor = 1 + 1.4798 m - 0.8822 m ** 2 - 0.3413 m ** 3, with m = 1 - index

    Parameters
    ----------
    index : flow index n, a plain number; scalar or array.

    Returns
    -------
    Drag factor, 1 for a Newtonian liquid and 1.5 at the most.

    Raises
    ------
    CalculationError : a value with a unit; an index outside 0 to 1.

    Valid range: no inertia; index 0.3 to 1, warns (ValidityWarning) below.
    Source: fitted here, within 0.1 % of trial flows that the tests work out. Teaching texts (seen) have up to 1.46, and
        1 to 1.8 measured; finite elements of the 1980s, from memory, are up to 4 % below.

    >>> [f"{factor:.3f}" for factor in power_law_drag_factor([1.0, 0.8, 0.5, 0.3]).magnitude]
    ['1.000', '1.258', '1.477', '1.487']
    """
    _require_index(index)
    if np.any(index < LOWEST_INDEX):
        warnings.warn(
            f"the drag of a power-law mud was not worked out below a flow index of {LOWEST_INDEX:g}",
            ValidityWarning,
            stacklevel=3,
        )
    thinning = 1 - Q(1.0) * index
    first, second, third = POWER_LAW_DRAG
    return 1 + thinning * (first + thinning * (second + thinning * third))


@quantities(returns="[viscosity]", velocity="[velocity]", diameter="[length]", consistency="[viscosity]", index="[]")
def power_law_viscosity(
    velocity: pint.Quantity, diameter: pint.Quantity, consistency: pint.Quantity, index: pint.Quantity | float
) -> pint.Quantity:
    """Viscosity that a slow grain meets in a power-law mud: of the Newtonian liquid that would slow it as much.

    viscosity = drag factor * consistency * (velocity / diameter) ** (index - 1), shear rate in 1/s

    Parameters
    ----------
    velocity : of the grain against the mud, up or down (m/s or ft/min), not zero; scalar or array.
    diameter : of the grain (um or mm); scalar or array.
    consistency : K, the viscosity at a shear rate of 1/s (Pa.s or cP); scalar or array.
    index : flow index n, a plain number; scalar or array.

    Returns
    -------
    Viscosity, Pa.s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a grain at rest; an index outside 0 to 1; another value that is
        not above zero.

    Valid range: as :func:`power_law_drag_factor`.
    Source: :func:`power_law_drag_factor`.

    >>> print(f"{power_law_viscosity(Q(20, 'mm/s'), Q(5, 'mm'), Q(0.5, 'Pa*s'), 0.6).to('cP'):.0f~P}")
    410 cP
    """
    require(abs(velocity) > Q(0, "m/s"), "the grain must move: at rest it shears nothing")
    require_above_zero(diameter=diameter, consistency=consistency)
    rate = (abs(velocity) / diameter).m_as("1/s")
    return power_law_drag_factor(index) * consistency * rate ** (index - 1)


@quantities(
    returns="[velocity]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    consistency="[viscosity]",
    index="[]",
    acceleration="[acceleration]",
)
def power_law_velocity(
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    consistency: pint.Quantity,
    index: pint.Quantity | float,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Settling velocity of a sphere in a power-law mud; it never stops, but fine grains are slow.

    without inertia: (weight * diameter ** (index + 1) / (18 * drag factor * consistency)) ** (1 / index),
    with weight = (solid_density - liquid_density) * acceleration

    Parameters
    ----------
    diameter : of the grain (um or mm); scalar or array.
    solid_density, liquid_density : of the grain and of what surrounds it (kg/m3, SG or lb/gal); scalar or array.
    consistency : K, the viscosity at a shear rate of 1/s (Pa.s or cP); scalar or array.
    index : flow index n, a plain number; scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.

    Returns
    -------
    Velocity, m/s; negative where the grain rises.

    Raises
    ------
    CalculationError : a value of the wrong dimension; an index outside 0 to 1; another value that is not above zero.

    Valid range: as :func:`power_law_drag_factor`; with inertia within about 30 %, Reynolds number (diameter ** index *
    velocity ** (2 - index) * density / consistency) up to 1000, warns (ValidityWarning) above. Index 1 is
    :func:`pitside.settling.terminal_velocity`. The law thickens without end as the shear falls:
    below the slowest shear of the viscometer it makes a mud thicker, and grains slower, than they are.
    Source: :func:`power_law_drag_factor`; with inertia from memory.

    >>> sizes = Q([0.5, 2, 6], "mm")
    >>> found = power_law_velocity(sizes, Q(2.6, "SG"), Q(1.2, "SG"), Q(0.5, "Pa*s"), 0.6)
    >>> [f"{velocity:.2f}" for velocity in found.m_as("mm/s")]
    ['0.18', '6.92', '89.78']
    """
    excess = _excess(solid_density, liquid_density, acceleration)
    require_above_zero(diameter=diameter, consistency=consistency)
    factor = power_law_drag_factor(index).magnitude
    weight, size, density, thickness, power = np.broadcast_arrays(
        excess.magnitude,
        diameter.magnitude,
        liquid_density.magnitude,
        factor * consistency.magnitude,
        (Q(1.0) * index).magnitude,
    )
    drive = np.abs(weight) * size**2 / 18
    slow = (drive / (thickness * size ** (1 - power))) ** (1 / power)

    def resistance(velocity: np.ndarray) -> np.ndarray:
        return thickness * velocity**power * size ** (1 - power)

    found = _with_inertia(slow, resistance, drive, density * size, factor)
    return Q((np.sign(weight) * found)[()], "m/s")
