"""Every unit that a trainee may type, by kind of quantity, with its value in SI and in the usual units."""

from __future__ import annotations

import math
from dataclasses import dataclass

from IPython.display import Markdown

from exercises.model.numbers import grouped, significant
from pitside.unit_names import read_unit, spelled, spellings
from pitside.units import Quantity

#: Significant digits of a value.
DIGITS = 6


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its units, the SI unit, and the usual field and metric unit."""

    title: str
    units: tuple[str, ...]
    si: str
    field: str
    metric: str


#: Kinds by the words that head their tables; units are named as pages print them.
KINDS: tuple[Kind, ...] = (
    Kind(
        "Density, mud weight and concentration",
        ("lb/gal", "lb/ft3", "lb/bbl", "SG", "kg/m3", "g/cm3", "kg/L", "mg/L"),
        "kg/m3",
        "lb/gal",
        "kg/m3",
    ),
    Kind("Volume", ("bbl", "gal", "ft3", "m3", "L", "mL"), "m3", "bbl", "m3"),
    Kind("Mass", ("lb", "oz", "sack", "short ton", "kg", "g", "mg", "t"), "kg", "lb", "kg"),
    Kind("Length, depth and size of grain", ("ft", "in", "m", "cm", "mm", "um", "km"), "m", "ft", "m"),
    Kind("Area", ("ft2", "in2", "m2"), "m2", "ft2", "m2"),
    Kind("Capacity of a length", ("bbl/ft", "gal/ft", "m3/m", "L/m"), "m3/m", "bbl/ft", "m3/m"),
    Kind("Pressure", ("psi", "Pa", "kPa", "MPa", "bar"), "Pa", "psi", "kPa"),
    Kind("Pressure gradient", ("psi/ft", "kPa/m", "bar/m"), "Pa/m", "psi/ft", "kPa/m"),
    Kind("Flow", ("gal/min", "bbl/min", "bbl/h", "L/min", "L/s", "m3/h"), "m3/s", "gal/min", "L/min"),
    Kind(
        "Velocity and rate of penetration",
        ("ft/min", "ft/s", "ft/h", "m/s", "mm/s", "m/min", "m/h"),
        "m/s",
        "ft/min",
        "m/min",
    ),
    Kind("Mass rate", ("lb/min", "lb/h", "kg/h", "t/h"), "kg/s", "lb/h", "kg/h"),
    Kind("Viscosity", ("cP", "mPa.s", "Pa.s"), "Pa.s", "cP", "mPa.s"),
    Kind("Yield point and gel strength", ("lbf/100ft2",), "Pa", "lbf/100ft2", "Pa"),
    Kind("Time", ("s", "min", "h", "d", "week", "year"), "s", "min", "min"),
    Kind("Speed of rotation", ("rpm", "Hz"), "rad/s", "rpm", "rpm"),
    Kind("Power", ("hp", "W", "kW", "MW"), "W", "hp", "kW"),
    Kind("Energy", ("kWh", "J", "kJ", "MJ"), "J", "kWh", "kWh"),
    Kind("Force", ("lbf", "N", "kN"), "N", "lbf", "N"),
    Kind("Angle", ("deg",), "rad", "deg", "deg"),
    Kind("Cost", ("money", "money/bbl", "money/m3", "money/d"), "", "", ""),
    Kind("Shares and plain numbers", ("%", "ppm", "fraction"), "fraction", "%", "%"),
)


def typed(unit: str) -> tuple[str, ...]:
    """What may be typed for a unit: its own name first, then every spelling known for the same unit."""
    same = read_unit(unit)
    known = [one for some in spellings().values() if read_unit(some[0]) == same for one in some]
    return tuple(dict.fromkeys([unit, *known]))


def value(unit: str, into: str) -> str:
    r"""What one of a unit is in another, as pages print it.

    >>> value("lb/gal", "kg/m3"), value("um", "m")
    ('119.826\xa0kg/m³', '1\xa0×\xa010⁻⁶\xa0m')
    """
    target = into if into.startswith("rad") else read_unit(into)  # nobody types a radian
    number = float(Quantity(1, read_unit(unit)).m_as(target))
    return f"{printed(number)}\N{NO-BREAK SPACE}{spelled(into)}".rstrip()


def printed(number: float) -> str:
    r"""A number to :data:`DIGITS` digits without zeros at its end; very small and large ones with a power of ten.

    >>> printed(42.0), printed(0.0001), printed(6.30902e-05)
    ('42', '0.0001', '6.30902\xa0×\xa010⁻⁵')
    """
    power = math.floor(math.log10(abs(number)) + 1e-12)
    if -5 < power < 7:
        digits = significant(number, DIGITS)
        return grouped(digits.rstrip("0").rstrip(".") if "." in digits else digits)
    raised = str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
    digits = significant(number / 10**power, DIGITS).rstrip("0").rstrip(".")
    return f"{digits} × 10{raised}".replace(" ", "\N{NO-BREAK SPACE}")


def table(title: str) -> Markdown:
    """The table of a kind for a page, by the kind's title."""
    kind = next(kind for kind in KINDS if kind.title == title)
    columns = columns_of(kind)
    rows = [["Unit", "You may type", *columns], ["---"] * (2 + len(columns))]
    for unit in kind.units:
        ways = ", ".join(f"`{way}`" if way else "nothing" for way in typed(unit))
        rows.append([spelled(unit) or "no unit", ways, *(value(unit, into) for into in columns.values())])
    return Markdown("\n".join(f"| {' | '.join(row)} |" for row in rows))


def columns_of(kind: Kind) -> dict[str, str]:
    """The columns of values with the unit of each; two that would be the same are one."""
    names: dict[str, list[str]] = {}
    for name, unit in (("SI", kind.si), ("field", kind.field), ("metric", kind.metric)):
        if unit:
            names.setdefault(unit, []).append(name)
    return {f"In {' and '.join(found)} units": unit for unit, found in names.items()}
