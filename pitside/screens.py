"""Shaker screens: what they are called, what they cut, and how readily mud goes through them.

``LADDER``, ``api_designation``, ``d100_range``, ``nearest_sieve_designation``: the designation of API RP 13C
(ISO 13501) from the D100 of the screen. ``removed_share``, ``cut_size``, ``cut_points``: the separation curve of a
running shaker from sieve rates of its two streams. ``layered_conductance``, ``transmittance``, ``flow_capacity``: how
much goes through. ``pool_length``: how far the pool reaches up a deck that climbs.

A designation is no mesh count: it names the range that the D100 of a test in the laboratory falls in. The D100, the d50
of a running shaker and the opening of the cloth are three different sizes.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import CalculationError, ValidityWarning
from pitside.units import GRAVITY, Q, quantities, require

_RESTATED = "API RP 13C Table 5, seen restated"
_MEMORY = "API RP 13C Table 5, from memory"
_UNSURE = "API RP 13C Table 5, from memory, unsure"


@dataclass(frozen=True)
class ScreenRange:
    """One step of the ladder: the designation of a screen whose D100 is above ``above`` and not above ``up_to``."""

    designation: int
    above: pint.Quantity
    up_to: pint.Quantity
    source: str

    @property
    def unsure(self) -> bool:
        """The limits are remembered with doubt."""
        return self.source == _UNSURE


def _ladder() -> tuple[ScreenRange, ...]:
    limits = [1290, 1090, 925, 780, 655, 550, 462.5, 390, 327.5, 275, 231, 196, 165, 137.5, 116.5, 98, 82.5, 69, 58]
    limits += [49, 41.5, 35]
    names = (16, 18, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 100, 120, 140, 170, 200, 230, 270, 325, 400)
    sources = dict.fromkeys((16, 18), _UNSURE) | dict.fromkeys((20, 25, 30, 35, 100, 120), _RESTATED)
    return tuple(
        ScreenRange(name, Q(low, "um"), Q(high, "um"), sources.get(name, _MEMORY))
        for name, high, low in zip(names, limits[:-1], limits[1:], strict=True)
    )


#: The whole ladder, coarsest first; ranges are open below and closed above. Each limit is midway between two
#: neighbouring sieves of ASTM E11, but for 116.5 um between 120 and 140: midway is 115.5 um.
LADDER: tuple[ScreenRange, ...] = _ladder()
_LIMITS = np.array([step.above.m_as("um") for step in LADDER] + [LADDER[0].up_to.m_as("um")])
_RISING = np.sort(_LIMITS)

#: Openings (um) of the sieves of ASTM E11 by their number: as the fluids library lists them.
ASTM_SIEVES: dict[int, pint.Quantity] = {
    number: Q(float(opening), "um")
    for number, opening in zip(
        [step.designation for step in LADDER],
        (1180, 1000, 850, 710, 600, 500, 425, 355, 300, 250, 212, 180, 150, 125, 106, 90, 75, 63, 53, 45, 38),
        strict=True,
    )
}

#: Conductance (kD/mm) of market-grade square cloth by mesh count: [AADE1999] Table 6-8, p. 131, seen. Mesh count, not
#: designation. The 150 mesh breaks the trend in the source.
MARKET_GRADE_CONDUCTANCE: dict[int, pint.Quantity] = {
    mesh: Q(conductance, "kilodarcy/mm")
    for mesh, conductance in {
        10: 49.68, 20: 15.93, 30: 8.32, 40: 4.80, 50: 2.88, 60: 2.40, 80: 1.91, 100: 1.44, 120: 1.24, 150: 1.39,
        200: 0.68, 250: 0.58, 325: 0.44,
    }.items()
}  # fmt: skip

#: Reynolds number of the openings up to which flow goes with pressure (Darcy's law): from memory, 1 to 10.
DARCY_LIMIT = 10.0


def _on_ladder(d100: pint.Quantity) -> np.ndarray:
    """D100 in um, rounded to a picometre, so that a limit stays a limit after a change of unit."""
    require(d100.magnitude > 0, "D100 must be above zero")
    size = np.round(np.asarray(d100.m_as("um"), dtype=float), 6)
    require(
        (size > _RISING[0]) & (size <= _RISING[-1]),
        f"no designation for this D100: the ladder runs from above {_RISING[0]:g} um to {_RISING[-1]:g} um",
    )
    return size


def _whole(found: np.ndarray) -> int | np.ndarray:
    return int(found) if found.ndim == 0 else found


@quantities(d100="[length]")
def api_designation(d100: pint.Quantity) -> int | np.ndarray:
    """Designation of a screen by API RP 13C: the number of the range that its D100 falls in.

    Parameters
    ----------
    d100 : largest size that goes through in the dry test (um); scalar or array.

    Returns
    -------
    Whole number, as in "API 140", or an array of them.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a D100 outside the ladder (35 to 1290 um).

    Valid range: above 35 um, up to 1290 um; warns (ValidityWarning) above 925 um, where the ladder is unsure. The
        upper end of each range belongs to it: 165.0 um is API 100.
    Source: [API13C], rows seen restated or from memory as :data:`LADDER` says.

    >>> api_designation(Q(114.88, "um"))
    140
    >>> api_designation(Q([165.0, 165.1], "um"))
    array([100,  80])
    """
    size = _on_ladder(d100)
    index = len(LADDER) - np.searchsorted(_RISING, size, side="left")
    if np.any(np.array([step.unsure for step in LADDER])[index]):
        warnings.warn(
            "the ladder above 925 um is remembered with doubt: look the designation up", ValidityWarning, stacklevel=3
        )
    return _whole(np.array([step.designation for step in LADDER])[index])


def d100_range(designation: int) -> tuple[pint.Quantity, pint.Quantity]:
    """The D100 that a designation stands for: above the first size, up to and with the second.

    Parameters
    ----------
    designation : number on the label of the screen; a plain whole number.

    Returns
    -------
    Two lengths, m.

    Raises
    ------
    CalculationError : a number that is on no label.

    Valid range: the numbers of :data:`LADDER`.
    Source: [API13C], rows seen restated or from memory as :data:`LADDER` says.

    >>> above, up_to = d100_range(140)
    >>> print(f"above {above.to('um'):.1f~P} up to {up_to.to('um'):.1f~P}")
    above 98.0 µm up to 116.5 µm
    """
    for step in LADDER:
        if step.designation == designation:
            return step.above.to("m"), step.up_to.to("m")
    numbers = ", ".join(str(step.designation) for step in LADDER)
    raise CalculationError(f"API {designation} is no designation; there are {numbers}")


@quantities(d100="[length]")
def nearest_sieve_designation(d100: pint.Quantity) -> int | np.ndarray:
    """Designation by the rule of thumb: the number of the ASTM E11 sieve with the nearest opening.

    Differs from :func:`api_designation` for a D100 above 115.5 and up to 116.5 um only (120 for 140).

    Parameters
    ----------
    d100 : largest size that goes through in the dry test (um); scalar or array.

    Returns
    -------
    Whole number or an array of them; midway between two sieves, the finer one.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a D100 outside the ladder (35 to 1290 um).

    Valid range: above 35 um, up to 1290 um.
    Source: the words of RP 13C as its restatements have them, "the closest ASTM sieve".

    >>> nearest_sieve_designation(Q([115.5, 116.0, 116.6], "um"))
    array([140, 120, 120])
    >>> api_designation(Q([115.5, 116.0, 116.6], "um"))
    array([140, 140, 120])
    """
    size = _on_ladder(d100)
    numbers = np.array(list(ASTM_SIEVES))[::-1]
    openings = np.array([opening.m_as("um") for opening in ASTM_SIEVES.values()])[::-1]
    return _whole(numbers[np.argmin(abs(size[..., None] - openings), axis=-1)])


@quantities(returns="[]", discard="[mass]/[time]", through="[mass]/[time]")
def removed_share(discard: pint.Quantity, through: pint.Quantity) -> pint.Quantity:
    """Share of the solids of each size that a screen takes out: its separation curve.

    share = discard / (discard + through)

    Parameters
    ----------
    discard : rate of solids of each size over the end of the screen (g/min or kg/h); scalar or array.
    through : rate of solids of the same size through the screen (g/min or kg/h); scalar or array.

    Returns
    -------
    Share, 0 to 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a rate below zero; a size with no solids at all.

    Valid range: two samples of one moment, all of the stream caught, sieved on one stack of sieves.
    Source: [AADE1999], Table 9-1, p. 171; all nine rows reproduce.

    >>> print(f"{removed_share(Q(940, 'g/min'), Q(1000, 'g/min')).to('percent'):.1f~P}")
    48.5 %
    """
    require((discard.magnitude >= 0) & (through.magnitude >= 0), "rates of solids must not be negative")
    total = discard + through
    require(total.magnitude > 0, "a size without solids in either stream says nothing: leave it out")
    return discard / total


@quantities(returns="[length]", sizes="[length]", removed="[]", share="[]")
def cut_size(
    sizes: pint.Quantity, removed: pint.Quantity | np.ndarray, share: pint.Quantity | float = 0.5
) -> pint.Quantity:
    """Size at which a screen takes out a share of the solids, straight lines drawn between the points.

    Linear in size, not in its logarithm.

    Parameters
    ----------
    sizes : growing (um); array of m.
    removed : share taken out of each size (percent or fraction), from :func:`removed_share`; array of m.
    share : 0.5 for the d50, 0.16 for the d16, 0.84 for the d84 (percent or fraction); scalar or array.

    Returns
    -------
    Size, m.

    Raises
    ------
    CalculationError : sizes that do not grow; a share that the curve does not reach, or reaches more than once.

    Valid range: sieves close enough that a straight line will do.
    Source: linear interpolation; [AADE1999] Table 9-1 gives a d50 of 118.8 um so.

    >>> found = cut_size(Q([105, 118, 140], "um"), Q([29.8, 48.5, 90.7], "percent"))
    >>> print(f"{found.to('um'):.1f~P}")
    118.8 µm
    """
    points, shares = sizes.magnitude, (Q(1.0) * removed).magnitude
    wanted = np.asarray((Q(1.0) * share).magnitude, dtype=float)
    require(np.ndim(points) == 1 and np.shape(points) == np.shape(shares), "give one share removed for each size")
    require(np.diff(points, prepend=0.0) > 0, "sizes must be above zero and grow")
    require((shares >= 0) & (shares <= 1), "shares removed must be from 0 to 100 %")
    return Q(np.vectorize(lambda one: _crossing(points, shares, one), otypes=[float])(wanted)[()], "m")


def _crossing(points: np.ndarray, shares: np.ndarray, wanted: float) -> float:
    low, high = shares[:-1], shares[1:]
    across = np.flatnonzero((np.minimum(low, high) < wanted) & (np.maximum(low, high) >= wanted))
    if across.size == 0 and shares[0] == wanted:
        return float(points[0])
    if across.size != 1:
        times = "never" if across.size == 0 else f"{across.size} times"
        raise CalculationError(
            f"the separation curve crosses {wanted:.0%} {times}, not once: look at the sieve weights"
        )
    i = across[0]
    return float(points[i] + (wanted - low[i]) / (high[i] - low[i]) * (points[i + 1] - points[i]))


@dataclass(frozen=True)
class CutPoints:
    """Sizes of which a screen takes out 16, 50 and 84 %: the wider apart, the less sharp the cut."""

    d16: pint.Quantity
    d50: pint.Quantity
    d84: pint.Quantity


def cut_points(sizes: pint.Quantity, discard: pint.Quantity, through: pint.Quantity) -> CutPoints:
    """The d16, d50 and d84 of a running shaker from sieve rates; see :func:`removed_share` and :func:`cut_size`.

    Parameters
    ----------
    sizes : growing (um); array of m.
    discard, through : rate of solids of each size over and through the screen (g/min); arrays of m.

    Returns
    -------
    A :class:`CutPoints`, in m.

    Raises
    ------
    CalculationError : as the two functions.

    Valid range: as the two functions.
    Source: [AADE1999], Table 9-1, p. 171.

    >>> sizes = Q([37, 44, 63, 74, 105, 118, 140, 177, 234], "um")
    >>> over = Q([50, 90, 280, 456, 1063, 940, 490, 200, 9.9], "g/min")
    >>> under = Q([5000, 4500, 4000, 3800, 2500, 1000, 50, 2, 0], "g/min")
    >>> found = cut_points(sizes, over, under)
    >>> print(f"{found.d16.to('um'):.1f~P}, {found.d50.to('um'):.1f~P}, {found.d84.to('um'):.1f~P}")
    82.6 µm, 118.8 µm, 136.5 µm
    """
    removed = removed_share(discard, through)
    return CutPoints(*(cut_size(sizes, removed, share) for share in (0.16, 0.50, 0.84)))


@quantities(returns="[length]", layers="[length]")
def layered_conductance(layers: pint.Quantity) -> pint.Quantity:
    """Conductance of cloths that lie on each other, from that of each.

    1 / conductance = sum(1 / conductance of each layer)

    Parameters
    ----------
    layers : conductance of each cloth alone (kD/mm, permeability per thickness); array, one layer each along axis 0.

    Returns
    -------
    Conductance of the stack, m (square metres per metre; 1 kD/mm is 0.987 um).

    Raises
    ------
    CalculationError : a value of the wrong dimension; a layer that lets nothing through.

    Valid range: layers that do not close each other's openings; a real stack may let less through.
    Source: resistances in series; no source for screens.

    >>> stack = layered_conductance(Q([2.40, 15.93], "kilodarcy/mm"))
    >>> print(f"{stack.to('kilodarcy/mm').magnitude:.2f} kD/mm")
    2.09 kD/mm
    """
    require(layers.magnitude > 0, "conductance of each layer must be above zero")
    return 1 / np.sum(1 / np.atleast_1d(layers), axis=0)


@quantities(returns="[volume]", conductance="[length]", area="[area]", blanked="[]")
def transmittance(
    conductance: pint.Quantity, area: pint.Quantity, blanked: pint.Quantity | float = 0.0
) -> pint.Quantity:
    """How readily a whole panel lets mud through: conductance times the area that is open to flow.

    transmittance = conductance * area * (1 - blanked)

    Parameters
    ----------
    conductance : of the screen, from its label (kD/mm); scalar or array.
    area : of the panel (m2 or ft2); scalar or array. The label's non-blanked area has the frame and plugs taken off
        already: leave ``blanked`` at 0 for it.
    blanked : share of the area that frame, strips and plugs cover (percent or fraction); scalar or array.

    Returns
    -------
    Transmittance, m3 (conductance in m times area in m2).

    Raises
    ------
    CalculationError : a value of the wrong dimension; nothing left to flow through.

    Valid range: compares screens of one kind under one mud.
    Source: [AADE1999], Table 6-8, p. 131, definition seen.

    >>> found = transmittance(Q(1.44, "kilodarcy/mm"), Q(8.0, "ft**2"), Q(10, "percent"))
    >>> print(f"{found.m_as('kilodarcy/mm * ft**2'):.2f} kD/mm ft2")
    10.37 kD/mm ft2
    """
    require((conductance.magnitude > 0) & (area.magnitude > 0), "conductance and area must be above zero")
    require((blanked >= 0) & (blanked < 1), "blanked share must be at least 0 and below 100 %")
    return conductance * area * (1 - blanked)


@quantities(
    returns="[volumetric_flow_rate]",
    conductance="[length]",
    open_area="[area]",
    pool_depth="[length]",
    density="[density]",
    viscosity="[viscosity]",
    opening="[length]",
)
def flow_capacity(
    conductance: pint.Quantity,
    open_area: pint.Quantity,
    pool_depth: pint.Quantity,
    density: pint.Quantity,
    viscosity: pint.Quantity,
    opening: pint.Quantity,
) -> pint.Quantity:
    """Estimate of the clean mud that runs through the wetted part of a screen under its own pool.

    flow = conductance * open_area * density * g * pool_depth / viscosity

    Parameters
    ----------
    conductance : of the screen, from its label (kD/mm); scalar or array.
    open_area : non-blanked area under the pool (m2 or ft2), not of the dry beach; scalar or array.
    pool_depth : mean depth of mud over the screen (mm or in); scalar or array.
    density : of the mud (lb/gal or kg/m3); scalar or array.
    viscosity : of the mud at the shear of the openings (mPa.s or cP); scalar or array.
    opening : D100 of the screen (um), for the limit below only; scalar or array.

    Returns
    -------
    Flow, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a value that is not above zero.

    Valid range: slow flow; warns (ValidityWarning) where the Reynolds number of the openings (mud, opening and velocity
        through the screen) is above 10. A model, no data: it knows no cuttings on the screen, no blinding, no gel, and
        no vibration, whose push up and down is taken to cancel out. A shaker with cuttings on it does less; trust a
        measured flow before this one.
    Source: Darcy's law, which is what conductance means ([API13C], definition seen quoted).

    >>> flow = flow_capacity(Q(1.44, "kilodarcy/mm"), Q(10, "ft**2"), Q(1, "in"), Q(10, "lb/gal"), Q(20, "cP"),
    ...                      opening=Q(150, "um"))
    >>> print(f"{flow.to('gal/min'):.0f~P}")
    312 gal/min
    """
    for name, value in {
        "conductance": conductance,
        "open area": open_area,
        "pool depth": pool_depth,
        "density": density,
        "viscosity": viscosity,
        "opening": opening,
    }.items():
        require(value.magnitude > 0, f"{name} must be above zero")
    velocity = conductance * density * GRAVITY * pool_depth / viscosity
    if np.any((density * velocity * opening / viscosity).m_as("") > DARCY_LIMIT):
        warnings.warn(
            f"the Reynolds number of the openings is above {DARCY_LIMIT:g}: flow no longer goes with pressure, and "
            "this estimate is too high",
            ValidityWarning,
            stacklevel=3,
        )
    return velocity * open_area


@quantities(
    returns="[length]",
    flow="[volumetric_flow_rate]",
    conductance="[length]",
    width="[length]",
    slope="[]",
    density="[density]",
    viscosity="[viscosity]",
)
def pool_length(
    flow: pint.Quantity,
    conductance: pint.Quantity,
    width: pint.Quantity,
    slope: pint.Quantity,
    density: pint.Quantity,
    viscosity: pint.Quantity,
) -> pint.Quantity:
    """How far the pool reaches up a climbing deck, from its feed end.

    flow = conductance * width * density * g * tan(slope) * length ** 2 / (2 * viscosity)

    The pool is a wedge: nothing deep at its end, length * tan(slope) at the feed end. Each strip of the screen passes
    what the depth over it presses through, as in :func:`flow_capacity`; the strips together pass the flow.

    Parameters
    ----------
    flow : that the deck must take (gal/min or m3/h); scalar or array.
    conductance : what is left of the label's under cuttings, gel and plugs (kD/mm); scalar or array.
    width : of the open screen, not of the frames (ft or m); scalar or array.
    slope : how much the deck climbs, above 0 and at most 15 degrees; scalar or array.
    density : of the mud (lb/gal or kg/m3); scalar or array.
    viscosity : of the mud at the shear of the openings (mPa.s or cP); scalar or array.

    Returns
    -------
    Length along the level, m. Longer than the deck means that mud runs off its end.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a value that is not above zero; a slope above 15 degrees.

    Valid range: as of :func:`flow_capacity`. A model, no data: it knows no vibration and no waves, and the same screen
        everywhere. It shows which way the pool goes, not where it ends.
    Source: Darcy's law, summed over the wedge, derived.

    >>> reach = pool_length(Q(450, "gal/min"), Q(0.15, "kilodarcy/mm"), Q(4, "ft"), Q(4, "deg"), Q(10, "lb/gal"),
    ...                     Q(20, "cP"))
    >>> print(f"{reach.to('ft'):.1f~P}")
    9.1 ft
    """
    for name, value in {
        "flow": flow,
        "conductance": conductance,
        "width": width,
        "slope": slope,
        "density": density,
        "viscosity": viscosity,
    }.items():
        require(value.magnitude > 0, f"{name} must be above zero")
    require(slope <= Q(15, "deg"), "a deck climbs 15 degrees at most")
    pressing = conductance * width * density * GRAVITY * np.tan(slope)
    return (2 * flow * viscosity / pressing) ** 0.5
