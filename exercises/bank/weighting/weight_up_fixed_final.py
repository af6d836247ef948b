"""Weighting up with full pits."""

from __future__ import annotations

import pint

from exercises.bank.mud_weight import ANY_MUD
from exercises.bank.weighting import MUD_TO_WEIGHT_UP, TO_ONE_PERCENT, Outcome
from exercises.fleet.envelope import WEIGHTED_MUD
from exercises.fleet.rigs import SANDPIPER_2
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Before, Convention, Known, Marks, Numeric, Order, Slip, absolute, relative
from exercises.model.usual_slips import KILOGRAMS_CALLED_TONNES, forty_two_left_out
from exercises.model.working import Step
from pitside.materials import BARITE
from pitside.weighting import start_volume, volume_rise, weighting_mass


def _start(n: Known) -> pint.Quantity:
    return start_volume(n.final_volume, n.mud_weight, n.target, n.barite)


EXERCISE = Exercise(
    title="Weighting up with full pits",
    level=2,
    version=3,
    outcome=Outcome.WEIGHTING_UP,
    numbers=(Number("final_volume", Grid(700, 1300, 10, "bbl"), Grid(112, 205, 1, "m3")), *MUD_TO_WEIGHT_UP),
    valid=lambda n: 1.5 <= (n.target - n.mud_weight).m_as("lb/gal") <= 3.0,
    envelope=(
        Within("mud in the pits", lambda n: n.final_volume, SANDPIPER_2.pits),
        Within("mud weight", lambda n: n.mud_weight, ANY_MUD),
        Within("target", lambda n: n.target, WEIGHTED_MUD),
    ),
    setting=(
        "The pits of rig Sandpiper 2 are full: {final_volume} of mud of {mud_weight}. The next section of well "
        "Marram-2 needs {target}. Count the pits alone: the driller has agreed that they are shut off from flow line "
        "and suction, and the mud in the hole is weighted up later, in the steps of the programme. The crew first "
        "moves some of the old mud to the reserve pit. Then it adds barite until the pits hold {final_volume} again, "
        "at the target weight. Take the density of barite as {barite}."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By(
                "How many barrels of the old mud stay in the pits? Give a whole number or one decimal.",
                "How many cubic metres of the old mud stay in the pits? Give one decimal.",
            ),
            unit=By("bbl", "m3"),
            solve=_start,
            plausible=Range(600, 1300, "bbl"),
            conventions=(
                Convention("barite of SG 4.20", lambda n: start_volume(n.final_volume, n.mud_weight, n.target, BARITE)),
            ),
            tolerance=relative(0.003, because="barite at 35 lb/gal or SG 4.20 moves it by 0.03 %; rounding by 0.1 %"),
            marks=Marks(3),
            slips=(
                Slip(
                    "growth of the full volume taken off",
                    lambda n: n.final_volume - volume_rise(n.final_volume, n.mud_weight, n.target, n.barite),
                    "You worked out how much the full pits would grow, and took that off. But only the mud that stays "
                    "is weighted up: divide barite minus target by barite minus old weight.",
                ),
                Slip(
                    "nothing moved out",
                    lambda n: n.final_volume,
                    "This is the final volume. The barite needs room: some of the old mud must go out first.",
                ),
                Slip(
                    "upside down",
                    lambda n: n.final_volume * (n.final_volume / _start(n)),
                    "Your fraction is upside down: more mud would stay than the pits hold. Barite minus target goes "
                    "above the line.",
                ),
            ),
            working=(
                Step(
                    "The old mud that stays, with barite minus target above the line:",
                    "{final_volume} * ({barite} - {target}) / ({barite} - {mud_weight})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By(
                "How many barrels of the old mud must go to the reserve pit?",
                "How many cubic metres of the old mud must go to the reserve pit?",
            ),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda n: n.final_volume - n.a,
            plausible=Range(30, 220, "bbl"),
            tolerance=absolute(0.6, "bbl", because="(a) may be rounded to a whole barrel, which is half a barrel off"),
            marks=Marks(1),
            outcome=Outcome.PLANNING,
            slips=(
                Slip(
                    "growth of the full volume",
                    lambda n: volume_rise(n.final_volume, n.mud_weight, n.target, n.barite),
                    "This is how much the full pits would grow if nothing went out. Take your answer to (a) off the "
                    "final volume.",
                ),
                Slip(
                    "what stays", lambda n: n.a, "This is the mud that stays, as in (a). Take it off the final volume."
                ),
            ),
            working=(Step("What does not stay must go out.", "{final_volume} - {a}"),),
        ),
        Numeric(
            key="c",
            ask=By("How many sacks of barite of 100 lb are needed?", "How many tonnes of barite are needed?"),
            unit=By("sack", "t"),
            uses=("b",),
            solve=lambda n: n.b * n.barite,
            plausible=Range(500, 3000, "sack"),
            conventions=(Convention("barite of SG 4.20", lambda n: n.b * BARITE),),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            slips=(
                Slip(
                    "weighted up the full volume",
                    lambda n: weighting_mass(n.final_volume, n.mud_weight, n.target, n.barite),
                    "This is the barite for the full volume, left to grow. Here barite fills only the room that was "
                    "made in (b).",
                ),
                Slip(
                    "target weight for the barite",
                    lambda n: n.b * n.target,
                    "You filled the room with mud of the target weight. It is filled with barite: multiply by the "
                    "density of barite.",
                ),
                forty_two_left_out(lambda n: n.b * n.barite, "A barrel of barite weighs 1470 lb."),
                KILOGRAMS_CALLED_TONNES.of(lambda n: n.b * n.barite),
            ),
            working=(
                Step(
                    By(
                        "Barite fills the room that was made. A barrel holds 42 gal.",
                        "Barite fills the room that was made.",
                    ),
                    By("{b} * 42 * {barite} / 100", "{b} * {barite} / 1000"),
                ),
            ),
        ),
        Order(
            key="d",
            ask="Put the steps of the job in a safe order. Give the letters, first step first.",
            must_pass=True,
            steps={
                "talk": "Hold a short talk with the crew about the whole job: what moves, what can hurt, who does "
                "what.",
                "tell": "Tell the driller and the mud logger: how much mud moves, from where to where, and what the "
                "new weight will be. Wait until both say yes.",
                "room": "Check that the reserve pit has room for the mud.",
                "line": "Set the valves from the pits to the reserve pit, with the transfer pump off. A second "
                "person checks the line.",
                "out": "Pump the mud to the reserve pit. Watch both pit levels, in touch with the driller, and stop "
                "the pump.",
                "close": "Close the valves to the reserve pit.",
                "hopper": "Start the mixing pump. Check that mud flows through the hopper.",
                "barite": "With dust mask, goggles and gloves on, add the barite at a steady rate.",
                "weigh": "Weigh the mud at both ends of the pits until it shows the target everywhere.",
            },
            rules=(
                Before(
                    "talk",
                    "line",
                    "The talk comes first: everybody must know the job before a valve is touched.",
                ),
                Before(
                    "talk",
                    "hopper",
                    "The talk comes first: everybody must know the job before a pump is started.",
                ),
                Before(
                    "tell",
                    "out",
                    "Tell the driller and the mud logger before mud moves: a pit level that changes and nobody has "
                    "told of looks like a kick or a loss.",
                ),
                Before("room", "out", "Check the room first: a reserve pit that overflows spills mud."),
                Before(
                    "line",
                    "out",
                    "Open the line and have it checked before you pump: mud must not meet a closed valve.",
                ),
                Before("out", "close", "The valves stay open until the mud is out."),
                Before(
                    "close",
                    "barite",
                    "Close the valves before the barite goes in: otherwise weighted mud is lost to the reserve pit.",
                ),
                Before(
                    "hopper", "barite", "Mud must flow through the hopper before barite goes in: dry barite plugs it."
                ),
                Before("barite", "weigh", "Weigh after the barite is in: before that the mud cannot show the target."),
            ),
            marks=Marks(5),
            outcome=Outcome.WORKING_SAFELY,
            reason=(
                "Other orders are right too. The driller and the mud logger can be told, and the room checked, at any "
                "time before mud moves. The hopper can be started at any time after the talk and before the barite. "
                "The procedure of the rig comes before this exercise."
            ),
        ),
    ),
)
