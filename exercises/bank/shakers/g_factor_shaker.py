"""The g-factor of a shaker, and the speed for another one."""

from __future__ import annotations

from exercises.bank.shakers import Outcome
from exercises.fleet.envelope import SHAKER_G
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Pick, Range, System, mislabelled
from exercises.model.parts import Choice, Convention, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.shakers import g_factor, g_factor_field, speed_for_g, stroke_for_g
from pitside.units import Q

CONSTANTS = relative(0.006, because="70490 for 70414 or 9.81 for 9.80665 m/s² moves it by 0.1 %; given to three digits")

#: What was done to open the machine, and the next safe step.
STATES = {
    "The shaker still runs": "flow",
    "The flow goes to the other shakers, and this shaker was stopped with its push button": "lock",
    "The shaker has no flow, it stands still, and its power supply is locked out and tagged": "try",
    "The power supply of the shaker is locked out and tagged. Somebody tried to start the shaker, it stayed still, and "
    "its switch is off again": "guard",
}


def _is_a_shaker(n: Known) -> bool:
    """A deck that shakes too gently, and a change to the g of an ordinary one."""
    g = g_factor(n.stroke, n.speed).m_as("")
    return bool(4.5 <= g <= 8.0 and 1.12 <= n.target.m_as("") / g <= 1.8)


EXERCISE = Exercise(
    title="The g-factor of a shaker",
    level=1,
    version=3,
    outcome=Outcome.G_FACTOR,
    tolerance=CONSTANTS,
    numbers=(
        Number("stroke", Grid(0.12, 0.24, 0.01, "in"), Grid(3.0, 6.0, 0.2, "mm")),
        Number("speed", Grid(1350, 1800, 10, "rpm")),
        Number("target", Grid(7.0, 8.0, 0.1)),
        Pick("done", tuple(STATES)),
    ),
    valid=_is_a_shaker,
    envelope=(Within("g that is wanted", lambda n: n.target, SHAKER_G),),
    setting=(
        "A shaker on rig Heron 4 moves on a straight line. The card on the deck shows a stroke of {stroke}, measured "
        "from end to end. The drive is fed by a frequency converter and turns at {speed}. For this deck, its screens "
        "and its bearings the maker allows a g-factor of up to 8.0."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the g-factor along the stroke?",
            unit="fraction",
            digits=3,
            solve=lambda n: g_factor(n.stroke, n.speed),
            plausible=Range(4.4, 8),
            conventions=(Convention("constant 70490", lambda n: g_factor_field(n.stroke, n.speed)),),
            marks=Marks(2),
            slips=(
                Slip(
                    "stroke as amplitude",
                    lambda n: 2 * g_factor(n.stroke, n.speed),
                    "You took the whole stroke as the amplitude. The deck swings half the stroke to each side: "
                    "halve it.",
                ),
                Slip(
                    "stroke halved twice",
                    lambda n: g_factor(n.stroke / 2, n.speed),
                    "Your answer is half of the right one: the stroke was halved twice. The formula for the stroke has "
                    "the half in it.",
                ),
                Slip(
                    "turns a minute for radians a second",
                    lambda n: g_factor(n.stroke, Q(n.speed.m_as("rpm"), "rad/s")),
                    "You put turns a minute where the formula wants radians a second. Multiply by 2π and divide by 60 "
                    "first.",
                ),
                Slip(
                    "millimetres for metres",
                    lambda n: g_factor(mislabelled(n.stroke, "mm", "m"), n.speed),
                    "You put the stroke in as metres. It is in millimetres: divide it by 1000.",
                    only=System.METRIC,
                ),
                Slip(
                    "inches for feet",
                    lambda n: g_factor(mislabelled(n.stroke, "in", "ft"), n.speed),
                    "Your answer is twelve times too large: inches were taken as feet.",
                    only=System.FIELD,
                ),
            ),
            working=(
                Step(
                    By(
                        "Stroke in inches times the square of the speed, over 70414 (handbooks print 70490).",
                        "Half the stroke in metres, times the square of the speed in radians a second, over 9.81 m/s².",
                    ),
                    By("{stroke} * {speed}**2 / 70414", "{stroke} / 2 / 1000 * (2 * pi * {speed} / 60)**2 / 9.81"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="If the stroke stayed the same, at what speed of the drive would the g-factor be {target}?",
            unit="rpm",
            uses=("a",),
            solve=lambda n: n.speed * (n.target / n.a) ** 0.5,
            plausible=Range(1400, 2600, "rpm"),
            conventions=(
                Convention("constant 70490", lambda n: n.speed * (n.target / g_factor_field(n.stroke, n.speed)) ** 0.5),
            ),
            marks=Marks(2),
            slips=(
                Slip(
                    "linear in speed",
                    lambda n: n.speed * (n.target / n.a),
                    "You raised the speed as much as the g-factor. It goes with the square of the speed: take the root "
                    "of the ratio.",
                ),
                Slip(
                    "stroke as amplitude",
                    lambda n: speed_for_g(2 * n.stroke, n.target),
                    "You took the stroke as the amplitude. Half the stroke goes into the formula.",
                ),
                Slip(
                    "radians called turns",
                    lambda n: Q((n.speed * (n.target / n.a) ** 0.5).to("rad/s").magnitude, "rpm"),
                    "These are radians a second. Times 60 and over 2π they are turns a minute.",
                ),
            ),
            working=(
                Step("The speed goes with the root of the g-factor.", "{speed} * sqrt({target} / {a})", digits=4),
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "The maker does not allow the speed of (b). The drive stays at {speed}, and the weights are set to a "
                "longer stroke instead. What stroke gives {target}?"
            ),
            unit=By("in", "mm"),
            digits=3,
            uses=("a",),
            solve=lambda n: n.stroke * n.target / n.a,
            plausible=Range(0.13, 0.5, "in"),
            conventions=(
                Convention("constant 70490", lambda n: n.stroke * n.target / g_factor_field(n.stroke, n.speed)),
            ),
            marks=Marks(1),
            slips=(
                Slip(
                    "root of the ratio",
                    lambda n: n.stroke * (n.target / n.a) ** 0.5,
                    "You took the root. With the stroke the g-factor grows in proportion; only the speed is squared.",
                ),
                Slip(
                    "amplitude for stroke",
                    lambda n: stroke_for_g(n.speed, n.target) / 2,
                    "This is the amplitude. The stroke, from end to end, is twice as long.",
                ),
            ),
            working=(Step("The stroke goes with the g-factor itself.", "{stroke} * {target} / {a}", digits=4),),
        ),
        Choice(
            key="d",
            ask="The weights sit on the shaft behind a guard. {done}. What comes next?",
            options=(
                Option(
                    "guard",
                    "Take the guard off and set the weights.",
                    "A guard comes off only when the flow is gone, the supply is locked out, and somebody has tried to "
                    "start it.",
                ),
                Option(
                    "lock",
                    "Lock out and tag the power supply of the shaker.",
                    "See what was done. The machine must stand still first, and it is locked out only once.",
                ),
                Option(
                    "flow",
                    "Send the flow to the other shakers and stop this one.",
                    "See what was done. The machine already stands still, and no mud comes to it.",
                ),
                Option(
                    "try",
                    "Try to start the shaker, then put its switch back to off.",
                    "A trial proves something only when the supply was locked out, and it is made once.",
                ),
            ),
            right=lambda n: STATES[n.done],
            marks=Marks(1),
            must_pass=True,
            reason=(
                "Stop, lock out and tag, try to start and switch back to off, and only then take the guard off. The "
                "cabinet of the converter is for electricians alone: it holds a charge for minutes after the lock-out. "
                "The rig's own permit and lock-out rules, and the maker's limits of g for screens and deck, come "
                "before this exercise."
            ),
        ),
    ),
)
