"""Partition curves: which share of the grains of each size a separator sends to its underflow.

``rosin_rammler_partition``, ``lynch_rao_partition``: two laws for the corrected curve, through 50 % at its cut point.
``with_bypass``, ``corrected_partition``: from the corrected curve to the actual one and back.
``equal_settling_cut_point``: the cut point of a solid of another density. ``PartitionCurve``: all of it in one, for
solids of any density. ``measured_partition``, ``fit_partition``, ``sharpness_from_sizes``, ``sharpness_ratio``,
``imperfection``: from samples of underflow and overflow to a curve.

Two cut points are told apart. The corrected one (d50c) belongs to the grains that were classified at all. The actual
one (d50) is where half of all grains go to the underflow; bypass, the share that goes there unclassified with the
liquid, makes it finer. A machine that settles grains has a cut point for each density, so one cut point for a mud of
barite and drilled solids says too little.
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import CalculationError
from pitside.units import (
    Q,
    Quantity,
    number,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_not_negative,
    require_share,
    ureg,
)

#: Exponent of the density difference in the cut point, where grains settle by Stokes' law: d50 goes with its root.
STOKES_DENSITY_EXPONENT = 0.5
#: Ratio d75 / d25 of the flattest curve that the law of Lynch and Rao can make: derived, the limit of sharpness to 0.
LYNCH_RAO_FLATTEST = 9.0
#: Of shares; read once, since a curve is asked often.
_NUMBER = ureg.dimensionless


class CurveForm(enum.Enum):
    """Law of a corrected partition curve; the value says where it comes from."""

    ROSIN_RAMMLER = "Rosin and Rammler, as Plitt uses it"
    LYNCH_RAO = "Lynch and Rao"


def _rosin_rammler(relative: np.ndarray, sharpness: np.ndarray | float) -> np.ndarray:
    with np.errstate(over="ignore"):  # far above a sharp cut point: infinity, of which all goes to the underflow
        return -np.expm1(-math.log(2) * relative**sharpness)


def _lynch_rao(relative: np.ndarray, sharpness: np.ndarray | float) -> np.ndarray:
    finer = np.expm1(-sharpness * relative)
    return -finer / (np.expm1(np.minimum(sharpness * (1 - relative), 700.0)) - 2 * finer)


def _rosin_rammler_size(share: np.ndarray | float, sharpness: np.ndarray | float) -> np.ndarray:
    return (-np.log1p(-share) / math.log(2)) ** (1 / sharpness)


def _lynch_rao_size(share: np.ndarray | float, sharpness: np.ndarray | float) -> np.ndarray:
    return 1 + (np.log(share + (1 - 2 * share) * np.exp(-sharpness)) - np.log1p(-share)) / sharpness


_SHARE = {CurveForm.ROSIN_RAMMLER: _rosin_rammler, CurveForm.LYNCH_RAO: _lynch_rao}
_SIZE = {CurveForm.ROSIN_RAMMLER: _rosin_rammler_size, CurveForm.LYNCH_RAO: _lynch_rao_size}


@quantities(returns="[]", relative_size="[]", sharpness="[]")
def rosin_rammler_partition(relative_size: pint.Quantity | float, sharpness: pint.Quantity | float) -> pint.Quantity:
    """Corrected share to the underflow by the law of Rosin and Rammler, as Plitt uses it.

    share = 1 - exp(-ln(2) * relative_size ** sharpness)

    Parameters
    ----------
    relative_size : size over the corrected cut point, a plain number; scalar or array.
    sharpness : Plitt's m, a plain number: the larger, the sharper; scalar or array.

    Returns
    -------
    Share of the classified grains, 0 to 1; exactly 0.5 at a relative size of 1 (the rounded 0.693 gives 0.4999).

    Raises
    ------
    CalculationError : a value with a unit; a negative size; a sharpness that is not above zero.

    Valid range: any; cones mostly have a sharpness of 1.5 to 3.5 (from memory).
    Source: [Plitt1976], from memory.

    >>> [f"{share:.4f}" for share in rosin_rammler_partition([0.5, 1, 1.5, 2], 2.5).magnitude]
    ['0.1153', '0.5000', '0.8519', '0.9802']
    """
    _require_relative(relative_size, sharpness)
    return Q(_rosin_rammler(relative_size.magnitude, sharpness.magnitude))  # type: ignore[union-attr]


@quantities(returns="[]", relative_size="[]", sharpness="[]")
def lynch_rao_partition(relative_size: pint.Quantity | float, sharpness: pint.Quantity | float) -> pint.Quantity:
    """Corrected share to the underflow by the law of Lynch and Rao.

    share = (exp(a * x) - 1) / (exp(a * x) + exp(a) - 2), with x the relative size and a the sharpness

    Parameters
    ----------
    relative_size : size over the corrected cut point, a plain number; scalar or array.
    sharpness : the law's alpha, a plain number: the larger, the sharper; scalar or array.

    Returns
    -------
    Share of the classified grains, 0 to 1; exactly 0.5 at a relative size of 1.

    Raises
    ------
    CalculationError : a value with a unit; a negative size; a sharpness that is not above zero.

    Valid range: any; not the same number as Plitt's m (see :func:`sharpness_from_sizes`).
    Source: [LynchRao1975], from memory.

    >>> [f"{share:.4f}" for share in lynch_rao_partition([0.5, 1, 1.5, 2], 4.0).magnitude]
    ['0.1065', '0.5000', '0.8825', '0.9823']
    """
    _require_relative(relative_size, sharpness)
    return Q(_lynch_rao(relative_size.magnitude, sharpness.magnitude))  # type: ignore[union-attr]


def _require_relative(relative_size: pint.Quantity | float, sharpness: pint.Quantity | float) -> None:
    require_not_negative(relative_size=relative_size)
    require_above_zero(sharpness=sharpness)


@quantities(returns="[]", corrected="[]", bypass="[]")
def with_bypass(corrected: pint.Quantity | float, bypass: pint.Quantity | float) -> pint.Quantity:
    """Actual share to the underflow: what was classified there, and what went there with the liquid unclassified.

    actual = corrected * (1 - bypass) + bypass

    Parameters
    ----------
    corrected : share of the classified grains (fraction or percent); scalar or array.
    bypass : share of the feed that goes to the underflow unclassified (fraction or percent); scalar or array.

    Returns
    -------
    Actual share, from bypass to 1.

    Raises
    ------
    CalculationError : a value with a unit; a share outside 0 to 100 %.

    Valid range: 0 to 1. The bypass is mostly taken to be the share of the liquid that goes to the underflow.
    Source: Kelsall's correction, from memory; a convention, for no grain shows which way it went.

    >>> print(f"{with_bypass(0.5, Q(10, 'percent')).magnitude:.2f}")
    0.55
    """
    require_share(corrected_share=corrected, bypass_share=bypass)
    return corrected * (1 - bypass) + bypass  # type: ignore[return-value]


@quantities(returns="[]", actual="[]", bypass="[]")
def corrected_partition(actual: pint.Quantity | float, bypass: pint.Quantity | float) -> pint.Quantity:
    """Share of the classified grains that goes to the underflow, from the actual share: :func:`with_bypass` undone.

    corrected = (actual - bypass) / (1 - bypass)

    Parameters
    ----------
    actual : measured share to the underflow (fraction or percent); scalar or array.
    bypass : share of the feed that goes to the underflow unclassified (fraction or percent); scalar or array.

    Returns
    -------
    Corrected share, 0 to 1.

    Raises
    ------
    CalculationError : a value with a unit; a share outside 0 to 100 %; a bypass of all, or above the actual share.

    Valid range: 0 <= bypass < 1, bypass <= actual.
    Source: as :func:`with_bypass`.

    >>> print(f"{corrected_partition(0.55, Q(10, 'percent')).magnitude:.2f}")
    0.50
    """
    require_share(actual_share=actual, bypass_share=bypass)
    require(bypass < 1, "where all of the feed bypasses nothing is classified")
    require(actual >= bypass, "the bypass is larger than the share that went to the underflow at some size")
    return (actual - bypass) / (1 - bypass)  # type: ignore[return-value]


@quantities(
    returns="[length]",
    cut_point="[length]",
    reference_density="[density]",
    solid_density="[density]",
    liquid_density="[density]",
    exponent="[]",
)
def equal_settling_cut_point(
    cut_point: pint.Quantity,
    reference_density: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    exponent: pint.Quantity | float = STOKES_DENSITY_EXPONENT,
) -> pint.Quantity:
    """Cut point for a solid of another density: the size that settles as the reference solid does at its cut point.

    cut_point * ((reference_density - liquid_density) / (solid_density - liquid_density)) ** exponent

    Parameters
    ----------
    cut_point : for the reference solid (um); scalar or array.
    reference_density : density of the solid that ``cut_point`` was stated for (SG or kg/m3); scalar or array.
    solid_density : density of the other solid (SG or kg/m3); scalar or array.
    liquid_density : of the liquid between the grains, not of the mud (SG or kg/m3); scalar or array.
    exponent : 0.5 (Stokes) by default; 1 where grains settle by Newton's law; scalar or array.

    Returns
    -------
    Cut point of the other solid, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative cut point or exponent; a solid that does not sink.

    Valid range: exponent 0.5 (small grains) to 1 (large ones).
    Source: Stokes' law; the exponent 1 is Newton's law. The rule of 1.5 ([ASME2005]) is SG 4.2 and 2.6 in SG 1.32.

    >>> barite = equal_settling_cut_point(Q(15, "um"), Q(2.6, "SG"), Q(4.2, "SG"), Q(1.32, "SG"))
    >>> print(f"{barite.to('um'):.1f~P}")
    10.0 µm
    """
    require_not_negative(cut_point=cut_point)
    require(exponent >= 0, "exponent of the density difference must not be negative")
    require(liquid_density > Q(0, "kg/m**3"), "density of the liquid must be above zero")
    require_sinks(reference_density, liquid_density)
    require_sinks(solid_density, liquid_density)
    ratio = (reference_density - liquid_density) / (solid_density - liquid_density)
    return cut_point * ratio**exponent


def require_sinks(solid_density: pint.Quantity, liquid_density: pint.Quantity) -> None:
    """Raise CalculationError where a solid is not denser than the liquid.

    >>> require_sinks(Q(2.6, "SG"), Q(1.0, "SG"))
    >>> require_sinks(Q([2.6, 0.9], "SG"), Q(1.0, "SG"))
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: a solid must be denser than the liquid to be separated by settling
    """
    require(solid_density > liquid_density, "a solid must be denser than the liquid to be separated by settling")


@quantity_fields(
    cut_point="[length]",
    reference_density="[density]",
    liquid_density="[density]",
    sharpness="[]",
    bypass="[]",
    exponent="[]",
)
@dataclass(frozen=True)
class PartitionCurve:
    """A partition curve for solids of any density, from the cut point of one of them.

    ``cut_point``: corrected cut point (d50c) of a solid of ``reference_density``; kept in m. Zero sends all to the
    underflow. ``liquid_density``: of the liquid between the grains, not of the mud. ``sharpness``: see ``form``.
    ``bypass``: share of the feed that goes to the underflow unclassified. ``exponent``: see
    :func:`equal_settling_cut_point`. ``form``: the law of the corrected curve.

    Each number may be an array; it broadcasts against sizes and densities, so that draws of a cut point over a row of
    sizes are a column: ``Q(draws, "um")[:, None]``.

    Raises :class:`CalculationError` where a field is of the wrong dimension or out of range.

    >>> curve = PartitionCurve(Q(15, "um"), Q(2.6, "SG"), Q(1.2, "SG"), sharpness=2.5, bypass=0.1)
    >>> for name, density in (("low-gravity", 2.6), ("barite", 4.2)):
    ...     found = curve.corrected_cut_point(Q(density, "SG")), curve.actual_cut_point(Q(density, "SG"))
    ...     print(name, *(f"{size.to('um'):.1f~P}" for size in found))
    low-gravity 15.0 µm 14.0 µm
    barite 10.2 µm 9.6 µm
    """

    cut_point: pint.Quantity
    reference_density: pint.Quantity
    liquid_density: pint.Quantity
    sharpness: pint.Quantity | float
    bypass: pint.Quantity | float = 0.0
    exponent: pint.Quantity | float = STOKES_DENSITY_EXPONENT
    form: CurveForm = CurveForm.ROSIN_RAMMLER

    def __post_init__(self) -> None:
        require_not_negative(cut_point=self.cut_point)
        require(self.liquid_density.magnitude > 0, "density of the liquid must be above zero")
        require_sinks(self.reference_density, self.liquid_density)
        require_above_zero(sharpness=self.sharpness)
        require_share(bypass_share=self.bypass)
        require(number(self.exponent) >= 0, "exponent of the density difference must not be negative")

    @quantities(returns="[length]", solid_density="[density]")
    def corrected_cut_point(self, solid_density: pint.Quantity) -> pint.Quantity:
        """Corrected cut point (d50c, m) of a solid of this density; scalar or array.

        Raises CalculationError where the solid is not denser than the liquid.
        """
        require_sinks(solid_density, self.liquid_density)
        return self.cut_point * self._finer(solid_density.magnitude)

    @quantities(returns="[]", sizes="[length]", solid_density="[density]")
    def to_underflow(self, sizes: pint.Quantity, solid_density: pint.Quantity) -> pint.Quantity:
        """Actual share of the grains of each size that goes to the underflow: bypass to 1.

        ``sizes`` (um) and ``solid_density`` (SG) broadcast: a row of sizes and a column of densities make a table.
        Raises CalculationError where a size is not above zero or a solid not denser than the liquid, and where draws of
        the curve's numbers lie along sizes or densities.
        """
        require_above_zero(sizes=sizes)
        require_sinks(solid_density, self.liquid_density)
        numbers = (self.cut_point, self.reference_density, self.liquid_density)
        require_draws_apart(sizes, solid_density, *numbers, self.sharpness, self.bypass, self.exponent)
        with np.errstate(divide="ignore"):
            relative = np.divide(sizes.magnitude, self.cut_point.magnitude * self._finer(solid_density.magnitude))
        corrected = _SHARE[self.form](relative, number(self.sharpness))
        bypass = number(self.bypass)
        return Quantity(corrected * (1 - bypass) + bypass, _NUMBER)

    @quantities(returns="[length]", share="[]", solid_density="[density]")
    def size_at(self, share: pint.Quantity | float, solid_density: pint.Quantity) -> pint.Quantity:
        """Size (m) of which ``share`` goes to the underflow, bypass counted; scalar or array.

        Raises CalculationError where the share is below the bypass (no size has it) or not below 100 %.
        """
        require(share < 1, "no size goes to the underflow whole: ask for a share below 100 %")
        require(share >= self.bypass, "every size has a larger share in the underflow: the bypass alone is more")
        corrected = (share - self.bypass) / (1 - self.bypass)
        relative = _SIZE[self.form](number(corrected), number(self.sharpness))
        return self.corrected_cut_point(solid_density) * relative

    def actual_cut_point(self, solid_density: pint.Quantity) -> pint.Quantity:
        """Actual cut point (d50, m): half of all grains of this size go to the underflow, bypass counted.

        Raises CalculationError where the bypass alone is more than half.
        """
        return self.size_at(0.5, solid_density)

    def _finer(self, solid_density: np.ndarray | float) -> np.ndarray | float:
        liquid = self.liquid_density.magnitude
        ratio = (self.reference_density.magnitude - liquid) / (solid_density - liquid)
        return ratio ** number(self.exponent)


def require_draws_apart(
    sizes: pint.Quantity, solid_density: pint.Quantity, *numbers: pint.Quantity | np.ndarray | float
) -> None:
    """Raise CalculationError where a curve's numbers would pair up with sizes or densities, one number for each.

    >>> sizes, density, draws = Q([5, 10, 20], "um"), Q(2.6, "SG"), Q([7, 8, 9], "um")
    >>> require_draws_apart(sizes, density, draws[:, None])
    >>> require_draws_apart(sizes, density, draws)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    pitside.errors.CalculationError: draws of a curve need an axis of their own: Q(draws, "um")[:, None] for a row ...
    """
    asked = np.broadcast_shapes(np.shape(sizes.magnitude), np.shape(solid_density.magnitude))
    for value in numbers:
        shape = np.shape(value.magnitude if isinstance(value, Quantity) else value)
        for drawn, along in zip(reversed(shape), reversed(asked), strict=False):
            require(
                drawn == 1 or along == 1,
                'draws of a curve need an axis of their own: Q(draws, "um")[:, None] for a row of sizes, '
                'Q(draws, "um")[:, None, None] for a stream',
            )


@quantities(returns="[]", underflow="[mass]/[time]", overflow="[mass]/[time]")
def measured_partition(underflow: pint.Quantity, overflow: pint.Quantity) -> pint.Quantity:
    """Actual partition from samples: the share of each size class that was found in the underflow.

    share = underflow / (underflow + overflow), class by class

    Parameters
    ----------
    underflow, overflow : mass rate of the solids of each size class (lb/min or kg/h), not the percent of each sample:
        multiply each sieve analysis by the solids rate of its stream first; arrays of one shape.

    Returns
    -------
    Share to the underflow, 0 to 1, of the same shape.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative rate; a class without solids.

    Valid range: one density, or each kind of solids on its own.
    Source: the definition; a worked example in Wills, Mineral Processing Technology, seen restated.

    >>> share = measured_partition(Q([16.3, 4.8, 4.1], "t/h"), Q([2.1, 3.1, 4.1], "t/h"))
    >>> [f"{value:.1f}" for value in share.m_as("percent")]
    ['88.6', '60.8', '50.0']
    """
    nothing = Q(0, "kg/s")
    require((underflow >= nothing) & (overflow >= nothing), "a solids rate must not be negative")
    require(underflow + overflow > nothing, "a size class without solids has no partition: leave it out")
    return underflow / (underflow + overflow)


@quantities(returns="[]", size_25="[length]", size_75="[length]")
def sharpness_ratio(size_25: pint.Quantity, size_75: pint.Quantity) -> pint.Quantity:
    """How far apart the sizes lie of which a quarter and three quarters go to the underflow.

    ratio = size_75 / size_25

    Parameters
    ----------
    size_25, size_75 : sizes with 25 % and 75 % in the underflow (um); scalar or array.

    Returns
    -------
    Ratio, 1 (a perfect cut) or more.

    Raises
    ------
    CalculationError : a value of the wrong dimension; sizes not above zero, or the wrong way round.

    Valid range: above 3 a cut counts as poor.
    Source: seen in a handbook text on powders (author unknown): x75 / x25, 1 perfect, above 3 poor.

    >>> print(f"{sharpness_ratio(Q(10, 'um'), Q(20, 'um')).magnitude:.1f}")
    2.0
    """
    _require_quartiles(size_25, size_75)
    return size_75 / size_25


@quantities(returns="[]", size_25="[length]", size_75="[length]", cut_point="[length]")
def imperfection(size_25: pint.Quantity, size_75: pint.Quantity, cut_point: pint.Quantity) -> pint.Quantity:
    """Half the distance between the quartile sizes, against the cut point.

    imperfection = (size_75 - size_25) / (2 * cut_point)

    Parameters
    ----------
    size_25, size_75 : sizes with 25 % and 75 % in the underflow (um); scalar or array.
    cut_point : size with 50 % in the underflow (um); scalar or array.

    Returns
    -------
    Imperfection, 0 (a perfect cut) or more.

    Raises
    ------
    CalculationError : a value of the wrong dimension; sizes not above zero, or out of order.

    Valid range: cones mostly 0.2 to 0.6 (from memory).
    Source: the definition of mineral processing, from memory.

    >>> print(f"{imperfection(Q(10, 'um'), Q(20, 'um'), Q(15, 'um')).magnitude:.3f}")
    0.333
    """
    _require_quartiles(size_25, size_75)
    require((size_25 <= cut_point) & (cut_point <= size_75), "the cut point must lie between the two sizes")
    return (size_75 - size_25) / (2 * cut_point)


def _require_quartiles(size_25: pint.Quantity, size_75: pint.Quantity) -> None:
    require(size_25 > Q(0, "m"), "sizes must be above zero")
    require(size_75 >= size_25, "the size with 75 % in the underflow must not be below the one with 25 %")


@quantities(returns="[]", size_25="[length]", size_75="[length]")
def sharpness_from_sizes(
    size_25: pint.Quantity, size_75: pint.Quantity, form: CurveForm = CurveForm.ROSIN_RAMMLER
) -> pint.Quantity:
    """Sharpness of the law whose corrected curve passes 25 % and 75 % at the two sizes.

    Rosin and Rammler: m = ln(ln(4) / ln(4 / 3)) / ln(size_75 / size_25) = 1.5725 / ln(size_75 / size_25);
    Lynch and Rao: size_75 / size_25 = ln(3 e^a - 2) / ln((e^a + 2) / 3), solved for a

    Parameters
    ----------
    size_25, size_75 : sizes with 25 % and 75 % of the classified grains in the underflow (um); scalar or array.
    form : the law.

    Returns
    -------
    Sharpness, a plain number.

    Raises
    ------
    CalculationError : a value of the wrong dimension; sizes not above zero, equal, or the wrong way round; for Lynch
        and Rao a ratio of 9 or more, which the law cannot make.

    Valid range: size_75 > size_25.
    Source: the laws turned round, derived.

    >>> for form in CurveForm:
    ...     print(f"{form.value}: {sharpness_from_sizes(Q(10, 'um'), Q(20, 'um'), form).magnitude:.3f}")
    Rosin and Rammler, as Plitt uses it: 2.269
    Lynch and Rao: 3.091
    """
    _require_quartiles(size_25, size_75)
    require(size_75 > size_25, "a perfect cut has no sharpness number: the two sizes must differ")
    ratio = (size_75 / size_25).magnitude
    if form is CurveForm.ROSIN_RAMMLER:
        return Q(math.log(math.log(4) / math.log(4 / 3)) / np.log(ratio))
    require(
        ratio < LYNCH_RAO_FLATTEST,
        f"the law of Lynch and Rao cannot be so flat: d75 / d25 must be below {LYNCH_RAO_FLATTEST:g}",
    )
    return Q(_lynch_rao_sharpness(np.asarray(ratio))[()])


def _lynch_rao_sharpness(ratio: np.ndarray) -> np.ndarray:
    """By halving on the logarithm of sharpness: the ratio of the quartile sizes only falls as the sharpness grows."""
    low, high = np.full(ratio.shape, math.log(1e-8)), np.full(ratio.shape, math.log(1e8))
    for _ in range(100):
        middle = (low + high) / 2
        sharpness = np.exp(middle)
        flat = _lynch_rao_size(0.75, sharpness) / _lynch_rao_size(0.25, sharpness) > ratio
        low, high = np.where(flat, middle, low), np.where(flat, high, middle)
    return np.exp((low + high) / 2)


@dataclass(frozen=True)
class PartitionFit:
    """A corrected curve of Rosin and Rammler fitted to samples; ``misfit`` is the root mean square error of shares."""

    cut_point: pint.Quantity
    sharpness: float
    bypass: float
    misfit: float


@quantities(sizes="[length]", shares="[]", bypass="[]")
def fit_partition(
    sizes: pint.Quantity, shares: pint.Quantity | np.ndarray, bypass: pint.Quantity | float = 0.0
) -> PartitionFit:
    """Corrected curve of Rosin and Rammler nearest to measured shares, by a straight line of least squares.

    ln(-ln(1 - corrected) / ln(2)) = sharpness * ln(size) - sharpness * ln(cut_point);
    each point weighs by (d corrected / d axis) ** 2, so that all shares are trusted alike

    Parameters
    ----------
    sizes : middle of each size class (um); array of n.
    shares : measured share of each class to the underflow (fraction or percent); array of n. Shares at or below the
        bypass, and shares of 100 %, lie at infinity on these axes and are left out.
    bypass : share that goes to the underflow unclassified: that of the liquid, or of the finest grains (fraction or
        percent).

    Returns
    -------
    A :class:`PartitionFit`; build a :class:`PartitionCurve` from it with the density of the solid.

    Raises
    ------
    CalculationError : a value of the wrong dimension; fewer than two usable sizes; shares that do not rise with size.

    Valid range: one density of solids; look at ``misfit``.
    Source: [Plitt1976] law, from memory; weights by the propagation of errors.

    >>> curve = PartitionCurve(Q(20, "um"), Q(2.6, "SG"), Q(1.0, "SG"), sharpness=2.0, bypass=0.1)
    >>> sizes = Q([5, 10, 20, 40], "um")
    >>> fit = fit_partition(sizes, curve.to_underflow(sizes, Q(2.6, "SG")), bypass=0.1)
    >>> print(f"{fit.cut_point.to('um'):.2f~P}, {fit.sharpness:.3f}")
    20.00 µm, 2.000
    """
    actual, lost = number(shares), number(bypass)
    require(
        np.ndim(sizes.magnitude) == 1 and np.shape(sizes.magnitude) == np.shape(actual),
        "a partition table is two rows of one length: sizes and the share to the underflow of each",
    )
    require_above_zero(sizes=sizes)
    require_share(measured_share=actual, bypass_share=lost)
    require(lost < 1, "where all of the feed bypasses nothing is classified")
    corrected = (actual - lost) / (1 - lost)
    usable = (corrected > 0) & (corrected < 1)
    require(usable.sum() >= 2, "a fit needs at least two sizes with a share between the bypass and 100 %")
    left, logs = 1 - corrected[usable], np.log(sizes.magnitude[usable])
    weight = (left * np.log(left)) ** 2
    weight /= weight.sum()
    heights = np.log(-np.log(left) / math.log(2))
    middle = weight @ logs
    spread = weight @ (logs - middle) ** 2
    require(spread > 0, "a fit needs at least two different sizes")
    slope = float(weight @ ((logs - middle) * heights) / spread)
    if slope <= 0:
        raise CalculationError("the share to the underflow does not rise with size: there is no curve to fit")
    cut_point = Q(math.exp(middle - (weight @ heights) / slope), "m")
    law = _rosin_rammler((sizes / cut_point).magnitude, slope)
    misfit = (1 - lost) * float(np.sqrt(np.mean((law - corrected) ** 2)))
    return PartitionFit(cut_point, slope, float(lost), misfit)
