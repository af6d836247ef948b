"""How fast a grain settles, alone and in a crowd.

``stokes_velocity``, ``stokes_diameter``: small and slow. ``drag_coefficient``, ``terminal_velocity``: a smooth sphere
of any size. ``ferguson_church_velocity``: sediment grains of any size. ``reynolds_number``, ``regime``: which of them
holds. ``richardson_zaki_exponent``, ``hindered_factor``, ``hindered_velocity``: in a crowd. ``equal_settling_ratio``:
which sizes of two solids settle alike.

Velocities are down where the solid is heavier than the liquid, and negative (up) where it is lighter. ``acceleration``
is gravity unless a machine makes more. The liquid is Newtonian: a mud that gels holds fine grains for ever. Density and
viscosity are those of the liquid, not of the mud.
"""

from __future__ import annotations

import enum
import warnings

import numpy as np
import pint

from pitside.errors import CalculationError, ValidityWarning
from pitside.units import GRAVITY, Q, number, quantities, require, require_above_zero, require_less_than_all

#: Reynolds number up to which Stokes' law is taken to hold: common practice, no source. The drag is 6.6 % above Stokes'
#: there, by :func:`drag_coefficient`.
STOKES_LIMIT = 0.3
#: Reynolds number above which the drag coefficient no longer falls: from memory.
NEWTON_LIMIT = 1000.0
#: Drag coefficient of a sphere above :data:`NEWTON_LIMIT`: from memory.
NEWTON_DRAG = 0.44
#: Reynolds number at which a smooth sphere's drag collapses: from memory.
DRAG_CRISIS = 2e5
#: Richardson and Zaki's exponent for slow grains: from memory.
STOKES_EXPONENT = 4.65
#: Solids fraction at which grains lie packed and no longer settle one by one: common practice, no source.
PACKED = 0.6


class Shape(enum.Enum):
    """Kind of grain for :func:`ferguson_church_velocity`; the value is its (C1, C2)."""

    SPHERE = (18.0, 0.4)
    NATURAL_GRAIN = (18.0, 1.0)


class Regime(enum.Enum):
    """How a grain settles; the value says where the regime holds."""

    STOKES = f"Reynolds number up to {STOKES_LIMIT:g}: velocity goes with diameter squared"
    INTERMEDIATE = f"Reynolds number {STOKES_LIMIT:g} to {NEWTON_LIMIT:g}: between the two"
    NEWTON = f"Reynolds number above {NEWTON_LIMIT:g}: velocity goes with the root of the diameter"


def _require_moving(reynolds: pint.Quantity | float) -> None:
    require(reynolds > 0, "Reynolds number must be above zero")


def _warn_above(value: pint.Quantity | float, limit: float, message: str) -> None:
    if np.any(value > limit):
        warnings.warn(message, ValidityWarning, stacklevel=4)


@quantities(
    returns="[]", velocity="[velocity]", diameter="[length]", liquid_density="[density]", viscosity="[viscosity]"
)
def reynolds_number(
    velocity: pint.Quantity, diameter: pint.Quantity, liquid_density: pint.Quantity, viscosity: pint.Quantity
) -> pint.Quantity:
    """Reynolds number of a grain that moves through a liquid.

    Re = liquid_density * velocity * diameter / viscosity

    Parameters
    ----------
    velocity : of the grain against the liquid, up or down (m/s or ft/min); scalar or array.
    diameter : of the grain (um or mm); scalar or array.
    liquid_density : of the liquid, not of the mud (kg/m3 or lb/gal); scalar or array.
    viscosity : of the liquid (mPa.s or cP); scalar or array.

    Returns
    -------
    Reynolds number, not negative.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a diameter, density or viscosity that is not above zero.

    Valid range: any.
    Source: the definition.

    >>> print(f"{reynolds_number(Q(10, 'mm/s'), Q(100, 'um'), Q(1000, 'kg/m**3'), Q(1, 'cP')).magnitude:.2f}")
    1.00
    """
    require_above_zero(diameter=diameter, liquid_density=liquid_density, viscosity=viscosity)
    return liquid_density * abs(velocity) * diameter / viscosity


@quantities(reynolds="[]")
def regime(reynolds: pint.Quantity | float) -> Regime | np.ndarray:
    """Settling regime at a Reynolds number.

    Stokes up to 0.3, intermediate up to 1000, Newton above

    Parameters
    ----------
    reynolds : Reynolds number of the settling grain, a plain number; scalar or array.

    Returns
    -------
    A :class:`Regime`, or an array of them.

    Raises
    ------
    CalculationError : a value with a unit; a Reynolds number that is not above zero.

    Valid range: any above 0; the borders are soft.
    Source: the limits are common practice (0.3) and from memory (1000).

    >>> [found.name for found in regime([0.01, 30, 5000])]
    ['STOKES', 'INTERMEDIATE', 'NEWTON']
    """
    _require_moving(reynolds)
    index = np.digitize(number(reynolds), [STOKES_LIMIT, NEWTON_LIMIT], right=True)
    return np.array(list(Regime), dtype=object)[index]


@quantities(
    returns="[velocity]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
    acceleration="[acceleration]",
)
def stokes_velocity(
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Settling velocity of a small sphere by Stokes' law.

    velocity = (solid_density - liquid_density) * acceleration * diameter ** 2 / (18 * viscosity)

    Parameters
    ----------
    diameter : of the grain (um); scalar or array.
    solid_density, liquid_density : of the grain and of the liquid (kg/m3, SG or lb/gal); scalar or array.
    viscosity : of the liquid (mPa.s or cP); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.

    Returns
    -------
    Velocity, m/s; negative where the grain rises.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a value that is not above zero.

    Valid range: Reynolds number up to :data:`STOKES_LIMIT`; above it the answer is too fast and a ValidityWarning says
        so.
    Source: Stokes' law; the worked figure is what the fluids library (v_terminal, Method="Stokes") gives.

    >>> barite = stokes_velocity(Q(10, "um"), Q(4200, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s"))
    >>> print(f"{barite.to('mm/s'):.4f~P}")
    0.1743 mm/s
    """
    require_above_zero(
        diameter=diameter,
        solid_density=solid_density,
        liquid_density=liquid_density,
        viscosity=viscosity,
        acceleration=acceleration,
    )
    velocity = (solid_density - liquid_density) * acceleration * diameter**2 / (18 * viscosity)
    reynolds = reynolds_number(velocity, diameter, liquid_density, viscosity)
    _warn_above(
        reynolds,
        STOKES_LIMIT,
        f"Stokes' law is too fast above a Reynolds number of {STOKES_LIMIT:g}; see terminal_velocity",
    )
    return velocity


@quantities(
    returns="[length]",
    velocity="[velocity]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
    acceleration="[acceleration]",
)
def stokes_diameter(
    velocity: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Diameter of the sphere that settles at a given velocity by Stokes' law.

    diameter = sqrt(18 * viscosity * velocity / ((solid_density - liquid_density) * acceleration))

    Parameters
    ----------
    velocity : settling velocity, negative for a grain that rises (m/s or ft/min); scalar or array.
    solid_density, liquid_density : of the grain and of the liquid (kg/m3, SG or lb/gal); scalar or array.
    viscosity : of the liquid (mPa.s or cP); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.

    Returns
    -------
    Diameter, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a solid as dense as the liquid; a velocity the wrong way.

    Valid range: Reynolds number up to :data:`STOKES_LIMIT`; above it the answer is too small and a ValidityWarning says
        so.
    Source: :func:`stokes_velocity` turned round.

    >>> size = stokes_diameter(Q(0.1743, "mm/s"), Q(4200, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s"))
    >>> print(f"{size.to('um'):.1f~P}")
    10.0 µm
    """
    require_above_zero(
        solid_density=solid_density, liquid_density=liquid_density, viscosity=viscosity, acceleration=acceleration
    )
    require(
        velocity * (solid_density - liquid_density) > Q(0, "kg/m**2/s"),
        "a solid heavier than the liquid settles (velocity above zero), a lighter one rises (below zero)",
    )
    diameter = (18 * viscosity * velocity / ((solid_density - liquid_density) * acceleration)) ** 0.5
    reynolds = reynolds_number(velocity, diameter, liquid_density, viscosity)
    _warn_above(reynolds, STOKES_LIMIT, f"Stokes' law is too fast above a Reynolds number of {STOKES_LIMIT:g}")
    return diameter


@quantities(returns="[]", reynolds="[]")
def drag_coefficient(reynolds: pint.Quantity | float) -> pint.Quantity:
    """Drag coefficient of a smooth sphere by Schiller and Naumann, held at 0.44 where it would fall below.

    Cd = max(24 / Re * (1 + 0.15 * Re ** 0.687), 0.44)

    Parameters
    ----------
    reynolds : Reynolds number of the sphere, a plain number; scalar or array.

    Returns
    -------
    Drag coefficient.

    Raises
    ------
    CalculationError : a value with a unit; a Reynolds number that is not above zero.

    Valid range: Re up to 2e5, where the drag of a smooth sphere collapses; warns (ValidityWarning) above.
    Source: [Schiller1933] up to Re 1000, and 0.44 beyond, both from memory; the worked figures are derived.

    >>> print(f"{drag_coefficient(1.0).magnitude:.2f} {drag_coefficient(100).magnitude:.4f}")
    27.60 1.0917
    """
    _require_moving(reynolds)
    _warn_above(reynolds, DRAG_CRISIS, f"the drag of a sphere is not known above a Reynolds number of {DRAG_CRISIS:g}")
    return np.maximum(24 / reynolds * (1 + 0.15 * reynolds**0.687), NEWTON_DRAG)


@quantities(
    returns="[velocity]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
    acceleration="[acceleration]",
)
def terminal_velocity(
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
) -> pint.Quantity:
    """Settling velocity of a smooth sphere of any size, its drag by :func:`drag_coefficient`.

    Cd(Re) * Re ** 2 = 4 / 3 * Ar, with the Archimedes number
    Ar = liquid_density * |solid_density - liquid_density| * acceleration * diameter ** 3 / viscosity ** 2

    Parameters
    ----------
    diameter : of the grain (um or mm); scalar or array.
    solid_density, liquid_density : of the grain and of the liquid (kg/m3, SG or lb/gal); scalar or array.
    viscosity : of the liquid (mPa.s or cP); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.

    Returns
    -------
    Velocity, m/s; negative where the grain rises.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a value that is not above zero.

    Valid range: Reynolds number up to 2e5, warns (ValidityWarning) above; cuttings are no spheres and settle slower.
    Source: [Schiller1933], from memory; within 1.5 % of the fluids library's v_terminal(Method="Clift_Gauvin") up to
        1 mm (sand in water).

    >>> sizes = Q([10, 74, 200, 1000], "um")
    >>> found = terminal_velocity(sizes, Q(2600, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s"))
    >>> [f"{velocity:.4g}" for velocity in found.m_as("m/s")]
    ['8.707e-05', '0.004461', '0.02417', '0.1521']
    """
    require_above_zero(
        diameter=diameter,
        solid_density=solid_density,
        liquid_density=liquid_density,
        viscosity=viscosity,
        acceleration=acceleration,
    )
    excess = solid_density - liquid_density
    archimedes = (liquid_density * abs(excess) * acceleration * diameter**3 / viscosity**2).m_as("")
    reynolds = np.minimum(_schiller_naumann_reynolds(archimedes), np.sqrt(4 / 3 * archimedes / NEWTON_DRAG))
    _warn_above(reynolds, DRAG_CRISIS, f"the drag of a sphere is not known above a Reynolds number of {DRAG_CRISIS:g}")
    return np.sign(excess.magnitude) * reynolds * viscosity / (liquid_density * diameter)


def _schiller_naumann_reynolds(archimedes: np.ndarray | float) -> np.ndarray:
    """Root of 18 Re + 2.7 Re^1.687 = Ar by Newton's method; from Stokes' Re, which is never below it, it only falls."""
    reynolds = np.asarray(archimedes, dtype=float) / 18
    for _ in range(100):
        step = (18 * reynolds + 2.7 * reynolds**1.687 - archimedes) / (18 + 2.7 * 1.687 * reynolds**0.687)
        reynolds = reynolds - step
        if np.all(abs(step) <= 1e-12 * reynolds):
            return reynolds
    raise CalculationError("the settling velocity was not found: check diameter, densities and viscosity")


@quantities(
    returns="[velocity]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
    acceleration="[acceleration]",
)
def ferguson_church_velocity(
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
    acceleration: pint.Quantity = GRAVITY,
    shape: Shape = Shape.NATURAL_GRAIN,
) -> pint.Quantity:
    """Settling velocity of a sediment grain of any size, in one closed formula.

    velocity = R * g * D ** 2 / (C1 * nu + sqrt(0.75 * C2 * R * g * D ** 3)),
    with R = (solid_density - liquid_density) / liquid_density, nu = viscosity / liquid_density,
    C1 = 18 and C2 = 0.4 for spheres, 1.0 for natural grains (sieve diameters)

    Parameters
    ----------
    diameter : of the grain (um or mm); scalar or array.
    solid_density, liquid_density : of the grain and of the liquid (kg/m3, SG or lb/gal); scalar or array.
    viscosity : of the liquid (mPa.s or cP); scalar or array.
    acceleration : gravity, or that of a machine (m/s2); scalar or array.
    shape : natural grains by default.

    Returns
    -------
    Velocity, m/s; negative where the grain rises.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a value that is not above zero.

    Valid range: sand and gravel in water; other liquids by the same law.
    Source: [Ferguson2004], seen restated; the worked figure is derived.

    >>> sand = ferguson_church_velocity(Q(200, "um"), Q(2600, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s"))
    >>> print(f"{sand.to('mm/s'):.2f~P}")
    22.66 mm/s
    """
    require_above_zero(
        diameter=diameter,
        solid_density=solid_density,
        liquid_density=liquid_density,
        viscosity=viscosity,
        acceleration=acceleration,
    )
    stokes_constant, newton_constant = shape.value
    drive = (solid_density - liquid_density) / liquid_density * acceleration
    inertia = (0.75 * newton_constant * abs(drive) * diameter**3) ** 0.5
    return drive * diameter**2 / (stokes_constant * viscosity / liquid_density + inertia)


@quantities(returns="[]", reynolds="[]")
def richardson_zaki_exponent(reynolds: pint.Quantity | float) -> pint.Quantity:
    """Exponent of Richardson and Zaki's law of hindered settling.

    n = 4.65 (Re below 0.2), 4.35 * Re ** -0.03 (to 1), 4.45 * Re ** -0.1 (to 500), 2.39 (above)

    Parameters
    ----------
    reynolds : Reynolds number of one grain alone, a plain number; scalar or array.

    Returns
    -------
    Exponent n for :func:`hindered_factor`.

    Raises
    ------
    CalculationError : a value with a unit; a Reynolds number that is not above zero.

    Valid range: grains small against the vessel; the pieces do not quite meet at 0.2 and 1.
    Source: [Richardson1954], from memory. For slow grains later work measures 4.48 (no Brownian motion) and 5.6 (with
        it): Brzinski and Durian, arXiv 1710.09314, abstract seen.

    >>> [f"{n:.2f}" for n in richardson_zaki_exponent([0.01, 0.5, 100, 1000]).magnitude]
    ['4.65', '4.44', '2.81', '2.39']
    """
    _require_moving(reynolds)
    at = np.asarray(number(reynolds), dtype=float)
    pieces = [np.full_like(at, STOKES_EXPONENT), 4.35 * at**-0.03, 4.45 * at**-0.1]
    return Q(np.select([at < 0.2, at < 1, at < 500], pieces, 2.39)[()])


@quantities(returns="[]", solids_fraction="[]", exponent="[]")
def hindered_factor(
    solids_fraction: pint.Quantity | float, exponent: pint.Quantity | float = STOKES_EXPONENT
) -> pint.Quantity:
    """Share of its own settling velocity that a grain keeps in a crowd.

    factor = (1 - solids_fraction) ** exponent

    Parameters
    ----------
    solids_fraction : volume fraction of all solids (percent or fraction); scalar or array.
    exponent : from :func:`richardson_zaki_exponent`; 4.65, slow grains, by default; scalar or array.

    Returns
    -------
    Factor from 1 (alone) down towards 0.

    Raises
    ------
    CalculationError : a value with a unit; a fraction below 0 or not below 100 %; an exponent that is not above zero.

    Valid range: solids_fraction up to :data:`PACKED`; warns (ValidityWarning) above.
    Source: [Richardson1954], from memory; the worked figure is derived.

    >>> print(f"{hindered_factor(Q(20, 'percent')).magnitude:.4f}")
    0.3543
    """
    require_less_than_all(solids_fraction=solids_fraction)
    require_above_zero(exponent=exponent)
    _warn_above(
        solids_fraction, PACKED, f"above {PACKED:.0%} solids the grains lie packed and do not settle one by one"
    )
    return Q(1.0) * (1 - solids_fraction) ** exponent


@quantities(returns="[velocity]", velocity="[velocity]", solids_fraction="[]", exponent="[]")
def hindered_velocity(
    velocity: pint.Quantity,
    solids_fraction: pint.Quantity | float,
    exponent: pint.Quantity | float = STOKES_EXPONENT,
) -> pint.Quantity:
    """Settling velocity of a grain in a crowd, against the walls of the tank.

    hindered = velocity * (1 - solids_fraction) ** exponent

    Parameters
    ----------
    velocity : of one grain alone in the liquid (m/s or ft/min); scalar or array.
    solids_fraction : volume fraction of all solids (percent or fraction); scalar or array.
    exponent : from :func:`richardson_zaki_exponent`; 4.65, slow grains, by default; scalar or array.

    Returns
    -------
    Velocity, m/s.

    Raises
    ------
    CalculationError : as :func:`hindered_factor`.

    Valid range: as :func:`hindered_factor`; grains of one size and density.
    Source: [Richardson1954], from memory.

    >>> print(f"{hindered_velocity(Q(1.0, 'mm/s'), Q(30, 'percent')).to('mm/s'):.4f~P}")
    0.1904 mm/s
    """
    return velocity * hindered_factor(solids_fraction, exponent)


@quantities(returns="[]", heavy="[density]", light="[density]", liquid="[density]")
def equal_settling_ratio(heavy: pint.Quantity, light: pint.Quantity, liquid: pint.Quantity) -> pint.Quantity:
    """How many times as large a light grain must be to settle with a heavy one, by Stokes' law.

    light diameter / heavy diameter = sqrt((heavy - liquid) / (light - liquid))

    Parameters
    ----------
    heavy, light : densities of the two solids (SG, kg/m3 or lb/gal); scalar or array.
    liquid : density of the liquid between the grains, not of the mud; scalar or array.

    Returns
    -------
    Ratio of diameters, 1 or more.

    Raises
    ------
    CalculationError : a value of the wrong dimension; densities outside the valid range.

    Valid range: 0 < liquid < light <= heavy; both grains in the Stokes regime; the same at any acceleration.
    Source: Stokes' law; the handbook's rule of 1.5 (10 um barite with 15 um drilled solids, [ASME2005]) is exact in a
        liquid of SG 1.32 only.

    >>> print(f"{equal_settling_ratio(Q(4.2, 'SG'), Q(2.6, 'SG'), Q(1.0, 'SG')).magnitude:.3f}")
    1.414
    >>> print(f"{equal_settling_ratio(Q(4.2, 'SG'), Q(2.6, 'SG'), Q(1.32, 'SG')).magnitude:.3f}")
    1.500
    """
    require(liquid > Q(0, "kg/m**3"), "density of the liquid must be above zero")
    require(light > liquid, "the light solid must be denser than the liquid, or it does not settle")
    require(heavy >= light, "the heavy solid must be at least as dense as the light one")
    return ((heavy - liquid) / (light - liquid)) ** 0.5
