"""The one unit registry, with the trade's units, and the dimension check put above each calculation.

Pint's own ``bbl`` is the 31.5 gallon barrel of other trades; here it is the oilfield's 42 gallons.
``SG`` as a unit is a density relative to :data:`WATER_4C`; another reference water is named where it is
used (see :mod:`pitside.density`).
"""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

import numpy as np
import pint

from pitside.errors import CalculationError

ureg: pint.UnitRegistry = pint.UnitRegistry(on_redefinition="ignore", cache_folder=None)

for definition in (
    "barrel = 42 * gallon = bbl",  # petroleum barrel; 42 US gallons exactly
    "specific_gravity = 1000 * kilogram / meter ** 3 = SG",  # WATER_4C below
    "sack = 100 * pound = sk",  # the 100 lb sack of weighting material; common practice, no source
    "yield_stress_unit = pound_force / (100 * foot ** 2) = lbf_100ft2",  # "lb per 100 square feet"
    "part_per_million = 1e-6 = ppm_mass",
    "money = [currency]",  # a unit of currency, whichever is used in the school
):
    ureg.define(definition)

ureg.formatter.default_format = "~P"

Quantity = ureg.Quantity

#: Density of the reference water of ``SG``: pure water near 4 degC, rounded to 1000 kg/m3 (8.3454 lb/gal).
WATER_4C = Quantity(1000.0, "kg/m**3")
#: Density of the "8.33 lb/gal" water of field sums: pure water at about 20 degC (68 degF).
WATER_FIELD = Quantity(8.33, "lb/gal")
#: Standard acceleration of free fall, exact by definition (ISO 80000-3).
GRAVITY = Quantity(9.80665, "m/s**2")

#: The SI unit in which a result of each dimension comes back, so that no mixed unit reaches a caller.
_SI = {
    "[length]": "m",
    "[area]": "m**2",
    "[volume]": "m**3",
    "[mass]": "kg",
    "[time]": "s",
    "[density]": "kg/m**3",
    "[pressure]": "Pa",
    "[velocity]": "m/s",
    "[acceleration]": "m/s**2",
    "[viscosity]": "Pa*s",
    "[force]": "N",
    "[energy]": "J",
    "[power]": "W",
    "[frequency]": "1/s",
    "[volumetric_flow_rate]": "m**3/s",
    "[mass]/[time]": "kg/s",
    "[pressure]/[length]": "Pa/m",
    "[force]/[length]": "N/m",
    "[volume]/[length]": "m**2",
    "[currency]": "money",
    "[currency]/[volume]": "money/m**3",
    "[currency]/[mass]": "money/kg",
    "[currency]/[energy]": "money/J",
    "[currency]/[time]": "money/s",
    "[length]/[volumetric_flow_rate]": "s/m**2",
    "[length]/[volumetric_flow_rate]**2": "s**2/m**5",
    "[substance]/[mass]": "mol/kg",
    "[substance]/[volume]": "mol/m**3",
    "[]": "",
}

P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")


def Q(value: Any, unit: str = "") -> pint.Quantity:
    """A quantity of this package's registry: ``Q(12.5, "lb/gal")``; lists become arrays."""
    return Quantity(np.asarray(value, dtype=float) if isinstance(value, (list, tuple)) else value, _unit(unit))


@functools.lru_cache(maxsize=1024)
def _unit(text: str) -> pint.Unit:
    """Pint reads a unit's text anew each time, which takes longer than most sums."""
    return ureg.Unit(text)


def quantities(
    returns: str | tuple[str, ...] | None = None, **dimensions: str
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Check the dimension of each named argument and of the result of a calculation.

    Arguments may be scalars or arrays. A plain number is taken only where the dimension is ``[]``.
    The calculation gets its arguments in SI units, its defaults too, and results come back in SI units. An argument
    that is None is not checked. ``returns`` is left out where what comes back is no quantity, or a type that looks
    after its own fields (:func:`quantity_fields`).

    Raises
    ------
    CalculationError
        An argument is no quantity of this package, has another dimension, or is not finite.

    >>> @quantities(returns="[density]", mass="[mass]", volume="[volume]")
    ... def density(mass, volume):
    ...     return mass / volume
    >>> print(f"{density(Q(350, 'lb'), Q(42, 'gal')):.0f~P}")
    999 kg/m³
    >>> density(Q(350, "lb"), Q(42, "ft"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: density: volume must have a unit of [volume], not ft
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        bind = _checking(function, function.__name__, dimensions)

        @functools.wraps(function)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = bind(*args, **kwargs)
            result = function(*bound.args, **bound.kwargs)
            if returns is None:
                return result
            if isinstance(returns, tuple):
                return tuple(_in_si(r, d) for r, d in zip(result, returns, strict=True))  # type: ignore
            return _in_si(result, returns)

        return checked

    return decorate


def quantity_fields(**kept: str | Callable[[Any], Any]) -> Callable[[type[T]], type[T]]:
    """Check the named fields of a dataclass as :func:`quantities` checks arguments, and keep them in SI units.

    Stands above ``dataclass``; ``__post_init__`` sees the fields as they are kept. A field whose kind is no dimension
    is given by a function instead, which makes what is kept of what was passed.

    Raises
    ------
    CalculationError
        A field is no quantity of this package, has another dimension, or is not finite.

    >>> from dataclasses import dataclass
    >>> @quantity_fields(length="[length]", share="[]", marks=tuple)
    ... @dataclass(frozen=True)
    ... class Piece:
    ...     length: pint.Quantity
    ...     share: pint.Quantity | float
    ...     marks: tuple[str, ...]
    >>> piece = Piece(Q(20, "ft"), 0.25, ["cut", "spare"])
    >>> print(f"{piece.length:.3f~P}, {piece.share.to('percent'):.0f~P}, {piece.marks}")
    6.096 m, 25 %, ('cut', 'spare')
    >>> Piece(Q(20, "lb"), 0.25, [])
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: Piece: length must have a unit of [length], not lb
    """

    dimensions = {name: how for name, how in kept.items() if isinstance(how, str)}
    makers = {name: how for name, how in kept.items() if not isinstance(how, str)}

    def decorate(kind: type[T]) -> type[T]:
        plain = kind.__init__
        bind = _checking(plain, kind.__name__, dimensions)

        @functools.wraps(plain)
        def checked(*args: Any, **kwargs: Any) -> None:
            bound = bind(*args, **kwargs)
            given = bound.arguments
            given.update((name, make(given[name])) for name, make in makers.items() if name in given)
            plain(*bound.args, **bound.kwargs)

        kind.__init__ = checked  # type: ignore[method-assign]
        return kind

    return decorate


def _checking(
    function: Callable[..., Any], called: str, dimensions: dict[str, str]
) -> Callable[..., inspect.BoundArguments]:
    """Binds arguments as ``function`` would, with those of ``dimensions`` checked and in SI units."""
    signature = inspect.signature(function)
    unknown = set(dimensions) - set(signature.parameters)
    if unknown:
        raise TypeError(f"{called} has no parameter {', '.join(sorted(unknown))}")
    wanted = {name: (dimension, ureg.get_dimensionality(dimension)) for name, dimension in dimensions.items()}
    defaults = {
        name: _checked(called, name, default, *wanted[name])
        for name, parameter in signature.parameters.items()
        if name in wanted and (default := parameter.default) is not None and default is not inspect.Parameter.empty
    }

    def bind(*args: Any, **kwargs: Any) -> inspect.BoundArguments:
        bound = signature.bind(*args, **kwargs)
        given = bound.arguments
        for name, (dimension, dimensionality) in wanted.items():
            if given.get(name) is not None:
                given[name] = _checked(called, name, given[name], dimension, dimensionality)
            elif name in defaults and name not in given:
                given[name] = defaults[name]
        return bound

    return bind


def _checked(called: str, name: str, value: Any, dimension: str, dimensionality: Any) -> pint.Quantity:
    words = _words(name)
    if not isinstance(value, Quantity):
        if dimension != "[]" or isinstance(value, (str, bool)):
            raise CalculationError(f"{called}: {words} must be a quantity with a unit of {dimension}, not {value!r}")
        value = Quantity(value, "")
    if _dimensionality(value.units) != dimensionality:
        raise CalculationError(f"{called}: {words} must have a unit of {dimension}, not {value.units:~P}")
    magnitude = value.magnitude
    # NumPy takes fifty times as long over one number.
    finite = math.isfinite(magnitude) if isinstance(magnitude, (float, int)) else np.all(np.isfinite(magnitude))
    if not finite:
        raise CalculationError(f"{called}: {words} must be a finite number, not {value}")
    return _in_si(value, dimension)


@functools.lru_cache(maxsize=4096)
def _dimensionality(unit: pint.Unit) -> Any:
    return ureg.get_dimensionality(unit)


@functools.lru_cache(maxsize=4096)
def _conversion(unit: pint.Unit, dimension: str) -> tuple[float, pint.Unit]:
    """The factor from ``unit`` to the SI unit of a dimension, and that unit. Pint works it out; this remembers it."""
    si = ureg.Unit(_SI[dimension])
    return ureg.convert(1.0, unit, si), si


def _in_si(value: Any, dimension: str) -> Any:
    if not isinstance(value, Quantity):
        return Quantity(value, "")
    units = value.units
    factor, si = _conversion(units, dimension)
    if factor == 1.0:
        return value if units == si else Quantity(value.magnitude, si)
    return Quantity(value.magnitude * factor, si)


def number(value: pint.Quantity | np.ndarray | float) -> Any:
    """The plain number of a share or a ratio, whether it is a plain number already, a fraction or in percent.

    >>> number(0.25), float(number(Q(25, "percent")))
    (0.25, 0.25)
    """
    return _in_si(value, "[]").magnitude if isinstance(value, Quantity) else value


def require(condition: Any, message: str) -> None:
    """Raise :class:`CalculationError` with ``message`` unless every element of ``condition`` holds.

    >>> require(Q([2.6, 0.9], "SG") > Q(1, "SG"), "each solid must sink")
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: each solid must sink
    """
    if condition is not True and not np.all(condition):
        raise CalculationError(message)


def require_above_zero(**values: pint.Quantity | np.ndarray | float) -> None:
    """Raise :class:`CalculationError` with the name of the first value of which an element is not above zero.

    >>> require_above_zero(mud_weight=Q(10, "lb/gal"), hole_diameter=Q([0.2, 0.0], "m"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: hole diameter must be above zero
    """
    for name, value in values.items():
        require(_magnitude(value) > 0, f"{_words(name)} must be above zero")


def require_not_negative(**values: pint.Quantity | np.ndarray | float) -> None:
    """Raise :class:`CalculationError` with the name of the first value of which an element is below zero.

    >>> require_not_negative(flow=Q(0, "gal/min"), suction_head=Q(-2, "ft"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: suction head must not be negative
    """
    for name, value in values.items():
        require(_magnitude(value) >= 0, f"{_words(name)} must not be negative")


def require_share(**values: pint.Quantity | np.ndarray | float) -> None:
    """Raise :class:`CalculationError` with the name of the first value of which an element lies outside 0 to 100 %.

    >>> require_share(removal_efficiency=Q(70, "percent"), water=Q(105, "percent"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: water must lie between 0 and 100 %
    """
    for name, value in values.items():
        share = np.asarray(number(value))
        require((share >= 0) & (share <= 1), f"{_words(name)} must lie between 0 and 100 %")


def require_less_than_all(**values: pint.Quantity | np.ndarray | float) -> None:
    """Raise :class:`CalculationError` with the name of the first value of which an element is negative or 100 %.

    >>> require_less_than_all(porosity=0.0, solids_fraction=Q(100, "percent"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: solids fraction must be at least 0 and below 100 %
    """
    for name, value in values.items():
        share = np.asarray(number(value))
        require((share >= 0) & (share < 1), f"{_words(name)} must be at least 0 and below 100 %")


def _magnitude(value: pint.Quantity | np.ndarray | float) -> Any:
    return value.magnitude if isinstance(value, Quantity) else value


def _words(name: str) -> str:
    return name.replace("_", " ")
