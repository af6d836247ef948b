"""Solids-control calculations with units: quantities in, quantities out.

Modules: ``density``, ``hydrostatics``, ``weighting``, ``dilution``, ``retort``, ``settling``; ``units`` holds the
registry and ``unit_names`` reads and spells the trade's units. Nothing here reads files, marks or plots.
"""

from pitside.errors import CalculationError, ValidityWarning
from pitside.units import Q, Quantity, ureg

__all__ = ["CalculationError", "Q", "Quantity", "ValidityWarning", "ureg"]
