"""Classical test theory: how parts of a paper discriminate, and how reliable its marks are. Arrays in, numbers out."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

#: With fewer scripts a correlation is chance, and so are a very easy and a very hard part.
FEWEST_FOR_STATISTICS = 10
#: The confidence of all intervals.
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Estimate:
    """A number from a sample, and the interval in which it lies with the confidence of :data:`CONFIDENCE`."""

    value: float
    low: float
    high: float


def pooled_correlation(groups: Iterable[tuple[np.ndarray, np.ndarray]]) -> Estimate | None:
    """Pearson's correlation inside of groups, so that a difference between their means makes none.

    Each group is two arrays of one length. The interval is Fisher's, with as many degrees of freedom less as there are
    groups (Fisher, Statistical Methods for Research Workers, on partial correlation; from memory).

    None with fewer than :data:`FEWEST_FOR_STATISTICS` pairs, or where there is nothing to correlate.
    """
    firsts, seconds = [], []
    for first, second in groups:
        if len(first) > 1:
            firsts.append(first - first.mean())
            seconds.append(second - second.mean())
    if not firsts:
        return None
    x, y = np.concatenate(firsts), np.concatenate(seconds)
    left = len(x) - len(firsts) - 2
    spread = math.sqrt(float((x * x).sum()) * float((y * y).sum()))
    # Shares of marks are of the size of one: what is left of a difference below this is rounding.
    if len(x) < FEWEST_FOR_STATISTICS or left < 1 or spread < 1e-12:
        return None
    value = min(1.0, max(-1.0, float((x * y).sum()) / spread))
    if abs(value) > 1 - 1e-12:
        return Estimate(value, value, value)
    reach = NormalDist().inv_cdf((1 + CONFIDENCE) / 2) / math.sqrt(left)
    return Estimate(value, math.tanh(math.atanh(value) - reach), math.tanh(math.atanh(value) + reach))


def coefficient_alpha(scores: np.ndarray) -> Estimate | None:
    """Coefficient alpha of scores, a row a script and a column a part.

    alpha = k / (k - 1) (1 - sum of the parts' variances / variance of the totals) (Cronbach 1951, Psychometrika 16,
    297). The interval is that of :func:`alpha_interval`. None with fewer than two parts or
    :data:`FEWEST_FOR_STATISTICS` scripts, and where all totals are the same.
    """
    scripts, parts = scores.shape
    if parts < 2 or scripts < FEWEST_FOR_STATISTICS:
        return None
    whole = float(scores.sum(axis=1).var(ddof=1))
    if whole < 1e-12:
        return None
    value = parts / (parts - 1) * (1 - float(scores.var(axis=0, ddof=1).sum()) / whole)
    low, high = alpha_interval(value, scripts, parts)
    return Estimate(value, low, high)


def alpha_interval(alpha: float, scripts: int, parts: int) -> tuple[float, float]:
    """The interval of coefficient alpha by the F distribution with n - 1 and (n - 1)(k - 1) degrees of freedom.

    1 - (1 - alpha) F, with the upper and the lower quantile of F (Feldt, Woodruff and Salih 1987, Applied
    Psychological Measurement 11, 95, formulas 6 and 7, as the manual of the R package cocron gives them). It rests on
    scores that are spread normally with one variance.
    """
    from scipy.special import fdtri  # takes a moment to load, and few commands need it

    of_scripts, of_rest = scripts - 1, (scripts - 1) * (parts - 1)
    tail = (1 - CONFIDENCE) / 2
    low, high = (1 - (1 - alpha) * float(fdtri(of_scripts, of_rest, share)) for share in (1 - tail, tail))
    return low, high
