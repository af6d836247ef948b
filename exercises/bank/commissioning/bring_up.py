"""Bringing a plant up for the first time: the order of the tests, and what to do with what they find."""

from __future__ import annotations

from exercises.bank.commissioning import Outcome
from exercises.fleet.envelope import CONE_HEAD, OPEN_CONE_MUD_WEIGHT
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Pick, Range
from exercises.model.parts import Before, Choice, Convention, Marks, Numeric, Option, Order, Slip, relative
from exercises.model.working import Step
from pitside.cyclones import feed_pressure
from pitside.pumps import head_from_pressure
from pitside.units import WATER_4C, Q

#: What turns up during the tests, and what is done about it. Common practice, no source.
FINDINGS = {
    "In the water run the header of the cones shows less than half of its pressure, and the pump is quiet.": "rotation",
    "A flange drips at half of the test pressure of the line.": "let-off",
    "In the empty run of the centrifuge vibration is twice the maker's figure.": "no-feed",
    "The rig's supply dips, and lights go dim, each time the large motor is started.": "supply",
}
OTHER_FINDING = "That is for another finding. Which test is this, and what would still be under load?"


EXERCISE = Exercise(
    title="A plant's first days",
    level=2,
    version=4,
    outcome=Outcome.COMMISSION,
    numbers=(
        Pick("finding", tuple(FINDINGS)),
        Number("head", Grid(72, 78, 1, "ft"), Grid(22, 23.6, 0.2, "m")),
        Number("mud_weight", Grid(9.2, 10.4, 0.1, "lb/gal"), Grid(1100, 1240, 10, "kg/m3")),
        Derived("in_water", lambda n: feed_pressure(WATER_4C, n.head), By("psi", "kPa"), By(1, 0)),
    ),
    envelope=(
        Within("head at the cones", lambda n: head_from_pressure(n.in_water, WATER_4C), CONE_HEAD),
        Within("mud over open cones", lambda n: n.mud_weight, OPEN_CONE_MUD_WEIGHT),
    ),
    setting=(
        "A package of shakers, cones and a centrifuge has been lifted onto rig Heron 4. Pipes and cables are not "
        "connected yet. A pump whose impeller is screwed onto its shaft must never turn backwards, not even for a "
        "moment: the impeller would come off. So the coupling is apart, and the motor alone is turned. No machine runs "
        "coupled before its stop has been tried. Pressure tests, cables and first starts are the work of the people "
        "named on the permits."
    ),
    parts=(
        Order(
            key="a",
            ask="Put the steps in a sound order, from the lift to the handover. Give the letters.",
            steps={
                "survey": "Survey: is everything here, whole, level and bolted down, with guards and ways to get out?",
                "connect": "Connect pipes and cables, by the drawing.",
                "hydro": "Fill the lines with water, vent them, and test them under pressure, with everybody away.",
                "rotation": (
                    "With couplings apart where there are any, and everybody clear of the shafts, turn each motor for "
                    "a moment and check its direction by the arrow."
                ),
                "couple": "Join the couplings and put the guards back on.",
                "trips": "Make each stop, trip and alarm act, and write it down.",
                "water": "Run everything on water: leaks, flows, pressures.",
                "baseline": "Write down what each machine reads on water and empty: pressure, amperes, vibration.",
                "mud": "Run on mud, with the flow raised in steps.",
                "accept": "Run the acceptance test for its full time, with both sides watching.",
                "handover": "Hand over: record, spares, a crew that was shown the machines, signatures.",
            },
            rules=(
                Before(
                    "survey",
                    "connect",
                    "Look it over before you connect it: what is broken or missing goes back first.",
                ),
                Before("connect", "hydro", "Lines are tested as they will stand: connect them first."),
                Before("connect", "rotation", "Without cables no motor turns: connect them first."),
                Before(
                    "rotation",
                    "couple",
                    "Try the direction while the coupling is apart: backwards it unscrews an impeller.",
                ),
                Before("hydro", "water", "A line is run only after it has held its test pressure."),
                Before(
                    "couple",
                    "water",
                    "Couplings and guards before the first run: no guard is off in a run.",
                ),
                Before("connect", "trips", "Without cables no stop and no alarm can act: connect them first."),
                Before("trips", "water", "Stops and trips before the first run: one that was not tried is not there."),
                Before("water", "baseline", "The readings are those of the water run."),
                Before("water", "mud", "Water before mud: a leak of water is wiped up, and it weighs less."),
                Before(
                    "baseline", "mud", "Take the baseline while it is new and clean: later nobody knows what it was."
                ),
                Before("mud", "accept", "The acceptance test is run on mud, after the first faults are out."),
                Before("accept", "handover", "Hand over what has passed, not what will."),
            ),
            marks=Marks(5),
            reason=(
                "First look, then connect, then pressure with water, direction with couplings apart, couplings and "
                "guards, stops and trips, water run with its readings, mud, acceptance, handover. The pressure test "
                "comes anywhere between connecting and the water run; stops may be tried before the couplings are "
                "joined."
            ),
        ),
        Choice(
            key="b",
            ask="During the tests this turns up: {finding} What do you do first?",
            options=(
                Option(
                    "rotation",
                    "Stop the pump, have it isolated, and have its direction checked, coupling apart.",
                    OTHER_FINDING,
                ),
                Option(
                    "let-off",
                    "Let the pressure off, see the gauge at nothing, and only then send anybody to the flange.",
                    OTHER_FINDING,
                ),
                Option(
                    "no-feed",
                    "Give it no feed: stop it, wait until it stands, have it locked out, and then the maker's people "
                    "look at it.",
                    OTHER_FINDING,
                ),
                Option(
                    "supply",
                    "Start nothing more, and ask the rig's electrician for load, cable and order of starting.",
                    OTHER_FINDING,
                ),
                Option(
                    "on",
                    "Go on to the next test, and put it on the list of what is to be done later.",
                    "A test is made so that you can stop in time. What goes wrong on water gets worse on mud.",
                    never_right=True,
                ),
            ),
            right=lambda n: FINDINGS[n.finding],
            marks=Marks(2),
            reason=(
                "A finding stops the test that found it. Pressure is let off before anybody comes near, a machine that "
                "shakes is not loaded, and direction is tried with the coupling apart."
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "In the water run the header of the cones shows {in_water}. The pump gives the same head in mud. What "
                "will the gauge show in mud of {mud_weight}?"
            ),
            unit=By("psi", "kPa"),
            solve=lambda n: n.in_water * n.mud_weight / WATER_4C,
            plausible=Range(34, 43, "psi"),
            tolerance=relative(
                0.01, because="8.33 for 8.345 lb/gal moves it by 0.2 %; the gauge is read to half a unit"
            ),
            digits=3,
            marks=Marks(1),
            conventions=(Convention("8.33 lb/gal", lambda n: n.in_water * n.mud_weight / Q(8.33, "lb/gal")),),
            slips=(
                Slip(
                    "same pressure",
                    lambda n: n.in_water,
                    "The head stays the same, not the pressure: mud is heavier than water.",
                ),
                Slip(
                    "upside down",
                    lambda n: n.in_water * WATER_4C / n.mud_weight,
                    "Your ratio is upside down: in heavier mud the gauge shows more.",
                ),
            ),
            working=(
                Step(
                    "Pressure goes with the density at the same head.",
                    By("{in_water} * {mud_weight} / 8.345", "{in_water} * {mud_weight} / 1000"),
                ),
            ),
        ),
    ),
)
