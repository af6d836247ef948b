"""What trains of machines cost over their life, with what is not known for sure.

``worth_of_yearly_cost``: discounting. ``Train``, ``life_cost``: capital, energy and service. ``break_even_time``,
``compare_trains``: one train against another. ``Uncertain``: a figure known as lowest, likeliest and highest; its draws
are arrays, which every calculation here takes, so that one call works out thousands of cases.

Money is in units of currency (``money``), all of one date: inflation is left out. Nothing here is random but what the
generator given to it draws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pint

from pitside.units import Q, Quantity, quantities, quantity_fields, require, require_not_negative, require_share

#: Yearly discount rates up to this one count as none: their effect over ten thousand years is below the rounding here.
LEAST_RATE = 1e-12


@quantities(returns="[time]", discount_rate="[]", life="[time]")
def worth_of_yearly_cost(discount_rate: pint.Quantity | float, life: pint.Quantity) -> pint.Quantity:
    """Years of a cost paid at each year's end that are worth as much as all of them today.

    worth = (1 - (1 + discount_rate) ** -years) / discount_rate years; the life itself where nothing is discounted

    Parameters
    ----------
    discount_rate : by the year (a fraction or percent); scalar or array.
    life : years; scalar or array.

    Returns
    -------
    Time, s (``.to("year")``): times a cost by the year it is the present worth.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative rate or life.

    Valid range: whole years; between them a smooth passage.
    Source: the usual annuity; 3.1699 for 10 % and 4 years seen in a worked example of engineering economy.

    >>> print(f"{worth_of_yearly_cost(Q(10, 'percent'), Q(4, 'year')).to('year'):.4f~P}")
    3.1699 a
    """
    require_not_negative(life=life, discount_rate=discount_rate)
    rate, years = np.asarray((Q(1.0) * discount_rate).magnitude), life.m_as("year")
    growth = np.log1p(rate)
    discounted = -np.expm1(-growth * years) / np.where(rate > LEAST_RATE, rate, 1.0)
    return Q(np.where(rate > LEAST_RATE, discounted, years)[()], "year")


@dataclass(frozen=True)
class Uncertain:
    """A figure of which the lowest, the likeliest and the highest value are thought known: a triangular distribution.

    Raises :class:`CalculationError` where they do not come in that order, or are no quantities of one dimension.
    """

    low: pint.Quantity
    likely: pint.Quantity
    high: pint.Quantity

    def __post_init__(self) -> None:
        values = (self.low, self.likely, self.high)
        require(
            [isinstance(value, Quantity) and value.is_compatible_with(self.low) for value in values],
            "give the lowest, likeliest and highest value as quantities of one dimension",
        )
        require(self.low <= self.likely <= self.high, "the likeliest value must lie between the lowest and the highest")

    def draw(self, generator: np.random.Generator, number: int) -> pint.Quantity:
        """So many draws of the figure, array in the unit of ``low``."""
        unit = self.low.units
        low, likely, high = (value.m_as(unit) for value in (self.low, self.likely, self.high))
        if low == high:
            return Quantity(np.full(number, low), unit)
        return Quantity(generator.triangular(low, likely, high, number), unit)

    @property
    def mean(self) -> pint.Quantity:
        """Mean of the distribution."""
        return (self.low + self.likely + self.high) / 3


@quantity_fields(capital="[currency]", power="[power]", service="[currency]/[time]", load_factor="[]")
@dataclass(frozen=True)
class Train:
    """Machines that do one duty together. Each figure may be an array, one value a draw.

    ``name``: for tables. ``capital``: what they cost to buy, 0 for hired ones. ``power``: rated, all machines.
    ``service``: wear parts, people, hire (money/day or money/year). ``load_factor``: share of the rated power that is
    drawn while running.

    Raises :class:`CalculationError` for a wrong dimension or a negative figure, a load factor outside 0 to 100 %.
    """

    name: str
    capital: pint.Quantity
    power: pint.Quantity
    service: pint.Quantity
    load_factor: pint.Quantity | float = 1.0

    def __post_init__(self) -> None:
        require_not_negative(capital=self.capital, power=self.power)
        require(self.service.magnitude >= 0, "cost of service must not be negative")
        require_share(load_factor=self.load_factor)


@dataclass(frozen=True)
class LifeCost:
    """Present worth of what a train costs over its life, in units of currency, scalars or arrays."""

    capital: pint.Quantity
    energy: pint.Quantity
    service: pint.Quantity

    @property
    def total(self) -> pint.Quantity:
        """All of it."""
        return self.capital + self.energy + self.service


@quantities(
    returns=("[currency]/[time]", "[currency]/[time]"),
    energy_price="[currency]/[energy]",
    running="[]",
)
def _yearly(
    train: Train, energy_price: pint.Quantity, running: pint.Quantity | float
) -> tuple[pint.Quantity, pint.Quantity]:
    require(energy_price >= Q(0, "money/J"), "price of energy must not be negative")
    require((running >= 0) & (running <= 1), "share of running time must lie between 0 and 100 %")
    return train.power * train.load_factor * running * energy_price, train.service


def life_cost(
    train: Train,
    life: pint.Quantity,
    energy_price: pint.Quantity,
    running: pint.Quantity | float = 1.0,
    discount_rate: pint.Quantity | float = 0.0,
) -> LifeCost:
    """Present worth of capital, energy and service of a train over its life.

    cost = capital + worth * (power * load_factor * running * energy_price + service), worth from
    :func:`worth_of_yearly_cost`

    Parameters
    ----------
    train : the machines.
    life : years; scalar or array.
    energy_price : money/kWh; scalar or array.
    running : share of the time in which the train runs (a fraction or percent); service is paid in all of it; scalar or
        array.
    discount_rate : by the year (a fraction or percent); none by default; scalar or array.

    Returns
    -------
    A :class:`LifeCost`.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative life, price or rate; a running share outside 0 to
        100 %.

    Valid range: nothing left to sell at the end; no tax.
    Source: the definition; figures invented.

    >>> train = Train("cyclones", Q(300_000, "money"), Q(50, "hp"), Q(60, "money/day"), load_factor=0.8)
    >>> cost = life_cost(train, Q(10, "year"), Q(0.20, "money/kWh"), running=0.5)
    >>> [f"{part.m_as('money'):,.0f}" for part in (cost.capital, cost.energy, cost.service, cost.total)]
    ['300,000', '261,472', '219,150', '780,622']
    """
    worth = worth_of_yearly_cost(discount_rate, life)
    energy, service = _yearly(train, energy_price, running)
    return LifeCost(train.capital, (worth * energy).to("money"), (worth * service).to("money"))


def break_even_time(
    train: Train,
    other: Train,
    energy_price: pint.Quantity,
    running: pint.Quantity | float = 1.0,
    discount_rate: pint.Quantity | float = 0.0,
) -> pint.Quantity:
    """Time after which a train that is dearer to buy and cheaper to run has paid for itself against another.

    the worth of years at which (train.capital - other.capital) = worth * (running cost of other - of train)

    Parameters
    ----------
    train, other : the two; arrays work out draw by draw.
    energy_price, running, discount_rate : as :func:`life_cost`.

    Returns
    -------
    Time, s (``.to("year")``); 0 where ``train`` is no dearer to buy, whatever follows; infinite where it never pays.

    Raises
    ------
    CalculationError : as :func:`life_cost`.

    Valid range: as :func:`life_cost`.
    Source: :func:`life_cost` turned round.

    >>> bought = Train("bought", Q(200_000, "money"), Q(50, "hp"), Q(20, "money/day"))
    >>> hired = Train("hired", Q(0, "money"), Q(50, "hp"), Q(300, "money/day"))
    >>> for rate in (0.0, 0.10):
    ...     print(f"{break_even_time(bought, hired, Q(0.20, 'money/kWh'), discount_rate=rate).to('year'):.2f~P}")
    1.96 a
    2.28 a
    """
    worth_of_yearly_cost(discount_rate, Q(1, "year"))
    dearer = (train.capital - other.capital).m_as("money")
    energy, service = _yearly(train, energy_price, running)
    other_energy, other_service = _yearly(other, energy_price, running)
    saved_yearly = np.asarray((other_energy + other_service - energy - service).m_as("money/year"))
    rate = np.asarray((Q(1.0) * discount_rate).m_as(""))
    with np.errstate(divide="ignore", invalid="ignore"):
        years = np.where(saved_yearly > 0, dearer / saved_yearly, np.inf)
        # What is still to be saved after the discounted savings of all years to come is never saved.
        discounted = np.where(rate * years < 1, -np.log1p(-rate * years) / np.log1p(rate), np.inf)
    years = np.where(rate > LEAST_RATE, discounted, years)
    return Q(np.where(dearer <= 0, 0.0, years)[()], "year").to("s")


@dataclass(frozen=True)
class Comparison:
    """One train against another over its life: ``difference``, its cost less the other's, money, one value a draw.

    Below zero, the train is the cheaper one. ``break_even``: from :func:`break_even_time`.
    """

    difference: pint.Quantity
    break_even: pint.Quantity

    @property
    def share_cheaper(self) -> float:
        """Share of the draws in which the train is the cheaper one, 0 to 1."""
        return float(np.mean(self.difference.magnitude < 0))

    def band(self, share: float = 0.9) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity]:
        """The difference that so large a share of the draws lies between, the median in the middle.

        Raises CalculationError where the share is not above 0 or not below 1.
        """
        require(0 < share < 1, "the share must lie above 0 and below 1")
        tail = (1 - share) / 2
        low, median, high = np.quantile(self.difference.m_as("money"), [tail, 0.5, 1 - tail])
        return Q(low, "money"), Q(median, "money"), Q(high, "money")


def compare_trains(
    train: Train,
    other: Train,
    life: pint.Quantity,
    energy_price: pint.Quantity,
    running: pint.Quantity | float = 1.0,
    discount_rate: pint.Quantity | float = 0.0,
) -> Comparison:
    """Cost of one train less that of another over their life, draw by draw.

    difference = total life cost of train - total life cost of other

    Draws that belong to both, such as the price of energy, are given once, so that they do not blur the difference.

    Parameters
    ----------
    train, other : of one duty; figures that are not known for sure as arrays of draws.
    life, energy_price, running, discount_rate : as :func:`life_cost`.

    Returns
    -------
    A :class:`Comparison`.

    Raises
    ------
    CalculationError : as :func:`life_cost`.

    Valid range: as :func:`life_cost`; the machines must do the same work, see :mod:`pitside.separation`.
    Source: :func:`life_cost`; figures invented.

    >>> generator = np.random.default_rng(7)
    >>> draws = 10_000
    >>> service = Uncertain(Q(50, "money/day"), Q(100, "money/day"), Q(200, "money/day"))
    >>> one = Train("one", Q(300_000, "money"), Q(70, "hp"), service.draw(generator, draws))
    >>> power = Uncertain(Q(60, "hp"), Q(80, "hp"), Q(120, "hp")).draw(generator, draws)
    >>> other = Train("other", Q(280_000, "money"), power, Q(120, "money/day"))
    >>> comparison = compare_trains(one, other, Q(5, "year"), Q(0.20, "money/kWh"), running=0.5)
    >>> 0.4 < comparison.share_cheaper < 0.8
    True
    """
    conditions = (life, energy_price, running, discount_rate)
    return Comparison(
        life_cost(train, *conditions).total - life_cost(other, *conditions).total,
        break_even_time(train, other, energy_price, running, discount_rate),
    )
