"""Size distributions of solids on a grid of size classes, by volume.

``SizeDistribution``: the one type; ``log_edges``: a grid for it. ``rosin_rammler``, ``lognormal``, ``measured``: fill a
grid from a law or from a sieve table. ``fit_rosin_rammler``, ``fit_lognormal``: a law from a sieve table.
``barite_grind``: residues against the limits of [API13A]. ``typical_barite``, ``typical_drilled_fines``,
``typical_cuttings``: invented grinds to start from when nothing was measured.

All solids of one distribution have one density, so shares by volume and by mass are the same. Inside a class the volume
is spread evenly over the logarithm of size; every method holds to that.
"""

from __future__ import annotations

import enum
import math
import warnings
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import pint

from pitside.errors import CalculationError, ValidityWarning
from pitside.units import Q, Quantity, number, quantities, quantity_fields, require, require_above_zero, ureg

#: Share of the volume that may lie outside the grid, or outside a measured table, before it is warned of: our choice.
TAIL = 0.05
#: How far the fractions of a distribution may be from adding up to 1; they are then divided by their sum.
ROUNDING = 1e-6

#: Ends of the usual grid: from colloids to cuttings, our choice.
COLLOID, LARGE_CUTTING = Q(0.5e-6, "m"), Q(5e-3, "m")

#: Residue of barite on a 75 um sieve, by mass, at most: [API13A], seen restated.
BARITE_COARSE_SIZE, BARITE_COARSE_LIMIT = Q(75.0, "um"), 0.030
#: Barite finer than an equal-settling 6 um, by mass, at most: [API13A], seen restated.
BARITE_FINE_SIZE, BARITE_FINE_LIMIT = Q(6.0, "um"), 0.30


_METRE = ureg.Unit("m")


@quantities(edges="[length]")
def class_edges(edges: pint.Quantity) -> pint.Quantity:
    """The edges of size classes in metres, checked and read-only; the same object if it is so already.

    Streams share their edges, so that one look tells that they do. Raises CalculationError where edges are no row of
    two or more lengths that grow, the first above zero.

    >>> print(class_edges(Q([2, 20, 75], "um")).to("um"))
    [2.0 20.0 75.0] µm
    >>> class_edges(Q([0, 20, 75], "um"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: edges must be above zero: a size class that reaches down to nothing has no middle
    """
    values = edges.magnitude
    require(np.ndim(values) == 1 and np.size(values) >= 2, "give at least two edges, as one row of lengths")
    require(values[0] > 0, "edges must be above zero: a size class that reaches down to nothing has no middle")
    require(np.diff(values) > 0, "edges must grow from each to the next")
    if not values.flags.writeable:
        return edges
    frozen = np.array(values, dtype=float)
    frozen.flags.writeable = False
    return Quantity(frozen, _METRE)


def _adding_up(fractions: np.ndarray) -> np.ndarray:
    """Fractions as a read-only array that adds up to 1 exactly, where it does but for rounding."""
    found = np.array(fractions, dtype=float)
    total = found.sum()
    if abs(total - 1) <= ROUNDING:
        found /= total
    found.flags.writeable = False
    return found


@quantity_fields(edges=class_edges, fractions=_adding_up)
@dataclass(frozen=True, eq=False)
class SizeDistribution:
    """Volume fractions of solids in neighbouring size classes.

    ``edges``: n + 1 lengths, each larger than the one before, the first above zero; kept in metres.
    ``fractions``: n plain numbers, none negative, adding up to 1.
    Class i holds the sizes above ``edges[i]`` and up to ``edges[i + 1]``. Both arrays are read-only.

    Raises :class:`CalculationError` where edges or fractions are not so.
    """

    edges: pint.Quantity
    fractions: np.ndarray

    def __post_init__(self) -> None:
        edges, fractions = self.edges, self.fractions
        require(
            fractions.shape == (edges.size - 1,),
            f"{edges.size} edges make {edges.size - 1} size classes: give as many fractions, not {fractions.size}",
        )
        require(np.isfinite(fractions) & (fractions >= 0), "volume fractions must be finite and not negative")
        total = fractions.sum()
        require(abs(total - 1) <= ROUNDING, f"volume fractions must add up to 1, not {total:.6g}")

    @property
    def centres(self) -> pint.Quantity:
        """Geometric mean of the two edges of each class, m; array of n."""
        edges = self.edges.magnitude
        return Q(np.sqrt(edges[1:] * edges[:-1]), "m")

    @property
    def cumulative(self) -> np.ndarray:
        """Share of the volume finer than each edge, from 0 to exactly 1; array of n + 1 plain numbers."""
        return _cumulative(self.fractions)

    @quantities(returns="[]", size="[length]")
    def passing(self, size: pint.Quantity) -> pint.Quantity:
        """Share of the volume that is finer than ``size`` (um or mm; scalar or array): 0 to 1.

        Raises CalculationError where a size is not above zero.
        """
        require_above_zero(size=size)
        return Q(np.interp(np.log(size.magnitude), np.log(self.edges.magnitude), self.cumulative))

    @quantities(returns="[length]", share="[]")
    def quantile(self, share: pint.Quantity | float) -> pint.Quantity:
        """Smallest size (m) that ``share`` of the volume is finer than (0 to 1 or percent; scalar or array).

        Raises CalculationError where a share is below 0 or above 100 %.
        """
        wanted = np.asarray((Q(1.0) * share).magnitude, dtype=float)
        require((wanted >= 0) & (wanted <= 1), "share must be from 0 to 100 %")
        filled = np.flatnonzero(self.fractions)
        below = self.cumulative
        index = np.clip(np.searchsorted(below, wanted, side="left") - 1, filled[0], filled[-1])
        logs = np.log(self.edges.magnitude)
        part = np.clip((wanted - below[index]) / self.fractions[index], 0.0, 1.0)
        return Q(np.exp(logs[index] + part * (logs[index + 1] - logs[index]))[()], "m")

    @property
    def d10(self) -> pint.Quantity:
        """Size that 10 % of the volume is finer than, m."""
        return self.quantile(0.10)

    @property
    def d50(self) -> pint.Quantity:
        """Median size by volume, m."""
        return self.quantile(0.50)

    @property
    def d90(self) -> pint.Quantity:
        """Size that 90 % of the volume is finer than, m."""
        return self.quantile(0.90)

    @property
    def sauter_mean(self) -> pint.Quantity:
        """Size of the sphere with the surface per volume of the whole (d32), m."""
        return Q(1 / np.sum(self.fractions * _mean_power(self.edges.magnitude, -1)), "m")

    @property
    def number_fractions(self) -> np.ndarray:
        """Share of the number of grains in each class, for grains of one shape; array of n plain numbers.

        One coarse grain holds the volume of many fine ones, so the fines lead by number.
        """
        counts = self.fractions * _mean_power(self.edges.magnitude, -3)
        return counts / counts.sum()

    @classmethod
    def from_number(cls, edges: pint.Quantity, number_fractions: np.ndarray) -> SizeDistribution:
        """The distribution by volume of grains that were counted: the way back from ``number_fractions``.

        Raises CalculationError as the type does.
        """
        counted = cls(edges, number_fractions)
        volumes = counted.fractions / _mean_power(counted.edges.magnitude, -3)
        return cls(counted.edges, volumes / volumes.sum())

    @quantities(edges="[length]")
    def rebin(self, edges: pint.Quantity) -> SizeDistribution:
        """The same solids on other edges; no volume is lost.

        What lies outside the new edges goes into the class at that end. Warns (ValidityWarning) where it is more than
        5 %. Raises CalculationError as the type does.
        """
        edges = class_edges(edges)
        return _from_passing(edges, self.passing(edges).magnitude)


def _cumulative(fractions: np.ndarray) -> np.ndarray:
    below = np.concatenate(([0.0], np.cumsum(fractions)))
    below[np.flatnonzero(fractions)[-1] + 1 :] = 1.0
    return below


def _mean_power(edges: np.ndarray, power: int) -> np.ndarray:
    """Mean of size ** power over each class, the volume spread evenly over the logarithm of size."""
    return np.diff(edges**power) / (power * np.diff(np.log(edges)))


def _from_passing(edges: pint.Quantity, passing: np.ndarray) -> SizeDistribution:
    """The distribution with a passing at each edge; what lies outside goes into the end classes."""
    below, above = passing[0], 1 - passing[-1]
    for share, side in ((below, "finer than the first"), (above, "coarser than the last")):
        if share > TAIL:
            warnings.warn(
                f"{share:.0%} of the volume is {side} edge and was put into the class there: widen the edges",
                ValidityWarning,
                stacklevel=4,
            )
    whole = np.concatenate(([0.0], passing[1:-1], [1.0]))
    return SizeDistribution(edges, np.diff(whole))


@quantities(returns="[length]", smallest="[length]", largest="[length]")
def log_edges(
    smallest: pint.Quantity = COLLOID, largest: pint.Quantity = LARGE_CUTTING, classes: int = 50
) -> pint.Quantity:
    """Edges of size classes that are all equally wide on a scale of the logarithm of size.

    edge[i] = smallest * (largest / smallest) ** (i / classes)

    Parameters
    ----------
    smallest, largest : first and last edge (um or mm); scalars. From colloids to cuttings by default.
    classes : number of size classes.

    Returns
    -------
    Edges, m; array of classes + 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; sizes not above zero or not growing; no class at all.

    Valid range: any.
    Source: the definition.

    >>> [f"{edge:.1f}" for edge in log_edges(Q(1, "um"), Q(1000, "um"), 6).m_as("um")]
    ['1.0', '3.2', '10.0', '31.6', '100.0', '316.2', '1000.0']
    """
    require(classes >= 1, "give at least one size class")
    require(Q(0.0, "m") < smallest, "smallest size must be above zero")
    require(smallest < largest, "largest size must be above the smallest")
    return Q(np.geomspace(smallest.magnitude, largest.magnitude, classes + 1), "m")


@quantities(returns="[]", size="[length]", characteristic="[length]", spread="[]")
def rosin_rammler_passing(
    size: pint.Quantity, characteristic: pint.Quantity, spread: pint.Quantity | float
) -> pint.Quantity:
    """Share finer than a size by the law of Rosin and Rammler.

    passing = 1 - exp(-(size / characteristic) ** spread)

    Parameters
    ----------
    size : (um or mm); scalar or array.
    characteristic : size that 63.2 % is finer than (um or mm); scalar or array.
    spread : exponent, a plain number: the larger, the narrower; scalar or array.

    Returns
    -------
    Share by volume, 0 to 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a value that is not above zero.

    Valid range: any size above 0; ground solids mostly have a spread of 0.7 to 1.5 (common practice, no source).
    Source: [RosinRammler1933], from memory; the same law as the fluids library's cdf_Rosin_Rammler.

    >>> print(f"{rosin_rammler_passing(Q(24, 'um'), Q(24, 'um'), 1.2).magnitude:.4f}")
    0.6321
    """
    require_above_zero(size=size, characteristic=characteristic, spread=spread)
    return Q(1.0) * -np.expm1(-((size / characteristic).magnitude ** (Q(1.0) * spread).magnitude))


@quantities(returns="[]", size="[length]", median="[length]", geometric_deviation="[]")
def lognormal_passing(
    size: pint.Quantity, median: pint.Quantity, geometric_deviation: pint.Quantity | float
) -> pint.Quantity:
    """Share finer than a size where the logarithm of size is normally distributed by volume.

    passing = Phi(ln(size / median) / ln(geometric_deviation)), with Phi the normal distribution

    Parameters
    ----------
    size : (um or mm); scalar or array.
    median : size that half the volume is finer than (um or mm); scalar or array.
    geometric_deviation : the ratio d84.1 / d50, a plain number above 1; scalar or array.

    Returns
    -------
    Share by volume, 0 to 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a size that is not above zero; a deviation not above 1.

    Valid range: any size above 0.
    Source: the definition; the same law as the fluids library's PSDLognormal.

    >>> print(f"{lognormal_passing(Q(60, 'um'), Q(20, 'um'), 3.0).magnitude:.4f}")
    0.8413
    """
    require_above_zero(size=size, median=median)
    require(geometric_deviation > 1, "geometric deviation must be above 1")
    deviations = np.log((size / median).magnitude) / np.log((Q(1.0) * geometric_deviation).magnitude)
    return Q(np.vectorize(_NORMAL.cdf, otypes=[float])(deviations)[()])


_NORMAL = NormalDist()


@quantities(spread="[]", characteristic="[length]", d50="[length]")
def rosin_rammler(
    edges: pint.Quantity,
    spread: pint.Quantity | float,
    *,
    characteristic: pint.Quantity | None = None,
    d50: pint.Quantity | None = None,
) -> SizeDistribution:
    """Distribution by the law of Rosin and Rammler; see :func:`rosin_rammler_passing`.

    characteristic = d50 / ln(2) ** (1 / spread)

    Parameters
    ----------
    edges : of the size classes (um or mm); array of n + 1.
    spread : exponent of the law, a plain number: the larger, the narrower.
    characteristic, d50 : size that 63.2 % or 50 % is finer than (um or mm); scalar; give one of the two.

    Returns
    -------
    A :class:`SizeDistribution`; what the law has outside the edges is in the class at that end.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; both sizes or neither.

    Valid range: warns (ValidityWarning) where more than 5 % lies outside the edges.
    Source: [RosinRammler1933], from memory.

    >>> grind = rosin_rammler(log_edges(), 1.2, d50=Q(18, "um"))
    >>> print(f"{grind.d50.to('um'):.1f~P}, {grind.passing(Q(6, 'um')).magnitude:.3f} finer than 6 um")
    18.0 µm, 0.170 finer than 6 um
    """
    require((characteristic is None) != (d50 is None), "give either the characteristic size or d50")
    if d50 is not None:
        require_above_zero(spread=spread)
        characteristic = d50 / math.log(2) ** (1 / number(spread))
    assert characteristic is not None
    edges = class_edges(edges)
    return _from_passing(edges, rosin_rammler_passing(edges, characteristic, spread).magnitude)


@quantities(median="[length]", geometric_deviation="[]")
def lognormal(
    edges: pint.Quantity, median: pint.Quantity, geometric_deviation: pint.Quantity | float
) -> SizeDistribution:
    """Lognormal distribution by volume; see :func:`lognormal_passing`.

    Parameters
    ----------
    edges : of the size classes (um or mm); array of n + 1.
    median : size that half the volume is finer than (um or mm); scalar.
    geometric_deviation : the ratio d84.1 / d50, a plain number above 1.

    Returns
    -------
    A :class:`SizeDistribution`; what the law has outside the edges is in the class at that end.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a size not above zero; a deviation not above 1.

    Valid range: warns (ValidityWarning) where more than 5 % lies outside the edges.
    Source: the definition.

    >>> fines = lognormal(log_edges(), Q(20, "um"), 3.0)
    >>> print(f"{fines.quantile(0.8413).to('um'):.1f~P}")
    60.0 µm
    """
    edges = class_edges(edges)
    return _from_passing(edges, lognormal_passing(edges, median, geometric_deviation).magnitude)


@quantities(returns=("[length]", "[]"), sizes="[length]", passing="[]")
def sieve_table(sizes: pint.Quantity, passing: pint.Quantity | np.ndarray) -> tuple[pint.Quantity, pint.Quantity]:
    """A sieve table, checked: sizes in m and shares finer, both growing."""
    shares = Q(1.0) * passing
    require(
        np.ndim(sizes.magnitude) == 1 and np.shape(sizes.magnitude) == np.shape(shares.magnitude),
        "a sieve table is two rows of one length: sizes and the share finer than each",
    )
    require(sizes.magnitude.size >= 2, "a sieve table needs at least two sizes")
    require(np.diff(sizes.magnitude, prepend=0.0) > 0, "sizes must be above zero and grow")
    require((shares.magnitude >= 0) & (shares.magnitude <= 1), "passing must be from 0 to 100 %")
    require(np.diff(shares.magnitude) >= 0, "passing falls as the size grows: give the share finer, not the share held")
    return sizes, shares


@quantities(sizes="[length]", passing="[]")
def measured(edges: pint.Quantity, sizes: pint.Quantity, passing: pint.Quantity | np.ndarray) -> SizeDistribution:
    """Distribution from a sieve or sedimentation table, straight lines drawn over the logarithm of size.

    Parameters
    ----------
    edges : of the size classes (um or mm); array of n + 1.
    sizes : of the table, growing (um or mm); array of m.
    passing : share by volume (or mass) finer than each size (percent or fraction); array of m.

    Returns
    -------
    A :class:`SizeDistribution`. What is finer than the first size of the table is spread from there down to the first
    edge, what is coarser than the last up to the last edge; where the edges end inside the table, the rest is in the
    class at that end.

    Raises
    ------
    CalculationError : a value of the wrong dimension; sizes that do not grow; passing that falls or is no share.

    Valid range: warns (ValidityWarning) where more than 5 % lies outside the table or outside the edges.
    Source: the definition.

    >>> sieves = Q([6, 20, 45, 75], "um")
    >>> barite = measured(log_edges(Q(2, "um"), Q(100, "um"), 40), sieves, Q([4, 55, 90, 98], "percent"))
    >>> print(f"{barite.d50.to('um'):.1f~P}")
    17.8 µm
    """
    edges = class_edges(edges)
    sizes, shares = sieve_table(sizes, passing)
    first, last = shares.magnitude[[0, -1]]
    for share, side in ((first, "finer than the first"), (1 - last, "coarser than the last")):
        if share > TAIL:
            warnings.warn(
                f"{share:.0%} of the volume is {side} size of the table: how it is spread is a guess",
                ValidityWarning,
                stacklevel=3,
            )
    table_sizes, table_shares = sizes.magnitude, shares.magnitude
    if edges.magnitude[0] < table_sizes[0]:
        table_sizes, table_shares = np.append(edges.magnitude[0], table_sizes), np.append(0.0, table_shares)
    if edges.magnitude[-1] > table_sizes[-1]:
        table_sizes, table_shares = np.append(table_sizes, edges.magnitude[-1]), np.append(table_shares, 1.0)
    return _from_passing(edges, np.interp(np.log(edges.magnitude), np.log(table_sizes), table_shares))


class Weights(enum.Enum):
    """How much each size of a table counts in a fit on straightened axes."""

    #: Each share is read equally well, so a point counts less where the axis is stretched: by (d passing / d axis)^2.
    EQUAL_READING = "equal reading error of passing"
    #: Each point counts the same on the straightened axes, as a ruler on graph paper has it.
    EVEN = "each point alike"


@dataclass(frozen=True)
class RosinRammlerFit:
    """A law of Rosin and Rammler fitted to a table; ``misfit`` is the root mean square error of passing."""

    characteristic: pint.Quantity
    spread: float
    misfit: float

    def on(self, edges: pint.Quantity) -> SizeDistribution:
        """The fitted law on the edges of size classes."""
        return rosin_rammler(edges, self.spread, characteristic=self.characteristic)


@dataclass(frozen=True)
class LognormalFit:
    """A lognormal law fitted to a table; ``misfit`` is the root mean square error of passing."""

    median: pint.Quantity
    geometric_deviation: float
    misfit: float

    def on(self, edges: pint.Quantity) -> SizeDistribution:
        """The fitted law on the edges of size classes."""
        return lognormal(edges, self.median, self.geometric_deviation)


def fit_rosin_rammler(
    sizes: pint.Quantity, passing: pint.Quantity | np.ndarray, weights: Weights = Weights.EQUAL_READING
) -> RosinRammlerFit:
    """The law of Rosin and Rammler nearest to a sieve table, by a straight line of least squares.

    ln(-ln(1 - passing)) = spread * ln(size) - spread * ln(characteristic)

    Weights for equal reading: ((1 - passing) * ln(1 - passing)) ** 2.

    Parameters
    ----------
    sizes : of the table, growing (um or mm); array of m.
    passing : share by volume (or mass) finer than each size (percent or fraction); array of m. Points at 0 and 100 %
        lie at infinity on these axes and are left out.
    weights : see :class:`Weights`.

    Returns
    -------
    A :class:`RosinRammlerFit`.

    Raises
    ------
    CalculationError : as :func:`measured`; fewer than two sizes between 0 and 100 %; a table that does not rise.

    Valid range: tables that lie near a line on these axes; look at ``misfit``.
    Source: [RosinRammler1933], from memory; weights by the propagation of errors.

    >>> sieves = Q([6, 20, 45, 75], "um")
    >>> fit = fit_rosin_rammler(sieves, rosin_rammler_passing(sieves, Q(24, "um"), 1.2))
    >>> print(f"{fit.characteristic.to('um'):.2f~P}, {fit.spread:.3f}")
    24.00 µm, 1.200
    """
    sizes, shares = sieve_table(sizes, passing)
    inside = _between(shares.magnitude)
    finer, logs = shares.magnitude[inside], np.log(sizes.magnitude[inside])
    coarser = 1 - finer
    weight = (coarser * np.log(coarser)) ** 2 if weights is Weights.EQUAL_READING else np.ones_like(finer)
    slope, intercept = _line(logs, np.log(-np.log(coarser)), weight)
    characteristic = Q(math.exp(-intercept / slope), "m")
    misfit = _misfit(rosin_rammler_passing(sizes, characteristic, slope), shares)
    return RosinRammlerFit(characteristic, slope, misfit)


def fit_lognormal(
    sizes: pint.Quantity, passing: pint.Quantity | np.ndarray, weights: Weights = Weights.EQUAL_READING
) -> LognormalFit:
    """The lognormal law nearest to a sieve table, by a straight line of least squares.

    z(passing) = (ln(size) - ln(median)) / ln(geometric_deviation), with z the quantile of the normal distribution

    Weights for equal reading: (density of the normal distribution at z) ** 2.

    Parameters
    ----------
    sizes : of the table, growing (um or mm); array of m.
    passing : share by volume (or mass) finer than each size (percent or fraction); array of m. Points at 0 and 100 %
        lie at infinity on these axes and are left out.
    weights : see :class:`Weights`.

    Returns
    -------
    A :class:`LognormalFit`.

    Raises
    ------
    CalculationError : as :func:`measured`; fewer than two sizes between 0 and 100 %; a table that does not rise.

    Valid range: tables that lie near a line on these axes; look at ``misfit``.
    Source: the definition; weights by the propagation of errors.

    >>> sieves = Q([10, 20, 45, 75], "um")
    >>> fit = fit_lognormal(sieves, lognormal_passing(sieves, Q(20, "um"), 3.0))
    >>> print(f"{fit.median.to('um'):.2f~P}, {fit.geometric_deviation:.3f}")
    20.00 µm, 3.000
    """
    sizes, shares = sieve_table(sizes, passing)
    inside = _between(shares.magnitude)
    deviations = np.array([_NORMAL.inv_cdf(share) for share in shares.magnitude[inside]])
    density = np.exp(-(deviations**2) / 2)
    weight = density**2 if weights is Weights.EQUAL_READING else np.ones_like(deviations)
    slope, intercept = _line(np.log(sizes.magnitude[inside]), deviations, weight)
    median, deviation = Q(math.exp(-intercept / slope), "m"), math.exp(1 / slope)
    return LognormalFit(median, deviation, _misfit(lognormal_passing(sizes, median, deviation), shares))


def _between(shares: np.ndarray) -> np.ndarray:
    inside = (shares > 0) & (shares < 1)
    require(inside.sum() >= 2, "a fit needs at least two sizes with a passing between 0 and 100 %")
    return inside


def _line(x: np.ndarray, y: np.ndarray, weight: np.ndarray) -> tuple[float, float]:
    """Slope and intercept of the straight line of weighted least squares."""
    weight = weight / weight.sum()
    x_mean, y_mean = weight @ x, weight @ y
    slope = float(weight @ ((x - x_mean) * (y - y_mean)) / (weight @ (x - x_mean) ** 2))
    if slope <= 0:
        raise CalculationError("passing does not rise with size in this table: there is no law to fit")
    return slope, float(y_mean - slope * x_mean)


def _misfit(law: pint.Quantity, shares: pint.Quantity) -> float:
    return float(np.sqrt(np.mean((law.magnitude - shares.magnitude) ** 2)))


@dataclass(frozen=True)
class GrindCheck:
    """Residues of a barite against the limits of [API13A]: shares by mass, and whether each is within its limit."""

    coarse: float
    fine: float

    @property
    def coarse_within(self) -> bool:
        """Coarser than 75 um: at most 3.0 %."""
        return round(self.coarse, 9) <= BARITE_COARSE_LIMIT

    @property
    def fine_within(self) -> bool:
        """Finer than 6 um: at most 30 %."""
        return round(self.fine, 9) <= BARITE_FINE_LIMIT

    @property
    def within(self) -> bool:
        """Both limits are kept."""
        return self.coarse_within and self.fine_within


def barite_grind(distribution: SizeDistribution) -> GrindCheck:
    """Residue above 75 um and share below 6 um of a barite, to hold against the limits of [API13A].

    Parameters
    ----------
    distribution : of the barite.

    Returns
    -------
    A :class:`GrindCheck`.

    Raises
    ------
    CalculationError : size classes that do not reach from below 6 um to above 75 um.

    Valid range: a distribution that was measured at or near both sizes; the specification itself asks for a wet sieve
        and a sedimentation, not for a curve.
    Source: [API13A], seen restated.

    >>> check = barite_grind(typical_barite())
    >>> print(f"{check.coarse:.1%} above 75 um, {check.fine:.1%} below 6 um: {check.within}")
    2.1% above 75 um, 17.3% below 6 um: True
    """
    edges = distribution.edges
    require(
        (edges[0] < BARITE_FINE_SIZE) & (edges[-1] > BARITE_COARSE_SIZE),
        "the size classes must reach from below 6 um to above 75 um to show the grind",
    )
    coarse = 1 - float(distribution.passing(BARITE_COARSE_SIZE).magnitude)
    return GrindCheck(coarse, float(distribution.passing(BARITE_FINE_SIZE).magnitude))


def typical_barite(edges: pint.Quantity | None = None) -> SizeDistribution:
    """An invented barite grind that keeps the limits of [API13A]: Rosin and Rammler, 24 um and 1.2.

    >>> print(f"{typical_barite().d50.to('um'):.1f~P}")
    17.7 µm
    """
    return rosin_rammler(log_edges() if edges is None else edges, 1.2, characteristic=Q(24.0, "um"))


def typical_drilled_fines(edges: pint.Quantity | None = None) -> SizeDistribution:
    """Invented drilled solids that fine screens leave in the mud: lognormal, 18 um and 2.5.

    >>> print(f"{typical_drilled_fines().d90.to('um'):.0f~P}")
    58 µm
    """
    return lognormal(log_edges() if edges is None else edges, Q(18.0, "um"), 2.5)


def typical_cuttings(edges: pint.Quantity | None = None) -> SizeDistribution:
    """Invented cuttings at the shaker with their fines: Rosin and Rammler, 800 um and 0.7.

    >>> cuttings = typical_cuttings()
    >>> print(f"{cuttings.d50.to('um'):.0f~P}, {cuttings.passing(Q(74, 'um')).magnitude:.0%} finer than 74 um")
    474 µm, 17% finer than 74 um
    """
    return rosin_rammler(log_edges() if edges is None else edges, 0.7, characteristic=Q(800.0, "um"))
