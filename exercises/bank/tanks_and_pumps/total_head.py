"""Total head on a centrifugal pump, its pressure, and its suction."""

from __future__ import annotations

import pint

from exercises.bank.tanks_and_pumps import TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import CONE_HEAD, FEED_PUMP_HEAD, UNWEIGHTED_MUD
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range, System, mislabelled
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, absolute, relative
from exercises.model.usual_slips import ratio_upside_down
from exercises.model.working import Step
from pitside.pumps import (
    SystemCurve,
    head_from_pressure,
    head_from_pressure_field,
    pressure_from_head,
    pressure_from_head_field,
    suction_head,
    suction_margin,
)
from pitside.units import WATER_4C, Q

#: What the school asks to be left over on the suction side.
LEAST_MARGIN = Q(1.5, "m")
NO_LIFT = Q(0.0, "m")
#: What feed pumps of this size need at their suction. From memory of pump curves.
NEEDS = Usual(10, 18, "ft")
TO_A_TENTH = absolute(0.1, "ft", because="heights are read to half a foot or 10 cm, sums of them are exact")


def _friction(n: Known) -> pint.Quantity:
    """Friction goes with the square of the flow: a system curve without a static head."""
    return SystemCurve.through(NO_LIFT, n.known_flow, n.known_friction).head(n.flow)


def _available(n: Known) -> pint.Quantity:
    return suction_head(n.level, n.mud_weight, n.vapour, n.suction_friction, n.air)


def _sg(n: Known) -> float:
    """Specific gravity as field people take it, over 8.33 lb/gal."""
    return float(n.mud_weight.m_as("lb/gal")) / 8.33


def _valid(n: Known) -> bool:
    """About 75 ft of head at the manifold, which stands above the mud; a suction margin clear of the rule.

    The suction line is a part of the lines, so that it loses a part of what they lose together.
    """
    margin = _available(n) - n.required
    feed = head_from_pressure(n.feed_pressure, n.mud_weight)
    return (
        Q(70, "ft") <= feed <= Q(80, "ft")
        and n.manifold - n.level >= Q(3, "ft")
        and n.manifold - n.level + _friction(n) <= Q(30, "ft")
        and 0.12 <= abs((n.flow / n.known_flow).m_as("") - 1) <= 0.5
        and n.suction_friction <= 0.6 * _friction(n)
        and Q(0.3, "m") <= margin <= Q(2.3, "m")
        and abs(margin - LEAST_MARGIN) >= Q(0.25, "m")
    )


EXERCISE = Exercise(
    title="Total head on a feed pump",
    level=2,
    version=6,
    outcome=Outcome.HEAD,
    numbers=(
        Number("flow", Grid(500, 1100, 20, "gal/min"), Grid(115, 250, 5, "m3/h")),
        Number("mud_weight", Grid(8.8, 9.4, 0.1, "lb/gal"), Grid(1050, 1130, 10, "kg/m3")),
        Number("level", Grid(3.0, 6.5, 0.5, "ft"), Grid(0.9, 2.0, 0.1, "m")),
        Number("manifold", Grid(8.0, 16.0, 0.5, "ft"), Grid(2.4, 4.9, 0.1, "m")),
        Number("known_flow", Grid(500, 1000, 50, "gal/min"), Grid(110, 230, 10, "m3/h")),
        Number("known_friction", Grid(6.0, 14.0, 0.5, "ft"), Grid(1.8, 4.3, 0.1, "m")),
        Number("feed_pressure", Grid(32, 43, 1, "psi"), Grid(220, 295, 5, "kPa")),
        Number("air", Grid(14.7, 14.7, 0.1, "psi"), Grid(101, 101, 1, "kPa")),
        Number("vapour", Grid(3.6, 5.6, 0.1, "psi"), Grid(25.0, 38.5, 0.5, "kPa")),
        Number("suction_friction", Grid(3.0, 8.0, 0.1, "ft"), Grid(0.90, 2.40, 0.05, "m")),
        NEEDS.number("required", (1, "ft"), (0.1, "m")),
    ),
    valid=_valid,
    envelope=(
        Within("unweighted mud", lambda n: n.mud_weight, UNWEIGHTED_MUD),
        Within("head at the manifold", lambda n: head_from_pressure(n.feed_pressure, n.mud_weight), CONE_HEAD),
        Within("head of the pump", lambda n: n.c, FEED_PUMP_HEAD),
        Within("suction head that the pump needs", lambda n: n.required, NEEDS),
    ),
    setting=(
        "A centrifugal pump on rig Heron 4 feeds a bank of open cyclones with {flow} of unweighted mud of "
        "{mud_weight}. Heights are taken from the centre of the pump: the mud in the tank stands {level} above it, the "
        "manifold of the cyclones {manifold} above it. At {known_flow} suction and discharge lines together lost "
        "{known_friction} of head. The manifold must have {feed_pressure} on its gauge."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the static head, from the mud in the tank up to the manifold?",
            unit=By("ft", "m"),
            solve=lambda n: n.manifold - n.level,
            plausible=Range(2.9, 13.2, "ft"),
            tolerance=TO_A_TENTH,
            marks=Marks(1),
            slips=(
                Slip(
                    "heights added",
                    lambda n: n.manifold + n.level,
                    "You added the heights. The mud in the tank already pushes from the suction side: take its level "
                    "off.",
                ),
                Slip(
                    "level left out",
                    lambda n: n.manifold,
                    "You took the lift from the centre of the pump. The mud in the tank helps: take its level off.",
                ),
            ),
            working=(Step("The lift from one level to the other:", "{manifold} - {level}"),),
        ),
        Numeric(
            key="b",
            ask="What head do the lines lose at {flow}? Friction goes with the square of the flow.",
            unit=By("ft", "m"),
            solve=_friction,
            plausible=Range(1, 33, "ft"),
            tolerance=relative(0.02, because="it is given to a tenth of a foot or 10 cm: up to 1.5 % of the least"),
            marks=Marks(2),
            slips=(
                Slip(
                    "linear",
                    lambda n: n.known_friction * (n.flow / n.known_flow),
                    "You took the friction in line with the flow. It goes with the square of the flow.",
                ),
                Slip(
                    "not scaled",
                    lambda n: n.known_friction,
                    "This is the friction at the other flow. Scale it with the square of the ratio of the flows.",
                ),
                ratio_upside_down(
                    lambda n: n.known_friction * (n.known_flow / n.flow) ** 2,
                    "The flow that is wanted goes above the line.",
                ),
            ),
            working=(Step("Scale with the square:", "{known_friction} * ({flow} / {known_flow})**2"),),
        ),
        Numeric(
            key="c",
            ask="What total head must the pump make? Count the pressure at the manifold as a head of this mud.",
            unit=By("ft", "m"),
            uses=("a", "b"),
            solve=lambda n: n.a + n.b + head_from_pressure(n.feed_pressure, n.mud_weight),
            plausible=Range(73, 111, "ft"),
            conventions=(
                Convention("2.31 and 8.33", lambda n: n.a + n.b + head_from_pressure_field(n.feed_pressure, _sg(n))),
            ),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(3),
            slips=(
                Slip(
                    "psi for ft",
                    lambda n: n.a + n.b + mislabelled(n.feed_pressure, "psi", "ft"),
                    "You added psi to feet. Turn the pressure into a head of this mud first: psi / (0.052 × lb/gal).",
                    only=System.FIELD,
                ),
                Slip(
                    "ten kPa a metre",
                    lambda n: n.a + n.b + mislabelled(n.feed_pressure, "kPa", "m") / 10,
                    "You counted 10 kPa to a metre, which is right for water. A metre of this mud presses more: "
                    "divide by its own density times 9.807.",
                    only=System.METRIC,
                ),
                Slip(
                    "head of water",
                    lambda n: n.a + n.b + head_from_pressure(n.feed_pressure, WATER_4C),
                    "You took the head of water. The pump moves mud: divide by its specific gravity.",
                    only=System.FIELD,
                ),
                Slip(
                    "manifold left out",
                    lambda n: n.a + n.b,
                    "You left out what the manifold must have. Turn its pressure into a head of the mud and add it.",
                ),
            ),
            working=(
                Step(
                    "The head that the manifold must have:",
                    By("{feed_pressure} / (0.05195 * {mud_weight})", "{feed_pressure} * 1000 / ({mud_weight} * 9.807)"),
                    "feed",
                ),
                Step("Lift, friction and that head together:", "{a} + {b} + {feed}"),
            ),
        ),
        Numeric(
            key="d",
            ask="By how much does the pump raise the pressure of the mud?",
            unit=By("psi", "kPa"),
            uses=("c",),
            solve=lambda n: pressure_from_head(n.c, n.mud_weight),
            plausible=Range(35, 80, "psi"),
            conventions=(Convention("2.31 and 8.33", lambda n: pressure_from_head_field(n.c, _sg(n))),),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            slips=(
                Slip(
                    "water",
                    lambda n: pressure_from_head(n.c, WATER_4C),
                    "You took the pressure of that head of water. Multiply by the specific gravity of the mud.",
                ),
                Slip(
                    "density turned round",
                    lambda n: pressure_from_head(n.c, WATER_4C) * (WATER_4C / n.mud_weight),
                    "You divided by the specific gravity. From head to pressure it multiplies: heavy mud presses more.",
                ),
                Slip(
                    "manifold only",
                    lambda n: n.feed_pressure,
                    "This is only what the manifold must have. The pump also lifts the mud and pays for friction.",
                ),
            ),
            working=(
                Step(
                    "The pressure of a column of this mud as high as the head:",
                    By("0.05195 * {mud_weight} * {c}", "{mud_weight} * 9.807 * {c} / 1000"),
                ),
            ),
        ),
        Numeric(
            key="e",
            ask=(
                "Now the suction side. The air on the tank presses with {air} absolute; the hot mud has a vapour "
                "pressure of {vapour}; at {flow} the long suction line loses {suction_friction} of head. What net "
                "positive suction head does the pump get?"
            ),
            unit=By("ft", "m"),
            solve=_available,
            plausible=Range(10.5, 26.5, "ft"),
            tolerance=relative(0.01, because="0.052 for 0.05195 moves it by 0.1 %, rounding to a tenth by 0.5 %"),
            marks=Marks(3),
            slips=(
                Slip(
                    "vapour pressure left out",
                    lambda n: suction_head(n.level, n.mud_weight, Q(0, "kPa"), n.suction_friction, n.air),
                    "You left the vapour pressure out. Hot mud boils under a vacuum: take it off the pressure of the "
                    "air.",
                ),
                Slip(
                    "vapour pressure added",
                    lambda n: suction_head(n.level, n.mud_weight, Q(0, "kPa"), n.suction_friction, n.air + n.vapour),
                    "You added the vapour pressure. It works against you: take it off the pressure of the air.",
                ),
                Slip(
                    "level taken off",
                    lambda n: suction_head(-n.level, n.mud_weight, n.vapour, n.suction_friction, n.air),
                    "You took the level off, as for a lift. The mud stands above the pump here: it adds to the head.",
                ),
                Slip(
                    "head of water",
                    lambda n: suction_head(n.level, WATER_4C, n.vapour, n.suction_friction, n.air),
                    "You turned the pressures into a head of water. Heavy mud gets less from the air: use its density.",
                ),
            ),
            working=(
                Step(
                    "Air less vapour, as a head of this mud:",
                    By(
                        "({air} - {vapour}) / (0.05195 * {mud_weight})",
                        "({air} - {vapour}) * 1000 / ({mud_weight} * 9.807)",
                    ),
                    "push",
                ),
                Step("With the level, less the friction of the suction line:", "{push} + {level} - {suction_friction}"),
            ),
        ),
        Numeric(
            key="f",
            ask="The maker's curve requires {required} at this flow. What margin is left on the suction side?",
            unit=By("ft", "m"),
            uses=("e",),
            solve=lambda n: suction_margin(n.e, n.required) if n.e > n.required else n.e - n.required,
            plausible=Range(0.9, 8, "ft"),
            tolerance=absolute(0.25, "ft", because="(e) is rounded to a tenth, and rounded factors move it by as much"),
            marks=Marks(1),
            slips=(
                Slip(
                    "added",
                    lambda n: n.e + n.required,
                    "You added what the pump requires. Take it off what the pump gets.",
                ),
                Slip(
                    "turned round",
                    lambda n: n.required - n.e,
                    "You took what the pump gets off what it requires. The margin is what is left over: get less "
                    "require.",
                ),
            ),
            working=(Step("What the pump gets, less what it requires:", "{e} - {required}"),),
        ),
        Choice(
            key="g",
            ask=By(
                "The school asks for a margin of at least 4.9 ft. What do you do?",
                "The school asks for a margin of at least 1.5 m. What do you do?",
            ),
            options=(
                Option(
                    "run",
                    "Run it: the margin is enough. Listen to the pump all the same.",
                    "Compare your margin with what is asked: it is too small, and the pump may cavitate.",
                ),
                Option(
                    "help",
                    "Help the suction first: a higher level in the tank, cooler mud, a shorter or wider suction line.",
                    "Compare your margin with what is asked: it is enough, and nothing needs to be changed.",
                ),
                Option(
                    "throttle",
                    "Close the suction valve a little, so that the pump takes less.",
                    "A throttled suction loses head just where it is short: the pump cavitates more.",
                    never_right=True,
                ),
            ),
            uses=("f",),
            right=lambda n: "run" if n.f >= LEAST_MARGIN else "help",
            marks=Marks(1),
            reason=(
                "The margin is {f}. Keep hands and clothes off the turning coupling: its guard stays on while the pump "
                "can start."
            ),
        ),
    ),
)
