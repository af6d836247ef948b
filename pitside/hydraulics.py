"""Flow up the annulus: velocity, rheology from the viscometer, friction and circulating density.

``annular_velocity``, ``annular_velocity_field``: how fast the mud rises. ``lag_time``: how long it takes.
``plastic_viscosity``, ``yield_point``,
``flow_index``, ``consistency``, ``consistency_field``, ``low_shear_yield``: the models' figures from viscometer
readings. ``annular_loss``: laminar friction of a Newtonian, Bingham, power-law or Herschel-Bulkley mud.
``bingham_loss_field``, ``velocity_squared_loss_field``: what handbooks have for it. ``annular_reynolds_number``:
whether the flow is laminar. ``bottom_hole_pressure``, ``equivalent_circulating_density`` and its ``_field`` form.

The annulus is taken for a slot as wide as the gap, the pipe in the middle, at rest and smooth: a pipe that lies on the
wall loses less, turning or cuttings change it. Readings of the viscometer are plain numbers (degrees on its dial).
Consistency K is the viscosity at a shear rate of 1/s, in Pa.s ("eq. cP"): stress = yield + K * rate ** n, rate in 1/s.
Nothing here is a well-control procedure.
"""

from __future__ import annotations

import warnings

import numpy as np
import pint

from pitside.errors import CalculationError, ValidityWarning
from pitside.hydrostatics import (
    FACTOR_LB_PER_GAL,
    column_pressure,
    equivalent_mud_weight,
    equivalent_mud_weight_field,
)
from pitside.units import Q, quantities, require, require_above_zero, require_not_negative
from pitside.volumes import annulus_capacity

#: ft/min for each gal/min and in2, as handbooks round it: [Lapeyrouse2002], seen restated. Exact: 231 * 4 / (12 * pi).
FACTOR_24_5 = Q(24.5, "ft/min * in**2 / (gal/min)")
#: psi for each lb/gal, foot, (ft/min) ** 2 and 1/in: [Lapeyrouse2002], seen restated. It has no viscosity in it, and
#: stands for turbulent flow of one friction factor (0.0133).
FACTOR_VELOCITY_SQUARED = Q(1.4327e-7, "psi * in / (lb/gal * ft * (ft/min)**2)")
#: Shear rate of the viscometer at 300 rev/min, 1/s: seen in [API13D] (511 and 1,022).
RATE_300 = 511.0
#: Shear stress for each degree of the dial: 5.11 dyn/cm2, seen in [API13D]; 5.10 in older texts. The "1 lbf/100 ft2" of
#: the yield point is 6 % less.
STRESS_PER_DEGREE = Q(0.511, "Pa")
#: Consistency of older texts, 510 * R300 / 511 ** n in cP: [GuoLiu2011] p. 26, seen.
CONSISTENCY_FIELD = Q(510.0, "cP")
#: Pipe over hole above which a slot stands well for an annulus: Newtonian friction 2.3 % high there, 0.8 % at 0.5,
#: derived in the tests.
SLOT_RATIO = 0.3
#: Reynolds number up to which flow is laminar, 3470 - 1370 n: from memory ([API13D] has 2,100, that of n = 1).
LAMINAR_LIMIT = (3470.0, 1370.0)
#: Plain numbers, in SI.
Numbers = np.ndarray | float

#: A mud without a yield stress.
NO_YIELD = Q(0.0, "Pa")
#: No pressure on top of the annulus.
OPEN = Q(0.0, "Pa")


@quantities(returns="[velocity]", flow="[volumetric_flow_rate]", hole_diameter="[length]", pipe_diameter="[length]")
def annular_velocity(flow: pint.Quantity, hole_diameter: pint.Quantity, pipe_diameter: pint.Quantity) -> pint.Quantity:
    """Mean velocity of the mud in an annulus.

    velocity = flow / (pi / 4 * (hole_diameter ** 2 - pipe_diameter ** 2))

    Parameters
    ----------
    flow : pumped (gal/min, bbl/min or L/min); scalar or array.
    hole_diameter : of hole or casing (in or mm); scalar or array.
    pipe_diameter : outside (in or mm); scalar or array.

    Returns
    -------
    Velocity, m/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow; a pipe that does not fit the hole.

    Valid range: a hole in gauge.
    Source: geometry; 24.51 in ft/min, gal/min and in derived from the exact inch and gallon.

    >>> print(f"{annular_velocity(Q(320, 'gal/min'), Q(6.5, 'in'), Q(4, 'in')).to('ft/min'):.1f~P}")
    298.8 ft/min
    """
    require_not_negative(flow=flow)
    return flow / annulus_capacity(hole_diameter, pipe_diameter)


@quantities(returns="[velocity]", flow="[volumetric_flow_rate]", hole_diameter="[length]", pipe_diameter="[length]")
def annular_velocity_field(
    flow: pint.Quantity, hole_diameter: pint.Quantity, pipe_diameter: pint.Quantity
) -> pint.Quantity:
    """Mean velocity of the mud in an annulus with a handbook's 24.5.

    velocity[ft/min] = 24.5 * flow[gal/min] / (hole_diameter[in] ** 2 - pipe_diameter[in] ** 2)

    Parameters
    ----------
    flow, hole_diameter, pipe_diameter : as :func:`annular_velocity`; any unit.

    Returns
    -------
    Velocity, m/s.

    Raises
    ------
    CalculationError : as :func:`annular_velocity`.

    Valid range: 0.04 % below :func:`annular_velocity`.
    Source: [Lapeyrouse2002], seen restated: 299 ft/min.

    >>> print(f"{annular_velocity_field(Q(320, 'gal/min'), Q(6.5, 'in'), Q(4, 'in')).to('ft/min'):.1f~P}")
    298.7 ft/min
    """
    require_not_negative(flow=flow)
    annulus_capacity(hole_diameter, pipe_diameter)
    return FACTOR_24_5 * flow / (hole_diameter**2 - pipe_diameter**2)


@quantities(
    returns="[time]",
    length="[length]",
    flow="[volumetric_flow_rate]",
    hole_diameter="[length]",
    pipe_diameter="[length]",
)
def lag_time(
    length: pint.Quantity, flow: pint.Quantity, hole_diameter: pint.Quantity, pipe_diameter: pint.Quantity
) -> pint.Quantity:
    """Time that the mud takes from the bit to the flow line.

    time = annulus_capacity * length / flow

    Parameters
    ----------
    length : of the annulus, measured along the hole (ft or m); scalar or array.
    flow, hole_diameter, pipe_diameter : as :func:`annular_velocity`.

    Returns
    -------
    Time, s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative length; a flow not above zero; a pipe that does not
        fit the hole.

    Valid range: a hole in gauge with one annulus all the way; cuttings lag behind the mud, by their slip.
    Source: geometry.

    >>> print(f"{lag_time(Q(10000, 'ft'), Q(320, 'gal/min'), Q(6.5, 'in'), Q(4, 'in')).to('min'):.1f~P}")
    33.5 min
    """
    require(length >= Q(0, "m"), "length of the annulus must not be negative")
    require_above_zero(flow=flow)
    return annulus_capacity(hole_diameter, pipe_diameter) * length / flow


def _require_readings(high: pint.Quantity | float, low: pint.Quantity | float) -> None:
    require(low > 0, "viscometer readings must be above zero")
    require(high >= low, "the reading at 600 rev/min must be at least that at 300")


@quantities(returns="[viscosity]", reading_600="[]", reading_300="[]")
def plastic_viscosity(reading_600: pint.Quantity | float, reading_300: pint.Quantity | float) -> pint.Quantity:
    """Plastic viscosity of a Bingham mud from the viscometer.

    plastic_viscosity[cP] = reading_600 - reading_300

    Parameters
    ----------
    reading_600, reading_300 : degrees on the dial at 600 and 300 rev/min, plain numbers; scalar or array.

    Returns
    -------
    Viscosity, Pa.s.

    Raises
    ------
    CalculationError : a value with a unit; a reading not above zero; less at 600 than at 300.

    Valid range: the usual bob, sleeve and spring, for which the rule is exact to 0.1 %.
    Source: [API13D], from memory.

    >>> print(f"{plastic_viscosity(65, 40).to('cP'):.0f~P}")
    25 cP
    """
    _require_readings(reading_600, reading_300)
    return (reading_600 - reading_300) * Q(1, "cP")


@quantities(returns="[pressure]", reading_600="[]", reading_300="[]")
def yield_point(reading_600: pint.Quantity | float, reading_300: pint.Quantity | float) -> pint.Quantity:
    """Yield point of a Bingham mud from the viscometer.

    yield_point[lbf/100 ft2] = reading_300 - plastic_viscosity[cP] = 2 * reading_300 - reading_600

    Parameters
    ----------
    reading_600, reading_300 : degrees on the dial at 600 and 300 rev/min, plain numbers; scalar or array.

    Returns
    -------
    Yield point, Pa (``.to("lbf_100ft2")``).

    Raises
    ------
    CalculationError : a value with a unit; a reading not above zero; less at 600 than at 300.

    Valid range: warns (ValidityWarning) where it comes out below zero, which no mud has. A degree is taken for
        1 lbf/100 ft2; by :data:`STRESS_PER_DEGREE` it is 1.067.
    Source: [API13D], from memory; a petroleum dictionary, seen, takes the plastic viscosity off the reading at 300.

    >>> print(f"{yield_point(65, 40).m_as('lbf_100ft2'):.0f}")
    15
    """
    _require_readings(reading_600, reading_300)
    found = 2 * reading_300 - reading_600
    if np.any(found < 0):
        warnings.warn("the yield point comes out below zero: read the dial again", ValidityWarning, stacklevel=3)
    return found * Q(1, "lbf_100ft2")


@quantities(returns="[]", reading_600="[]", reading_300="[]", yield_reading="[]")
def flow_index(
    reading_600: pint.Quantity | float,
    reading_300: pint.Quantity | float,
    yield_reading: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Flow index n of a power-law or Herschel-Bulkley mud from the viscometer.

    n = log2((reading_600 - yield_reading) / (reading_300 - yield_reading))

    Parameters
    ----------
    reading_600, reading_300 : degrees on the dial at 600 and 300 rev/min, plain numbers; scalar or array.
    yield_reading : degrees that stand for the yield stress, 0 for a power law, else from the readings at 3 and 6 as
        :func:`low_shear_yield` has it; scalar or array.

    Returns
    -------
    Flow index, 1 for a Newtonian or Bingham mud, less for one that thins.

    Raises
    ------
    CalculationError : a value with a unit; a reading not above zero; less at 600 than at 300; a yield reading outside 0
        to the reading at 300.

    Valid range: shear rates near 511 and 1,022 1/s; an annulus has less, where readings at 3 and 100 tell more.
    Source: [API13D] and [GuoLiu2011] p. 26, both seen: 3.32 * log10.

    >>> print(f"{flow_index(65, 40).magnitude:.4f}")
    0.7004
    """
    _require_readings(reading_600, reading_300)
    require((yield_reading >= 0) & (yield_reading < reading_300), "yield reading must be from 0 to below that at 300")
    return np.log2((reading_600 - yield_reading) / (reading_300 - yield_reading))


@quantities(returns="[viscosity]", reading_300="[]", index="[]", yield_reading="[]")
def consistency(
    reading_300: pint.Quantity | float,
    index: pint.Quantity | float,
    yield_reading: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Consistency K of a power-law or Herschel-Bulkley mud from the viscometer.

    K = 0.511 Pa * (reading_300 - yield_reading) / 511 ** n

    Parameters
    ----------
    reading_300 : degrees on the dial at 300 rev/min, a plain number; scalar or array.
    index : n from :func:`flow_index`; scalar or array.
    yield_reading : as :func:`flow_index`.

    Returns
    -------
    Consistency, Pa.s at a shear rate of 1/s (``.to("cP")`` for eq. cP).

    Raises
    ------
    CalculationError : a value with a unit; a reading or an index not above zero; a yield reading outside 0 to the
        reading at 300.

    Valid range: as :func:`flow_index`.
    Source: [API13D], seen: 5.11 * R600 / 1,022 ** n in dyn s^n/cm2, which is the same.

    >>> print(f"{consistency(40, flow_index(65, 40)).to('cP'):.0f~P}")
    259 cP
    """
    require(reading_300 > 0, "viscometer readings must be above zero")
    require(index > 0, "flow index must be above zero")
    require((yield_reading >= 0) & (yield_reading < reading_300), "yield reading must be from 0 to below that at 300")
    return STRESS_PER_DEGREE * (reading_300 - yield_reading) / RATE_300**index * Q(1, "s")


@quantities(returns="[viscosity]", reading_300="[]", index="[]")
def consistency_field(reading_300: pint.Quantity | float, index: pint.Quantity | float) -> pint.Quantity:
    """Consistency K of a power-law mud with the 510 of older texts.

    K[cP] = 510 * reading_300 / 511 ** n

    Parameters
    ----------
    reading_300 : degrees on the dial at 300 rev/min, a plain number; scalar or array.
    index : n from :func:`flow_index`; scalar or array.

    Returns
    -------
    Consistency, Pa.s at a shear rate of 1/s (``.to("cP")`` for eq. cP).

    Raises
    ------
    CalculationError : a value with a unit; a reading or an index not above zero.

    Valid range: 0.2 % below :func:`consistency`.
    Source: [GuoLiu2011] p. 26, seen.

    >>> print(f"{consistency_field(40, flow_index(65, 40)).to('cP'):.1f~P}")
    258.6 cP
    """
    require(reading_300 > 0, "viscometer readings must be above zero")
    require(index > 0, "flow index must be above zero")
    return CONSISTENCY_FIELD * reading_300 / RATE_300**index


@quantities(returns="[pressure]", reading_3="[]", reading_6="[]")
def low_shear_yield(reading_3: pint.Quantity | float, reading_6: pint.Quantity | float) -> pint.Quantity:
    """Yield stress of a Herschel-Bulkley mud from the two slowest readings.

    yield[lbf/100 ft2] = 2 * reading_3 - reading_6

    Parameters
    ----------
    reading_3, reading_6 : degrees on the dial at 3 and 6 rev/min, plain numbers; scalar or array.

    Returns
    -------
    Yield stress, Pa (``.to("lbf_100ft2")``).

    Raises
    ------
    CalculationError : a value with a unit; a reading below zero; less at 6 than at 3; a yield below zero.

    Valid range: thick polymer muds come out too high.
    Source: [GuoLiu2011] p. 26, seen.

    >>> print(f"{low_shear_yield(6, 7).m_as('lbf_100ft2'):.0f}")
    5
    """
    require(reading_3 >= 0, "viscometer readings must not be negative")
    require(reading_6 >= reading_3, "the reading at 6 rev/min must be at least that at 3")
    require(2 * reading_3 >= reading_6, "the yield stress comes out below zero: read the dial again")
    return (2 * reading_3 - reading_6) * Q(1, "lbf_100ft2")


@quantities(
    returns="[pressure]",
    velocity="[velocity]",
    length="[length]",
    hole_diameter="[length]",
    pipe_diameter="[length]",
    density="[density]",
    consistency="[viscosity]",
    index="[]",
    yield_stress="[pressure]",
)
def annular_loss(
    velocity: pint.Quantity,
    length: pint.Quantity,
    hole_diameter: pint.Quantity,
    pipe_diameter: pint.Quantity,
    density: pint.Quantity,
    consistency: pint.Quantity,
    index: pint.Quantity | float = 1.0,
    yield_stress: pint.Quantity = NO_YIELD,
) -> pint.Quantity:
    """Pressure that laminar flow loses along an annulus, any of the four usual muds.

    loss = 4 * wall_stress * length / gap, gap = hole_diameter - pipe_diameter, the wall stress from
    velocity = gap / 4 / (wall_stress ** 2 * K ** m) * (x ** (m + 2) / (m + 2) + yield_stress * x ** (m + 1) / (m + 1)),
    with x = wall_stress - yield_stress and m = 1 / n

    This is the slot with its plug in full. Newtonian: ``index`` 1 and no yield stress. Bingham: ``index`` 1, plastic
    viscosity for ``consistency`` and yield point for ``yield_stress``. Power law: no yield stress.

    Parameters
    ----------
    velocity : mean, from :func:`annular_velocity` (ft/min or m/s); scalar or array.
    length : of the annulus, measured along the hole (ft or m); scalar or array.
    hole_diameter, pipe_diameter : as :func:`annular_velocity`.
    density : of the mud, only to see whether the flow is laminar (lb/gal, kg/m3 or SG); scalar or array.
    consistency : K, or the plastic viscosity (Pa.s or cP); scalar or array.
    index : n, a plain number; scalar or array.
    yield_stress : Pa or lbf/100 ft2; scalar or array.

    Returns
    -------
    Loss, Pa. At no velocity it is what starts the mud moving, 4 * yield_stress * length / gap.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative velocity, length or yield stress; a density,
        consistency or index not above zero; a pipe that does not fit the hole.

    Valid range: laminar flow, pipe at least 0.3 of the hole; warns (ValidityWarning) outside. Turbulent flow
        loses more, an annulus round a thin pipe less.
    Source: the slot balance, derived; [GuoLiu2011] p. 43 and [API13D], seen, have its power law.

    >>> speed = annular_velocity(Q(400, "gal/min"), Q(8.5, "in"), Q(5, "in"))
    >>> annulus = (speed, Q(8000, "ft"), Q(8.5, "in"), Q(5, "in"), Q(12, "lb/gal"))
    >>> bingham = annular_loss(*annulus, Q(25, "cP"), yield_stress=Q(15, "lbf_100ft2"))
    >>> index = flow_index(65, 40)
    >>> power_law = annular_loss(*annulus, consistency(40, index), index)
    >>> print(f"{bingham.to('psi'):.0f~P}, {power_law.to('psi'):.0f~P}")
    211 psi, 146 psi
    """
    wall_stress = _wall_stress(velocity, hole_diameter, pipe_diameter, consistency, index, yield_stress)
    require(length >= Q(0, "m"), "length of the annulus must not be negative")
    require_above_zero(density=density)
    if np.any(pipe_diameter / hole_diameter < SLOT_RATIO):
        warnings.warn(
            f"a pipe below {SLOT_RATIO:g} of the hole leaves no slot: the loss comes out too high",
            ValidityWarning,
            stacklevel=3,
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        reynolds = (12 * density * velocity**2 / wall_stress).m_as("")
    intercept, slope = LAMINAR_LIMIT
    if np.any(reynolds > intercept - slope * np.asarray((Q(1.0) * index).magnitude)):
        warnings.warn(
            "the flow is not laminar: the loss comes out too low (Reynolds number "
            f"{np.nanmax(reynolds):.0f}, laminar up to 3470 - 1370 n)",
            ValidityWarning,
            stacklevel=3,
        )
    return 4 * wall_stress * length / (hole_diameter - pipe_diameter)


def _wall_stress(
    velocity: pint.Quantity,
    hole_diameter: pint.Quantity,
    pipe_diameter: pint.Quantity,
    consistency: pint.Quantity,
    index: pint.Quantity | float,
    yield_stress: pint.Quantity,
) -> pint.Quantity:
    require_not_negative(velocity=velocity)
    require(pipe_diameter > Q(0, "m"), "diameter must be above zero")
    require(pipe_diameter < hole_diameter, "the pipe must be smaller than the hole")
    require(consistency > Q(0, "Pa*s"), "consistency or viscosity must be above zero")
    require(index > 0, "flow index must be above zero")
    require_not_negative(yield_stress=yield_stress)
    return Q(
        _slot_stress(
            velocity.magnitude,
            (hole_diameter - pipe_diameter).magnitude / 4,
            consistency.magnitude,
            (Q(1.0) * index).magnitude,
            yield_stress.magnitude,
        ),
        "Pa",
    )


def _slot_stress(
    velocity: Numbers, half_gap: Numbers, consistency: Numbers, index: Numbers, yield_stress: Numbers
) -> Numbers:
    """Wall stress of a slot, all in SI, arrays that broadcast.

    Newton's method on x = wall stress - yield stress, in logarithms. That of the velocity is concave in that of x, with
    a slope from m to m + 1, so that after the first step every step comes nearer from below.
    """
    velocity, half_gap, consistency, index, yield_stress = np.broadcast_arrays(
        *(np.asarray(value, dtype=float) for value in (velocity, half_gap, consistency, index, yield_stress))
    )
    power = 1 / index
    moving = velocity > 1e-100
    rate = np.where(moving, velocity, half_gap) / half_gap
    # The power law's own stress, which is the answer where there is no yield stress.
    x = consistency * (rate * (power + 2)) ** index
    for _ in range(200):
        wall = x + yield_stress
        first, second = x / (power + 2), yield_stress / (power + 1)
        found = power * np.log(x / consistency) + np.log(x / wall * ((first + second) / wall))
        slope = (power + 1) + first / (first + second) - 2 * x / wall
        step = (found - np.log(rate)) / slope
        x = x * np.exp(-step)
        if np.all(np.abs(step) < 1e-13):
            return (yield_stress + np.where(moving, x, 0.0))[()]
    raise CalculationError("the wall stress was not found: check velocity, diameters and rheology")


@quantities(
    returns="[]",
    velocity="[velocity]",
    hole_diameter="[length]",
    pipe_diameter="[length]",
    density="[density]",
    consistency="[viscosity]",
    index="[]",
    yield_stress="[pressure]",
)
def annular_reynolds_number(
    velocity: pint.Quantity,
    hole_diameter: pint.Quantity,
    pipe_diameter: pint.Quantity,
    density: pint.Quantity,
    consistency: pint.Quantity,
    index: pint.Quantity | float = 1.0,
    yield_stress: pint.Quantity = NO_YIELD,
) -> pint.Quantity:
    """Reynolds number of flow in an annulus, for which the laminar friction factor is 24 / Re whatever the mud.

    Re = 12 * density * velocity ** 2 / wall_stress

    Parameters
    ----------
    velocity, hole_diameter, pipe_diameter, density, consistency, index, yield_stress : as :func:`annular_loss`.

    Returns
    -------
    Reynolds number; flow is laminar up to about 3470 - 1370 n, 2,100 for n = 1.

    Raises
    ------
    CalculationError : as :func:`annular_loss`; a velocity that is not above zero.

    Valid range: any.
    Source: the definition, by the slot; [API13D], seen, has the same for its power law.

    >>> water = (Q(1, "ft/s"), Q(8.5, "in"), Q(5, "in"), Q(1000, "kg/m**3"), Q(1, "cP"))
    >>> print(f"{annular_reynolds_number(*water).magnitude:.0f}")
    27097
    """
    require_above_zero(velocity=velocity, density=density)
    return (
        12
        * density
        * velocity**2
        / _wall_stress(velocity, hole_diameter, pipe_diameter, consistency, index, yield_stress)
    )


@quantities(
    returns="[pressure]",
    velocity="[velocity]",
    length="[length]",
    hole_diameter="[length]",
    pipe_diameter="[length]",
    plastic_viscosity="[viscosity]",
    yield_point="[pressure]",
)
def bingham_loss_field(
    velocity: pint.Quantity,
    length: pint.Quantity,
    hole_diameter: pint.Quantity,
    pipe_diameter: pint.Quantity,
    plastic_viscosity: pint.Quantity,
    yield_point: pint.Quantity,
) -> pint.Quantity:
    """Laminar loss of a Bingham mud in an annulus as handbooks have it.

    loss[psi] = length[ft] * (viscosity[cP] * velocity[ft/s] / (1000 * gap[in] ** 2) + yield_point / (200 * gap[in]))

    Parameters
    ----------
    velocity, length, hole_diameter, pipe_diameter : as :func:`annular_loss`; any unit.
    plastic_viscosity : cP or Pa.s; scalar or array.
    yield_point : lbf/100 ft2 or Pa; scalar or array.

    Returns
    -------
    Loss, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative value; a pipe that does not fit the hole.

    Valid range: laminar flow, which is not checked. The plug is left out, so that it lies above :func:`annular_loss`,
        by half at rest and by nothing at speed.
    Source: [GuoLiu2011] p. 40, seen.

    >>> speed = annular_velocity(Q(400, "gal/min"), Q(8.5, "in"), Q(5, "in"))
    >>> annulus = (speed, Q(8000, "ft"), Q(8.5, "in"), Q(5, "in"))
    >>> print(f"{bingham_loss_field(*annulus, Q(25, 'cP'), Q(15, 'lbf_100ft2')).to('psi'):.0f~P}")
    228 psi
    """
    require((velocity >= Q(0, "m/s")) & (length >= Q(0, "m")), "velocity and length must not be negative")
    require_not_negative(plastic_viscosity=plastic_viscosity, yield_point=yield_point)
    annulus_capacity(hole_diameter, pipe_diameter)
    gap = hole_diameter - pipe_diameter
    viscous = plastic_viscosity * velocity / gap**2 * (Q(1, "psi*in**2/cP/(ft/s)/ft") / 1000)
    return length * (viscous + yield_point / gap * (Q(1, "psi*in/lbf_100ft2/ft") / 200))


@quantities(
    returns="[pressure]",
    velocity="[velocity]",
    length="[length]",
    hole_diameter="[length]",
    pipe_diameter="[length]",
    mud_weight="[density]",
)
def velocity_squared_loss_field(
    velocity: pint.Quantity,
    length: pint.Quantity,
    hole_diameter: pint.Quantity,
    pipe_diameter: pint.Quantity,
    mud_weight: pint.Quantity,
) -> pint.Quantity:
    """Loss in an annulus by the handbook's quick formula without viscosity.

    loss[psi] = 1.4327e-7 * mud_weight[lb/gal] * length[ft] * velocity[ft/min] ** 2 / gap[in]

    Parameters
    ----------
    velocity, length, hole_diameter, pipe_diameter : as :func:`annular_loss`; any unit.
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Loss, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative velocity or length; a mud weight not above zero; a
        pipe that does not fit the hole.

    Valid range: a rough guide to turbulent flow; wrong for laminar flow, whose loss does not go with the mud weight.
    Source: [Lapeyrouse2002], seen restated: 531.65 psi.

    >>> speed = annular_velocity_field(Q(320, "gal/min"), Q(6.5, "in"), Q(4, "in"))
    >>> loss = velocity_squared_loss_field(speed, Q(8000, "ft"), Q(6.5, "in"), Q(4, "in"), Q(13.0, "lb/gal"))
    >>> print(f"{loss.to('psi'):.1f~P}")
    531.6 psi
    """
    require((velocity >= Q(0, "m/s")) & (length >= Q(0, "m")), "velocity and length must not be negative")
    require_above_zero(mud_weight=mud_weight)
    annulus_capacity(hole_diameter, pipe_diameter)
    return FACTOR_VELOCITY_SQUARED * mud_weight * length * velocity**2 / (hole_diameter - pipe_diameter)


@quantities(
    returns="[pressure]",
    mud_weight="[density]",
    annular_loss="[pressure]",
    true_vertical_depth="[length]",
    surface_pressure="[pressure]",
)
def bottom_hole_pressure(
    mud_weight: pint.Quantity,
    annular_loss: pint.Quantity,
    true_vertical_depth: pint.Quantity,
    surface_pressure: pint.Quantity = OPEN,
) -> pint.Quantity:
    """Pressure at the foot of the annulus while the mud circulates.

    pressure = mud_weight * g * true_vertical_depth + annular_loss + surface_pressure

    Parameters
    ----------
    mud_weight : density of the mud, cuttings in it included (lb/gal, kg/m3 or SG); scalar or array.
    annular_loss : friction from there to the surface (psi or kPa); scalar or array.
    true_vertical_depth : ft or m, not the measured depth; scalar or array.
    surface_pressure : held on the annulus (psi or kPa); none by default; scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : as :func:`pitside.hydrostatics.column_pressure`; a negative loss or surface pressure.

    Valid range: mud flowing up the annulus; friction in the pipe is behind it and does not count.
    Source: [Lapeyrouse2002], seen restated: 6,654 psi with 0.052; the exact factor gives 0.10 % less.

    >>> print(f"{bottom_hole_pressure(Q(12.7, 'lb/gal'), Q(50, 'psi'), Q(10_000, 'ft')).to('psi'):.0f~P}")
    6647 psi
    """
    require_not_negative(annular_loss=annular_loss, surface_pressure=surface_pressure)
    return column_pressure(mud_weight, true_vertical_depth) + annular_loss + surface_pressure


@quantities(returns="[density]", mud_weight="[density]", annular_loss="[pressure]", true_vertical_depth="[length]")
def equivalent_circulating_density(
    mud_weight: pint.Quantity, annular_loss: pint.Quantity, true_vertical_depth: pint.Quantity
) -> pint.Quantity:
    """Mud weight whose still column would press as the circulating mud does.

    density = mud_weight + annular_loss / (g * true_vertical_depth)

    Parameters
    ----------
    mud_weight : density of the mud (lb/gal, kg/m3 or SG); scalar or array.
    annular_loss : friction from that depth to the surface, along the hole (psi or kPa); scalar or array.
    true_vertical_depth : ft or m, not the measured depth; scalar or array.

    Returns
    -------
    Equivalent circulating density, kg/m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mud weight or depth not above zero; a negative loss.

    Valid range: no pressure held on the annulus.
    Source: [Lapeyrouse2002], seen restated: 12.8 lb/gal.

    >>> print(f"{equivalent_circulating_density(Q(12.7, 'lb/gal'), Q(50, 'psi'), Q(10_000, 'ft')).to('lb/gal'):.3f~P}")
    12.796 lb/gal
    """
    require_above_zero(mud_weight=mud_weight)
    require_not_negative(annular_loss=annular_loss)
    return mud_weight + equivalent_mud_weight(annular_loss, true_vertical_depth)


@quantities(
    returns="[density]",
    mud_weight="[density]",
    annular_loss="[pressure]",
    true_vertical_depth="[length]",
    factor="[acceleration]",
)
def equivalent_circulating_density_field(
    mud_weight: pint.Quantity,
    annular_loss: pint.Quantity,
    true_vertical_depth: pint.Quantity,
    factor: pint.Quantity = FACTOR_LB_PER_GAL,
) -> pint.Quantity:
    """Equivalent circulating density with a handbook's rounded factor: 0.052 for lb/gal and feet.

    density = mud_weight + annular_loss / (factor * true_vertical_depth)

    Parameters
    ----------
    mud_weight, annular_loss, true_vertical_depth : as :func:`equivalent_circulating_density`.
    factor : as :func:`pitside.hydrostatics.equivalent_mud_weight_field`.

    Returns
    -------
    Equivalent circulating density, kg/m3.

    Raises
    ------
    CalculationError : as :func:`equivalent_circulating_density`; a factor not above zero.

    Valid range: as :func:`equivalent_circulating_density`.
    Source: [Lapeyrouse2002], seen restated: 400 psi over 8,000 ft take 10.0 lb/gal to 11.0.

    >>> density = equivalent_circulating_density_field(Q(10, "lb/gal"), Q(400, "psi"), Q(8000, "ft"))
    >>> print(f"{density.to('lb/gal'):.2f~P}")
    10.96 lb/gal
    """
    require_above_zero(mud_weight=mud_weight)
    require_not_negative(annular_loss=annular_loss)
    return mud_weight + equivalent_mud_weight_field(annular_loss, true_vertical_depth, factor)
