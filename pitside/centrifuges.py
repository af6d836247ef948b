"""Decanting centrifuges: acceleration, cut point by Sigma theory, and balances of barite recovery.

``g_force``, ``g_force_field``, ``speed_for_g``: what the bowl makes of gravity. ``Bowl`` with ``sigma``,
``centrifuge_cut_point``, ``centrifuge_flow``, ``cut_point_ratio``: the cut point against speed, flow, viscosity and
pond depth. ``wall_share``, ``BowlCurve``: the whole curve by the same theory. ``centrifuge_balance``,
``old_mud_in_underflow``, ``mixing_pit``: densities and rates with dilution. ``two_stage``: two machines in series.

Sigma is the area of a tank that settles as well under gravity. Several conventions are in use; some mean the grain of
which half is settled, one the grain of which all is, half as large again. :class:`SigmaForm` names them, and a Sigma
without its convention says nothing. The theory is ideal: no turbulence, no scroll, no hindrance, a Newtonian liquid. It
shows which way a change goes; real bowls cut coarser.
"""

from __future__ import annotations

import enum
import math
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.cyclones import LOW_GRAVITY_FIELD
from pitside.errors import ValidityWarning
from pitside.materials import BARITE_FIELD
from pitside.partition import require_draws_apart, require_sinks
from pitside.settling import STOKES_LIMIT
from pitside.units import (
    GRAVITY,
    Q,
    Quantity,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_not_negative,
    require_share,
)

#: g for each inch of bowl diameter and each (rev/min) ** 2, as handbooks round it: common practice, no source. Exact:
#: 1 / 70414.
FIELD_G = 1.42e-5
#: How far a density may pass a limit before it counts as beyond it: the rounding of floating point.
ROUNDING = 1e-12
#: No solids of this kind in the mud.
NONE_OF_IT = Q(0.0, "kg/m**3")


class SigmaForm(enum.Enum):
    """Convention of Sigma: which grain the cut point belongs to, and how many Sigma times velocity make the flow.

    The value is (words, flow over Sigma times settling velocity).
    """

    HALF_VOLUME = ("50 %: grains from the middle of the pond by volume just reach the wall", 2.0)
    AMBLER = ("50 %: the short form of HALF_VOLUME, 3/4 and 1/4", 2.0)
    HALF_DEPTH = ("50 %: grains from half the pond's depth just reach the wall", 2.0)
    COMPLETE = ("100 %: grains from the surface of the pond just reach the wall", 1.0)

    @property
    def flow_factor(self) -> float:
        """Flow over Sigma times settling velocity under gravity."""
        return self.value[1]


def angular_speed(speed: pint.Quantity) -> pint.Quantity:
    """Speed of rotation in radians a second; rev/min, rev/s and rad/s are read as they are, a hertz as one revolution.

    Pint takes a hertz for one radian a second, which would make a bowl of 30 Hz turn at 286 rev/min.

    Parameters
    ----------
    speed : of rotation (rpm); scalar or array.

    Returns
    -------
    Angular speed, 1/s.

    Raises
    ------
    CalculationError : a value that is no speed of rotation, not finite or below zero.

    Valid range: any.
    Source: the definition.

    >>> print(f"{angular_speed(Q(3000, 'rpm')):.2f~P}, {angular_speed(Q(50, 'Hz')):.2f~P}")
    314.16 1/s, 314.16 1/s
    """
    if isinstance(speed, Quantity) and any(name.endswith("hertz") for name, _ in speed.unit_items()):
        speed = speed * (Q(1.0, "revolution/second") / Q(1.0, "hertz")).m_as("")
    return rotation(speed)


@quantities(returns="[frequency]", speed="[frequency]")
def rotation(speed: pint.Quantity) -> pint.Quantity:
    """A speed of rotation, checked."""
    require(speed.magnitude >= 0, "speed of rotation must not be negative")
    return speed


@quantities(returns="[]", diameter="[length]")
def g_force(diameter: pint.Quantity, speed: pint.Quantity) -> pint.Quantity:
    """Acceleration at the wall of a bowl, in multiples of standard gravity.

    G = (diameter / 2) * (angular speed) ** 2 / g

    Parameters
    ----------
    diameter : inside of the bowl, not its radius (in or mm); scalar or array.
    speed : of rotation (rpm); scalar or array.

    Returns
    -------
    Multiple of standard gravity, a plain number.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a diameter that is not above zero; a negative speed.

    Valid range: any; the pond's surface, nearer the axis, gets less.
    Source: the definition: inches * (rev/min) ** 2 / 70414, derived.

    >>> print(f"{g_force(Q(14, 'in'), Q(3250, 'rpm')).magnitude:.0f}")
    2100
    """
    require(diameter.magnitude > 0, "diameter of the bowl must be above zero")
    return diameter / 2 * angular_speed(speed) ** 2 / GRAVITY


@quantities(returns="[]", diameter="[length]")
def g_force_field(diameter: pint.Quantity, speed: pint.Quantity) -> pint.Quantity:
    """Acceleration at the wall of a bowl with the handbook's rounded factor: 0.0000142 * in * (rev/min) ** 2.

    Parameters
    ----------
    diameter, speed : as :func:`g_force`.

    Returns
    -------
    Multiple of standard gravity, a plain number.

    Raises
    ------
    CalculationError : as :func:`g_force`.

    Valid range: as :func:`g_force`; 0.01 % below the exact value.
    Source: common practice, no source.

    >>> print(f"{g_force_field(Q(14, 'in'), Q(3250, 'rpm')).magnitude:.0f}")
    2100
    """
    require(diameter.magnitude > 0, "diameter of the bowl must be above zero")
    return Q(FIELD_G * diameter.m_as("in") * angular_speed(speed).m_as("rpm") ** 2)


@quantities(returns="[frequency]", diameter="[length]", g="[]")
def speed_for_g(diameter: pint.Quantity, g: pint.Quantity | float) -> pint.Quantity:
    """Speed at which the wall of a bowl has a given multiple of standard gravity.

    angular speed = sqrt(2 * G * g / diameter)

    Parameters
    ----------
    diameter : inside of the bowl, not its radius (in or mm); scalar or array.
    g : multiple of standard gravity, a plain number; scalar or array.

    Returns
    -------
    Speed of rotation, 1/s, which counts radians (``.to("rpm")``).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a diameter that is not above zero; a negative g.

    Valid range: below the speed that the maker allows.
    Source: :func:`g_force` turned round.

    >>> print(f"{speed_for_g(Q(14, 'in'), 2100).to('rpm'):.0f~P}")
    3250 rpm
    """
    require(diameter.magnitude > 0, "diameter of the bowl must be above zero")
    require_not_negative(g=g)
    return (2 * g * GRAVITY / diameter) ** 0.5


@quantity_fields(length="[length]", diameter="[length]", pond_depth="[length]")
@dataclass(frozen=True)
class Bowl:
    """The clarifying part of a decanter, kept in m.

    ``length``: of the cylinder where grains settle, without the beach. ``diameter``: inside. ``pond_depth``: from the
    surface of the pond to the wall. Each may be an array.

    Raises :class:`CalculationError` where a length is not above zero, or the pond is as deep as the radius.
    """

    length: pint.Quantity
    diameter: pint.Quantity
    pond_depth: pint.Quantity

    def __post_init__(self) -> None:
        require(self.length.magnitude > 0, "length of the bowl must be above zero")
        require(self.diameter.magnitude > 0, "diameter of the bowl must be above zero")
        require(self.pond_depth.magnitude > 0, "depth of the pond must be above zero")
        require(self.pond_depth < self.radius, "the pond must be less deep than the bowl's radius")

    @property
    def radius(self) -> pint.Quantity:
        """Radius of the wall, m."""
        return self.diameter / 2

    @property
    def pond_radius(self) -> pint.Quantity:
        """Radius of the surface of the pond, m."""
        return self.radius - self.pond_depth

    @property
    def pond_volume(self) -> pint.Quantity:
        """Volume of the pond, m3."""
        return math.pi * self.length * (self.radius**2 - self.pond_radius**2)


@quantities(returns="[area]")
def sigma(bowl: Bowl, speed: pint.Quantity, form: SigmaForm = SigmaForm.HALF_VOLUME) -> pint.Quantity:
    """Sigma of a bowl: the area of a tank that settles as well under gravity.

    With r2 the wall, r1 the surface of the pond, L the length and w the angular speed:
    HALF_VOLUME: pi * L * w ** 2 * (r2 ** 2 - r1 ** 2) / (g * ln(2 * r2 ** 2 / (r1 ** 2 + r2 ** 2)));
    AMBLER: 2 * pi * L * w ** 2 * (3 / 4 * r2 ** 2 + 1 / 4 * r1 ** 2) / g;
    HALF_DEPTH: pi * L * w ** 2 * (r2 ** 2 - r1 ** 2) / (2 * g * ln(2 * r2 / (r1 + r2)));
    COMPLETE: pi * L * w ** 2 * (r2 ** 2 - r1 ** 2) / (g * ln(r2 / r1))

    Parameters
    ----------
    bowl : dimensions.
    speed : of rotation (rpm); scalar or array.
    form : the convention.

    Returns
    -------
    Sigma, m2.

    Raises
    ------
    CalculationError : a value that is no speed; a negative speed.

    Valid range: a straight cylinder of liquid that turns with the bowl.
    Source: [Ambler1959], equations from memory; COMPLETE agrees with a worked example in Seader, Henley and Roper,
        Separation Process Principles, section 19.10, seen restated (690 m2), HALF_DEPTH with Geankoplis' example
        14.4-1 (0.746 um, seen restated).

    >>> bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm"))
    >>> for form in SigmaForm:
    ...     print(f"{form.name} {sigma(bowl, Q(3000, 'rpm'), form):.0f~P}")
    HALF_VOLUME 1716 m²
    AMBLER 1730 m²
    HALF_DEPTH 1536 m²
    COMPLETE 1386 m²
    """
    wall, surface = bowl.radius.magnitude, bowl.pond_radius.magnitude
    drive = math.pi * bowl.length.magnitude * angular_speed(speed).magnitude ** 2 / GRAVITY.magnitude
    if form is SigmaForm.AMBLER:
        return Q(2 * drive * (0.75 * wall**2 + 0.25 * surface**2), "m**2")
    ring = drive * (wall**2 - surface**2)
    if form is SigmaForm.HALF_VOLUME:
        return Q(ring / np.log(2 * wall**2 / (surface**2 + wall**2)), "m**2")
    if form is SigmaForm.HALF_DEPTH:
        return Q(ring / (2 * np.log(2 * wall / (surface + wall))), "m**2")
    return Q(ring / np.log(wall / surface), "m**2")


@quantities(
    returns="[length]",
    flow="[volumetric_flow_rate]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def centrifuge_cut_point(
    bowl: Bowl,
    speed: pint.Quantity,
    flow: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
    form: SigmaForm = SigmaForm.HALF_VOLUME,
) -> pint.Quantity:
    """Cut point of a bowl by Sigma theory.

    flow = factor * Sigma * (solid_density - liquid_density) * g * cut_point ** 2 / (18 * viscosity),
    with the factor 2 of the 50 % conventions and 1 of the 100 % convention

    Parameters
    ----------
    bowl : dimensions.
    speed : of rotation (rpm); scalar or array.
    flow : feed with its dilution liquid (gal/min or m3/h); scalar or array.
    solid_density, liquid_density : of the solid and of the liquid between the grains (SG or kg/m3); scalar or array.
    viscosity : of that liquid (cP or mPa.s); scalar or array.
    form : the convention: a 50 % cut by default.

    Returns
    -------
    Cut point, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a solid that is not denser than the liquid; a
        bowl at rest.

    Valid range: Reynolds number of the grain at the wall up to :data:`pitside.settling.STOKES_LIMIT`, warns
        (ValidityWarning) above; an ideal bowl.
    Source: as :func:`sigma`.

    >>> bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm"))
    >>> feed = Q(50, "gal/min"), Q(2.6, "SG"), Q(1.0, "SG"), Q(10, "cP")
    >>> for speed in (1800, 3000):
    ...     print(f"{centrifuge_cut_point(bowl, Q(speed, 'rpm'), *feed).to('um'):.2f~P}")
    5.41 µm
    3.25 µm
    """
    _require_settling(flow, solid_density, liquid_density, viscosity)
    area = sigma(bowl, speed, form)
    require(area.magnitude > 0, "a bowl at rest has no cut point")
    velocity = flow / (form.flow_factor * area)
    cut_point = (18 * viscosity * velocity / ((solid_density - liquid_density) * GRAVITY)) ** 0.5
    _warn_above_stokes(bowl, speed, velocity, cut_point, liquid_density, viscosity)
    return cut_point


@quantities(
    returns="[volumetric_flow_rate]",
    cut_point="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def centrifuge_flow(
    bowl: Bowl,
    speed: pint.Quantity,
    cut_point: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
    form: SigmaForm = SigmaForm.HALF_VOLUME,
) -> pint.Quantity:
    """Flow at which a bowl has a cut point: :func:`centrifuge_cut_point` turned round.

    Parameters
    ----------
    bowl, speed, solid_density, liquid_density, viscosity, form : as :func:`centrifuge_cut_point`.
    cut_point : wanted (um); scalar or array.

    Returns
    -------
    Feed with its dilution liquid, m3/s.

    Raises
    ------
    CalculationError : as :func:`centrifuge_cut_point`.

    Valid range: as :func:`centrifuge_cut_point`; the scroll or the torque may allow less.
    Source: as :func:`sigma`.

    >>> bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm"))
    >>> feed = Q(3.25, "um"), Q(2.6, "SG"), Q(1.0, "SG"), Q(10, "cP")
    >>> print(f"{centrifuge_flow(bowl, Q(3000, 'rpm'), *feed).to('gal/min'):.0f~P}")
    50 gal/min
    """
    require_above_zero(cut_point=cut_point)
    _require_settling(cut_point, solid_density, liquid_density, viscosity)
    velocity = (solid_density - liquid_density) * GRAVITY * cut_point**2 / (18 * viscosity)
    _warn_above_stokes(bowl, speed, velocity, cut_point, liquid_density, viscosity)
    return form.flow_factor * sigma(bowl, speed, form) * velocity


def _require_settling(
    flow: pint.Quantity, solid_density: pint.Quantity, liquid_density: pint.Quantity, viscosity: pint.Quantity
) -> None:
    require_above_zero(flow=flow)
    require(liquid_density.magnitude > 0, "density of the liquid must be above zero")
    require_above_zero(viscosity=viscosity)
    require_sinks(solid_density, liquid_density)


def _warn_above_stokes(
    bowl: Bowl,
    speed: pint.Quantity,
    velocity: pint.Quantity,
    diameter: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
) -> None:
    at_wall = velocity * g_force(bowl.diameter, speed)
    if np.any((liquid_density * at_wall * diameter / viscosity).m_as("") > STOKES_LIMIT):
        warnings.warn(
            f"at the wall grains of the cut point settle at a Reynolds number above {STOKES_LIMIT:g}: Stokes' law, and "
            "Sigma with it, is too fast there",
            ValidityWarning,
            stacklevel=4,
        )


@quantities(returns="[]", speed_ratio="[]", flow_ratio="[]", viscosity_ratio="[]")
def cut_point_ratio(
    speed_ratio: pint.Quantity | float = 1.0,
    flow_ratio: pint.Quantity | float = 1.0,
    viscosity_ratio: pint.Quantity | float = 1.0,
) -> pint.Quantity:
    """How the cut point of one bowl changes with speed, flow and viscosity.

    new / old cut point = sqrt(flow_ratio * viscosity_ratio) / speed_ratio

    Parameters
    ----------
    speed_ratio, flow_ratio, viscosity_ratio : new over old, plain numbers; scalar or array.

    Returns
    -------
    New over old cut point.

    Raises
    ------
    CalculationError : a value with a unit or not above zero.

    Valid range: one bowl and one pond depth, Stokes regime.
    Source: Sigma theory: the cut point goes with 1 / speed and with the root of flow and viscosity.

    >>> print(f"{cut_point_ratio(speed_ratio=3000 / 1800).magnitude:.2f} {cut_point_ratio(flow_ratio=2).magnitude:.3f}")
    0.60 1.414
    """
    for ratio in (speed_ratio, flow_ratio, viscosity_ratio):
        require(ratio > 0, "a ratio of speeds, flows or viscosities must be above zero")
    return (flow_ratio * viscosity_ratio) ** 0.5 / speed_ratio  # type: ignore[return-value]


@quantities(
    returns="[]",
    size="[length]",
    flow="[volumetric_flow_rate]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def wall_share(
    bowl: Bowl,
    speed: pint.Quantity,
    flow: pint.Quantity,
    size: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
) -> pint.Quantity:
    """Share of the grains of a size that reaches the wall of an ideal bowl: the partition curve that Sigma stands for.

    share = r2 ** 2 * (1 - exp(-2 * k * pond volume / flow)) / (r2 ** 2 - r1 ** 2), at most 1,
    with k = w ** 2 * size ** 2 * (solid_density - liquid_density) / (18 * viscosity)

    Parameters
    ----------
    bowl, speed, flow, solid_density, liquid_density, viscosity : as :func:`centrifuge_cut_point`.
    size : of the grains (um); scalar or array.

    Returns
    -------
    Share, 0 to 1: half at the cut point of HALF_VOLUME, all from the cut point of COMPLETE on.

    Raises
    ------
    CalculationError : as :func:`centrifuge_cut_point`.

    Valid range: plug flow through a pond that turns with the bowl, grains spread evenly at the inlet, Stokes regime.
    Source: Stokes' law integrated from the radius where a grain enters to the wall, derived.

    >>> bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm"))
    >>> share = wall_share(
    ...     bowl, Q(3000, "rpm"), Q(50, "gal/min"), Q([1, 3.247, 6], "um"), Q(2.6, "SG"), Q(1.0, "SG"), Q(10, "cP")
    ... )
    >>> [f"{value:.3f}" for value in share.magnitude]
    ['0.055', '0.500', '1.000']
    """
    _require_settling(flow, solid_density, liquid_density, viscosity)
    require(size.magnitude > 0, "sizes must be above zero")
    wall, surface = bowl.radius.magnitude, bowl.pond_radius.magnitude
    drift = (size**2 * (solid_density - liquid_density) / (18 * viscosity)).m_as("s")
    turns = angular_speed(speed).magnitude ** 2 * drift * (bowl.pond_volume / flow).m_as("s")
    return Q(np.minimum(-np.expm1(-2 * turns) * wall**2 / (wall**2 - surface**2), 1.0)[()])


@dataclass(frozen=True)
class BowlCurve:
    """Partition curve of an ideal bowl by Sigma theory, for streams and networks; see :func:`wall_share`.

    ``flow``: feed with its dilution liquid. ``liquid_density``, ``viscosity``: of the liquid between the grains.
    ``bypass``: share of the feed's solids that goes to the underflow unclassified, with the liquid of the cake.

    >>> curve = BowlCurve(
    ...     Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm")), Q(1800, "rpm"), Q(50, "gal/min"), Q(1.0, "SG"), Q(10, "cP")
    ... )
    >>> [f"{curve.to_underflow(Q(3, 'um'), Q(density, 'SG')).magnitude:.2f}" for density in (2.6, 4.2)]
    ['0.17', '0.33']
    """

    bowl: Bowl
    speed: pint.Quantity
    flow: pint.Quantity
    liquid_density: pint.Quantity
    viscosity: pint.Quantity
    bypass: float = 0.0

    def __post_init__(self) -> None:
        require_share(bypass_share=self.bypass)
        angular_speed(self.speed)

    @quantities(returns="[]", sizes="[length]", solid_density="[density]")
    def to_underflow(self, sizes: pint.Quantity, solid_density: pint.Quantity) -> pint.Quantity:
        """Share of the grains of each size that goes to the underflow; ``sizes`` and ``solid_density`` broadcast.

        Raises CalculationError as :func:`wall_share`, and where draws of a number lie along sizes or densities.
        """
        bowl = self.bowl
        numbers = (bowl.length, bowl.diameter, bowl.pond_depth, self.speed, self.flow, self.liquid_density)
        require_draws_apart(sizes, solid_density, *numbers, self.viscosity)
        share = wall_share(self.bowl, self.speed, self.flow, sizes, solid_density, self.liquid_density, self.viscosity)
        return share * (1 - self.bypass) + self.bypass


@quantity_fields(
    underflow_rate="[volumetric_flow_rate]", overflow_rate="[volumetric_flow_rate]", mass_to_underflow="[]"
)
@dataclass(frozen=True)
class CentrifugeBalance:
    """Volume rates of the two streams out of a centrifuge, and the share of the feed's mass in the underflow."""

    underflow_rate: pint.Quantity
    overflow_rate: pint.Quantity
    mass_to_underflow: pint.Quantity


@quantities(
    feed_rate="[volumetric_flow_rate]",
    feed_density="[density]",
    dilution_rate="[volumetric_flow_rate]",
    dilution_density="[density]",
    underflow_density="[density]",
    overflow_density="[density]",
)
def centrifuge_balance(
    feed_rate: pint.Quantity,
    feed_density: pint.Quantity,
    dilution_rate: pint.Quantity,
    dilution_density: pint.Quantity,
    underflow_density: pint.Quantity,
    overflow_density: pint.Quantity,
) -> CentrifugeBalance:
    """Rates of underflow and overflow of a centrifuge, from rates and densities that can be measured.

    Qu = (Qm * (MW - PO) - Qw * (PO - PW)) / (PU - PO); Qo = Qm + Qw - Qu

    Parameters
    ----------
    feed_rate, feed_density : of the mud: Qm (gal/min or m3/h), MW (lb/gal, kg/m3 or SG); scalar or array.
    dilution_rate, dilution_density : of the dilution liquid: Qw, PW; a rate of 0 for none; scalar or array.
    underflow_density, overflow_density : PU and PO; scalar or array.

    Returns
    -------
    A :class:`CentrifugeBalance`; rates in m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; rates or densities that cannot be.

    Valid range: overflow <= feed with dilution <= underflow.
    Source: mass and volume balance; [Lapeyrouse2002] p. 99, seen restated.

    >>> mud, water = (Q(16.5, "gal/min"), Q(16.2, "lb/gal")), (Q(10.5, "gal/min"), Q(8.34, "lb/gal"))
    >>> found = centrifuge_balance(*mud, *water, Q(23.4, "lb/gal"), Q(9.3, "lb/gal"))
    >>> print(f"{found.underflow_rate.to('gal/min'):.2f~P}, {found.overflow_rate.to('gal/min'):.2f~P}")
    7.36 gal/min, 19.64 gal/min
    """
    require_above_zero(feed_rate=feed_rate)
    require_not_negative(dilution_rate=dilution_rate)
    require(dilution_density.magnitude > 0, "density of the dilution liquid must be above zero")
    require(overflow_density.magnitude > 0, "density of the overflow must be above zero")
    require(underflow_density.magnitude > overflow_density.magnitude, "underflow must be heavier than overflow")
    mass_in = feed_rate * feed_density + dilution_rate * dilution_density
    diluted = mass_in / (feed_rate + dilution_rate)
    require(
        (diluted * (1 + ROUNDING) >= overflow_density) & (diluted * (1 - ROUNDING) <= underflow_density),
        "the feed with its dilution liquid must weigh no less than the overflow and no more than the underflow: check "
        "the densities and rates",
    )
    underflow = (
        feed_rate * (feed_density - overflow_density) - dilution_rate * (overflow_density - dilution_density)
    ) / (underflow_density - overflow_density)
    return CentrifugeBalance(underflow, feed_rate + dilution_rate - underflow, underflow * underflow_density / mass_in)


@quantities(
    returns="[]",
    feed_rate="[volumetric_flow_rate]",
    feed_density="[density]",
    dilution_rate="[volumetric_flow_rate]",
    dilution_density="[density]",
    underflow_density="[density]",
    weighting_density="[density]",
)
def old_mud_in_underflow(
    feed_rate: pint.Quantity,
    feed_density: pint.Quantity,
    dilution_rate: pint.Quantity,
    dilution_density: pint.Quantity,
    underflow_density: pint.Quantity,
    weighting_density: pint.Quantity = BARITE_FIELD,
) -> pint.Quantity:
    """Share of the underflow's volume that is old mud, if barite alone was settled out of it.

    share = (rho_b - PU) / (rho_b - MW + (Qw / Qm) * (rho_b - PW))

    Parameters
    ----------
    feed_rate, feed_density : of the mud: Qm, MW; scalar or array.
    dilution_rate, dilution_density : of the dilution liquid: Qw, PW; scalar or array.
    underflow_density : PU; scalar or array.
    weighting_density : rho_b, of the weighting material; 35 lb/gal by default, as [Lapeyrouse2002]; scalar or array.

    Returns
    -------
    Share of old mud in the underflow, 0 to 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; rates or densities outside the valid range.

    Valid range: feed with dilution <= underflow <= barite. A convention of the book: a centrifuge settles coarse
        drilled solids with the barite.
    Source: [Lapeyrouse2002] p. 99, seen restated.

    >>> mud, water = (Q(16.5, "gal/min"), Q(16.2, "lb/gal")), (Q(10.5, "gal/min"), Q(8.34, "lb/gal"))
    >>> print(f"{old_mud_in_underflow(*mud, *water, Q(23.4, 'lb/gal')).magnitude:.4f}")
    0.3243
    """
    require_above_zero(feed_rate=feed_rate)
    require_not_negative(dilution_rate=dilution_rate)
    require(dilution_density > NONE_OF_IT, "density of the dilution liquid must be above zero")
    diluted = (feed_rate * feed_density + dilution_rate * dilution_density) / (feed_rate + dilution_rate)
    require(
        underflow_density >= diluted * (1 - ROUNDING),
        "underflow must be no lighter than the feed with its dilution liquid",
    )
    require(underflow_density <= weighting_density, "underflow must be no heavier than the weighting material")
    require(feed_density < weighting_density, "the mud must be lighter than the weighting material")
    rates = dilution_rate / feed_rate
    return (weighting_density - underflow_density) / (
        weighting_density - feed_density + rates * (weighting_density - dilution_density)
    )


@quantity_fields(
    underflow_rate="[volumetric_flow_rate]",
    old_mud_share="[]",
    clay_rate="[mass]/[time]",
    additive_rate="[mass]/[time]",
    water_rate="[volumetric_flow_rate]",
    barite_rate="[mass]/[time]",
)
@dataclass(frozen=True)
class MixingPit:
    """What goes into the mixing pit so that the mud that was centrifuged comes back in volume and weight.

    Volume rates of underflow and water, share of old mud in the underflow, mass rates of clay, additive and barite.
    """

    underflow_rate: pint.Quantity
    old_mud_share: pint.Quantity
    clay_rate: pint.Quantity
    additive_rate: pint.Quantity
    water_rate: pint.Quantity
    barite_rate: pint.Quantity


@quantities(
    feed_rate="[volumetric_flow_rate]",
    feed_density="[density]",
    dilution_rate="[volumetric_flow_rate]",
    dilution_density="[density]",
    underflow_density="[density]",
    overflow_density="[density]",
    clay="[density]",
    additive="[density]",
    weighting_density="[density]",
    low_gravity_density="[density]",
)
def mixing_pit(
    feed_rate: pint.Quantity,
    feed_density: pint.Quantity,
    dilution_rate: pint.Quantity,
    dilution_density: pint.Quantity,
    underflow_density: pint.Quantity,
    overflow_density: pint.Quantity,
    clay: pint.Quantity,
    additive: pint.Quantity = NONE_OF_IT,
    weighting_density: pint.Quantity = BARITE_FIELD,
    low_gravity_density: pint.Quantity = LOW_GRAVITY_FIELD,
) -> MixingPit:
    """Rates of clay, additive, water and barite that make up the mud again from the underflow of a centrifuge.

    clay rate = clay * (Qm - Qu * share), additive likewise;
    water = (Qm * (rho_b - MW) - Qu * (rho_b - PU) - (rho_b / rho_lg - 1) * (clay + additive rate)) / (rho_b - PW);
    barite = (Qm - Qu - water - (clay + additive rate) / rho_lg) * rho_b

    Parameters
    ----------
    feed_rate, feed_density, dilution_rate, dilution_density, underflow_density, overflow_density : as
        :func:`centrifuge_balance`; the pit's water has the density of the dilution liquid.
    clay, additive : mass in a volume of the mud (lb/bbl or kg/m3); scalar or array.
    weighting_density, low_gravity_density : 35 and 21.7 lb/gal by default, as [Lapeyrouse2002], which makes its 0.6129.

    Returns
    -------
    A :class:`MixingPit`; rates in m3/s and kg/s.

    Raises
    ------
    CalculationError : as :func:`centrifuge_balance` and :func:`old_mud_in_underflow`; a mud that cannot be made up.

    Valid range: barite alone settles, as :func:`old_mud_in_underflow`.
    Source: mass and volume balance; [Lapeyrouse2002] p. 99, seen restated.

    >>> mud, water = (Q(16.5, "gal/min"), Q(16.2, "lb/gal")), (Q(10.5, "gal/min"), Q(8.34, "lb/gal"))
    >>> pit = mixing_pit(*mud, *water, Q(23.4, "lb/gal"), Q(9.3, "lb/gal"), Q(22.5, "lb/bbl"), Q(6, "lb/bbl"))
    >>> print(f"{pit.water_rate.to('gal/min'):.2f~P}, {pit.barite_rate.to('lb/min'):.1f~P}")
    8.21 gal/min, 17.0 lb/min
    """
    measured = (feed_rate, feed_density, dilution_rate, dilution_density, underflow_density)
    underflow_rate = centrifuge_balance(*measured, overflow_density).underflow_rate
    share = old_mud_in_underflow(*measured, weighting_density)
    require((clay >= NONE_OF_IT) & (additive >= NONE_OF_IT), "clay and additive must not be negative")
    require(low_gravity_density > NONE_OF_IT, "density of clay and additive must be above zero")
    lost = feed_rate - underflow_rate * share
    low_gravity = (clay + additive) * lost
    water = (
        feed_rate * (weighting_density - feed_density)
        - underflow_rate * (weighting_density - underflow_density)
        - low_gravity * (weighting_density / low_gravity_density - 1)
    ) / (weighting_density - dilution_density)
    barite = (feed_rate - underflow_rate - water - low_gravity / low_gravity_density) * weighting_density
    nothing_solid, nothing_liquid = Q(-1e-9, "kg/s"), Q(-1e-12, "m**3/s")
    require(
        (water >= nothing_liquid) & (barite >= nothing_solid),
        "the mud cannot be made up again from these: check the densities, and the lb/bbl of clay and additive",
    )
    return MixingPit(underflow_rate, share, clay * lost, additive * lost, water, barite)


@quantity_fields(recovered="[]", discarded="[]", with_liquid="[]")
@dataclass(frozen=True)
class TwoStage:
    """Where one kind of solids goes in two centrifuges in series; shares of its feed, together 1.

    ``recovered``: underflow of the first, back to the mud. ``discarded``: underflow of the second. ``with_liquid``:
    overflow of the second, back to the mud with the liquid.
    """

    recovered: pint.Quantity
    discarded: pint.Quantity
    with_liquid: pint.Quantity

    @property
    def kept(self) -> pint.Quantity:
        """Share that goes back to the mud by either way."""
        return self.recovered + self.with_liquid


@quantities(first="[]", second="[]")
def two_stage(first: pint.Quantity | float, second: pint.Quantity | float) -> TwoStage:
    """Two-stage barite recovery of one kind of solids, from its shares to the underflow of each machine.

    recovered = first; discarded = (1 - first) * second; with the liquid = (1 - first) * (1 - second)

    The first machine, at low g, returns its underflow (barite) to the mud; the second, at high g, takes the overflow of
    the first, discards its underflow (fines) and returns the liquid.

    Parameters
    ----------
    first : share of its feed of these solids that the first machine settles (fraction or percent); scalar or array.
    second : the same of the second machine, of what reaches it; scalar or array.

    Returns
    -------
    A :class:`TwoStage`.

    Raises
    ------
    CalculationError : a value with a unit; a share outside 0 to 100 %.

    Valid range: 0 to 1. The second machine discards the barite that the first let pass, too. Neither machine tells
        barite from drilled solids: each sorts by settling velocity ([ASME2005], seen). The colloids that hurt the mud
        most come back with the liquid; the abstract of SPE 23660 (seen) calls the process counter-productive for that.
    Source: volume balance, derived.

    >>> barite, low_gravity = two_stage(0.90, 0.95), two_stage(0.35, 0.80)
    >>> print(f"barite kept {barite.kept.magnitude:.1%}, low-gravity discarded {low_gravity.discarded.magnitude:.1%}")
    barite kept 90.5%, low-gravity discarded 52.0%
    """
    for share in (first, second):
        require_share(share_to_the_underflow=share)
    recovered = Q(1.0) * first
    passed = 1 - recovered
    return TwoStage(recovered, passed * second, passed * (1 - second))
