"""Shale shakers: how hard they shake, how fast they carry, what they take out, how many it takes.

``g_factor``, ``g_factor_field``, ``speed_for_g``, ``stroke_for_g``: acceleration from stroke and speed. ``deck_g``: its
part across and along the deck for linear, elliptical and circular motion. ``transport_velocity``, ``deck_load``: how
fast cuttings walk along the deck and how much it carries. ``mass_rate``, ``through_rate``, ``sample_time``: rates from
samples of the two streams. ``shakers_needed``: how many for a flow and a load of cuttings.

The stroke is the whole travel from end to end, twice the amplitude. The speed is in rpm, turns per second or rad/s, as
Pint has it (a bare 1/s is rad/s). Hertz are refused: Pint would take 25 Hz for 25 rad/s, which is 239 rpm.
"""

from __future__ import annotations

import enum
import functools
import inspect
import math
import warnings
from collections.abc import Callable
from typing import ParamSpec, TypeVar

import numpy as np
import pint

from pitside.errors import CalculationError, ValidityWarning
from pitside.units import GRAVITY, Q, Quantity, quantities, require, require_above_zero

#: Constant of the handbook's g = stroke[in] * rpm^2 / 70490: from memory (its derivation seen in [ASME2005]). The
#: exact constant, with standard gravity, is 70414: the handbook is 0.11 % low.
FIELD_CONSTANT = Q(70_490.0, "in * rpm**2")
#: What ordinary shakers and drying decks of very high g run at, in g: common practice, no source.
ORDINARY_G, DRYER_G = (7.0, 8.0), (50.0, 100.0)
#: Throw number at which a hop lasts three turns, sqrt(1 + 9 pi^2); above it the transport model says little.
THROW_LIMIT = math.sqrt(1 + 9 * math.pi**2)
#: Share of solids in a loose wet bed of cuttings: common practice, no source.
LOOSE_BED = 0.5

P = ParamSpec("P")
R = TypeVar("R")


def _turning(function: Callable[P, R]) -> Callable[P, R]:
    """Refuse a speed in hertz, which Pint takes for rad/s and a person for turns per second."""
    signature = inspect.signature(function)

    @functools.wraps(function)
    def checked(*args: P.args, **kwargs: P.kwargs) -> R:
        speed = signature.bind(*args, **kwargs).arguments["speed"]
        if isinstance(speed, Quantity) and any(name.endswith("hertz") for name, _ in speed.unit_items()):
            raise CalculationError(f"{function.__name__}: give the speed in rpm, not in hertz (25 Hz is 1500 rpm)")
        return function(*args, **kwargs)

    return checked


@_turning
@quantities(returns="[]", stroke="[length]", speed="[frequency]")
def g_factor(stroke: pint.Quantity, speed: pint.Quantity) -> pint.Quantity:
    """Greatest acceleration of a shaken deck along its stroke, in g.

    G = (stroke / 2) * speed ** 2 / g

    The same formula is that of a turning basket, with its diameter for the stroke.

    Parameters
    ----------
    stroke : travel from end to end (mm or in), twice the amplitude; scalar or array.
    speed : of the motor's shaft (rpm); scalar or array.

    Returns
    -------
    Times standard gravity, along the stroke; see :func:`deck_g` for the part across the deck.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a speed in hertz.

    Valid range: harmonic motion.
    Source: the definition; [AADE1999] p. 105 gives 4.15 for 0.13 in and 1,500 rpm.

    >>> print(f"{g_factor(Q(0.13, 'in'), Q(1500, 'rpm')).magnitude:.3f}")
    4.154
    """
    require_above_zero(stroke=stroke, speed=speed)
    return stroke / 2 * speed**2 / GRAVITY


@_turning
@quantities(returns="[]", stroke="[length]", speed="[frequency]")
def g_factor_field(stroke: pint.Quantity, speed: pint.Quantity) -> pint.Quantity:
    """Acceleration of a shaken deck in g by the handbook's rounded constant.

    G = stroke[in] * speed[rpm] ** 2 / 70490

    Parameters
    ----------
    stroke : travel from end to end (in or mm), twice the amplitude; scalar or array.
    speed : of the motor's shaft (rpm); scalar or array.

    Returns
    -------
    Times gravity, along the stroke; 0.11 % below :func:`g_factor`.

    Raises
    ------
    CalculationError : as :func:`g_factor`.

    Valid range: harmonic motion.
    Source: [ASME2005], derivation seen; the constant from memory.

    >>> print(f"{g_factor_field(Q(0.13, 'in'), Q(1500, 'rpm')).magnitude:.3f}")
    4.150
    """
    require_above_zero(stroke=stroke, speed=speed)
    return stroke * speed**2 / FIELD_CONSTANT


@quantities(returns="[frequency]", stroke="[length]", g="[]")
def speed_for_g(stroke: pint.Quantity, g: pint.Quantity | float) -> pint.Quantity:
    """Speed that shakes a deck of a given stroke with a given acceleration.

    speed = sqrt(2 * G * g / stroke)

    Parameters
    ----------
    stroke : travel from end to end (mm or in); scalar or array.
    g : times standard gravity along the stroke, a plain number; scalar or array.

    Returns
    -------
    Speed, 1/s (rad/s); turn it to rpm, not to hertz.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: harmonic motion.
    Source: :func:`g_factor` turned round.

    >>> print(f"{speed_for_g(Q(0.13, 'in'), 4.154).to('rpm'):.0f~P}")
    1500 rpm
    """
    require_above_zero(stroke=stroke, g=Q(1.0) * g)
    return (2 * g * GRAVITY / stroke) ** 0.5


@_turning
@quantities(returns="[length]", speed="[frequency]", g="[]")
def stroke_for_g(speed: pint.Quantity, g: pint.Quantity | float) -> pint.Quantity:
    """Stroke that shakes a deck at a given speed with a given acceleration.

    stroke = 2 * G * g / speed ** 2

    Parameters
    ----------
    speed : of the motor's shaft (rpm); scalar or array.
    g : times standard gravity along the stroke, a plain number; scalar or array.

    Returns
    -------
    Travel from end to end, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a speed in hertz.

    Valid range: harmonic motion.
    Source: :func:`g_factor` turned round.

    >>> print(f"{stroke_for_g(Q(1800, 'rpm'), 7.0).to('mm'):.2f~P}")
    3.86 mm
    """
    require_above_zero(speed=speed, g=Q(1.0) * g)
    return 2 * g * GRAVITY / speed**2


_STILL = Q(0.0, "m")


@_turning
@quantities(returns=("[]", "[]"), stroke="[length]", speed="[frequency]", angle="[]", minor_stroke="[length]")
def deck_g(
    stroke: pint.Quantity, speed: pint.Quantity, angle: pint.Quantity, minor_stroke: pint.Quantity = _STILL
) -> tuple[pint.Quantity, pint.Quantity]:
    """Greatest acceleration across and along the deck, in g, for any harmonic motion.

    across = sqrt((stroke * sin(angle)) ** 2 + (minor_stroke * cos(angle)) ** 2) / 2 * speed ** 2 / g
    along  = sqrt((stroke * cos(angle)) ** 2 + (minor_stroke * sin(angle)) ** 2) / 2 * speed ** 2 / g

    Linear motion has no minor stroke: G * sin(angle) and G * cos(angle). Circular motion has two equal strokes: G both
    ways at any angle.

    Parameters
    ----------
    stroke : long axis of the ellipse from end to end (mm or in); scalar or array.
    speed : of the motor's shaft (rpm); scalar or array.
    angle : of the long axis above the deck (deg, 0 to 90); scalar or array.
    minor_stroke : short axis from end to end (mm or in), 0 by default; scalar or array.

    Returns
    -------
    Two numbers, times standard gravity: across the deck and along it. They do not come at the same moment of the turn
    unless the motion is linear.

    Raises
    ------
    CalculationError : a value of the wrong dimension; an angle outside 0 to 90 degrees; a minor stroke below zero or
        above the stroke; a speed in hertz.

    Valid range: harmonic motion; every point of the deck moves alike.
    Source: geometry of the ellipse.

    >>> across, along = deck_g(Q(0.13, "in"), Q(1500, "rpm"), Q(45, "deg"))
    >>> print(f"{across.magnitude:.2f} across, {along.magnitude:.2f} along")
    2.94 across, 2.94 along
    """
    _require_ellipse(stroke, angle, minor_stroke)
    require_above_zero(speed=speed)
    long, short = stroke.magnitude, minor_stroke.magnitude
    sine, cosine = np.sin(angle.magnitude), np.cos(angle.magnitude)
    per_length = (speed**2 / (2 * GRAVITY)).magnitude
    return Q(np.hypot(long * sine, short * cosine) * per_length), Q(np.hypot(long * cosine, short * sine) * per_length)


def _require_ellipse(stroke: pint.Quantity, angle: pint.Quantity, minor_stroke: pint.Quantity) -> None:
    require_above_zero(stroke=stroke)
    require(
        (angle.magnitude >= 0) & (angle.magnitude <= math.pi / 2 + 1e-12),
        "angle of the stroke above the deck must be from 0 to 90 degrees; give it with its unit",
    )
    require(
        (minor_stroke.magnitude >= 0) & (minor_stroke <= stroke * (1 + 1e-12)),
        "minor stroke must be from 0 (linear) to the stroke itself (circular)",
    )


class Sense(enum.Enum):
    """Which way an elliptical or circular motion turns; linear motion has no sense."""

    #: At the top of its path the deck moves towards the discharge end.
    FORWARD = -1
    #: At the top of its path the deck moves away from the discharge end.
    BACKWARD = 1


_LEVEL = Q(0.0)


@_turning
@quantities(
    returns="[velocity]",
    stroke="[length]",
    speed="[frequency]",
    angle="[]",
    slope="[]",
    minor_stroke="[length]",
)
def transport_velocity(
    stroke: pint.Quantity,
    speed: pint.Quantity,
    angle: pint.Quantity,
    slope: pint.Quantity = _LEVEL,
    minor_stroke: pint.Quantity = _STILL,
    sense: Sense = Sense.FORWARD,
) -> pint.Quantity:
    """Velocity at which thrown cuttings walk along the deck, by a model of one dry grain that never bounces.

    A grain leaves the deck when the deck falls away faster than gravity can pull the grain, flies free, lands, and sits
    still on the deck until it is thrown again. With the throw number K = (acceleration across the deck) / (g *
    cos(slope)) it leaves at phase arcsin(1 / K). For linear motion and hops of duration t in a cycle of n turns

    velocity = (g / 2) * (cos(slope) / tan(angle) - sin(slope)) * sum(t ** 2) / (n * turn),

    so that one hop in every turn gives g / (2 * tan(angle) * turns per second) at most, on a level deck. Hops, cycle
    and elliptical motion are found by following the grain.

    Parameters
    ----------
    stroke : long axis of the motion from end to end (mm or in); scalar or array.
    speed : of the motor's shaft (rpm); scalar or array.
    angle : of the long axis above the deck, leaning to the discharge end (deg, 0 to 90); scalar or array.
    slope : of the deck, positive where it climbs to the discharge end (deg), level by default; scalar or array.
    minor_stroke : short axis of the motion (mm or in), linear by default; scalar or array.
    sense : of elliptical and circular motion.

    Returns
    -------
    Velocity towards the discharge end, m/s: 0 where the deck does not throw (K up to 1), negative where the grain walks
    back.

    Raises
    ------
    CalculationError : as :func:`deck_g`; a slope of 45 degrees or more.

    Valid range: 1 < K <= 9.5; warns (ValidityWarning) above, where hops last more than three turns. A model, no data:
    it knows no liquid, no sticking, no bed of cuttings, no bounce and no sliding, and ordinary shakers at K of about 5
    are past the point (K = 3.3) where a hop outlasts a turn and real landings are irregular. Take it for how velocity
    changes with speed, stroke and angle, not for a figure to order by.
    Source: the classic theory of throw conveyors, derived here; its greatest velocity from memory.

    >>> hop = transport_velocity(Q(3.0, "mm"), Q(1500, "rpm"), Q(45, "deg"))
    >>> print(f"{hop.to('ft/min'):.0f~P}")
    31 ft/min
    """
    _require_ellipse(stroke, angle, minor_stroke)
    require_above_zero(speed=speed)
    require(abs(slope.magnitude) < math.pi / 4, "slope of the deck must be below 45 degrees either way")
    gravity = GRAVITY.magnitude / speed.magnitude**2
    found, throws = _walks(
        stroke.magnitude / 2, minor_stroke.magnitude / 2 * sense.value, angle.magnitude, slope.magnitude, gravity
    )
    if np.any(throws > THROW_LIMIT):
        warnings.warn(
            f"throw number {np.max(throws):.1f} is above {THROW_LIMIT:.1f}: hops last more than three turns, and the "
            "transport model says little",
            ValidityWarning,
            stacklevel=4,
        )
    return Q(found[()] * speed.magnitude, "m/s")


def _walk(long: float, short: float, angle: float, slope: float, gravity: float) -> tuple[float, float]:
    """Mean advance per radian of turn (m) and throw number; ``gravity`` is g / speed^2 in m.

    The deck moves by across * sin(phase) across itself and by inphase * sin(phase) + quadrature * cos(phase) along.
    """
    sine, cosine = math.sin(angle), math.cos(angle)
    across = math.hypot(long * sine, short * cosine)
    if across == 0:
        return 0.0, 0.0
    inphase, quadrature = (long**2 - short**2) * sine * cosine / across, long * short / across
    throw = across / (gravity * math.cos(slope))
    if throw <= 1:
        return 0.0, throw
    start = phase = math.asin(1 / throw)
    advance, elapsed = 0.0, 0.0
    for _ in range(1000):
        hop = _hop(phase, throw)
        end = phase + hop
        advance += inphase * (math.cos(phase) * hop + math.sin(phase) - math.sin(end))
        advance += quadrature * (-math.sin(phase) * hop + math.cos(phase) - math.cos(end))
        advance -= gravity * math.sin(slope) * hop**2 / 2
        elapsed += hop
        if math.sin(end) <= 1 / throw:
            # The grain rests until the deck is at the starting phase again: the cycle closes.
            return advance / (elapsed + (start - end) % (2 * math.pi)), throw
        phase = end
    return advance / elapsed, throw


_walks = np.vectorize(_walk, otypes=[float, float])


def _hop(phase: float, throw: float) -> float:
    """Radians from leaving the deck to the first touch, by marching and halving."""
    sine, cosine = math.sin(phase), math.cos(phase)

    def flight(turned):
        return sine + cosine * turned - turned**2 / (2 * throw)

    # A short hop from the series of the gap up to the fourth power, where marching would step over it.
    pull = max(sine - 1 / throw, 0.0)
    short = (2 * cosine + math.sqrt(4 * cosine**2 + 12 * pull * sine)) / sine
    if short < 0.02:
        return short
    march = np.arange(0.01, throw * (cosine + math.sqrt(cosine**2 + 4 / throw)) + 0.02, 0.01)
    below = int(np.argmax(flight(march) < np.sin(phase + march)))
    low, high = float(march[below]) - 0.01, float(march[below])
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (low, middle) if flight(middle) < math.sin(phase + middle) else (middle, high)
    return high


@quantities(
    returns="[volumetric_flow_rate]", width="[length]", velocity="[velocity]", bed_depth="[length]", packing="[]"
)
def deck_load(
    width: pint.Quantity,
    velocity: pint.Quantity,
    bed_depth: pint.Quantity,
    packing: pint.Quantity | float = LOOSE_BED,
) -> pint.Quantity:
    """Rock that a deck carries off.

    load = width * velocity * bed_depth * packing

    Parameters
    ----------
    width : of the deck (m or ft); scalar or array.
    velocity : of the bed of cuttings, seen or from :func:`transport_velocity` (m/s or ft/min); scalar or array.
    bed_depth : of the cuttings on the deck (mm or in); scalar or array.
    packing : share of rock in the bed (percent or fraction), 0.5 by default; scalar or array.

    Returns
    -------
    Volume of rock per time, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; packing above 100 %.

    Valid range: a bed that moves as one.
    Source: the definition; the packing is common practice, no source.

    >>> print(f"{deck_load(Q(4, 'ft'), Q(30, 'ft/min'), Q(0.5, 'in')).to('bbl/h'):.1f~P}")
    26.7 bbl/h
    """
    require_above_zero(width=width, velocity=velocity, bed_depth=bed_depth)
    require((packing > 0) & (packing <= 1), "packing must be above 0 and not above 100 %")
    return width * velocity * bed_depth * packing


@quantities(returns="[mass]/[time]", flow="[volumetric_flow_rate]", density="[density]")
def mass_rate(flow: pint.Quantity, density: pint.Quantity) -> pint.Quantity:
    """Mass of mud that arrives in a time.

    rate = flow * density

    Parameters
    ----------
    flow : of the mud (gal/min or m3/h); scalar or array.
    density : of the mud (lb/gal or kg/m3); scalar or array.

    Returns
    -------
    Mass rate, kg/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: any.
    Source: the definition; [ASME2005] has 4,984 lb/min for 560 gal/min of 8.90 lb/gal.

    >>> print(f"{mass_rate(Q(560, 'gal/min'), Q(8.90, 'lb/gal')).to('lb/min'):,.0f~P}")
    4,984 lb/min
    """
    require_above_zero(flow=flow, density=density)
    return flow * density


@quantities(returns="[mass]/[time]", arriving="[mass]/[time]", discard="[mass]/[time]")
def through_rate(arriving: pint.Quantity, discard: pint.Quantity) -> pint.Quantity:
    """Mass that goes through the screen: what arrives less what is discarded.

    Parameters
    ----------
    arriving : mass rate of the mud on to the shaker, from :func:`mass_rate` (lb/min or kg/h); scalar or array.
    discard : mass rate over the end of the screen, all of it caught for a time (lb/min or kg/h); scalar or array.

    Returns
    -------
    Mass rate, kg/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; more discarded than arrives.

    Valid range: steady flow, nothing past the screen.
    Source: balance of mass; [ASME2005] has 4,984 - 18.4 = 4,965.6 lb/min.

    >>> print(f"{through_rate(Q(4984, 'lb/min'), Q(18.4, 'lb/min')).to('lb/min'):,.1f~P}")
    4,965.6 lb/min
    """
    require(discard.magnitude >= 0, "discard rate must not be negative")
    require(discard <= arriving, "more is discarded than arrives: check the two rates")
    return arriving - discard


@quantities(returns="[time]", sample="[mass]", stream="[mass]/[time]")
def sample_time(sample: pint.Quantity, stream: pint.Quantity) -> pint.Quantity:
    """Time in which the stream that a sample came from makes as much as the sample.

    time = sample / stream

    Parameters
    ----------
    sample : mass of the sample (lb or kg); scalar or array.
    stream : mass rate of the stream (lb/min or kg/h); scalar or array.

    Returns
    -------
    Time, s.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero.

    Valid range: a sample that is like its stream.
    Source: the definition; [ASME2005] has 0.008 min for 39.7 lb of 4,965.6 lb/min.

    >>> print(f"{sample_time(Q(39.7, 'lb'), Q(4965.6, 'lb/min')).to('min'):.3f~P}")
    0.008 min
    """
    require_above_zero(sample=sample, stream=stream)
    return sample / stream


@quantities(
    returns="[]",
    flow="[volumetric_flow_rate]",
    flow_each="[volumetric_flow_rate]",
    solids="[volumetric_flow_rate]",
    solids_each="[volumetric_flow_rate]",
)
def shakers_needed(
    flow: pint.Quantity,
    flow_each: pint.Quantity,
    solids: pint.Quantity,
    solids_each: pint.Quantity,
    spare: int = 0,
) -> pint.Quantity:
    """Number of shakers for a flow of mud and a load of cuttings, whichever asks for more.

    number = ceil(max(flow / flow_each, solids / solids_each)) + spare

    Parameters
    ----------
    flow : of mud from the well (gal/min or m3/h); scalar or array.
    flow_each : that one shaker takes with the screens that will be on it (gal/min or m3/h); scalar or array.
    solids : volume of rock from the well in a time (bbl/h or m3/h); scalar or array.
    solids_each : volume of rock that one shaker carries off (bbl/h or m3/h); scalar or array.
    spare : shakers beyond those that run; a plain whole number.

    Returns
    -------
    A whole number, without unit.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a capacity that is not above zero; a spare below zero.

    Valid range: flow shared alike between shakers.
    Source: the definition.

    >>> count = shakers_needed(Q(1000, "gal/min"), Q(350, "gal/min"), Q(40, "bbl/h"), Q(25, "bbl/h"))
    >>> print(f"{count.magnitude:.0f}")
    3
    """
    require_above_zero(flow_each=flow_each, solids_each=solids_each)
    require((flow.magnitude >= 0) & (solids.magnitude >= 0), "flow and solids must not be negative")
    require(spare >= 0, "spare shakers must not be fewer than none")
    wanted = np.maximum((flow / flow_each).magnitude, (solids / solids_each).magnitude)
    # Four times 250 for 1,000 is four, whatever the unit's last digit says.
    return Q(np.ceil(np.round(wanted, 9)) + spare)
