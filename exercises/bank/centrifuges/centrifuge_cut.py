"""The cut point of a bowl by Sigma."""

from __future__ import annotations

import pint

from exercises.bank.centrifuges import CUT_POINT, FASTEST_RIM, G_FACTOR, Outcome
from exercises.fleet.envelope import BOWL_G, CUT_OF_DRILLED_IN_BOWL, FEED_OF_LIGHT_MUD
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range, System, mislabelled
from exercises.model.parts import Convention, Known, Marks, Numeric, Slip, relative
from exercises.model.usual_slips import turned_round, units_of_g
from exercises.model.working import Step
from pitside.centrifuges import Bowl, cut_point_ratio, g_force, g_force_field, sigma
from pitside.materials import LOW_GRAVITY
from pitside.settling import stokes_diameter, stokes_velocity
from pitside.units import GRAVITY, WATER_4C, Q

#: Common practice, no source: so much light mud with its dilution water goes through a small bowl that cuts fines.
SMALL_BOWL, MOST_FOR_SMALL_BOWL = Q(16, "in"), Q(75, "gal/min")


def _sigma(n: Numbers) -> pint.Quantity:
    """Sigma of a bowl 2.4 diameters long with a pond of a sixth of the diameter, by the convention of a 50 % cut."""
    return sigma(Bowl(n.diameter * 2.4, n.diameter, n.diameter / 6), n.speed)


def _settling(n: Known, g: pint.Quantity) -> pint.Quantity:
    return stokes_velocity(n.grain, LOW_GRAVITY, WATER_4C, n.viscosity, g * GRAVITY)


def _cut(n: Known, shares: float = 2.0) -> pint.Quantity:
    return stokes_diameter(n.flow / (shares * n.sigma), LOW_GRAVITY, WATER_4C, n.viscosity)


def _machine_runs_as_usual(n: Known) -> bool:
    """Up to 2200 g at a rim of the fleet, a cut of 3 to 10 um, a real change of speed; a small bowl takes less."""
    if n.diameter * max(n.speed, n.other_speed) > FASTEST_RIM:
        return False
    if n.diameter <= SMALL_BOWL and n.flow > MOST_FOR_SMALL_BOWL:
        return False
    g = g_force(n.diameter, n.speed).m_as("")
    return bool(
        450 <= g <= 2200
        and Q(3, "um") <= _cut(n) <= Q(10, "um")
        and abs(n.other_speed / n.speed - 1) >= 0.15
        and 400 <= g_force(n.diameter, n.other_speed) <= 2200
    )


EXERCISE = Exercise(
    title="How fine a bowl cuts",
    level=2,
    version=4,
    outcome=Outcome.CUT,
    tolerance=CUT_POINT,
    numbers=(
        Number("diameter", Grid(14, 24, 1, "in"), Grid(360, 600, 10, "mm")),
        Number("speed", Grid(1500, 3200, 50, "rpm")),
        Number("other_speed", Grid(1500, 3200, 50, "rpm")),
        Number("flow", Grid(25, 120, 5, "gal/min"), Grid(6, 27, 1, "m3/h")),
        Number("viscosity", Grid(3, 15, 1, "cP"), Grid(3, 15, 1, "mPa.s")),
        Number("grain", Grid(2, 6, 0.5, "um")),
        Derived("sigma", _sigma, "m2", 0),
    ),
    valid=_machine_runs_as_usual,
    envelope=(
        Within("g of the bowl", lambda n: n.a, BOWL_G),
        Within("g at the other speed", lambda n: g_force(n.diameter, n.other_speed), BOWL_G),
        Within("feed with its dilution water", lambda n: n.flow, FEED_OF_LIGHT_MUD),
        Within("cut of drilled solids in an ideal bowl", lambda n: n.c, CUT_OF_DRILLED_IN_BOWL),
    ),
    setting=(
        "Another centrifuge of Larkwater Energy has a bowl of {diameter} inside diameter and turns at {speed}. It "
        "takes {flow} of unweighted mud with its dilution water. The liquid has a viscosity of {viscosity} and a "
        "density of 1000 kg/m³, the drilled solids of 2600 kg/m³. At this speed the bowl has a Sigma of {sigma}, for a "
        "50 % cut: the flow is 2 times Sigma times the velocity with which a grain of the cut point settles under "
        "plain gravity. Sigma is for an ideal bowl; real ones cut coarser. Nobody passes the maker's speed limit or "
        "opens a guard while a bowl turns."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the g at the wall of the bowl, as a multiple of gravity?",
            unit="fraction",
            solve=lambda n: g_force(n.diameter, n.speed),
            plausible=Range(450, 2200),
            conventions=(Convention("0.0000142 for in and rpm", lambda n: g_force_field(n.diameter, n.speed)),),
            tolerance=G_FACTOR,
            marks=Marks(1),
            outcome=Outcome.G_FORCE,
            slips=(
                Slip(
                    "radius for diameter",
                    lambda n: g_force(n.diameter / 2, n.speed),
                    "This is half of it: the rule of thumb takes the diameter, not the radius.",
                ),
                Slip(
                    "diameter for radius",
                    lambda n: g_force(n.diameter * 2, n.speed),
                    "This is twice as much. The wall turns on the radius of the bowl, half the diameter.",
                ),
                *units_of_g(lambda n: g_force(n.diameter, n.speed)),
            ),
            working=(
                Step(
                    By(
                        "The rule: 0.0000142 times the diameter in inches, times the speed squared.",
                        "Speed in radians a second, squared, times the radius in metres, over gravity.",
                    ),
                    By("0.0000142 * {diameter} * {speed}**2", "({speed} * 2 * pi / 60)**2 * {diameter} / 2000 / 9.807"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="How fast does a drilled grain of {grain} settle at the wall by Stokes' law, in mm/s?",
            unit="mm/s",
            uses=("a",),
            solve=lambda n: _settling(n, n.a),
            plausible=Range(0.05, 25, "mm/s"),
            tolerance=relative(0.02, because="the g of (a) may be rounded, and so are the powers of ten on the way"),
            marks=Marks(2),
            slips=(
                Slip(
                    "plain gravity",
                    lambda n: _settling(n, Q(1.0)),
                    "This is the velocity in a still tank. In the bowl it is as many times faster as (a) says.",
                ),
                Slip(
                    "radius of the grain",
                    lambda n: _settling(n, n.a) / 4,
                    "You took the radius of the grain. With 18 below the line Stokes' law has the diameter.",
                ),
                Slip(
                    "buoyancy left out",
                    lambda n: _settling(n, n.a) * (LOW_GRAVITY / (LOW_GRAVITY - WATER_4C)),
                    "You used the density of the grain. The liquid carries part of it: take the difference of the "
                    "densities.",
                ),
            ),
            working=(
                Step(
                    "Difference of the densities times gravity, with the grain in metres and the viscosity in Pa.s; "
                    "times 1000 for millimetres.",
                    "1600 * 9.807 * ({grain} / 1000000)**2 / (18 * {viscosity} / 1000) * 1000",
                    "still",
                    "mm/s",
                    digits=5,
                ),
                Step("In the bowl it is as many times faster as (a) says.", "{still} * {a}"),
            ),
        ),
        Numeric(
            key="c",
            ask="What is the cut point of the bowl by Sigma, in µm?",
            unit="um",
            digits=3,
            solve=_cut,
            plausible=Range(2, 10, "um"),
            marks=Marks(3),
            slips=(
                Slip(
                    "100 % convention",
                    lambda n: _cut(n, 1.0),
                    "You divided the flow by Sigma alone, which belongs to a Sigma for a 100 % cut. This one is for "
                    "50 %: divide by 2 times Sigma.",
                ),
                Slip(
                    "cP left as Pa.s",
                    lambda n: _cut(n) * 1000**0.5,
                    "You put the viscosity in a thousand times too large. One cP or mPa.s is 0.001 Pa.s.",
                ),
                Slip(
                    "root not taken",
                    lambda n: Q((_cut(n).m_as("um")) ** 2, "um"),
                    "This is the square of the cut point. Take the root.",
                ),
                Slip(
                    "gallons read as litres",
                    lambda n: _cut(n) * (mislabelled(n.flow, "gal/min", "L/min") / n.flow) ** 0.5,
                    "You took gal/min to be L/min. One gallon is 3.785 L.",
                    only=System.FIELD,
                ),
            ),
            working=(
                Step(
                    By(
                        "Velocity under plain gravity, in µm/s: 1 gal/min is 63.09 cm³/s.",
                        "Velocity under plain gravity, in µm/s: an hour has 3600 s.",
                    ),
                    By("{flow} * 63.09 / (2 * {sigma})", "{flow} * 1000000 / 3600 / (2 * {sigma})"),
                    "velocity",
                    "µm/s",
                ),
                Step(
                    "Stokes' law turned round, in metres a second and Pa.s; times 1 000 000 for µm.",
                    "sqrt(18 * {viscosity} / 1000 * {velocity} / 1000000 / (1600 * 9.807)) * 1000000",
                    digits=3,
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="The bowl is set to {other_speed}; all else stays. What is the cut point then, in µm?",
            unit="um",
            digits=3,
            uses=("c",),
            solve=lambda n: n.c * cut_point_ratio(speed_ratio=(n.other_speed / n.speed).to("")),
            plausible=Range(1, 22, "um"),
            marks=Marks(2),
            slips=(
                turned_round(
                    lambda n: n.c * (n.other_speed / n.speed), "A faster bowl cuts finer: put the new speed below."
                ),
                Slip(
                    "with g",
                    lambda n: n.c * (n.speed / n.other_speed) ** 2,
                    "You took the cut point in proportion to one over g. It goes with one over the root of g, which is "
                    "one over the speed.",
                ),
            ),
            working=(Step("The cut point goes with one over the speed.", "{c} * {speed} / {other_speed}"),),
        ),
    ),
)
