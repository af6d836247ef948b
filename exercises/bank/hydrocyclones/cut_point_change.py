"""What moves the cut point of a cone."""

from __future__ import annotations

import pint

from exercises.bank.hydrocyclones import CUT_POINT, Outcome
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip
from exercises.model.usual_slips import turned_round
from exercises.model.working import Step
from pitside.cyclones import Cone, plitt_cut_point_later
from pitside.materials import LOW_GRAVITY
from pitside.units import WATER_4C


def _plitt(flow: pint.Quantity, viscosity: pint.Quantity, diameter: pint.Quantity) -> pint.Quantity:
    """Cut point by Plitt's later form of a desilter cone of fixed proportions; only its ratios are used here."""
    cone = Cone(diameter, diameter * 0.25, diameter * 0.34, diameter * 0.16, diameter * 4.4)
    return plitt_cut_point_later(cone, flow, 0.0, LOW_GRAVITY, WATER_4C, viscosity)


def _moved(n: Known, cut: pint.Quantity, **new: pint.Quantity) -> pint.Quantity:
    """The cut point after one of flow, viscosity and diameter has become another."""
    before = {"flow": n.flow, "viscosity": n.viscosity, "diameter": n.diameter}
    return cut * (_plitt(**(before | new)) / _plitt(**before))


def _finest(n: Known) -> str:
    changes = {
        "viscosity": _moved(n, n.cut, viscosity=n.thinner),
        "flow": _moved(n, n.cut, flow=n.more_flow),
        "diameter": _moved(n, n.cut, diameter=n.smaller),
    }
    return min(changes, key=lambda change: changes[change])


def _one_change_is_best(n: Known) -> bool:
    """The changes differ by 8 % at least in what they do to the cut, and each is one that a rig could make."""
    if not (n.thicker > n.viscosity * 1.2 and 0.55 <= n.thinner / n.viscosity <= 0.9 and n.less_flow < n.flow * 0.9):
        return False
    if not (1.1 <= n.more_flow / n.flow <= 2.0):
        return False
    cuts = sorted(
        _moved(n, n.cut, **change).m_as("um")
        for change in ({"viscosity": n.thinner}, {"flow": n.more_flow}, {"diameter": n.smaller})
    )
    return cuts[1] / cuts[0] >= 1.08


COMPARE = "Work out the cut after each change: the roots and powers of the law weigh the changes differently."

EXERCISE = Exercise(
    title="What moves the cut of a cone",
    level=2,
    version=1,
    outcome=Outcome.MOVING,
    tolerance=CUT_POINT,
    digits=3,
    numbers=(
        Number("cut", Grid(16, 30, 1, "um")),
        Number("viscosity", Grid(4, 10, 1, "cP"), Grid(4, 10, 1, "mPa.s")),
        Number("thicker", Grid(8, 24, 1, "cP"), Grid(8, 24, 1, "mPa.s")),
        Number("thinner", Grid(2, 8, 1, "cP"), Grid(2, 8, 1, "mPa.s")),
        Number("flow", Grid(40, 60, 2, "gal/min"), Grid(9.0, 13.5, 0.5, "m3/h")),
        Number("less_flow", Grid(25, 50, 1, "gal/min"), Grid(6.0, 11.0, 0.5, "m3/h")),
        Number("more_flow", Grid(50, 100, 2, "gal/min"), Grid(11.0, 22.0, 0.5, "m3/h")),
        Number("diameter", Grid(4, 4, 1, "in"), Grid(100, 100, 5, "mm")),
        Number("larger", Grid(5, 12, 1, "in"), Grid(125, 300, 25, "mm")),
        Number("smaller", Grid(3.0, 3.75, 0.25, "in"), Grid(75, 95, 5, "mm")),
    ),
    valid=_one_change_is_best,
    setting=(
        "A cone of {diameter} on rig Heron 4 cuts drilled solids at {cut} (d50c) with {flow} of feed and a liquid of "
        "{viscosity}. For cones of one shape Plitt's law says: the cut point goes with the root of the viscosity, with "
        "the diameter to the power 1.18, and with the flow to the power −0.45. Such a law shows the direction and "
        "roughly the size of a change; samples decide."
    ),
    parts=(
        Numeric(
            key="a",
            ask="The liquid thickens to {thicker}, all else is as before. At what size does the cone cut now, in µm?",
            unit="um",
            solve=lambda n: _moved(n, n.cut, viscosity=n.thicker),
            plausible=Range(17, 85, "um"),
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
            plausible=Range(18, 130, "um"),
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
                "Back to the first liquid: a cone of the same shape with a diameter of {larger} takes the same flow of "
                "{flow}. At what size would it cut, in µm?"
            ),
            unit="um",
            solve=lambda n: _moved(n, n.cut, diameter=n.larger),
            plausible=Range(18, 120, "um"),
            marks=Marks(2),
            slips=(
                turned_round(
                    lambda n: n.cut**2 / _moved(n, n.cut, diameter=n.larger),
                    "In a wide cone the mud turns less sharply, and the cut gets coarser.",
                ),
                Slip(
                    "root of the diameter",
                    lambda n: n.cut * (n.larger / n.diameter) ** 0.5,
                    "You took the root of the ratio of diameters. Here the power is 1.18.",
                ),
            ),
            working=(
                Step("New over old diameter, to the power 1.18.", "({larger} / {diameter})**1.18", "ratio", "fraction"),
                Step("Times the first cut.", "{ratio} * {cut}"),
            ),
        ),
        Choice(
            key="d",
            ask="From the first state, which one of these changes gives the finest cut?",
            options=(
                Option("viscosity", "Thin the liquid to {thinner}.", COMPARE),
                Option("flow", "Feed each cone {more_flow}, if pump, head and cones allow it.", COMPARE),
                Option(
                    "diameter", "Take cones of {smaller} at the same flow for each, if their head allows it.", COMPARE
                ),
            ),
            right=_finest,
            marks=Marks(1),
            reason=(
                "Each change by itself: the cut times the root of {thinner:n} over {viscosity:n}, times {flow:n} over "
                "{more_flow:n} to the power 0.45, or times {smaller:n} over {diameter:n} to the power 1.18. The "
                "smallest of the three factors wins. More flow or a smaller cone takes a higher pressure: keep to the "
                "maker's limit."
            ),
        ),
    ),
)
