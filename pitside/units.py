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


def Q(value: Any, unit: str = "") -> pint.Quantity:
    """A quantity of this package's registry: ``Q(12.5, "lb/gal")``; lists become arrays."""
    return Quantity(np.asarray(value, dtype=float) if isinstance(value, (list, tuple)) else value, _unit(unit))


@functools.lru_cache(maxsize=1024)
def _unit(text: str) -> pint.Unit:
    """Pint reads a unit's text anew each time, which takes longer than most sums."""
    return ureg.Unit(text)


def quantities(returns: str | tuple[str, ...], **dimensions: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Check the dimension of each named argument and of the result of a calculation.

    Arguments may be scalars or arrays. A plain number is taken only where the dimension is ``[]``.
    The calculation gets its arguments in SI units, its defaults too, and results come back in SI units. An argument
    that is None is not checked.

    Raises
    ------
    CalculationError
        An argument is no quantity of this package, has another dimension, or is not finite.
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)
        unknown = set(dimensions) - set(signature.parameters)
        if unknown:
            raise TypeError(f"{function.__name__} has no parameter {', '.join(sorted(unknown))}")
        wanted = {name: (dimension, ureg.get_dimensionality(dimension)) for name, dimension in dimensions.items()}
        defaults = {
            name: _checked(function.__name__, name, default, *wanted[name])
            for name, parameter in signature.parameters.items()
            if name in wanted and (default := parameter.default) is not None and default is not inspect.Parameter.empty
        }

        @functools.wraps(function)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = signature.bind(*args, **kwargs)
            given = bound.arguments
            for name, (dimension, dimensionality) in wanted.items():
                if given.get(name) is not None:
                    given[name] = _checked(function.__name__, name, given[name], dimension, dimensionality)
                elif name in defaults and name not in given:
                    given[name] = defaults[name]
            result = function(*bound.args, **bound.kwargs)
            if isinstance(returns, tuple):
                return tuple(_in_si(r, d) for r, d in zip(result, returns, strict=True))  # type: ignore
            return _in_si(result, returns)

        return checked

    return decorate


def _checked(function: str, name: str, value: Any, dimension: str, dimensionality: Any) -> pint.Quantity:
    words = name.replace("_", " ")
    if not isinstance(value, Quantity):
        if dimension != "[]" or isinstance(value, (str, bool)):
            raise CalculationError(
                f"{function}: {words} must be a quantity with a unit of {dimension}, not {value!r}"
            )
        value = Quantity(value, "")
    if _dimensionality(value.units) != dimensionality:
        raise CalculationError(f"{function}: {words} must have a unit of {dimension}, not {value.units:~P}")
    magnitude = value.magnitude
    # NumPy takes fifty times as long over one number.
    finite = math.isfinite(magnitude) if isinstance(magnitude, (float, int)) else np.all(np.isfinite(magnitude))
    if not finite:
        raise CalculationError(f"{function}: {words} must be a finite number, not {value}")
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


def require(condition: Any, message: str) -> None:
    """Raise :class:`CalculationError` with ``message`` unless every element of ``condition`` holds."""
    if condition is not True and not np.all(condition):
        raise CalculationError(message)
