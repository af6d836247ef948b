"""Noise at work: how long a level may be borne, and the dose of a tour.

``permitted_time``: hours that a rule allows at a level. ``noise_dose``: the share of the allowed exposure that a row of
levels and times uses up. Levels are A-weighted, in dB, as plain numbers.

Rules differ from country to country: :data:`OSHA` and :data:`NIOSH` are two of them. The rule of the place decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pint

from pitside.units import Q, quantities, require


@dataclass(frozen=True)
class NoiseRule:
    """A rule: the level that is allowed for eight hours, and the rise of level that halves the time; both in dB(A)."""

    level: float
    exchange: float


#: United States law, [CFR1910.95]: 90 dB(A) for eight hours, half the time for each 5 dB; from memory.
OSHA = NoiseRule(90.0, 5.0)
#: The recommendation of [NIOSH1998]: 85 dB(A) for eight hours, half the time for each 3 dB; from memory.
NIOSH = NoiseRule(85.0, 3.0)
#: Length of exposure that a rule's level is for.
REFERENCE_TIME = Q(8.0, "hour")


def permitted_time(level: float, rule: NoiseRule = NIOSH) -> pint.Quantity:
    """Time that a rule allows at one level.

    time = 8 h / 2 ** ((level - rule.level) / rule.exchange)

    Parameters
    ----------
    level : dB(A), a plain number; scalar or array.
    rule : the level for eight hours, and the rise that halves the time.

    Returns
    -------
    Time, s.

    Raises
    ------
    CalculationError : a level below 0 or above 140, where no time is allowed.

    Valid range: steady noise. No impulse, and no credit for ear protection.
    Source: [CFR1910.95], table G-16 and its appendix A, from memory.

    >>> print(f"{permitted_time(95, OSHA).to('hour'):.0f~P}, {permitted_time(94, NIOSH).to('hour'):.0f~P}")
    4 h, 1 h
    """
    values = np.asarray(level, dtype=float)
    require((values >= 0) & (values <= 140), "a level of noise must be from 0 to 140 dB(A)")
    return (REFERENCE_TIME / 2.0 ** ((values - rule.level) / rule.exchange)).to("s")


def noise_dose(exposures: Sequence[tuple[float, pint.Quantity]], rule: NoiseRule = NIOSH) -> pint.Quantity:
    """Dose of a tour: the sum of each time over the time that is allowed at its level.

    dose = sum(time / permitted_time(level))

    Parameters
    ----------
    exposures : pairs of a level in dB(A) and the time at it (h).
    rule : as :func:`permitted_time`.

    Returns
    -------
    Dose, a plain number; above 1 it is more than the rule allows.

    Raises
    ------
    CalculationError : a negative time or one that is no time; a level below 0 or above 140.

    Valid range: as :func:`permitted_time`.
    Source: [CFR1910.95], appendix A, from memory.

    >>> print(f"{noise_dose([(95, Q(2, 'hour')), (90, Q(4, 'hour'))], OSHA).to('percent'):.0f~P}")
    100 %
    """
    return sum((_part(time, level, rule) for level, time in exposures), start=Q(0.0))


@quantities(returns="[]", time="[time]")
def _part(time: pint.Quantity, level: float, rule: NoiseRule) -> pint.Quantity:
    require(time >= Q(0, "s"), "a time of exposure must not be negative")
    return time / permitted_time(level, rule)
