"""Streams and networks: balances by kind and size class over random feeds and networks, limits, draws, what is refused.

The networks are solved a second way here, by sending the feeds round line by line until nothing more changes.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pitside.centrifuges import Bowl, BowlCurve, two_stage
from pitside.errors import CalculationError
from pitside.particles import SizeDistribution, log_edges, lognormal, typical_barite, typical_drilled_fines
from pitside.partition import CurveForm, PartitionCurve
from pitside.separation import (
    CLOSURE,
    Mixer,
    Network,
    Separator,
    Solid,
    Splitter,
    Stream,
    liquid_share_for,
    mix,
    recovery,
    separate,
    split,
    two_stage_recovery,
)
from pitside.units import Q

BARITE, DRILLED, HEMATITE = (
    Solid("barite", Q(4.2, "SG")),
    Solid("drilled", Q(2.6, "SG")),
    Solid("hematite", Q(5.05, "SG")),
)
WATER = Q(1.0, "SG")
MUD = Stream.of_mud(
    Q(250, "gal/min"), WATER, {BARITE: (0.15, typical_barite()), DRILLED: (0.06, typical_drilled_fines())}
)


def curve(cut_point=15.0, bypass=0.1, sharpness=2.0, form=CurveForm.ROSIN_RAMMLER):
    return PartitionCurve(Q(cut_point, "um"), Q(2.6, "SG"), WATER, sharpness, bypass, form=form)


def table(stream: Stream) -> np.ndarray:
    """All that flows, as one row: liquid by volume and by mass, then each kind and class by volume."""
    liquid = np.array([stream.liquid_rate.magnitude, (stream.liquid_rate * stream.liquid_density).m_as("kg/s")])
    return np.concatenate([liquid, stream.rates.magnitude.ravel()])


def assert_closes(into, out):
    """What goes in comes out, by kind and by size class, to 1e-9."""
    np.testing.assert_allclose(sum(map(table, out)), sum(map(table, into)), rtol=CLOSURE, atol=0)


@st.composite
def feeds(draw, kinds=None):
    """A stream of one to three kinds of solids in one to twelve size classes, some of them empty."""
    kinds = draw(st.integers(1, 3)) if kinds is None else kinds
    solids = tuple(Solid(f"solid {n}", Q(draw(st.floats(1.5, 6.0)), "SG")) for n in range(kinds))
    classes = draw(st.integers(1, 12))
    amount = st.one_of(st.just(0.0), st.floats(1e-9, 1e-2))
    rates = draw(arrays(float, (kinds, classes), elements=amount))
    edges = log_edges(Q(draw(st.floats(0.5, 5)), "um"), Q(draw(st.floats(50, 500)), "um"), classes)
    liquid = draw(st.floats(1e-6, 1.0))
    return Stream(Q(liquid, "m**3/s"), Q(draw(st.floats(0.8, 1.3)), "SG"), edges, solids, Q(rates, "m**3/s"))


@st.composite
def curves(draw):
    return PartitionCurve(
        Q(draw(st.floats(1.0, 100.0)), "um"),
        Q(2.6, "SG"),
        Q(1.0, "SG"),
        draw(st.floats(0.5, 6.0)),
        bypass=draw(st.floats(0.0, 1.0)),
        form=draw(st.sampled_from(CurveForm)),
    )


shares = st.floats(0.0, 1.0)


def test_a_mud_is_made_of_its_fractions():
    assert MUD.total_rate.m_as("gal/min") == pytest.approx(250)
    assert MUD.fraction_of(BARITE).magnitude == pytest.approx(0.15)
    assert MUD.solids_fraction.magnitude == pytest.approx(0.21)
    assert MUD.density.m_as("SG") == pytest.approx(0.79 + 0.15 * 4.2 + 0.06 * 2.6)
    assert MUD.mass_rate_of(BARITE).m_as("kg/s") == pytest.approx(
        (0.15 * Q(250, "gal/min") * Q(4.2, "SG")).m_as("kg/s")
    )
    assert MUD.solids_mass_rate.magnitude == pytest.approx(sum(MUD.mass_rate_of(kind).magnitude for kind in MUD.solids))
    assert MUD.distribution_of(BARITE).d50.m_as("um") == pytest.approx(typical_barite().d50.m_as("um"))
    assert str(MUD.liquid_rate.units) == "m³/s"


@given(feeds(), curves(), shares)
def test_a_separator_loses_nothing(feed, one, liquid):
    out = separate(feed, one, liquid)
    assert_closes([feed], out)
    assert np.all(out.underflow.rates.magnitude >= 0)
    assert np.all(out.overflow.rates.magnitude >= 0)


@given(feeds(), curves(), shares)
def test_a_separator_sends_each_class_by_its_share(feed, one, liquid):
    under, _ = separate(feed, one, liquid)
    for place, kind in enumerate(feed.solids):
        expected = feed.rates.magnitude[place] * one.to_underflow(feed.sizes, kind.density).magnitude
        np.testing.assert_allclose(under.rates.magnitude[place], expected, rtol=1e-12, atol=0)


def test_a_cut_point_of_zero_and_a_bypass_of_one_send_all_down():
    for one in (curve(0.0, bypass=0.0), curve(bypass=1.0)):
        under, over = separate(MUD, one, 1.0)
        np.testing.assert_allclose(table(under), table(MUD), rtol=1e-12)
        assert over.total_rate.magnitude == 0
        with pytest.raises(CalculationError, match="nothing flows"):
            _ = over.density


def test_a_huge_cut_point_leaves_only_the_bypass():
    under, _ = separate(MUD, curve(1e9, bypass=0.2), 0.2)
    np.testing.assert_allclose(table(under), 0.2 * table(MUD), rtol=1e-9)
    assert under.density.magnitude == pytest.approx(MUD.density.magnitude)


def test_a_single_size_goes_by_one_share_and_keeps_its_distribution():
    one_class = SizeDistribution(Q([10, 20], "um"), np.array([1.0]))
    feed = Stream.of_mud(Q(100, "gal/min"), WATER, {BARITE: (0.1, one_class)})
    under, over = separate(feed, curve(), 0.1)
    share = curve().to_underflow(Q(np.sqrt(200), "um"), BARITE.density).magnitude
    assert (under.rate_of(BARITE) / feed.rate_of(BARITE)).magnitude == pytest.approx(share)
    assert over.distribution_of(BARITE).fractions == pytest.approx([1.0])


def test_solids_of_one_density_separate_alike_by_any_name():
    twin = Solid("its twin", Q(4.2, "SG"))
    feed = Stream.of_mud(Q(100, "gal/min"), WATER, {BARITE: (0.1, typical_barite()), twin: (0.2, typical_barite())})
    under, _ = separate(feed, curve(), 0.1)
    assert (under.rate_of(twin) / under.rate_of(BARITE)).magnitude == pytest.approx(2)


def test_finer_classes_change_the_recovery_little():
    """The class of a grain stands for its size: fifty classes are within a tenth of a point of four hundred."""
    fine, coarse = log_edges(classes=400), log_edges(classes=50)
    found = [recovery(typical_barite(edges), BARITE.density, curve()).magnitude for edges in (coarse, fine)]
    assert found[0] == pytest.approx(found[1], abs=0.001)


@given(feeds(), st.lists(shares, min_size=1, max_size=5))
def test_parts_of_a_stream_run_together_again(feed, parts):
    assume(sum(parts) > 0.01)
    pieces = split(feed, *(np.array(parts) / sum(parts)))
    assert_closes([feed], pieces)
    np.testing.assert_allclose(table(mix(*pieces)), table(feed), rtol=1e-9, atol=0)


def test_kinds_are_taken_together_when_streams_mix():
    other = Stream.of_mud(
        Q(50, "gal/min"), Q(1.1, "SG"), {HEMATITE: (0.1, typical_barite()), BARITE: (0.1, typical_barite())}
    )
    mixed = mix(MUD, other)
    assert mixed.solids == (BARITE, DRILLED, HEMATITE)
    assert mixed.rate_of(BARITE).m_as("gal/min") == pytest.approx(250 * 0.15 + 5)
    assert mixed.rate_of(HEMATITE).m_as("gal/min") == pytest.approx(5)
    assert mixed.mass_rate.magnitude == pytest.approx((MUD.mass_rate + other.mass_rate).magnitude)
    assert mixed.liquid_density.m_as("SG") == pytest.approx((197.5 * 1.0 + 40 * 1.1) / 237.5)


def test_clear_liquid_thins_a_mud():
    water = Stream.of_liquid(Q(125, "gal/min"), WATER, like=MUD)
    assert water.density.m_as("SG") == pytest.approx(1)
    assert mix(MUD, water).solids_fraction.magnitude == pytest.approx(0.14)
    assert mix(water).solids_fraction.magnitude == 0


@given(st.floats(0.25, 0.6))
def test_the_underflow_has_the_concentration_that_was_asked_for(wanted):
    share = liquid_share_for(MUD, curve(bypass=0.0), wanted)
    assert separate(MUD, curve(bypass=0.0), share).underflow.solids_fraction.magnitude == pytest.approx(wanted)


def test_a_network_of_one_separator_is_that_separator():
    found = Network({"mud": MUD}, [Separator("cone", "mud", "under", "over", curve(), 0.1)]).solve()
    for line, stream in zip(("under", "over"), separate(MUD, curve(), 0.1), strict=True):
        np.testing.assert_allclose(table(found[line]), table(stream), rtol=1e-12)
    assert found.products == ("under", "over")
    np.testing.assert_allclose(table(found["mud"]), table(MUD), rtol=1e-12)


def test_cones_in_parallel_are_one_cone():
    parts = {f"part {n}": 0.25 for n in range(4)}
    units = [Splitter("manifold", "mud", parts)]
    units += [Separator(f"cone {n}", f"part {n}", f"under {n}", f"over {n}", curve(), 0.1) for n in range(4)]
    units += [Mixer("trough", [f"under {n}" for n in range(4)], "under")]
    found = Network({"mud": MUD}, units).solve()
    np.testing.assert_allclose(table(found["under"]), table(separate(MUD, curve(), 0.1).underflow), rtol=1e-12)
    assert len(found.products) == 5


def test_both_outlets_run_together_again_are_the_feed():
    units = [Separator("cone", "mud", "under", "over", curve(), 0.1), Mixer("tank", ["under", "over"], "all")]
    np.testing.assert_allclose(table(Network({"mud": MUD}, units).solve()["all"]), table(MUD), rtol=1e-12)


def test_machines_in_series_multiply():
    found = Network(
        {"mud": MUD},
        [
            Separator("second", "clean", "fines", "cleaner", curve(6.0), 0.1),
            Separator("first", "mud", "coarse", "clean", curve(20.0), 0.1),
        ],
    ).solve()
    passed = 1 - curve(20.0).to_underflow(MUD.sizes, BARITE.density).magnitude
    passed *= 1 - curve(6.0).to_underflow(MUD.sizes, BARITE.density).magnitude
    np.testing.assert_allclose(found["cleaner"].rates.magnitude[0], MUD.rates.magnitude[0] * passed, rtol=1e-12)


def test_recycle_follows_its_closed_form():
    """Derived: with the second underflow's overflow sent back, a class leaves by p * q / (1 - p * (1 - q))."""
    found = Network(
        {"mud": MUD},
        [
            Mixer("suction", ["mud", "back"], "feed"),
            Separator("rough", "feed", "rough under", "clean", curve(10.0), 0.1),
            Separator("clean", "rough under", "heavy", "back", curve(14.0), 0.2),
        ],
    ).solve()
    p = curve(10.0).to_underflow(MUD.sizes, BARITE.density).magnitude
    q = curve(14.0).to_underflow(MUD.sizes, BARITE.density).magnitude
    np.testing.assert_allclose(
        found["heavy"].rates.magnitude[0], MUD.rates.magnitude[0] * p * q / (1 - p * (1 - q)), rtol=1e-9
    )
    assert found["heavy"].liquid_rate.magnitude == pytest.approx(MUD.liquid_rate.magnitude * 0.02 / (1 - 0.1 * 0.8))


@st.composite
def networks(draw):
    """One or two feeds into up to ten separators; each outlet leaves, or goes in part (at most 95 %) to any of them."""
    feed = draw(feeds(kinds=2))
    count = draw(st.integers(1, 10))
    entries: list[list[str]] = [["mud"]] + [[] for _ in range(count - 1)]
    streams = {"mud": feed}
    if draw(st.booleans()):
        streams["water"] = Stream.of_liquid(Q(draw(st.floats(0, 1e-2)), "m**3/s"), Q(1.0, "SG"), like=feed)
        entries[draw(st.integers(0, count - 1))].append("water")
    units = []
    for n in range(count):
        units.append(Separator(f"machine {n}", f"feed {n}", f"under {n}", f"over {n}", draw(curves()), draw(shares)))
        for side in ("under", "over"):
            where = draw(st.integers(-2, count - 1))
            if where >= 0:
                part = draw(st.floats(0.01, 0.95))
                units.append(
                    Splitter(f"tee {side} {n}", f"{side} {n}", {f"{side} on {n}": part, f"{side} off {n}": 1 - part})
                )
                entries[where].append(f"{side} on {n}")
    for n, lines in enumerate(entries):
        if n > 0:
            lines.append(f"trickle {n}")
            streams[f"trickle {n}"] = Stream.of_liquid(Q(1e-6, "m**3/s"), Q(1.0, "SG"), like=feed)
        units.append(Mixer(f"suction {n}", lines, f"feed {n}"))
    return Network(streams, draw(st.permutations(units)))


def sent_round(network: Network) -> dict[str, np.ndarray]:
    """The same network by substitution: every unit works on what it last got, until no line changes any more."""
    solids = list(dict.fromkeys(kind for feed in network.feeds.values() for kind in feed.solids))
    lines = {line: table(feed) for line, feed in network.feeds.items()}
    like = next(iter(network.feeds.values()))
    nothing = np.zeros(2 + len(solids) * like.sizes.size)
    down = {}
    for unit in network.units:
        if isinstance(unit, Separator):
            grains = [unit.curve.to_underflow(like.sizes, kind.density).magnitude for kind in solids]
            down[unit.name] = np.concatenate([[unit.liquid_to_underflow] * 2, *grains])
    for _ in range(5000):
        before = dict(lines)
        for unit in network.units:
            if isinstance(unit, Mixer):
                lines[unit.product] = sum(lines.get(line, nothing) for line in unit.feeds)
            elif isinstance(unit, Splitter):
                for line, share in unit.products.items():
                    lines[line] = share * lines.get(unit.feed, nothing)
            else:
                feed = lines.get(unit.feed, nothing)
                lines[unit.underflow] = feed * down[unit.name]
                lines[unit.overflow] = feed * (1 - down[unit.name])
        if len(before) == len(lines) and all(np.allclose(lines[k], before[k], rtol=1e-13, atol=0) for k in lines):
            return lines
    raise AssertionError("the network did not settle")


@settings(max_examples=60, deadline=None)
@given(networks())
def test_a_network_closes_by_kind_and_by_size_class(network):
    found = network.solve()
    assert found.imbalance.max() <= CLOSURE
    assert_closes(network.feeds.values(), [found[line] for line in found.products])
    for unit in network.units:
        if isinstance(unit, Separator):
            assert_closes([found[unit.feed]], [found[unit.underflow], found[unit.overflow]])
        elif isinstance(unit, Mixer):
            assert_closes([found[line] for line in unit.feeds], [found[unit.product]])
        else:
            assert_closes([found[unit.feed]], [found[line] for line in unit.products])


@settings(max_examples=25, deadline=None)
@given(networks())
def test_a_network_is_what_sending_it_round_comes_to(network):
    found = network.solve()
    for line, row in sent_round(network).items():
        np.testing.assert_allclose(table(found[line]), row, rtol=1e-7, atol=1e-18, err_msg=line)


@settings(max_examples=20, deadline=None)
@given(networks(), st.floats(0.1, 10.0))
def test_a_network_is_linear_in_its_feed(network, times):
    larger = {
        line: replace(feed, liquid_rate=times * feed.liquid_rate, rates=times * feed.rates)
        for line, feed in network.feeds.items()
    }
    once, more = network.solve(), Network(larger, network.units).solve()
    for line in once.products:
        np.testing.assert_allclose(table(more[line]), times * table(once[line]), rtol=1e-9, atol=1e-300)


def test_recovery_and_rejection_share_out_the_feed():
    found = two_stage_recovery(MUD, curve(20.0), curve(5.0), 0.1, 0.1)
    for kind in MUD.solids:
        lines = ("recovered", "discarded", "liquid")
        assert sum(found.recovery(kind, line).magnitude for line in lines) == pytest.approx(1, rel=CLOSURE)
        kept = found.recovery(kind, "recovered", "liquid").magnitude
        assert found.rejection(kind, "recovered", "liquid").magnitude == pytest.approx(1 - kept)
    assert found.recovery(BARITE, "recovered") > found.recovery(DRILLED, "recovered")


def test_two_stage_recovery_is_two_stages_in_each_size_class():
    one_class = SizeDistribution(Q([10, 12], "um"), np.array([1.0]))
    feed = Stream.of_mud(Q(50, "gal/min"), WATER, {BARITE: (0.1, one_class)})
    found = two_stage_recovery(feed, curve(20.0), curve(5.0), 0.1, 0.1)
    first, second = (one.to_underflow(feed.sizes, BARITE.density).magnitude[0] for one in (curve(20.0), curve(5.0)))
    shares = two_stage(first, second)
    assert found.recovery(BARITE, "recovered").magnitude == pytest.approx(shares.recovered.magnitude)
    assert found.recovery(BARITE, "discarded").magnitude == pytest.approx(shares.discarded.magnitude)
    assert found.recovery(BARITE, "liquid").magnitude == pytest.approx(shares.with_liquid.magnitude)


def test_dilution_of_a_two_stage_recovery_changes_the_liquid_only():
    water = Stream.of_liquid(Q(100, "gal/min"), WATER, like=MUD)
    plain = two_stage_recovery(MUD, curve(20.0), curve(5.0), 0.1, 0.1)
    thinned = two_stage_recovery(MUD, curve(20.0), curve(5.0), 0.1, 0.1, dilution=water)
    np.testing.assert_allclose(thinned["discarded"].rates.magnitude, plain["discarded"].rates.magnitude, rtol=1e-12)
    liquid = sum(thinned[line].liquid_rate.m_as("gal/min") for line in thinned.products)
    assert liquid == pytest.approx(0.79 * 250 + 100)


def test_an_ideal_bowl_is_a_curve_too():
    bowl = Bowl(Q(1.0, "m"), Q(356, "mm"), Q(58, "mm"))
    slow, fast = (BowlCurve(bowl, Q(speed, "rpm"), Q(50, "gal/min"), WATER, Q(10, "cP")) for speed in (1500, 3000))
    found = two_stage_recovery(MUD, slow, fast, 0.1, 0.1)
    assert found.imbalance.max() <= CLOSURE
    assert found.recovery(BARITE, "recovered") > found.recovery(DRILLED, "recovered")


def test_draws_go_through_a_network_as_one_by_one():
    cuts, liquids = np.array([12.0, 15.0, 20.0]), np.array([0.05, 0.10, 0.15])
    drawn = PartitionCurve(Q(cuts, "um")[:, None, None], Q(2.6, "SG"), WATER, 2.0, bypass=0.1)
    together = two_stage_recovery(MUD, drawn, curve(5.0), liquids, 0.1)
    assert together["recovered"].rates.shape == (3, 2, 50)
    assert together["recovered"].density.shape == (3,)
    for n, (cut, liquid) in enumerate(zip(cuts, liquids, strict=True)):
        alone = two_stage_recovery(MUD, curve(cut), curve(5.0), liquid, 0.1)
        for kind in MUD.solids:
            assert together.recovery(kind, "recovered")[n].magnitude == pytest.approx(
                alone.recovery(kind, "recovered").magnitude, rel=1e-12
            )
        assert together["liquid"].density[n].magnitude == pytest.approx(alone["liquid"].density.magnitude, rel=1e-12)
    with pytest.raises(CalculationError, match="take one draw"):
        together["recovered"].distribution_of(BARITE)


def test_draws_of_a_cut_point_give_as_many_recoveries():
    cuts = np.random.default_rng(7).normal(15, 2, 500)
    drawn = PartitionCurve(Q(cuts, "um")[:, None], Q(2.6, "SG"), WATER, 2.0, bypass=0.1)
    found = recovery(typical_barite(), BARITE.density, drawn)
    assert found.shape == (500,)
    for n in (0, 17, 499):
        under = separate(MUD, curve(cuts[n]), 0.1).underflow
        assert found[n].magnitude == pytest.approx((under.rate_of(BARITE) / MUD.rate_of(BARITE)).magnitude)
    order = np.argsort(cuts)
    assert np.all(np.diff(found.magnitude[order]) <= 0)


def test_solids_that_never_come_out_are_named():
    """What is coarse goes to the underflow whole, and the underflow goes back."""
    sharp = curve(5.0, bypass=0.0, sharpness=8.0)
    network = Network(
        {"mud": MUD},
        [Mixer("suction", ["mud", "under"], "feed"), Separator("cone", "feed", "under", "over", sharp, 0.1)],
    )
    with pytest.raises(CalculationError, match=r"(barite|drilled) of .* um goes round and round"):
        network.solve()


def test_liquid_that_never_comes_out_is_named():
    network = Network(
        {"mud": MUD},
        [Mixer("suction", ["mud", "under"], "feed"), Separator("cone", "feed", "under", "over", curve(1e3), 1.0)],
    )
    with pytest.raises(CalculationError, match="the liquid goes round and round"):
        network.solve()


def test_a_closed_loop_hurts_only_what_gets_into_it():
    """A second machine would send coarse grains round to itself for ever; the first one lets none get there."""
    edges = Q([1, 5, 1000, 2000], "um")
    feed = Stream.of_mud(Q(100, "gal/min"), WATER, {DRILLED: (0.1, SizeDistribution(edges, np.array([0.4, 0.0, 0.6])))})
    gate, trap = curve(100.0, bypass=0.0, sharpness=6.0), curve(50.0, bypass=0.0, sharpness=6.0)
    found = Network(
        {"mud": feed},
        [
            Separator("gate", "mud", "coarse", "fine", gate, 0.1),
            Mixer("suction", ["fine", "round"], "trap feed"),
            Separator("trap", "trap feed", "round", "out", trap, 0.1),
        ],
    ).solve()
    assert found.recovery(DRILLED, "coarse").magnitude == pytest.approx(0.6)
    assert found.imbalance.max() <= CLOSURE


def processor_time(work: Callable[[], object], runs: int) -> float:
    """The best of several runs, so that a busy machine does not matter."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def test_twenty_times_the_size_classes_take_a_network_less_than_five_times_the_time():
    units = [Mixer("suction", ["mud", "under 9"], "feed 0")]
    units += [
        Separator(f"{n}", f"feed {n}", f"under {n}", f"feed {n + 1}", curve(60.0 / 1.3**n), 0.1) for n in range(10)
    ]
    few, many = (
        Network(
            {
                "mud": Stream.of_mud(
                    Q(100, "gal/min"), WATER, {DRILLED: (0.1, typical_drilled_fines(log_edges(classes=n)))}
                )
            },
            units,
        )
        for n in (5, 100)
    )
    assert processor_time(many.solve, 15) < 5 * processor_time(few.solve, 15)


def test_a_network_without_solids_carries_its_liquid():
    water = Stream(Q(1, "m**3/s"), WATER, log_edges(classes=3), (), Q(np.zeros((0, 3)), "m**3/s"))
    found = Network({"in": water}, [Separator("cone", "in", "under", "over", curve(), 0.25)]).solve()
    assert found["under"].total_rate.m_as("m**3/s") == pytest.approx(0.25)
    assert found["over"].solids_fraction.magnitude == 0


LIGHT = (Q(2.6, "SG"), WATER, 2.0)


def drawn(draws: int) -> PartitionCurve:
    return PartitionCurve(Q(np.full((draws, 1, 1), 15.0), "um"), *LIGHT)


def cone(name="cone", feed="mud", under="under", over="over", liquid=0.1):
    return Separator(name, feed, under, over, curve(), liquid)


OTHER_CLASSES = Stream.of_mud(
    Q(1, "gal/min"), WATER, {BARITE: (0.1, lognormal(log_edges(classes=9), Q(20, "um"), 2.0))}
)


@pytest.mark.parametrize(
    ("feeds", "units", "complaint"),
    [
        ({}, [cone()], "needs a feed"),
        ({"mud": MUD}, [], "at least one unit"),
        ({"mud": MUD}, [cone(feed="mudd")], '"cone" takes in "mudd", which nothing makes. Did you mean "mud"'),
        ({"mud": MUD}, [cone(feed="zzz")], '"cone" takes in "zzz", which nothing makes.$'),
        ({"mud": MUD, "water": MUD}, [cone()], 'feed "water" goes to no unit'),
        ({"mud": MUD}, [cone(under="over")], 'line "over" is made twice'),
        ({"mud": MUD}, [cone(under="mud")], 'line "mud" is made twice'),
        ({"mud": MUD}, [cone(), cone("b", "mud", "u", "o")], 'line "mud" goes to two places: put a splitter'),
        ({"mud": MUD}, [cone(), cone(feed="under", under="u", over="o")], 'two units are called "cone"'),
        ({"mud": MUD}, [cone(), Mixer("loop", ["round"], "round")], 'no feed reaches "loop"'),
        ({"mud": MUD}, [Mixer("a", ["mud", "x"], "y"), Mixer("b", ["y"], "x")], '"a", "b" never leaves the network'),
        ({"mud": MUD}, [Mixer("a", [], "y"), cone()], '"a" takes in nothing'),
        ({"mud": MUD}, [Splitter("a", "mud", {})], '"a" makes nothing'),
        ({"mud": MUD}, [Splitter("a", "mud", {"x": 0.5, "y": 0.4})], 'splitter "a": the shares must add up to 100 %'),
        ({"mud": MUD}, [Splitter("a", "mud", {"x": 1.5, "y": -0.5})], "a share must lie between 0 and 100 %"),
        ({"mud": MUD}, [cone(liquid=1.2)], 'separator "cone": share of the liquid to the underflow must lie'),
        (
            {"mud": MUD, "x": OTHER_CLASSES},
            [Mixer("a", ["mud", "x"], "y"), cone(feed="y")],
            "share one set of size classes",
        ),
    ],
)
def test_an_open_network_is_refused_in_a_line(feeds, units, complaint):
    with pytest.raises(CalculationError, match=complaint) as refused:
        Network(feeds, units)
    assert "\n" not in str(refused.value)


class Nonsense:
    """A curve that sends more down than there is."""

    def to_underflow(self, sizes, solid_density):
        return Q(np.full(np.broadcast_shapes(sizes.shape, solid_density.shape), 1.5))


class Misfit:
    """A curve with shares for three size classes, however many there are."""

    def to_underflow(self, sizes, solid_density):
        return Q([0.1, 0.5, 0.9])


@pytest.mark.parametrize(
    ("calculate", "complaint"),
    [
        (lambda: Solid("air", Q(0, "SG")), "density of a solid must be above zero"),
        (lambda: Solid("many", Q([2, 3], "SG")), "a solid has one density"),
        (lambda: replace(MUD, liquid_rate=Q(-1, "m**3/s")), "rate of liquid must not be negative"),
        (lambda: replace(MUD, liquid_density=Q(0, "SG")), "density of the liquid must be above zero"),
        (lambda: replace(MUD, rates=-1 * MUD.rates), "rates of solids must not be negative"),
        (lambda: replace(MUD, rates=MUD.rates[:1]), "rates of 2 kinds in 50 size classes must end in that shape"),
        (lambda: replace(MUD, rates=MUD.rates[0]), "must end in that shape"),
        (lambda: replace(MUD, solids=(BARITE, BARITE)), "named once"),
        (lambda: replace(MUD, edges=Q(np.linspace(0, 1, 51), "mm")), "edges must be above zero"),
        (lambda: Stream.of_mud(Q(-1, "gal/min"), WATER, {BARITE: (0.1, typical_barite())}), "not negative"),
        (lambda: Stream.of_mud(Q(1, "gal/min"), WATER, {}), "name at least one kind"),
        (lambda: Stream.of_mud(Q(1, "gal/min"), WATER, {BARITE: (15, typical_barite())}), "more than the whole mud"),
        (lambda: Stream.of_mud(Q(1, "gal/min"), WATER, {BARITE: (-0.1, typical_barite())}), "must not be negative"),
        (lambda: Stream.of_mud(Q(1, "gal"), WATER, {BARITE: (0.1, typical_barite())}), "rate must have a unit of"),
        (lambda: MUD.rate_of(HEMATITE), "no hematite of this density in this stream; its solids: barite, drilled"),
        (lambda: separate(MUD, curve(), 0.1).underflow.fraction_of(HEMATITE), "no hematite"),
        (lambda: Stream.of_liquid(Q(1, "L/s"), WATER, MUD).distribution_of(BARITE), "no barite flows here"),
        (lambda: separate(MUD, curve(), 1.1), "share of the liquid to the underflow must lie"),
        (lambda: separate(MUD, Nonsense(), 0.1), "must send a share between 0 and 100 %"),
        (lambda: separate(MUD, Misfit(), 0.1), "do not fit kinds by size classes"),
        (lambda: liquid_share_for(MUD, curve(), 0.0), "solids of the underflow must lie"),
        (lambda: liquid_share_for(MUD, curve(), 0.05), "too little liquid"),
        (lambda: liquid_share_for(replace(MUD, liquid_rate=Q(0, "L/s")), curve(), 0.5), "no liquid to go with"),
        (lambda: replace(MUD, liquid_rate=Q(np.ones(3), "L/s"), rates=Q(np.zeros((4, 2, 50)), "L/s")), "drawn"),
        (lambda: separate(MUD, drawn(3), np.full(4, 0.1)), "drawn different numbers of times"),
        (lambda: two_stage_recovery(MUD, drawn(3), drawn(4), 0.1, 0.1), r"different numbers of times: \(3,\), \(4,\)"),
        (lambda: two_stage_recovery(MUD, drawn(3), curve(), np.full(4, 0.1), 0.1), "different numbers of times"),
        (lambda: separate(MUD, PartitionCurve(Q(np.ones((3, 1)), "um"), *LIGHT), 0.1), r"\[:, None, None\]"),
        (lambda: separate(MUD, PartitionCurve(Q(np.ones((2, 1)), "um"), *LIGHT), 0.1), "an axis of their own"),
        (lambda: separate(MUD, PartitionCurve(Q(np.ones(50), "um"), *LIGHT), 0.1), "an axis of their own"),
        (lambda: recovery(typical_barite(), BARITE.density, PartitionCurve(Q(np.ones(50), "um"), *LIGHT)), "an axis"),
        (lambda: mix(), "at least one stream"),
        (lambda: mix(MUD, OTHER_CLASSES), "share one set of size classes"),
        (lambda: split(MUD, 0.5, 0.4), "the shares must add up to 100 %"),
        (lambda: split(MUD), "the shares must add up to 100 %"),
        (lambda: two_stage_recovery(MUD, curve(), curve(), 0.1, 0.1)["recoverd"], 'Did you mean "recovered"'),
        (lambda: two_stage_recovery(MUD, curve(), curve(), 0.1, 0.1).recovery(BARITE), "name the lines"),
        (lambda: two_stage_recovery(MUD, curve(), curve(), 0.1, 0.1).recovery(HEMATITE, "liquid"), "no hematite"),
    ],
)
def test_what_cannot_be_is_refused(calculate, complaint):
    with pytest.raises(CalculationError, match=complaint):
        calculate()
