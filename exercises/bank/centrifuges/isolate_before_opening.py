"""Isolating a centrifuge before it is opened."""

from __future__ import annotations

import pint

from exercises.bank.centrifuges import FASTEST_RIM, G_FACTOR, Outcome
from exercises.fleet.envelope import BOWL_G
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Pick, Range, mislabelled
from exercises.model.parts import Before, Choice, Convention, Known, Marks, Numeric, Option, Order, Slip, relative
from exercises.model.usual_slips import units_of_g
from exercises.model.working import Step
from pitside.centrifuges import g_force, g_force_field

#: What the mechanic finds at the machine, and the first safe action.
FINDINGS = {
    "one breaker also carries a lock with somebody else's name, and nobody knows where that person is": "leave",
    "the bowl is still running down, although every motor is locked off and was proved dead": "wait",
    "a motor hums when its start button is tried": "stop",
}


def _time(n: Known) -> pint.Quantity:
    return n.speed / n.loss


EXERCISE = Exercise(
    title="Before a centrifuge is opened",
    level=1,
    version=4,
    outcome=Outcome.SAFELY,
    digits=3,
    numbers=(
        Number("diameter", Grid(14, 24, 0.5, "in"), Grid(350, 600, 10, "mm")),
        Number("speed", Grid(1600, 3200, 50, "rpm")),
        Number("slow", Grid(200, 600, 20, "rpm")),
        Number("loss", Grid(120, 400, 10, "rpm/min")),
        Pick("finding", tuple(FINDINGS)),
    ),
    valid=lambda n: n.diameter * n.speed <= FASTEST_RIM and BOWL_G.holds(g_force(n.diameter, n.speed)),
    envelope=(Within("g of the bowl", lambda n: g_force(n.diameter, n.speed), BOWL_G),),
    setting=(
        "The scroll of a centrifuge on rig Sandpiper 2 must be looked at. The bowl is {diameter} across and runs at "
        "{speed}. It runs on warm oil-base mud, is flushed with its base oil, and gives off vapour: "
        "nothing that sparks comes near. The rig's own rules for permits, locks and tags, and the maker's "
        "manual, come before this exercise; only people named on the permit do the work."
    ),
    parts=(
        Order(
            key="a",
            ask="Put the steps in a safe order, from the running machine to the open lid. Give the letters.",
            steps={
                "permit": "Get the permit, under which locks and tags are put on, and tell the crew what will happen.",
                "feed": "Stop the feed, flush with base oil, and shut the base oil off.",
                "power": "Stop the motors of bowl and scroll at the panel.",
                "wait": "Wait until the bowl stands still, and see it with your own eyes.",
                "lock": (
                    "Switch off the breakers of bowl, scroll, feed pump and flushing pump; put your own lock and tag "
                    "on each, and keep the keys."
                ),
                "valves": (
                    "Shut the valves of feed and base oil, let off the pressure behind them, and lock and tag them."
                ),
                "try": "Try the start buttons: no motor may answer. Let a competent person test for dead.",
                "air": ("When nothing moves and nothing can run in, have the air at the shut lid tested for vapour."),
                "lid": "Open the lid.",
            },
            rules=(
                Before(
                    "permit", "lid", "No work on the machine without a permit, and not without the crew's knowledge."
                ),
                Before("permit", "lock", "Locks and tags go on under the permit: get it first."),
                Before("permit", "valves", "Valves are locked and tagged under the permit too: get it first."),
                Before(
                    "feed",
                    "power",
                    "Feed off and flushed first: solids left in the bowl cake and throw it out of balance.",
                ),
                Before("power", "wait", "The bowl can only run down after its motor was stopped."),
                Before("power", "lock", "Stop at the panel first; a breaker is no stop button for a loaded motor."),
                Before("feed", "valves", "Flush before the valves of feed and base oil are shut and locked."),
                Before("lock", "try", "Try after the locks are on: it is the locks that you are testing."),
                Before("try", "lid", "Prove that it is dead before you open: a wrong breaker may have been locked."),
                Before(
                    "valves",
                    "lid",
                    "Shut and lock the valves before you open: mud or oil can be let in on your hands.",
                ),
                Before(
                    "valves",
                    "air",
                    "Test the air once no warm mud or base oil can run in: what runs in later gives off vapour again.",
                ),
                Before("wait", "air", "Test the air at the lid once the bowl stands still: it says so in that step."),
                Before("air", "lid", "Test the air before you open: a spark at the open lid can light the vapour."),
                Before(
                    "wait",
                    "lid",
                    "Wait until the bowl stands still: it runs on for many minutes, and it can take an arm.",
                ),
            ),
            marks=Marks(5),
            reason=(
                "Other orders are right too, and earn the same marks: locks, trying out and valves can be done while "
                "the bowl runs down, valves before or after breakers, and the permit can come while the machine is "
                "still being stopped. The lid comes last, after everything is dead, shut and still, and after the air "
                "has been tested for vapour."
            ),
            must_pass=True,
        ),
        Numeric(
            key="b",
            ask="Once the motor is off the bowl loses {loss} of speed, evenly. How many minutes until it stands still?",
            unit="min",
            solve=_time,
            plausible=Range(3.5, 28, "min"),
            tolerance=relative(0.02, because="minutes are given to a tenth; the loss of speed is a reading itself"),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "until it is slow",
                    lambda n: (n.speed - n.slow) / n.loss,
                    "At this time the bowl still turns. Wait until it has lost all of its speed.",
                ),
                Slip(
                    "seconds called minutes",
                    lambda n: mislabelled(_time(n), "s", "min"),
                    "This is the time in seconds. Divide by 60, or give the unit as s.",
                ),
            ),
            working=(Step("All of the speed over what it loses in a minute.", "{speed} / {loss}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "Somebody says that {slow} is slow enough to open. What is the g at the wall of the bowl at {slow}, as "
                "a multiple of gravity?"
            ),
            unit="fraction",
            solve=lambda n: g_force(n.diameter, n.slow),
            plausible=Range(7, 130),
            conventions=(Convention("0.0000142 for in and rpm", lambda n: g_force_field(n.diameter, n.slow)),),
            tolerance=G_FACTOR,
            marks=Marks(1),
            outcome=Outcome.G_FORCE,
            slips=(
                Slip(
                    "radius for diameter",
                    lambda n: g_force(n.diameter / 2, n.slow),
                    "This is half of it: the rule of thumb takes the diameter, not the radius.",
                ),
                Slip(
                    "in proportion to the speed",
                    lambda n: g_force(n.diameter, n.speed) * (n.slow / n.speed),
                    "You took g in proportion to the speed. It goes with the square of it.",
                ),
                *units_of_g(lambda n: g_force(n.diameter, n.slow)),
            ),
            working=(
                Step(
                    By(
                        "The rule: 0.0000142 times the diameter in inches, times the speed squared.",
                        "Speed in radians a second, squared, times the radius in metres, over gravity.",
                    ),
                    By("0.0000142 * {diameter} * {slow}**2", "({slow} * 2 * pi / 60)**2 * {diameter} / 2000 / 9.807"),
                ),
            ),
        ),
        Choice(
            key="d",
            ask="Before the lid is opened you see this: {finding}. What do you do first?",
            options=(
                Option(
                    "leave",
                    "Stop the work, take no lock off, and let the supervisor find out who else works on the machine.",
                    "This is for a lock that is not yours. Think of what could hurt you first in this case.",
                ),
                Option(
                    "wait",
                    "Stand clear and wait until nothing moves any more; brake nothing by hand.",
                    "This is for a bowl that still moves. Think of what could hurt you first in this case.",
                ),
                Option(
                    "stop",
                    "Stop, stand clear, treat the machine as live, and tell the supervisor and the electrician: they "
                    "find the cause, and then the isolation is done again from the start.",
                    "This is for a machine that is still live. Think of what could hurt you first in this case.",
                ),
                Option(
                    "carry_on",
                    "Open the lid with care: the breakers are off, and the job is short.",
                    "Never. No job is short enough to open a machine that is not proved dead, locked and still.",
                    never_right=True,
                ),
            ),
            right=lambda n: FINDINGS[str(n.finding)],
            marks=Marks(2),
            reason=(
                "You saw this: {finding}. Nobody cuts another's lock; nobody touches a bowl that moves; and a motor "
                "that answers is live, whatever the tags say."
            ),
            must_pass=True,
        ),
    ),
)
