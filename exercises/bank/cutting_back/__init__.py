"""Exercises of the lesson cutting back and mixing: dilution with the volume growing or held, and blends."""

from __future__ import annotations

import enum

import pint

from exercises.model import relative
from pitside.units import Quantity


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    CUTTING_BACK = "Find the liquid that cuts a mud back to its target weight, with the volume growing or held."
    BLENDING = "Find the volumes and the properties of a blend of two muds."
    ROUTE = "Choose between dilution, removal or both, with the cost of each."


EXACT_BALANCE = relative(0.01, because="an exact balance; volumes are given to about a barrel")
READ_ON_A_BALANCE = relative(0.004, because="a mud balance is read to half a division: 0.05 lb/gal or 5 kg/m3")


def together(*quantities: pint.Quantity) -> pint.Quantity:
    """Several quantities of one kind as one list, for what pitside works out of lists."""
    unit = quantities[0].units
    return Quantity([float(quantity.m_as(unit)) for quantity in quantities], unit)
