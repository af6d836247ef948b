"""Pumps: power, head, the law of speed, duty point, suction, and piston pumps.

``hydraulic_power``, ``hydraulic_power_field``, ``shaft_power``, ``shaft_power_field``: what moving mud takes.
``head_from_pressure``, ``pressure_from_head`` and their ``_field`` forms: a centrifugal pump makes head, whatever it
pumps. ``at_speed``, ``at_impeller``: the affinity laws. ``PumpCurve``, ``SystemCurve``, ``duty_point``: where pump and
pipework meet, pumps in parallel and in series. ``suction_head``, ``suction_margin``: whether the pump boils its feed.
``triplex_displacement``, ``duplex_displacement``, ``pump_output``, ``triplex_output_field``, ``pressure_at_rate``,
``pressure_exponent``: mud pumps.

Head is of the liquid pumped, its density that of the mud. Strokes are counted, so that a speed of strokes is in 1/min,
or in rpm where a stroke is a turn of the crank.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import ValidityWarning
from pitside.units import (
    GRAVITY,
    Q,
    Quantity,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_not_negative,
)

#: psi times gal/min in a horsepower, as handbooks round it: seen in [GuoLiu2011] p. 73. Exact: 1714.29.
FACTOR_1714 = Q(1714.0, "psi * gal/min / hp")
#: gal/min times feet of water in a horsepower, as handbooks round it: seen in [Pumping2004] p. 268. Exact for SG 1 of
#: 1000 kg/m3: 3954; 3960 fits water of 998.5 kg/m3, about 20 degC.
FACTOR_3960 = Q(3960.0, "gal/min * ft / hp")
#: Feet of water for each psi, as handbooks round it: seen in [Pumping2004] p. 268. Exact for 1000 kg/m3: 2.3067.
FACTOR_2_31 = Q(2.31, "ft/psi")
#: Barrels for each in3 of liner squared times stroke, triplex, as handbooks round it: seen restated. Exact: 0.00024286.
FACTOR_TRIPLEX = Q(0.000243, "bbl/in**3")
#: Trim of an impeller, new over old diameter, down to which the laws serve: common practice, no source.
LEAST_TRIM = 0.8
#: Pressure of the air at sea level, standard atmosphere.
ATMOSPHERE = Q(101_325.0, "Pa")


def _require_efficiency(efficiency: pint.Quantity | float) -> None:
    require((efficiency > 0) & (efficiency <= 1), "efficiency must lie above 0, to 100 %")


@quantities(returns="[power]", pressure="[pressure]", flow="[volumetric_flow_rate]")
def hydraulic_power(pressure: pint.Quantity, flow: pint.Quantity) -> pint.Quantity:
    """Power in a flow that is pushed by a pressure.

    power = pressure * flow

    Parameters
    ----------
    pressure : rise of pressure over the pump (psi or kPa); scalar or array.
    flow : gal/min or L/min; scalar or array.

    Returns
    -------
    Power, W.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative value.

    Valid range: any; the shaft takes more, by the pump's efficiency.
    Source: the definition.

    >>> print(f"{hydraulic_power(Q(2950, 'psi'), Q(520, 'gal/min')).to('hp'):.1f~P}")
    894.8 hp
    """
    require_not_negative(pressure=pressure, flow=flow)
    return pressure * flow


@quantities(returns="[power]", pressure="[pressure]", flow="[volumetric_flow_rate]")
def hydraulic_power_field(pressure: pint.Quantity, flow: pint.Quantity) -> pint.Quantity:
    """Power in a flow with a handbook's 1714.

    power[hp] = pressure[psi] * flow[gal/min] / 1714

    Parameters
    ----------
    pressure, flow : as :func:`hydraulic_power`; any unit.

    Returns
    -------
    Power, W.

    Raises
    ------
    CalculationError : as :func:`hydraulic_power`.

    Valid range: 0.02 % above :func:`hydraulic_power`.
    Source: [GuoLiu2011] p. 73, seen.

    >>> print(f"{hydraulic_power_field(Q(1500, 'psi'), Q(20, 'gal/min')).to('hp'):.1f~P}")
    17.5 hp
    """
    require_not_negative(pressure=pressure, flow=flow)
    return pressure * flow / FACTOR_1714


@quantities(returns="[power]", flow="[volumetric_flow_rate]", head="[length]", density="[density]", efficiency="[]")
def shaft_power(
    flow: pint.Quantity, head: pint.Quantity, density: pint.Quantity, efficiency: pint.Quantity | float
) -> pint.Quantity:
    """Power that a centrifugal pump takes at its shaft.

    power = density * g * flow * head / efficiency

    Parameters
    ----------
    flow : gal/min or m3/h; scalar or array.
    head : of the liquid pumped (ft or m); scalar or array.
    density : of the liquid pumped, the mud (lb/gal, kg/m3 or SG); scalar or array.
    efficiency : of the pump (a fraction or percent); scalar or array.

    Returns
    -------
    Power, W.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow or head; a density not above zero; an efficiency
        not above 0 or above 100 %.

    Valid range: liquids about as thin as water; a thick mud costs a pump head and efficiency.
    Source: the definition; figures derived.

    >>> print(f"{shaft_power(Q(900, 'gal/min'), Q(85, 'ft'), Q(1.44, 'SG'), 0.70).to('hp'):.2f~P}")
    39.80 hp
    """
    require_not_negative(flow=flow, head=head)
    require_above_zero(density=density)
    _require_efficiency(efficiency)
    return density * GRAVITY * flow * head / efficiency


@quantities(returns="[power]", flow="[volumetric_flow_rate]", head="[length]", sg="[]", efficiency="[]")
def shaft_power_field(
    flow: pint.Quantity, head: pint.Quantity, sg: pint.Quantity | float, efficiency: pint.Quantity | float
) -> pint.Quantity:
    """Power that a centrifugal pump takes at its shaft, with a handbook's 3960.

    power[hp] = flow[gal/min] * head[ft] * sg / (3960 * efficiency)

    Parameters
    ----------
    flow, head, efficiency : as :func:`shaft_power`; any unit.
    sg : specific gravity of the liquid pumped, a plain number; scalar or array.

    Returns
    -------
    Power, W.

    Raises
    ------
    CalculationError : as :func:`shaft_power`.

    Valid range: 0.15 % below :func:`shaft_power`.
    Source: [Pumping2004] p. 268, seen; figures derived.

    >>> power = shaft_power_field(Q(900, "gal/min"), Q(85, "ft"), 1.44, 0.70)
    >>> print(f"{power.to('hp'):.2f~P}, {power.to('kW'):.2f~P}")
    39.74 hp, 29.63 kW
    """
    require_not_negative(flow=flow, head=head)
    require(sg > 0, "specific gravity must be above zero")
    _require_efficiency(efficiency)
    return flow * head * sg / (FACTOR_3960 * efficiency)


@quantities(returns="[length]", pressure="[pressure]", density="[density]")
def head_from_pressure(pressure: pint.Quantity, density: pint.Quantity) -> pint.Quantity:
    """Head of the liquid itself that makes a pressure.

    head = pressure / (density * g)

    Parameters
    ----------
    pressure : rise over the pump, or gauge reading (psi or kPa); scalar or array.
    density : of the liquid pumped (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Head, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative pressure; a density not above zero.

    Valid range: any.
    Source: the definition.

    >>> print(f"{head_from_pressure(Q(43.35, 'psi'), Q(1.0, 'SG')).to('ft'):.1f~P}")
    100.0 ft
    """
    require_not_negative(pressure=pressure)
    require_above_zero(density=density)
    return pressure / (density * GRAVITY)


@quantities(returns="[pressure]", head="[length]", density="[density]")
def pressure_from_head(head: pint.Quantity, density: pint.Quantity) -> pint.Quantity:
    """Pressure that a head of the liquid itself makes.

    pressure = density * g * head

    Parameters
    ----------
    head : of the liquid pumped (ft or m); scalar or array.
    density : of the liquid pumped (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative head; a density not above zero.

    Valid range: any.
    Source: the definition.

    >>> print(f"{pressure_from_head(Q(75, 'ft'), Q(12.0, 'lb/gal')).to('psi'):.1f~P}")
    46.8 psi
    """
    require_not_negative(head=head)
    require_above_zero(density=density)
    return density * GRAVITY * head


@quantities(returns="[length]", pressure="[pressure]", sg="[]")
def head_from_pressure_field(pressure: pint.Quantity, sg: pint.Quantity | float) -> pint.Quantity:
    """Head of the liquid itself that makes a pressure, with a handbook's 2.31.

    head[ft] = 2.31 * pressure[psi] / sg

    Parameters
    ----------
    pressure : as :func:`head_from_pressure`; any unit.
    sg : specific gravity of the liquid pumped, a plain number; scalar or array.

    Returns
    -------
    Head, m.

    Raises
    ------
    CalculationError : as :func:`head_from_pressure`.

    Valid range: 0.14 % above :func:`head_from_pressure`.
    Source: [Pumping2004] p. 268, seen.

    >>> print(f"{head_from_pressure_field(Q(52, 'psi'), 1.2).to('ft'):.1f~P}")
    100.1 ft
    """
    require_not_negative(pressure=pressure)
    require(sg > 0, "specific gravity must be above zero")
    return FACTOR_2_31 * pressure / sg


@quantities(returns="[pressure]", head="[length]", sg="[]")
def pressure_from_head_field(head: pint.Quantity, sg: pint.Quantity | float) -> pint.Quantity:
    """Pressure that a head of the liquid itself makes, with a handbook's 2.31.

    pressure[psi] = head[ft] * sg / 2.31

    Parameters
    ----------
    head : as :func:`pressure_from_head`; any unit.
    sg : specific gravity of the liquid pumped, a plain number; scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : as :func:`pressure_from_head`.

    Valid range: 0.14 % below :func:`pressure_from_head`.
    Source: [Pumping2004] p. 268, seen; a sheet on pumps, seen restated, has 32.5, 43 and 52 psi for 100 ft.

    >>> [f"{psi:.1f}" for psi in pressure_from_head_field(Q(100, "ft"), [0.75, 1.0, 1.2]).m_as("psi")]
    ['32.5', '43.3', '51.9']
    """
    require_not_negative(head=head)
    require(sg > 0, "specific gravity must be above zero")
    return head * sg / FACTOR_2_31


@quantities(
    returns=("[volumetric_flow_rate]", "[length]", "[power]"),
    flow="[volumetric_flow_rate]",
    head="[length]",
    power="[power]",
    speed_ratio="[]",
)
def at_speed(
    flow: pint.Quantity, head: pint.Quantity, power: pint.Quantity, speed_ratio: pint.Quantity | float
) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity]:
    """Flow, head and power of a centrifugal pump at another speed, by the affinity laws.

    flow ~ speed, head ~ speed ** 2, power ~ speed ** 3

    Parameters
    ----------
    flow, head, power : at the old speed (gal/min, ft, hp or metric); scalar or array.
    speed_ratio : new speed over old, a plain number; scalar or array.

    Returns
    -------
    Flow, m3/s; head, m; power, W, at the new speed.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative value; a ratio not above zero.

    Valid range: points that correspond, at one efficiency. The duty point of a pump against a static head moves
        otherwise: see :func:`duty_point`.
    Source: [Pumping2004] p. 268, seen; 1750 to 3500 rev/min takes 100 gal/min, 100 ft, 5 hp to 200, 400, 40: seen
        restated.

    >>> flow, head, power = at_speed(Q(100, "gal/min"), Q(100, "ft"), Q(5, "hp"), 3500 / 1750)
    >>> print(f"{flow.to('gal/min'):.0f~P}, {head.to('ft'):.0f~P}, {power.to('hp'):.0f~P}")
    200 gal/min, 400 ft, 40 hp
    """
    require_not_negative(flow=flow, head=head, power=power)
    require(speed_ratio > 0, "ratio of speeds must be above zero")
    return flow * speed_ratio, head * speed_ratio**2, power * speed_ratio**3


@quantities(
    returns=("[volumetric_flow_rate]", "[length]", "[power]"),
    flow="[volumetric_flow_rate]",
    head="[length]",
    power="[power]",
    diameter_ratio="[]",
)
def at_impeller(
    flow: pint.Quantity, head: pint.Quantity, power: pint.Quantity, diameter_ratio: pint.Quantity | float
) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity]:
    """Flow, head and power of a centrifugal pump with its impeller trimmed, speed the same: roughly.

    flow ~ diameter, head ~ diameter ** 2, power ~ diameter ** 3

    Parameters
    ----------
    flow, head, power : with the old impeller (gal/min, ft, hp or metric); scalar or array.
    diameter_ratio : new diameter over old, a plain number; scalar or array.

    Returns
    -------
    Flow, m3/s; head, m; power, W, with the new impeller.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative value; a ratio not above zero.

    Valid range: ratios from 0.8 to 1; warns (ValidityWarning) outside. The casing stays, so that a trimmed pump is no
        scale model, and loses more than the law says; the maker's curve decides.
    Source: [Pumping2004] p. 268, seen.

    >>> flow, head, power = at_impeller(Q(800, "gal/min"), Q(90, "ft"), Q(30, "hp"), 11 / 12)
    >>> print(f"{flow.to('gal/min'):.0f~P}, {head.to('ft'):.1f~P}, {power.to('hp'):.1f~P}")
    733 gal/min, 75.6 ft, 23.1 hp
    """
    require_not_negative(flow=flow, head=head, power=power)
    require(diameter_ratio > 0, "ratio of diameters must be above zero")
    if np.any((diameter_ratio < LEAST_TRIM) | (diameter_ratio > 1)):
        warnings.warn(
            f"the laws serve for an impeller trimmed to {LEAST_TRIM:.0%} of its diameter at the least",
            ValidityWarning,
            stacklevel=3,
        )
    return flow * diameter_ratio, head * diameter_ratio**2, power * diameter_ratio**3


@quantity_fields(
    shutoff_head="[length]",
    slope="[length]/[volumetric_flow_rate]",
    curvature="[length]/[volumetric_flow_rate]**2",
)
@dataclass(frozen=True)
class PumpCurve:
    """Head of a centrifugal pump over its flow: shutoff_head - slope * flow - curvature * flow ** 2.

    ``shutoff_head``: at no flow, kept in m. ``slope``, ``curvature``: fall of the head, not negative, kept in s/m2 and
    s2/m5. Each may be an array. :meth:`through` fits a curve to points.

    Raises :class:`CalculationError` where the head does not fall.
    """

    shutoff_head: pint.Quantity
    slope: pint.Quantity
    curvature: pint.Quantity

    def __post_init__(self) -> None:
        slope, curvature = self.slope.magnitude, self.curvature.magnitude
        require(self.shutoff_head.magnitude > 0, "head at no flow must be above zero")
        require(
            (slope >= 0) & (curvature >= 0),
            "the head must fall with flow from the start: slope and curvature must not be negative",
        )
        require(slope + curvature > 0, "the head must fall with flow")

    @classmethod
    @quantities(flows="[volumetric_flow_rate]", heads="[length]")
    def through(cls, flows: pint.Quantity, heads: pint.Quantity) -> PumpCurve:
        """The curve through three points read off a maker's chart, or nearest to more of them.

        ``flows`` (gal/min or m3/h) and ``heads`` (ft or m) are arrays of as many. Raises CalculationError where fewer
        than three flows differ, or the heads do not fall.

        >>> curve = PumpCurve.through(Q([0, 400, 800], "gal/min"), Q([100, 95, 80], "ft"))
        >>> print(f"{curve.head(Q(600, 'gal/min')).to('ft'):.2f~P}")
        88.75 ft
        """
        require(flows.ndim == 1 and flows.shape == heads.shape, "give a list of flows and a list of as many heads")
        require_not_negative(flows=flows, heads=heads)
        require(np.unique(flows.magnitude).size >= 3, "a pump curve takes at least three different flows")
        scale = flows.magnitude.max()
        squared, linear, head = np.polyfit(flows.magnitude / scale, heads.magnitude, 2)
        # A straight or flat-starting curve leaves rounding of either sign.
        squared, linear = (0.0 if abs(term) < 1e-9 * head else term for term in (squared, linear))
        return cls(Q(head, "m"), Q(-linear / scale, "s/m**2"), Q(-squared / scale**2, "s**2/m**5"))

    @quantities(returns="[length]", flow="[volumetric_flow_rate]")
    def head(self, flow: pint.Quantity) -> pint.Quantity:
        """Head at a flow, m; below zero where the flow is more than the pump can pass."""
        require_not_negative(flow=flow)
        return self.shutoff_head - self.slope * flow - self.curvature * flow**2

    def in_parallel(self, number: int) -> PumpCurve:
        """The curve of so many of these pumps side by side: their flows add."""
        require(number >= 1, "at least one pump is needed")
        return PumpCurve(self.shutoff_head, self.slope / number, self.curvature / number**2)

    def in_series(self, number: int) -> PumpCurve:
        """The curve of so many of these pumps one after the other: their heads add."""
        require(number >= 1, "at least one pump is needed")
        return PumpCurve(self.shutoff_head * number, self.slope * number, self.curvature * number)

    @quantities(speed_ratio="[]")
    def at_speed(self, speed_ratio: pint.Quantity | float) -> PumpCurve:
        """The curve at another speed, new over old, by the affinity laws."""
        require(speed_ratio > 0, "ratio of speeds must be above zero")
        return PumpCurve(self.shutoff_head * speed_ratio**2, self.slope * speed_ratio, self.curvature)


@quantity_fields(static_head="[length]", friction="[length]/[volumetric_flow_rate]**2")
@dataclass(frozen=True)
class SystemCurve:
    """Head that pipework and machines ask for: static_head + friction * flow ** 2.

    ``static_head``: lift, and head wanted at the end of the line, kept in m; below zero where the feed stands higher.
    ``friction``: kept in s2/m5. Each may be an array. :meth:`through` takes friction from one known point.

    Raises :class:`CalculationError` where friction is negative.
    """

    static_head: pint.Quantity
    friction: pint.Quantity

    def __post_init__(self) -> None:
        require_not_negative(friction=self.friction)

    @classmethod
    @quantities(static_head="[length]", flow="[volumetric_flow_rate]", head="[length]")
    def through(cls, static_head: pint.Quantity, flow: pint.Quantity, head: pint.Quantity) -> SystemCurve:
        """The curve of a system that asks for ``head`` in all (ft or m) at ``flow`` (gal/min or m3/h)."""
        require_above_zero(flow=flow)
        require(head >= static_head, "head of the system must be at least its static head")
        return cls(static_head, (head - static_head) / flow**2)

    @quantities(returns="[length]", flow="[volumetric_flow_rate]")
    def head(self, flow: pint.Quantity) -> pint.Quantity:
        """Head that the system asks for at a flow, m."""
        require_not_negative(flow=flow)
        return self.static_head + self.friction * flow**2


@dataclass(frozen=True)
class DutyPoint:
    """Where a pump runs: ``flow``, m3/s, and ``head``, m, of the liquid pumped."""

    flow: pint.Quantity
    head: pint.Quantity


def duty_point(pump: PumpCurve, system: SystemCurve) -> DutyPoint:
    """Flow and head at which a pump makes what its system asks for.

    shutoff_head - slope * flow - curvature * flow ** 2 = static_head + friction * flow ** 2

    Parameters
    ----------
    pump : one pump, or several by :meth:`PumpCurve.in_parallel` or :meth:`PumpCurve.in_series`.
    system : what it pumps against.

    Returns
    -------
    A :class:`DutyPoint`.

    Raises
    ------
    CalculationError : a static head that the pump does not reach.

    Valid range: curves that hold at that flow; a pump far out on its curve overloads its motor.
    Source: the two curves, derived.

    >>> pump = PumpCurve.through(Q([0, 400, 800], "gal/min"), Q([100, 95, 80], "ft"))
    >>> system = SystemCurve.through(Q(20, "ft"), Q(600, "gal/min"), Q(88.75, "ft"))
    >>> for pumps in (pump, pump.in_parallel(2)):
    ...     duty = duty_point(pumps, system)
    ...     print(f"{duty.flow.to('gal/min'):.0f~P} at {duty.head.to('ft'):.1f~P}")
    600 gal/min at 88.8 ft
    634 gal/min at 96.9 ft
    """
    room = (pump.shutoff_head - system.static_head).magnitude
    require(room > 0, "the pump does not reach the static head: nothing flows")
    slope = pump.slope.magnitude
    total = (pump.curvature + system.friction).magnitude
    # The root in the form that holds for a straight line too.
    flow = Q(2 * room / (slope + np.sqrt(slope**2 + 4 * total * room)), "m**3/s")
    return DutyPoint(flow, system.head(flow))


@quantities(
    returns="[length]",
    static_head="[length]",
    density="[density]",
    vapour_pressure="[pressure]",
    friction="[length]",
    surface_pressure="[pressure]",
)
def suction_head(
    static_head: pint.Quantity,
    density: pint.Quantity,
    vapour_pressure: pint.Quantity,
    friction: pint.Quantity,
    surface_pressure: pint.Quantity = ATMOSPHERE,
) -> pint.Quantity:
    """Net positive suction head that a tank gives a pump ("NPSH available").

    head = (surface_pressure - vapour_pressure) / (density * g) + static_head - friction

    Parameters
    ----------
    static_head : height of the mud above the pump's centre (ft or m), below zero for a lift; scalar or array.
    density : of the mud (lb/gal, kg/m3 or SG); scalar or array.
    vapour_pressure : of the liquid at its temperature, absolute (psi or kPa); scalar or array.
    friction : head lost in the suction line (ft or m); scalar or array.
    surface_pressure : absolute, on the mud in the tank (psi or kPa); the air at sea level by default; scalar or array.

    Returns
    -------
    Head of the mud, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a density not above zero; a negative pressure or friction.

    Valid range: mud without gas, an open suction, no vortex. High ground and heavy mud leave less.
    Source: the definition; seen in several pump texts. 33.9 ft of water for the air at sea level: seen.

    >>> water = suction_head(Q(0, "ft"), Q(1, "SG"), Q(0, "psi"), Q(0, "ft"))
    >>> print(f"{water.to('ft'):.1f~P}")
    33.9 ft
    """
    require_above_zero(density=density)
    require_not_negative(vapour_pressure=vapour_pressure, friction=friction, surface_pressure=surface_pressure)
    return (surface_pressure - vapour_pressure) / (density * GRAVITY) + static_head - friction


@quantities(returns="[length]", available="[length]", required="[length]")
def suction_margin(available: pint.Quantity, required: pint.Quantity) -> pint.Quantity:
    """Net positive suction head that is left over: below zero, the pump cavitates.

    margin = available - required

    Parameters
    ----------
    available : from :func:`suction_head` (ft or m); scalar or array.
    required : from the maker's curve at the flow (ft or m); scalar or array.

    Returns
    -------
    Margin, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a required head that is negative.

    Valid range: warns (ValidityWarning) where the margin is not above zero.
    Source: the definition.

    >>> print(f"{suction_margin(Q(28, 'ft'), Q(12, 'ft')).to('ft'):.0f~P}")
    16 ft
    """
    require_not_negative(required=required)
    if np.any(available <= required):
        warnings.warn("the suction gives less head than the pump requires: it cavitates", ValidityWarning, stacklevel=3)
    return available - required


@quantities(returns="[volume]", liner="[length]", stroke="[length]")
def triplex_displacement(liner: pint.Quantity, stroke: pint.Quantity) -> pint.Quantity:
    """Volume that the three single-acting pistons of a triplex pump sweep in one turn ("a stroke").

    volume = 3 * pi / 4 * liner ** 2 * stroke

    Parameters
    ----------
    liner : inner diameter (in or mm); scalar or array.
    stroke : length (in or mm); scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: full liners; :func:`pump_output` takes the efficiency.
    Source: geometry.

    >>> print(f"{triplex_displacement(Q(6, 'in'), Q(12, 'in')).to('bbl'):.5f~P}")
    0.10491 bbl
    """
    require_above_zero(liner=liner, stroke=stroke)
    return 3 * math.pi / 4 * liner**2 * stroke


@quantities(returns="[volume]", liner="[length]", rod="[length]", stroke="[length]")
def duplex_displacement(liner: pint.Quantity, rod: pint.Quantity, stroke: pint.Quantity) -> pint.Quantity:
    """Volume that the two double-acting pistons of a duplex pump sweep in one turn.

    volume = 2 * pi / 4 * (2 * liner ** 2 - rod ** 2) * stroke

    Parameters
    ----------
    liner : inner diameter (in or mm); scalar or array.
    rod : its diameter, which fills one side of the piston (in or mm); scalar or array.
    stroke : length (in or mm); scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a rod that does not fit the liner.

    Valid range: full liners; :func:`pump_output` takes the efficiency.
    Source: geometry; 0.000162 bbl/in3 seen restated, beside :data:`FACTOR_TRIPLEX`.

    >>> print(f"{duplex_displacement(Q(6, 'in'), Q(2, 'in'), Q(14, 'in')).to('bbl'):.4f~P}")
    0.1541 bbl
    """
    require_above_zero(liner=liner, rod=rod, stroke=stroke)
    require(rod < liner, "the rod must be thinner than the liner")
    return 2 * math.pi / 4 * (2 * liner**2 - rod**2) * stroke


@quantities(returns="[volume]", liner="[length]", stroke="[length]", efficiency="[]")
def triplex_output_field(
    liner: pint.Quantity, stroke: pint.Quantity, efficiency: pint.Quantity | float = 1.0
) -> pint.Quantity:
    """Volume that a triplex pump puts out in one turn, with a handbook's 0.000243.

    volume[bbl] = 0.000243 * liner[in] ** 2 * stroke[in] * efficiency

    Parameters
    ----------
    liner, stroke : as :func:`triplex_displacement`; any unit.
    efficiency : by volume (a fraction or percent); 100 % by default; scalar or array.

    Returns
    -------
    Volume, m3.

    Raises
    ------
    CalculationError : as :func:`triplex_displacement`; an efficiency not above 0 or above 100 %.

    Valid range: 0.06 % above :func:`triplex_displacement`.
    Source: a public sheet of drilling formulas after [Lapeyrouse2002], seen: 0.101827 bbl.

    >>> print(f"{triplex_output_field(Q(6, 'in'), Q(12, 'in'), 0.97).to('bbl'):.6f~P}")
    0.101827 bbl
    """
    require_above_zero(liner=liner, stroke=stroke)
    _require_efficiency(efficiency)
    return FACTOR_TRIPLEX * liner**2 * stroke * efficiency


def pump_output(
    displacement: pint.Quantity, speed: pint.Quantity, efficiency: pint.Quantity | float = 1.0
) -> pint.Quantity:
    """Flow of a piston pump.

    flow = displacement * speed * efficiency

    Parameters
    ----------
    displacement : of one turn, from :func:`triplex_displacement` or :func:`duplex_displacement` (gal or bbl); scalar or
        array.
    speed : strokes, that is turns, counted in time (1/min, Hz), or rpm; scalar or array.
    efficiency : by volume (a fraction or percent); 100 % by default; scalar or array.

    Returns
    -------
    Flow, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative displacement or speed; an efficiency not above 0 or
        above 100 %.

    Valid range: any; gas in the mud and a starved suction take efficiency.
    Source: the definition. [GuoLiu2011] p. 77, seen, has 175 gal/min of this pump at 107 strokes/min: it rounds its
        constant down by 2 %.

    >>> pump = triplex_displacement(Q(4.5, "in"), Q(8.5, "in"))
    >>> print(f"{pump_output(pump, Q(107, '1/min'), 0.95).to('gal/min'):.0f~P}")
    178 gal/min
    """
    if isinstance(speed, Quantity) and any(name == "radian" for name, _ in speed.to_root_units().unit_items()):
        speed = speed / Q(1.0, "turn")  # Pint counts rpm in radians
    return _pump_output(displacement, speed, efficiency)


@quantities(returns="[volumetric_flow_rate]", displacement="[volume]", speed="[frequency]", efficiency="[]")
def _pump_output(displacement: pint.Quantity, speed: pint.Quantity, efficiency: pint.Quantity | float) -> pint.Quantity:
    require_not_negative(displacement=displacement, speed=speed)
    _require_efficiency(efficiency)
    return displacement * speed * efficiency


@quantities(
    returns="[pressure]",
    pressure="[pressure]",
    flow="[volumetric_flow_rate]",
    new_flow="[volumetric_flow_rate]",
    exponent="[]",
)
def pressure_at_rate(
    pressure: pint.Quantity,
    flow: pint.Quantity,
    new_flow: pint.Quantity,
    exponent: pint.Quantity | float = 2.0,
) -> pint.Quantity:
    """Circulating pressure at another pump rate.

    new pressure = pressure * (new_flow / flow) ** exponent

    Parameters
    ----------
    pressure : at the old rate (psi or kPa); scalar or array.
    flow, new_flow : old and new rate (gal/min or L/min); with one pump, strokes times its output; scalar or array.
    exponent : 2, the usual rule, or from :func:`pressure_exponent`; scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative pressure; a rate or exponent that is not above zero.

    Valid range: one mud and one hole, turbulent in pipe and bit; a guide, not a well-control figure.
    Source: [Lapeyrouse2002] ch. 1, seen restated: 1,800 psi at 60 strokes/min is 450 psi at 30, 525 psi by 1.7768.

    >>> one, two = Q(120, "gal/min"), Q(60, "gal/min")
    >>> for exponent in (2, 1.7768):
    ...     print(f"{pressure_at_rate(Q(1800, 'psi'), one, two, exponent).to('psi'):.0f~P}")
    450 psi
    525 psi
    """
    require_not_negative(pressure=pressure)
    require_above_zero(flow=flow, new_flow=new_flow, exponent=exponent)
    return pressure * (new_flow / flow) ** exponent


@quantities(
    returns="[]",
    pressure="[pressure]",
    flow="[volumetric_flow_rate]",
    other_pressure="[pressure]",
    other_flow="[volumetric_flow_rate]",
)
def pressure_exponent(
    pressure: pint.Quantity, flow: pint.Quantity, other_pressure: pint.Quantity, other_flow: pint.Quantity
) -> pint.Quantity:
    """Exponent of circulating pressure over pump rate, from two readings.

    exponent = log(pressure / other_pressure) / log(flow / other_flow)

    Parameters
    ----------
    pressure, flow : one reading (psi or kPa, gal/min or L/min); scalar or array.
    other_pressure, other_flow : another, at another rate; scalar or array.

    Returns
    -------
    Exponent for :func:`pressure_at_rate`; 1 for laminar and 2 for fully turbulent flow.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; two readings at one rate.

    Valid range: one mud and one hole.
    Source: [Lapeyrouse2002], seen restated: 2,500 psi at 315 gal/min and 450 psi at 120 give 1.7768.

    >>> found = pressure_exponent(Q(2500, "psi"), Q(315, "gal/min"), Q(450, "psi"), Q(120, "gal/min"))
    >>> print(f"{found.magnitude:.4f}")
    1.7768
    """
    require_above_zero(pressure=pressure, flow=flow, other_pressure=other_pressure, other_flow=other_flow)
    require(flow != other_flow, "take the two readings at different rates")
    return np.log(pressure / other_pressure) / np.log(flow / other_flow)
