"""Streams of mud with their solids by kind and size class, and networks of separators that take them apart.

``Solid``, ``Stream``: what flows. ``separate``, ``mix``, ``split``: one step. ``liquid_share_for``: how much liquid
goes with solids that leave at a known concentration. ``Separator``, ``Mixer``, ``Splitter``, ``Network``, ``Solution``:
any arrangement of them, in series, in parallel and with recycle. ``two_stage_recovery``: barite recovery by two
machines. ``recovery``: the share of one solid that a curve sends to the underflow, for one curve or thousands of them.

A separator is a curve: anything with ``to_underflow(sizes, solid_density)``, such as
:class:`pitside.partition.PartitionCurve` or :class:`pitside.centrifuges.BowlCurve`. The share that it sends to the
underflow does not depend on what else is in its feed, so that a network is a set of linear equations for each solid and
size class, and for the liquid. That is its limit: no cone ropes here, no pond fills, no curve shifts with the load.

Volumes add. Every balance closes by kind and by size class to rounding, or an error says where it does not.

Draws for Monte Carlo go along leading axes: rates of solids are (draws, kinds, classes), rates of liquid (draws,). A
curve gives such shares if its numbers are given as ``Q(draws, "um")[:, None, None]``.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
import pint

from pitside.errors import CalculationError
from pitside.particles import SizeDistribution, class_edges
from pitside.units import Q, Quantity, number, quantities, quantity_fields, require, ureg

#: How far a network's balance of a solid, a size class or the liquid may miss, relative to its feed.
CLOSURE = 1e-9


#: The units of what is computed here, read once: reading them is most of the time that a small network takes.
_METRE, _DENSITY, _FLOW, _NUMBER = ureg.Unit("m"), ureg.Unit("kg/m**3"), ureg.Unit("m**3/s"), ureg.dimensionless


class Curve(Protocol):
    """Anything that says which share of the grains of each size and density goes to the underflow."""

    def to_underflow(self, sizes: pint.Quantity, solid_density: pint.Quantity) -> pint.Quantity:
        """Share, 0 to 1; ``sizes`` is a row and ``solid_density`` a column."""
        ...


@quantity_fields(density="[density]")
@dataclass(frozen=True)
class Solid:
    """A kind of solids: its name as pages print it, and its density (SG or kg/m3), kept in kg/m3.

    >>> Solid("barite", Q(4.2, "SG")).density.to("SG")
    <Quantity(4.2, 'specific_gravity')>
    """

    name: str
    density: pint.Quantity

    def __post_init__(self) -> None:
        require(np.ndim(self.density.magnitude) == 0, "a solid has one density")
        require(self.density.magnitude > 0, "density of a solid must be above zero")


@quantity_fields(
    liquid_rate="[volumetric_flow_rate]",
    liquid_density="[density]",
    edges=class_edges,
    solids=tuple,
    rates="[volumetric_flow_rate]",
)
@dataclass(frozen=True, eq=False)
class Stream:
    """A flow of liquid with solids, by kind and size class.

    ``liquid_rate`` (gal/min or m3/h), ``liquid_density`` (SG or kg/m3): of the liquid alone; scalar, or an array of
    draws. ``edges``: of the size classes that all kinds share; n + 1. ``solids``: the kinds. ``rates``: volume rate of
    the grains of each kind and class; array of (kinds, classes), or (draws, kinds, classes). Kept in SI units.

    Raises :class:`CalculationError` where a rate is negative or a shape does not fit.

    >>> from pitside.particles import typical_barite, typical_drilled_fines
    >>> barite, drilled = Solid("barite", Q(4.2, "SG")), Solid("drilled solids", Q(2.6, "SG"))
    >>> mud = Stream.of_mud(
    ...     Q(250, "gal/min"),
    ...     Q(1.0, "SG"),
    ...     {barite: (Q(15, "percent"), typical_barite()), drilled: (Q(6, "percent"), typical_drilled_fines())},
    ... )
    >>> print(f"{mud.density.to('lb/gal'):.2f~P}, {mud.solids_fraction.to('percent'):.0f~P} solids")
    13.15 lb/gal, 21 % solids
    """

    liquid_rate: pint.Quantity
    liquid_density: pint.Quantity
    edges: pint.Quantity
    solids: tuple[Solid, ...]
    rates: pint.Quantity

    def __post_init__(self) -> None:
        require(self.liquid_rate.magnitude >= 0, "rate of liquid must not be negative")
        require(self.liquid_density.magnitude > 0, "density of the liquid must be above zero")
        require(self.rates.magnitude >= 0, "rates of solids must not be negative")
        shape, table = np.shape(self.rates.magnitude), (len(self.solids), self.edges.size - 1)
        require(
            shape[-2:] == table,
            f"rates of {table[0]} kinds in {table[1]} size classes must end in that shape, not {shape}",
        )
        require(len(set(self.solids)) == len(self.solids), "each kind of solids must be named once")
        _draws(shape[:-2], np.shape(self.liquid_rate.magnitude), np.shape(self.liquid_density.magnitude))

    @classmethod
    @quantities(rate="[volumetric_flow_rate]")
    def of_mud(
        cls,
        rate: pint.Quantity,
        liquid_density: pint.Quantity,
        solids: Mapping[Solid, tuple[pint.Quantity | float, SizeDistribution]],
    ) -> Stream:
        """A flow of mud from its volume fractions: each kind of solids with its fraction and its size distribution.

        ``rate``: of the whole mud (gal/min or m3/h). Fractions are of the whole mud (percent or fraction), from a
        retort. Raises CalculationError where they add up to more than the mud, or the size classes differ.
        """
        require(len(solids) > 0, "name at least one kind of solids, or use Stream.of_liquid")
        require(np.ndim(rate.magnitude) == 0 and rate.magnitude >= 0, "rate of the mud must be one rate, not negative")
        fractions = np.array([float(number(fraction)) for fraction, _ in solids.values()])
        require(fractions >= 0, "volume fractions of solids must not be negative")
        require(fractions.sum() <= 1, "the solids are more than the whole mud: give fractions or percent")
        distributions = [distribution for _, distribution in solids.values()]
        edges = _common_edges(*(distribution.edges for distribution in distributions))
        shares = np.array([distribution.fractions for distribution in distributions])
        rates = rate * fractions[:, None] * shares
        return cls(rate * (1 - fractions.sum()), liquid_density, edges, tuple(solids), rates)

    @classmethod
    def of_liquid(cls, rate: pint.Quantity, density: pint.Quantity, like: Stream) -> Stream:
        """A flow of clear liquid, such as dilution water, with the size classes and kinds of another stream."""
        return cls(rate, density, like.edges, like.solids, Q(np.zeros(like.rates.shape[-2:]), "m**3/s"))

    @property
    def sizes(self) -> pint.Quantity:
        """Size that stands for each class, the geometric mean of its edges, m."""
        edges = self.edges.magnitude
        return Quantity(np.sqrt(edges[1:] * edges[:-1]), _METRE)

    @property
    def total_rate(self) -> pint.Quantity:
        """Volume rate of liquid and solids, m3/s."""
        return self.liquid_rate + self.rates.sum(axis=(-2, -1))

    @property
    def mass_rate(self) -> pint.Quantity:
        """Mass rate of liquid and solids, kg/s."""
        return self.liquid_rate * self.liquid_density + self.solids_mass_rate

    @property
    def solids_mass_rate(self) -> pint.Quantity:
        """Mass rate of all solids, kg/s."""
        densities = np.array([kind.density.magnitude for kind in self.solids])
        return Q(self.rates.magnitude.sum(axis=-1) @ densities, "kg/s")

    @property
    def density(self) -> pint.Quantity:
        """Density of the whole, that is its mud weight, kg/m3. Raises CalculationError where nothing flows."""
        return self.mass_rate / self._flowing()

    @property
    def solids_fraction(self) -> pint.Quantity:
        """Volume fraction of all solids. Raises CalculationError where nothing flows."""
        return self.rates.sum(axis=(-2, -1)) / self._flowing()

    def rate_of(self, kind: Solid) -> pint.Quantity:
        """Volume rate of the grains of one kind, m3/s."""
        return self.rates[..., self._place(kind), :].sum(axis=-1)

    def mass_rate_of(self, kind: Solid) -> pint.Quantity:
        """Mass rate of one kind, kg/s."""
        return self.rate_of(kind) * kind.density

    def fraction_of(self, kind: Solid) -> pint.Quantity:
        """Volume fraction of one kind in the whole. Raises CalculationError where nothing flows."""
        return self.rate_of(kind) / self._flowing()

    def distribution_of(self, kind: Solid) -> SizeDistribution:
        """Size distribution of one kind. Raises CalculationError where none of it flows, or in a stream of draws."""
        rates = self.rates.magnitude[..., self._place(kind), :]
        require(rates.ndim == 1, "a stream of draws has many size distributions: take one draw")
        require(rates.sum() > 0, f"no {kind.name} flows here, so it has no size distribution")
        return SizeDistribution(self.edges, rates / rates.sum())

    def _place(self, kind: Solid) -> int:
        if kind not in self.solids:
            known = ", ".join(known.name for known in self.solids) or "none"
            raise CalculationError(f"there is no {kind.name} of this density in this stream; its solids: {known}")
        return self.solids.index(kind)

    def _flowing(self) -> pint.Quantity:
        total = self.total_rate
        require(total.magnitude > 0, "nothing flows in this stream, so it has neither density nor concentration")
        return total


def _draws(*shapes: tuple[int, ...]) -> tuple[int, ...]:
    try:
        return np.broadcast_shapes(*shapes)
    except ValueError as error:
        counted = ", ".join(str(shape) for shape in dict.fromkeys(shapes) if shape)
        raise CalculationError(f"these were drawn different numbers of times: {counted}") from error


def _common_edges(*edges: pint.Quantity) -> pint.Quantity:
    for other in edges[1:]:
        same = other is edges[0] or np.array_equal(other.magnitude, edges[0].magnitude)
        require(same, "all solids and streams must share one set of size classes: rebin the size distributions first")
    return edges[0]


def _share(value: pint.Quantity | np.ndarray | float, what: str) -> np.ndarray:
    share = np.asarray(number(value), dtype=float)
    require((share >= 0) & (share <= 1), f"{what} must lie between 0 and 100 %")
    return share


def _densities(solids: tuple[Solid, ...]) -> pint.Quantity:
    return Quantity(np.array([kind.density.magnitude for kind in solids]).reshape(-1, 1), _DENSITY)


def _partition(curve: Curve, sizes: pint.Quantity, densities: pint.Quantity) -> np.ndarray:
    """Share to the underflow by kind and class, as plain numbers; the curve is asked once for all kinds."""
    table = (densities.size, sizes.size)
    if densities.size == 0:
        return np.zeros(table)
    try:
        shares = np.asarray(number(curve.to_underflow(sizes, densities)), dtype=float)
        shares = np.broadcast_to(shares, np.broadcast_shapes(shares.shape, table))
    except CalculationError:
        raise
    except ValueError as error:
        raise CalculationError(
            "the numbers of a curve do not fit kinds by size classes: give draws as Q(draws, unit)[:, None, None]"
        ) from error
    require((shares >= 0) & (shares <= 1), "a curve must send a share between 0 and 100 % to the underflow")
    return shares


class Separation(NamedTuple):
    """The two streams out of a separator."""

    underflow: Stream
    overflow: Stream


def separate(feed: Stream, curve: Curve, liquid_to_underflow: pint.Quantity | float) -> Separation:
    """The two streams that a separator makes of a feed.

    underflow = rate * share, overflow = rate * (1 - share), for each kind and size class and for the liquid

    Parameters
    ----------
    feed : stream.
    curve : which share of each size and density goes to the underflow.
    liquid_to_underflow : share of the feed's liquid that goes there with the solids (fraction or percent); the same
        number is mostly the bypass of the curve; scalar, or an array of draws.

    Returns
    -------
    A :class:`Separation`: underflow and overflow.

    Raises
    ------
    CalculationError : a share outside 0 to 100 %; what the curve refuses.

    Valid range: any; the class of each grain is taken at the geometric mean of its edges.
    Source: volume balance.

    >>> from pitside.particles import typical_barite
    >>> from pitside.partition import PartitionCurve
    >>> barite = Solid("barite", Q(4.2, "SG"))
    >>> mud = Stream.of_mud(Q(250, "gal/min"), Q(1.0, "SG"), {barite: (Q(15, "percent"), typical_barite())})
    >>> curve = PartitionCurve(Q(8, "um"), Q(4.2, "SG"), Q(1.0, "SG"), sharpness=2.5, bypass=0.15)
    >>> under, over = separate(mud, curve, liquid_to_underflow=0.15)
    >>> print(f"{under.density.to('lb/gal'):.1f~P} and {over.density.to('lb/gal'):.1f~P}")
    21.3 lb/gal and 9.4 lb/gal
    """
    shares = _partition(curve, feed.sizes, _densities(feed.solids))
    liquid = _share(liquid_to_underflow, "share of the liquid to the underflow")
    return Separation(_part(feed, liquid, shares), _part(feed, 1 - liquid, 1 - shares))


def _part(feed: Stream, liquid_share: np.ndarray, shares: np.ndarray) -> Stream:
    rates = Quantity(feed.rates.magnitude * shares, _FLOW)
    liquid = Quantity((feed.liquid_rate.magnitude * liquid_share)[()], _FLOW)
    return Stream(liquid, feed.liquid_density, feed.edges, feed.solids, rates)


def liquid_share_for(feed: Stream, curve: Curve, underflow_solids: pint.Quantity | float) -> pint.Quantity:
    """Share of the feed's liquid that leaves with the underflow so that it has a known concentration of solids.

    share = solids to underflow * (1 - underflow_solids) / underflow_solids / liquid of the feed

    Parameters
    ----------
    feed, curve : as :func:`separate`.
    underflow_solids : volume fraction of solids in the underflow (percent or fraction), such as 35 % of a desilter or
        55 to 63 % of a centrifuge ([ASME2005], seen); scalar, or an array of draws.

    Returns
    -------
    Share of the liquid, to be given to :func:`separate`.

    Raises
    ------
    CalculationError : a concentration outside 0 to 100 %; more liquid than the feed has.

    Valid range: 0 < underflow_solids < 1.
    Source: volume balance.

    >>> from pitside.particles import typical_barite
    >>> from pitside.partition import PartitionCurve
    >>> barite = Solid("barite", Q(4.2, "SG"))
    >>> mud = Stream.of_mud(Q(250, "gal/min"), Q(1.0, "SG"), {barite: (Q(15, "percent"), typical_barite())})
    >>> curve = PartitionCurve(Q(8, "um"), Q(4.2, "SG"), Q(1.0, "SG"), sharpness=2.5)
    >>> share = liquid_share_for(mud, curve, Q(55, "percent"))
    >>> print(f"{separate(mud, curve, share).underflow.solids_fraction.to('percent'):.1f~P}")
    55.0 %
    """
    wanted = _share(underflow_solids, "solids of the underflow")
    require((wanted > 0) & (wanted < 1), "solids of the underflow must lie between 0 and 100 %")
    settled = (feed.rates.magnitude * _partition(curve, feed.sizes, _densities(feed.solids))).sum(axis=(-2, -1))
    liquid = feed.liquid_rate.magnitude
    require(liquid > 0, "the feed has no liquid to go with its solids")
    share = settled * (1 - wanted) / wanted / liquid
    require(
        share <= 1,
        "the feed has too little liquid to carry these solids at this concentration: dilute it, or take a denser "
        "underflow",
    )
    return Q(share)


def mix(*streams: Stream) -> Stream:
    """Several streams run together; kinds of solids of one name and density are taken together.

    Raises CalculationError for no stream, or streams of different size classes.

    >>> from pitside.particles import typical_barite
    >>> barite = Solid("barite", Q(4.2, "SG"))
    >>> mud = Stream.of_mud(Q(100, "gal/min"), Q(1.0, "SG"), {barite: (Q(15, "percent"), typical_barite())})
    >>> thinned = mix(mud, Stream.of_liquid(Q(50, "gal/min"), Q(1.0, "SG"), like=mud))
    >>> print(f"{thinned.fraction_of(barite).to('percent'):.0f~P} of {thinned.total_rate.to('gal/min'):.0f~P}")
    10 % of 150 gal/min
    """
    require(len(streams) > 0, "name at least one stream to mix")
    solids, edges = _all_solids(streams), _common_edges(*(each.edges for each in streams))
    total = sum((_species(each, solids) for each in streams[1:]), _species(streams[0], solids))
    return _stream(total, solids, edges)


def split(feed: Stream, *shares: float) -> tuple[Stream, ...]:
    """A stream divided into parts of one composition; the shares (fractions) must add up to 1.

    Raises CalculationError where they do not.

    >>> from pitside.particles import typical_barite
    >>> barite = Solid("barite", Q(4.2, "SG"))
    >>> mud = Stream.of_mud(Q(100, "gal/min"), Q(1.0, "SG"), {barite: (Q(15, "percent"), typical_barite())})
    >>> [f"{part.total_rate.to('gal/min'):.0f~P}" for part in split(mud, 0.25, 0.75)]
    ['25 gal/min', '75 gal/min']
    """
    checked = _shares_of_one(shares, "shares")
    return tuple(_part(feed, np.asarray(share), np.asarray(share)) for share in checked)


def _shares_of_one(shares: Sequence[float], where: str) -> np.ndarray:
    checked = np.array([_share(share, f"{where}: a share") for share in shares])
    require(len(checked) > 0 and abs(checked.sum() - 1) <= 1e-9, f"{where}: the shares must add up to 100 %")
    return checked / checked.sum()


def _all_solids(streams: Sequence[Stream]) -> tuple[Solid, ...]:
    return tuple(dict.fromkeys(kind for each in streams for kind in each.solids))


def _species(each: Stream, solids: tuple[Solid, ...]) -> np.ndarray:
    """A stream as one row of plain SI numbers: liquid by volume, liquid by mass, then each kind and class by volume."""
    if each.solids == solids:
        rates = each.rates.magnitude
    else:
        rates = np.zeros((*each.rates.shape[:-2], len(solids), each.rates.shape[-1]))
        for kind in each.solids:
            rates[..., solids.index(kind), :] = each.rates.magnitude[..., each.solids.index(kind), :]
    volume = np.asarray(each.liquid_rate.magnitude, dtype=float)
    mass = volume * each.liquid_density.magnitude
    draws = np.broadcast_shapes(mass.shape, rates.shape[:-2])
    row = np.empty((*draws, 2 + rates.shape[-2] * rates.shape[-1]))
    row[..., 0], row[..., 1] = volume, mass
    row[..., 2:] = rates.reshape(*rates.shape[:-2], rates.shape[-2] * rates.shape[-1])
    return row


def _stream(row: np.ndarray, solids: tuple[Solid, ...], edges: pint.Quantity) -> Stream:
    """The stream of a row of numbers. Where no liquid flows its density is that of water, which nothing depends on."""
    volume, mass = row[..., 0], row[..., 1]
    density = np.divide(mass, volume, out=np.full(volume.shape, 1000.0), where=volume > 0)
    rates = row[..., 2:].reshape(*row.shape[:-1], len(solids), edges.size - 1)
    return Stream(Quantity(volume[()], _FLOW), Quantity(density[()], _DENSITY), edges, solids, Quantity(rates, _FLOW))


@dataclass(frozen=True, eq=False)
class Separator:
    """A machine in a network: takes the line ``feed`` and makes the lines ``underflow`` and ``overflow``.

    ``curve``, ``liquid_to_underflow``: as :func:`separate`.
    """

    name: str
    feed: str
    underflow: str
    overflow: str
    curve: Curve
    liquid_to_underflow: pint.Quantity | float


@dataclass(frozen=True, eq=False)
class Mixer:
    """A place in a network where the lines ``feeds`` run together into the line ``product``."""

    name: str
    feeds: Sequence[str]
    product: str


@dataclass(frozen=True, eq=False)
class Splitter:
    """A place in a network where the line ``feed`` divides into ``products``, each with its share (adding up to 1)."""

    name: str
    feed: str
    products: Mapping[str, float]


Unit = Separator | Mixer | Splitter


def _inlets(unit: Unit) -> tuple[str, ...]:
    return tuple(unit.feeds) if isinstance(unit, Mixer) else (unit.feed,)


def _outlets(unit: Unit) -> tuple[str, ...]:
    if isinstance(unit, Separator):
        return unit.underflow, unit.overflow
    return (unit.product,) if isinstance(unit, Mixer) else tuple(unit.products)


@quantity_fields(feeds=dict, units=tuple)
@dataclass(frozen=True, eq=False)
class Network:
    """Separators, mixers and splitters joined by named lines, in series, in parallel and with recycle.

    ``feeds``: the streams that come in, by the name of their line. ``units``: in any order. A line that no unit takes
    in is a product and leaves the network. A line goes to one unit only; to divide it, put a :class:`Splitter`.

    Raises :class:`CalculationError` where the network is open or cannot be: a line that nothing makes, or that two make
    or take in; a feed that no unit takes in; units that no feed reaches, or from which nothing leaves.

    >>> from pitside.particles import typical_barite, typical_drilled_fines
    >>> from pitside.partition import PartitionCurve
    >>> barite, drilled = Solid("barite", Q(4.2, "SG")), Solid("drilled solids", Q(2.6, "SG"))
    >>> grinds = {barite: (0.15, typical_barite()), drilled: (0.06, typical_drilled_fines())}
    >>> mud = Stream.of_mud(Q(250, "gal/min"), Q(1.0, "SG"), grinds)
    >>> curve = PartitionCurve(Q(8, "um"), Q(4.2, "SG"), Q(1.0, "SG"), sharpness=2.5, bypass=0.15)
    >>> network = Network(
    ...     {"mud": mud},
    ...     [
    ...         Mixer("suction", ["mud", "second overflow"], "feed"),
    ...         Separator("first", "feed", "first underflow", "clean", curve, 0.15),
    ...         Separator("second", "first underflow", "heavy", "second overflow", curve, 0.15),
    ...     ],
    ... )
    >>> found = network.solve()
    >>> for kind in (barite, drilled):
    ...     print(f"{kind.name}: {found.recovery(kind, 'heavy').to('percent'):.0f~P} in the heavy stream")
    barite: 75 % in the heavy stream
    drilled solids: 68 % in the heavy stream
    """

    feeds: Mapping[str, Stream]
    units: Sequence[Unit]

    def __post_init__(self) -> None:
        require(len(self.feeds) > 0, "a network needs a feed")
        require(len(self.units) > 0, "a network needs at least one unit")
        _common_edges(*(feed.edges for feed in self.feeds.values()))
        self._check_lines()
        self._check_ways()
        for unit in self.units:
            if isinstance(unit, Splitter):
                _shares_of_one(list(unit.products.values()), f'splitter "{unit.name}"')
            elif isinstance(unit, Separator):
                _share(unit.liquid_to_underflow, f'separator "{unit.name}": share of the liquid to the underflow')

    @property
    def products(self) -> tuple[str, ...]:
        """Lines that leave the network."""
        taken = {line for unit in self.units for line in _inlets(unit)}
        return tuple(line for unit in self.units for line in _outlets(unit) if line not in taken)

    def _check_lines(self) -> None:
        names = [unit.name for unit in self.units]
        for name in names:
            require(names.count(name) == 1, f'two units are called "{name}"')
        made = [*self.feeds, *(line for unit in self.units for line in _outlets(unit))]
        for line in made:
            require(made.count(line) == 1, f'line "{line}" is made twice: give each stream a name of its own')
        taken = [line for unit in self.units for line in _inlets(unit)]
        for unit in self.units:
            require(len(_inlets(unit)) > 0, f'"{unit.name}" takes in nothing')
            require(len(_outlets(unit)) > 0, f'"{unit.name}" makes nothing')
            for line in _inlets(unit):
                if line not in made:
                    near = difflib.get_close_matches(line, made, n=1)
                    hint = f' Did you mean "{near[0]}"?' if near else ""
                    raise CalculationError(f'"{unit.name}" takes in "{line}", which nothing makes.{hint}')
                require(taken.count(line) == 1, f'line "{line}" goes to two places: put a splitter there')
        for line in self.feeds:
            require(line in taken, f'feed "{line}" goes to no unit')

    def _check_ways(self) -> None:
        takers = self._takers()
        onward = [[takers[line] for line in _outlets(unit) if line in takers] for unit in self.units]
        fed = _reached({takers[line] for line in self.feeds}, onward)
        for place, unit in enumerate(self.units):
            require(place in fed, f'no feed reaches "{unit.name}"')
        back = [[i for i, outs in enumerate(onward) if j in outs] for j in range(len(self.units))]
        leaving = {i for i, unit in enumerate(self.units) if any(line not in takers for line in _outlets(unit))}
        draining = _reached(leaving, back)
        stuck = ", ".join(f'"{unit.name}"' for i, unit in enumerate(self.units) if i not in draining)
        require(not stuck, f"what goes into {stuck} never leaves the network: let one of their lines out")

    def _takers(self) -> dict[str, int]:
        return {line: place for place, unit in enumerate(self.units) for line in _inlets(unit)}

    def solve(self) -> Solution:
        """The stream in every line.

        Each unit's throughput x solves x = feed + sum(share of unit i that goes to this unit * x_i), one set of linear
        equations for each kind and size class, and for the liquid by volume and by mass.

        Raises CalculationError where some solids go round a loop without leaving it, or a balance does not close to
        1e-9 of its feed.
        """
        solids = _all_solids(list(self.feeds.values()))
        edges = next(iter(self.feeds.values())).edges
        sizes = next(iter(self.feeds.values())).sizes
        species = 2 + len(solids) * sizes.size
        takers = self._takers()
        densities = _densities(solids)
        shares = [_unit_shares(unit, sizes, densities) for unit in self.units]
        rows = {line: _species(feed, solids) for line, feed in self.feeds.items()}
        leading = [row.shape[:-1] for row in rows.values()]
        leading += [share.shape[:-1] for unit in shares for share in unit.values()]
        draws = _draws(*leading)

        passed_on = np.zeros((*draws, species, len(self.units), len(self.units)))
        for giver, unit in enumerate(shares):
            for line, share in unit.items():
                if line in takers:
                    passed_on[..., takers[line], giver] += share
        fed = np.zeros((*draws, species, len(self.units)))
        for line, row in rows.items():
            fed[..., takers[line]] += row

        throughput = _throughput(passed_on, fed)
        lines = {line: np.broadcast_to(row, (*draws, species)) for line, row in rows.items()}
        for place, unit in enumerate(shares):
            for line, share in unit.items():
                lines[line] = throughput[..., place] * share
        return _closed(Solution(self, solids, edges, lines))


def _unit_shares(unit: Unit, sizes: pint.Quantity, densities: pint.Quantity) -> dict[str, np.ndarray]:
    """Share of a unit's throughput that goes to each of its outlets, by species."""
    species = 2 + densities.size * sizes.size
    if isinstance(unit, Mixer):
        return {unit.product: np.ones(species)}
    if isinstance(unit, Splitter):
        shares = _shares_of_one(list(unit.products.values()), f'splitter "{unit.name}"')
        return {line: np.full(species, share) for line, share in zip(unit.products, shares, strict=True)}
    grains = _partition(unit.curve, sizes, densities)
    liquid = _share(unit.liquid_to_underflow, "share of the liquid to the underflow")
    draws = _draws(liquid.shape, grains.shape[:-2])
    down = np.empty((*draws, species))
    down[..., :2] = liquid[..., None]
    down[..., 2:] = grains.reshape(*grains.shape[:-2], species - 2)
    return {unit.underflow: down, unit.overflow: 1 - down}


def _reached(start: set[int], onward: list[list[int]]) -> set[int]:
    reached, waiting = set(start), list(start)
    while waiting:
        for following in onward[waiting.pop()]:
            if following not in reached:
                reached.add(following)
                waiting.append(following)
    return reached


def _throughput(passed_on: np.ndarray, fed: np.ndarray) -> np.ndarray:
    """Throughput of each unit, by species: the solution of (1 - passed_on) x = fed.

    A species whose own equations are singular is solved on the units that it gets to at all; where that fails too it
    comes back as not a number, and the balance says so.
    """
    units = fed.shape[-1]
    equations = np.eye(units) - passed_on
    equations[~np.any(fed > 0, axis=-1)] = np.eye(units)
    try:
        return np.linalg.solve(equations, fed[..., None])[..., 0]
    except np.linalg.LinAlgError:
        throughput = np.empty_like(fed)
        for index in np.ndindex(fed.shape[:-1]):
            throughput[index] = _throughput_of_one(passed_on[index], fed[index])
        return throughput


def _throughput_of_one(passed_on: np.ndarray, fed: np.ndarray) -> np.ndarray:
    onward = [np.flatnonzero(passed_on[:, giver]).tolist() for giver in range(len(fed))]
    reached = sorted(_reached(set(np.flatnonzero(fed).tolist()), onward))
    throughput = np.zeros_like(fed)
    equations = np.eye(len(reached)) - passed_on[np.ix_(reached, reached)]
    try:
        throughput[reached] = np.linalg.solve(equations, fed[reached])
    except np.linalg.LinAlgError:
        throughput[reached] = np.nan
    return throughput


@dataclass(frozen=True, eq=False)
class Solution:
    """The streams of a solved network; ``solution["overflow"]`` is the stream of a line."""

    network: Network
    solids: tuple[Solid, ...]
    edges: pint.Quantity
    rows: Mapping[str, np.ndarray]

    def __getitem__(self, line: str) -> Stream:
        """The stream of a line. Raises CalculationError for a line that is not there."""
        return _stream(self._row(line), self.solids, self.edges)

    @property
    def products(self) -> tuple[str, ...]:
        """Lines that leave the network."""
        return self.network.products

    def recovery(self, kind: Solid, *lines: str) -> pint.Quantity:
        """Share of all the network is fed of one kind of solids that flows in the given lines: 0 to 1 for products.

        Raises CalculationError for a line or a kind that is not there, or a kind that is not fed.
        """
        require(len(lines) > 0, "name the lines in which the solids are to be counted")
        found = sum(self._rate(kind, line) for line in lines)
        fed = sum(self._rate(kind, line) for line in self.network.feeds)
        require(np.asarray(fed) > 0, f"no {kind.name} is fed to this network")
        return Q(found / fed)

    def rejection(self, kind: Solid, *lines: str) -> pint.Quantity:
        """Share of all the network is fed of one kind that does not flow in the given lines: 1 - recovery."""
        return 1 - self.recovery(kind, *lines)

    @property
    def imbalance(self) -> np.ndarray:
        """What the products miss of the feeds, relative to the feeds: liquid by volume, by mass, each kind and class.

        Plain numbers; 0 where nothing was fed.
        """
        fed = sum(self.rows[line] for line in self.network.feeds)
        out = sum(self.rows[line] for line in self.products)
        return np.divide(abs(out - fed), fed, out=np.zeros(np.shape(fed)), where=np.asarray(fed) > 0)

    def _row(self, line: str) -> np.ndarray:
        if line not in self.rows:
            near = difflib.get_close_matches(line, list(self.rows), n=1)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            raise CalculationError(f'there is no line "{line}" in this network.{hint}')
        return self.rows[line]

    def _rate(self, kind: Solid, line: str) -> np.ndarray:
        if kind not in self.solids:
            raise CalculationError(f"no {kind.name} of this density is fed to this network")
        classes = self.edges.size - 1
        start = 2 + self.solids.index(kind) * classes
        return self._row(line)[..., start : start + classes].sum(axis=-1)


def _closed(solution: Solution) -> Solution:
    imbalance = solution.imbalance
    worst = np.nan_to_num(imbalance, nan=np.inf).reshape(-1, imbalance.shape[-1]).max(axis=0)
    place = int(np.argmax(worst))
    if worst[place] > CLOSURE:
        raise CalculationError(
            f"{_spoken(solution, place)} goes round and round in this network and does not come out: some loop passes "
            "on all of it; let part of a line out, or move a cut point"
        )
    return solution


def _spoken(solution: Solution, place: int) -> str:
    if place < 2:
        return "the liquid"
    kind, size_class = divmod(place - 2, solution.edges.size - 1)
    lower, upper = solution.edges.m_as("um")[size_class : size_class + 2]
    return f"{solution.solids[kind].name} of {lower:.3g} to {upper:.3g} um"


def two_stage_recovery(
    mud: Stream,
    first: Curve,
    second: Curve,
    liquid_first: pint.Quantity | float,
    liquid_second: pint.Quantity | float,
    dilution: Stream | None = None,
) -> Solution:
    """Two-stage barite recovery: the first machine's underflow and the second's overflow go back to the mud.

    The first machine, at low g or a coarse cut, takes the mud with its dilution liquid; its underflow is the line
    "recovered". The second, at high g or a fine cut, takes the overflow of the first ("first overflow"), discards its
    underflow ("discarded") and returns its overflow ("liquid"). Dilution liquid comes in by "dilution".

    Parameters
    ----------
    mud : stream of the mud.
    first, second : curves of the two machines.
    liquid_first, liquid_second : share of the liquid of its feed that each sends to its underflow.
    dilution : liquid that thins the feed of the first machine; none by default (see :meth:`Stream.of_liquid`).

    Returns
    -------
    A :class:`Solution`; barite recovery is ``solution.recovery(barite, "recovered", "liquid")``, low-gravity rejection
    ``solution.recovery(drilled, "discarded")``.

    Raises
    ------
    CalculationError : as :class:`Network`.

    Valid range: as :class:`Network`; see :func:`pitside.centrifuges.two_stage` on what it does not do.
    Source: volume balance.

    >>> from pitside.particles import typical_barite, typical_drilled_fines
    >>> from pitside.partition import PartitionCurve
    >>> barite, drilled = Solid("barite", Q(4.2, "SG")), Solid("drilled solids", Q(2.6, "SG"))
    >>> grinds = {barite: (0.15, typical_barite()), drilled: (0.06, typical_drilled_fines())}
    >>> mud = Stream.of_mud(Q(50, "gal/min"), Q(1.0, "SG"), grinds)
    >>> coarse, fine = (
    ...     PartitionCurve(Q(cut, "um"), Q(2.6, "SG"), Q(1.0, "SG"), sharpness=2.0, bypass=0.05) for cut in (10, 3)
    ... )
    >>> found = two_stage_recovery(mud, coarse, fine, 0.08, 0.08)
    >>> print(f"barite kept {found.recovery(barite, 'recovered', 'liquid').to('percent'):.1f~P}")
    barite kept 84.3 %
    >>> print(f"drilled solids discarded {found.recovery(drilled, 'discarded').to('percent'):.1f~P}")
    drilled solids discarded 22.5 %
    """
    feeds, units, entry = {"mud": mud}, [], "mud"
    if dilution is not None:
        feeds["dilution"], entry = dilution, "diluted mud"
        units.append(Mixer("dilution", ["mud", "dilution"], entry))
    stages: list[Unit] = [
        *units,
        Separator("first machine", entry, "recovered", "first overflow", first, liquid_first),
        Separator("second machine", "first overflow", "discarded", "liquid", second, liquid_second),
    ]
    return Network(feeds, stages).solve()


def recovery(distribution: SizeDistribution, solid_density: pint.Quantity, curve: Curve) -> pint.Quantity:
    """Share of a solid that a curve sends to the underflow: its size distribution times the curve, added up.

    recovery = sum(fraction of class i * share of class i)

    Parameters
    ----------
    distribution : of the solid.
    solid_density : its density (SG or kg/m3); scalar.
    curve : a curve, or one whose numbers are columns of draws (``Q(draws, "um")[:, None]``).

    Returns
    -------
    Share by volume, which is that by mass; scalar, or an array of as many draws.

    Raises
    ------
    CalculationError : what the curve refuses.

    Valid range: as :func:`separate`.
    Source: volume balance.

    >>> from pitside.particles import typical_barite
    >>> from pitside.partition import PartitionCurve
    >>> cut_points = Q([4.0, 8.0, 16.0], "um")[:, None]
    >>> curve = PartitionCurve(cut_points, Q(4.2, "SG"), Q(1.0, "SG"), sharpness=2.5)
    >>> [f"{share:.0f}" for share in recovery(typical_barite(), Q(4.2, "SG"), curve).m_as("percent")]
    ['89', '76', '55']
    """
    shares = np.asarray(number(curve.to_underflow(distribution.centres, solid_density)), dtype=float)
    return Q((shares @ distribution.fractions)[()])
