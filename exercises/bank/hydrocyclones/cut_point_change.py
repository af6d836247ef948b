"""What moves the cut point of a cone."""

from __future__ import annotations

import pint

from exercises.bank.hydrocyclones import CUT_POINT, Outcome
from exercises.fleet.envelope import CUT_OF_DESANDER_CONE, FEED_PUMP_HEAD, FEED_TO_DESANDER_CONE
from exercises.fleet.machines import DESANDER
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip
from exercises.model.usual_slips import turned_round
from exercises.model.working import Step
from pitside.cyclones import Cone, plitt_cut_point_later, plitt_flow, plitt_pressure
from pitside.materials import LOW_GRAVITY
from pitside.units import WATER_4C, Q


def _cone(diameter: pint.Quantity) -> Cone:
    """A cone of fixed proportions; only ratios of its figures are used here."""
    return Cone(diameter, diameter * 0.25, diameter * 0.34, diameter * 0.16, diameter * 4.4)


def _plitt(flow: pint.Quantity, viscosity: pint.Quantity, diameter: pint.Quantity) -> pint.Quantity:
    return plitt_cut_point_later(_cone(diameter), flow, 0.0, LOW_GRAVITY, WATER_4C, viscosity)


def _at_the_same_head(n: Numbers) -> pint.Quantity:
    """Flow of the smaller cone of the same shape, at the head at which the first takes its own."""
    return plitt_flow(_cone(n.smaller), plitt_pressure(_cone(n.diameter), n.flow, 0.0), 0.0)


def _head_for_more(n: Known) -> pint.Quantity:
    """Head that the larger flow takes, where the first takes the 75 ft of a desander."""
    one, more = (plitt_pressure(_cone(n.diameter), flow, 0.0) for flow in (n.flow, n.more_flow))
    return Q(75.0, "ft") * (more / one)


def _smaller(n: Known) -> pint.Quantity:
    return _moved(n, n.cut, diameter=n.smaller, flow=n.smaller_flow)


def _moved(n: Known, cut: pint.Quantity, **new: pint.Quantity) -> pint.Quantity:
    """The cut point after one of flow, viscosity and diameter has become another."""
    before = {"flow": n.flow, "viscosity": n.viscosity, "diameter": n.diameter}
    return cut * (_plitt(**(before | new)) / _plitt(**before))


def _finest(n: Known) -> str:
    changes = {
        "viscosity": _moved(n, n.cut, viscosity=n.thinner),
        "flow": _moved(n, n.cut, flow=n.more_flow),
        "diameter": _moved(n, n.cut, diameter=n.smaller, flow=n.smaller_flow),
    }
    return min(changes, key=lambda change: changes[change])


def _one_change_is_best(n: Known) -> bool:
    """The best change is so by 1.5 % at least, and each is one that a rig could make; the pump has its limit."""
    if not (n.thicker > n.viscosity * 1.2 and 0.84 <= n.thinner / n.viscosity < 1 and n.less_flow < n.flow * 0.9):
        return False
    if not (1.06 * n.flow <= n.more_flow and _head_for_more(n) <= Q(110, "ft")):
        return False
    cuts = sorted(
        _moved(n, n.cut, **change).m_as("um")
        for change in (
            {"viscosity": n.thinner},
            {"flow": n.more_flow},
            {"diameter": n.smaller, "flow": n.smaller_flow},
        )
    )
    return cuts[1] / cuts[0] >= 1.015


COMPARE = "Work out the cut after each change: the roots and powers of the law weigh the changes differently."

EXERCISE = Exercise(
    title="What moves the cut of a cone",
    level=2,
    version=3,
    outcome=Outcome.MOVING,
    tolerance=CUT_POINT,
    digits=3,
    numbers=(
        DESANDER.cut.part(50, 62).number("cut", (1, "um")),
        Number("viscosity", Grid(4.0, 10.0, 0.5, "cP"), Grid(4.0, 10.0, 0.5, "mPa.s")),
        Number("thicker", Grid(8, 24, 1, "cP"), Grid(8, 24, 1, "mPa.s")),
        Number("thinner", Grid(3.0, 9.5, 0.5, "cP"), Grid(3.0, 9.5, 0.5, "mPa.s")),
        DESANDER.flow.part(560, 600).number("flow", (5, "gal/min"), (1, "m3/h")),
        Number("less_flow", Grid(400, 530, 10, "gal/min"), Grid(90, 120, 2, "m3/h")),
        Number("more_flow", Grid(600, 740, 10, "gal/min"), Grid(136, 168, 2, "m3/h")),
        # Sizes of the lesson's table. Of its cones only the two desanders are near enough to compare.
        Number("diameter", Grid(12, 12, 1, "in"), Grid(305, 305, 1, "mm")),
        Number("smaller", Grid(10, 10, 1, "in"), Grid(254, 254, 1, "mm")),
        Derived("smaller_flow", _at_the_same_head, By("gal/min", "m3/h"), By(0, 1)),
    ),
    valid=_one_change_is_best,
    envelope=(
        Within("size of the cone", lambda n: n.diameter, DESANDER.diameter),
        Within("size of the smaller cone", lambda n: n.smaller, DESANDER.diameter),
        Within("feed of the cone", lambda n: n.flow, FEED_TO_DESANDER_CONE),
        Within("feed of the smaller cone", lambda n: n.smaller_flow, FEED_TO_DESANDER_CONE),
        Within("cut of the cone", lambda n: n.cut, CUT_OF_DESANDER_CONE),
        Within("cut of the smaller cone", lambda n: n.c, CUT_OF_DESANDER_CONE),
        Within("head for the larger flow", _head_for_more, FEED_PUMP_HEAD),
    ),
    setting=(
        "A cone of {diameter} cuts drilled solids at {cut} (d50c: half of the grains of this size go to the underflow, "
        "not counting those that only follow the water) with {flow} of feed and a liquid of {viscosity}. For cones of "
        "one shape Plitt's law says: the cut point changes as the square root of the viscosity, as the diameter to the "
        "power 1.18, and as the flow to the power −0.45. Such a law shows the direction and roughly the size of a "
        "change; samples decide."
    ),
    parts=(
        Numeric(
            key="a",
            ask="The liquid thickens to {thicker}, all else is as before. At what size does the cone cut now, in µm?",
            unit="um",
            solve=lambda n: _moved(n, n.cut, viscosity=n.thicker),
            plausible=Range(54, 155, "um"),
            marks=Marks(2),
            slips=(
                turned_round(
                    lambda n: n.cut**2 / _moved(n, n.cut, viscosity=n.thicker),
                    "Grains settle more slowly in a thick liquid, so the cut gets coarser.",
                ),
                Slip(
                    "in proportion",
                    lambda n: n.cut * (n.thicker / n.viscosity),
                    "You took the cut in proportion to the viscosity. It goes with its root.",
                ),
            ),
            working=(
                Step(
                    "New over old viscosity, and the root of it.", "sqrt({thicker} / {viscosity})", "ratio", "fraction"
                ),
                Step("Times the old cut.", "{ratio} * {cut}"),
            ),
        ),
        Numeric(
            key="b",
            ask=(
                "With the thick liquid the pump also gives each cone only {less_flow}. At what size does the cone cut "
                "then, in µm?"
            ),
            unit="um",
            uses=("a",),
            solve=lambda n: _moved(n, n.a, flow=n.less_flow),
            plausible=Range(56, 185, "um"),
            marks=Marks(2),
            slips=(
                Slip(
                    "upside down",
                    lambda n: n.a**2 / _moved(n, n.a, flow=n.less_flow),
                    "You turned the ratio round. With less flow the mud swirls more slowly in the cone, and the cut "
                    "gets coarser.",
                ),
                Slip(
                    "in proportion",
                    lambda n: n.a * (n.flow / n.less_flow),
                    "You took the cut in proportion to one over the flow. The power is −0.45.",
                ),
                Slip(
                    "thick liquid forgotten",
                    lambda n: _moved(n, n.cut, flow=n.less_flow),
                    "You started from the first cut. The liquid is still thick: start from the cut of (a).",
                ),
            ),
            working=(
                Step("Old over new flow, to the power 0.45.", "({flow} / {less_flow})**0.45", "ratio", "fraction"),
                Step("Times the cut of (a).", "{ratio} * {a}"),
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "Back to the first liquid: a cone of the same shape with a diameter of {smaller} runs at the same "
                "head. There it takes {smaller_flow}. At what size would it cut, in µm?"
            ),
            unit="um",
            solve=_smaller,
            plausible=Range(45, 60, "um"),
            marks=Marks(2),
            slips=(
                Slip(
                    "flow left as it was",
                    lambda n: _moved(n, n.cut, diameter=n.smaller),
                    "You left the flow as it was. At the same head the smaller cone takes less, and less flow cuts "
                    "coarser.",
                    keeps=1,
                ),
                Slip(
                    "diameter left as it was",
                    lambda n: _moved(n, n.cut, flow=n.smaller_flow),
                    "You counted the smaller flow alone. In a narrow cone the mud turns more sharply: put the "
                    "diameter in.",
                    keeps=1,
                ),
                turned_round(
                    lambda n: n.cut**2 / _smaller(n),
                    "In a narrow cone the mud turns more sharply, and the cut gets finer, even at the same head.",
                ),
            ),
            working=(
                Step(
                    "New over old diameter, to the power 1.18.", "({smaller} / {diameter})**1.18", "ratio", "fraction"
                ),
                Step("Old over new flow, to the power 0.45.", "({flow} / {smaller_flow})**0.45", "less", "fraction"),
                Step("Both, times the first cut.", "{ratio} * {less} * {cut}"),
            ),
        ),
        Choice(
            key="d",
            ask="From the first state, which one of these changes gives the finest cut by this law?",
            options=(
                Option("viscosity", "Thin the liquid to {thinner}.", COMPARE),
                Option("flow", "Feed each cone {more_flow}, with more head, still within the maker's limit.", COMPARE),
                Option("diameter", "Take the cones of (c), of {smaller}, at the same head.", COMPARE),
            ),
            right=_finest,
            marks=Marks(1),
            reason=(
                "Each change by itself: the cut times the root of {thinner:n} over {viscosity:n}, times {flow:n} over "
                "{more_flow:n} to the power 0.45, or times {smaller:n} over {diameter:n} to the power 1.18 and "
                "{flow:n} over {smaller_flow:n} to the power 0.45. The smallest of the three factors wins. More flow "
                "takes a higher pressure: keep to the maker's limit. Smaller cones take less each: it needs more of "
                "them."
            ),
        ),
    ),
)
