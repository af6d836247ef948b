"""Exercises of the lesson weighting up and cutting back: barite, the volume it takes, and the room that is there."""

from __future__ import annotations

import pint

from exercises.model import (
    Before,
    By,
    Choice,
    Convention,
    Earlier,
    Exercise,
    Grid,
    Marks,
    Number,
    Numbers,
    Numeric,
    Option,
    Order,
    Slip,
    Step,
    System,
    absolute,
    mislabelled,
    relative,
)
from pitside.dilution import dilution_volume, replacement_volume
from pitside.materials import BARITE
from pitside.units import Q
from pitside.weighting import start_volume, volume_rise, weighting_mass, weighting_mass_fixed_final

LESSON = "weighting"

WEIGHTING_UP = "Find the barite that brings a mud to its target weight, and what happens to the volume."
PLANNING = "Plan a change of mud weight within the pit room and the mixing rate that the rig has."
CUTTING_BACK = "Find the liquid that cuts a mud back to its target weight, with the volume growing or held."
WORKING_SAFELY = "Put the steps of a change of mud weight in a safe and sound order."

TO_ONE_PERCENT = relative(
    0.01, because="barite at 35 lb/gal or SG 4.20 moves it by 0.2 %; whole sacks and barrels by a little more"
)
SUM_OF_VOLUMES = relative(0.005, because="a pit is read to about a barrel: 0.3 % of the smallest volume drawn")

# weight-up-growing ----------------------------------------------------------------------------------------------------


def _barite_growing(numbers: Numbers, earlier: Earlier) -> pint.Quantity:
    return weighting_mass(numbers.volume, numbers.mud_weight, numbers.target, numbers.barite)


MUD_TO_WEIGHT_UP = (
    Number("mud_weight", Grid(9.5, 14.0, 0.1, "lb/gal"), Grid(1140, 1680, 10, "kg/m3")),
    Number("target", Grid(10.5, 16.5, 0.1, "lb/gal"), Grid(1260, 1980, 10, "kg/m3")),
    Number("barite", Grid(35.0, 35.0, 0.1, "lb/gal"), Grid(4200, 4200, 10, "kg/m3")),
)

WEIGHT_UP_GROWING = Exercise(
    id="weight-up-growing",
    title="Weighting up with room in the pits",
    lesson=LESSON,
    level=2,
    version=1,
    numbers=(
        Number("volume", Grid(400, 1200, 10, "bbl"), Grid(60, 200, 1, "m3")),
        *MUD_TO_WEIGHT_UP,
        Number("rate", Grid(6, 16, 1, "sack/min"), Grid(250, 700, 10, "kg/min")),
    ),
    valid=lambda numbers: 0.8 <= (numbers.target - numbers.mud_weight).m_as("lb/gal") <= 3.0,
    setting=(
        "Rig Heron 4 has {volume} of mud of {mud_weight}. The next section of well Marram-1 needs {target}. "
        "There is room in the pits: no mud is moved out, and the volume grows. Take the density of barite as {barite}."
    ),
    parts=(
        Numeric(
            key="a",
            ask=By("How many sacks of barite of 100 lb are needed?", "How many tonnes of barite are needed?"),
            unit=By("sack", "t"),
            solve=_barite_growing,
            conventions=(
                Convention(
                    "barite of SG 4.20",
                    lambda numbers, earlier: weighting_mass(numbers.volume, numbers.mud_weight, numbers.target, BARITE),
                ),
            ),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(3),
            outcome=WEIGHTING_UP,
            slips=(
                Slip(
                    "old weight below the line",
                    lambda numbers, earlier: weighting_mass_fixed_final(
                        numbers.volume, numbers.mud_weight, numbers.target, numbers.barite
                    ),
                    "You divided by barite minus the old mud weight. The barite must lift its own volume to the "
                    "target too: divide by barite minus the target.",
                ),
                Slip(
                    "volume of the barite left out",
                    lambda numbers, earlier: numbers.volume * (numbers.target - numbers.mud_weight),
                    "You only multiplied the volume by the rise in weight. The barite takes up volume, and that "
                    "volume must reach the target too: use the formula for weighting up.",
                ),
                Slip(
                    "42 left out",
                    lambda numbers, earlier: weighting_mass(
                        mislabelled(numbers.volume, "bbl", "gal"), numbers.mud_weight, numbers.target, numbers.barite
                    ),
                    "Your answer is 42 times too small: there are 42 gal in a barrel. Use 1470 (35 times 42), not 35, "
                    "above the line.",
                    only=System.FIELD,
                ),
                Slip(
                    "for 100 bbl only",
                    lambda numbers, earlier: weighting_mass(
                        Q(100, "bbl"), numbers.mud_weight, numbers.target, numbers.barite
                    ),
                    "This is enough for 100 bbl of mud. Scale it to the volume in the pits.",
                    only=System.FIELD,
                ),
                Slip(
                    "pounds called sacks",
                    lambda numbers, earlier: mislabelled(_barite_growing(numbers, earlier), "lb", "sack"),
                    "This is the mass in pounds. A sack holds 100 lb: divide by 100.",
                    only=System.FIELD,
                ),
                Slip(
                    "kilograms called tonnes",
                    lambda numbers, earlier: mislabelled(_barite_growing(numbers, earlier), "kg", "t"),
                    "This is the mass in kilograms. A tonne is 1000 kg: divide by 1000.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "Barite for each barrel of mud (42 gal). Below the line stands the target, not the old weight.",
                        "Barite for each cubic metre of mud. Below the line stands the target, not the old weight.",
                    ),
                    By(
                        "42 * {barite} * ({target} - {mud_weight}) / ({barite} - {target})",
                        "{barite} * ({target} - {mud_weight}) / ({barite} - {target})",
                    ),
                    "share",
                    By("lb/bbl", "kg/m3"),
                    digits=5,
                ),
                Step(
                    By("For the whole volume, in sacks of 100 lb:", "For the whole volume, in tonnes of 1000 kg:"),
                    By("{share} * {volume} / 100", "{share} * {volume} / 1000"),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask=By("By how many barrels does the volume grow?", "By how many cubic metres does the volume grow?"),
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda numbers, earlier: earlier.a / numbers.barite,
            conventions=(Convention("barite of SG 4.20", lambda numbers, earlier: earlier.a / BARITE),),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            outcome=WEIGHTING_UP,
            slips=(
                Slip(
                    "density of the mud for the barite",
                    lambda numbers, earlier: earlier.a / numbers.target,
                    "You divided the barite by the mud weight. Barite is much denser than mud: divide by the density "
                    "of barite.",
                ),
                Slip(
                    "old weight below the line",
                    lambda numbers, earlier: (
                        numbers.volume
                        - start_volume(numbers.volume, numbers.mud_weight, numbers.target, numbers.barite)
                    ),
                    "You divided by barite minus the old mud weight, which belongs to a fixed final volume. Divide "
                    "the mass of (a) by the density of barite.",
                ),
                Slip(
                    "gallons called barrels",
                    lambda numbers, earlier: mislabelled(earlier.a / numbers.barite, "gal", "bbl"),
                    "This is the rise in gallons. There are 42 gal in a barrel: divide by 42.",
                    only=System.FIELD,
                ),
                Slip(
                    "litres called cubic metres",
                    lambda numbers, earlier: mislabelled(earlier.a / numbers.barite, "L", "m3"),
                    "This is the rise in litres. A cubic metre is 1000 L: divide by 1000.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step(
                    By(
                        "The mud grows by the volume of the barite itself. A barrel holds 42 gal.",
                        "The mud grows by the volume of the barite itself.",
                    ),
                    By("{a} * 100 / (42 * {barite})", "{a} * 1000 / {barite}"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What is the volume of mud after the barite is mixed in?",
            unit=By("bbl", "m3"),
            uses=("b",),
            solve=lambda numbers, earlier: numbers.volume + earlier.b,
            tolerance=SUM_OF_VOLUMES,
            marks=Marks(1),
            outcome=WEIGHTING_UP,
            slips=(
                Slip(
                    "volume kept as it was",
                    lambda numbers, earlier: numbers.volume,
                    "This is the volume before. The barite adds its own volume: add your answer to (b).",
                ),
                Slip(
                    "rise taken off",
                    lambda numbers, earlier: numbers.volume - earlier.b,
                    "You took the rise off. Nothing is moved out here: add it.",
                ),
                Slip(
                    "rise alone",
                    lambda numbers, earlier: earlier.b,
                    "This is the rise of (b) again. Add it to the volume that was in the pits.",
                ),
            ),
            working=(Step("The volume before, and the rise.", "{volume} + {b}"),),
        ),
        Numeric(
            key="d",
            ask="The crew mixes barite at {rate}. How many hours does the mixing take?",
            unit="h",
            uses=("a",),
            solve=lambda numbers, earlier: earlier.a / numbers.rate,
            tolerance=relative(0.02, because="hours are given to a tenth, or to a few minutes"),
            marks=Marks(1, unit=1),
            outcome=PLANNING,
            slips=(
                Slip(
                    "minutes called hours",
                    lambda numbers, earlier: mislabelled(earlier.a / numbers.rate, "min", "h"),
                    "This is the time in minutes. Divide by 60, or give the unit as min.",
                ),
                Slip(
                    "pounds divided by sacks",
                    lambda numbers, earlier: mislabelled(earlier.a, "lb", "sack") / numbers.rate,
                    "You divided pounds by sacks a minute. Use sacks above the line as well.",
                    only=System.FIELD,
                ),
                Slip(
                    "tonnes divided by kilograms",
                    lambda numbers, earlier: mislabelled(earlier.a, "t", "kg") / numbers.rate,
                    "You divided tonnes by kilograms a minute. Turn the tonnes into kilograms first.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step("Time in minutes:", By("{a} / {rate}", "{a} * 1000 / {rate}"), "minutes", "min"),
                Step("In hours:", "{minutes} / 60"),
            ),
        ),
    ),
)

# weight-up-fixed-final ------------------------------------------------------------------------------------------------


def _start(numbers: Numbers, earlier: Earlier) -> pint.Quantity:
    return start_volume(numbers.final_volume, numbers.mud_weight, numbers.target, numbers.barite)


WEIGHT_UP_FIXED_FINAL = Exercise(
    id="weight-up-fixed-final",
    title="Weighting up with full pits",
    lesson=LESSON,
    level=2,
    version=1,
    numbers=(
        Number("final_volume", Grid(400, 1200, 10, "bbl"), Grid(60, 200, 1, "m3")),
        *MUD_TO_WEIGHT_UP,
    ),
    valid=lambda numbers: 1.5 <= (numbers.target - numbers.mud_weight).m_as("lb/gal") <= 3.0,
    setting=(
        "The pits of rig Sandpiper 2 are full: {final_volume} of mud of {mud_weight}. Well Marram-2 needs {target}. "
        "The crew first moves some of the old mud to the reserve pit. Then it adds barite until the pits hold "
        "{final_volume} again, at the target weight. Take the density of barite as {barite}."
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
            conventions=(
                Convention(
                    "barite of SG 4.20",
                    lambda numbers, earlier: start_volume(
                        numbers.final_volume, numbers.mud_weight, numbers.target, BARITE
                    ),
                ),
            ),
            tolerance=relative(0.003, because="barite at 35 lb/gal or SG 4.20 moves it by 0.03 %; rounding by 0.1 %"),
            marks=Marks(3),
            outcome=WEIGHTING_UP,
            slips=(
                Slip(
                    "growth of the full volume taken off",
                    lambda numbers, earlier: (
                        numbers.final_volume
                        - volume_rise(numbers.final_volume, numbers.mud_weight, numbers.target, numbers.barite)
                    ),
                    "You worked out how much the full pits would grow, and took that off. But only the mud that stays "
                    "is weighted up: divide barite minus target by barite minus old weight.",
                ),
                Slip(
                    "nothing moved out",
                    lambda numbers, earlier: numbers.final_volume,
                    "This is the final volume. The barite needs room: some of the old mud must go out first.",
                ),
                Slip(
                    "upside down",
                    lambda numbers, earlier: numbers.final_volume * (numbers.final_volume / _start(numbers, earlier)),
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
            solve=lambda numbers, earlier: numbers.final_volume - earlier.a,
            tolerance=absolute(0.6, "bbl", because="(a) may be rounded to a whole barrel, which is half a barrel off"),
            marks=Marks(1),
            outcome=PLANNING,
            slips=(
                Slip(
                    "growth of the full volume",
                    lambda numbers, earlier: volume_rise(
                        numbers.final_volume, numbers.mud_weight, numbers.target, numbers.barite
                    ),
                    "This is how much the full pits would grow if nothing went out. Take your answer to (a) off the "
                    "final volume.",
                ),
                Slip(
                    "what stays",
                    lambda numbers, earlier: earlier.a,
                    "This is the mud that stays, as in (a). Take it off the final volume.",
                ),
            ),
            working=(Step("What does not stay must go out.", "{final_volume} - {a}"),),
        ),
        Numeric(
            key="c",
            ask=By("How many sacks of barite of 100 lb are needed?", "How many tonnes of barite are needed?"),
            unit=By("sack", "t"),
            uses=("b",),
            solve=lambda numbers, earlier: earlier.b * numbers.barite,
            conventions=(Convention("barite of SG 4.20", lambda numbers, earlier: earlier.b * BARITE),),
            tolerance=TO_ONE_PERCENT,
            marks=Marks(2),
            outcome=WEIGHTING_UP,
            slips=(
                Slip(
                    "weighted up the full volume",
                    lambda numbers, earlier: weighting_mass(
                        numbers.final_volume, numbers.mud_weight, numbers.target, numbers.barite
                    ),
                    "This is the barite for the full volume, left to grow. Here barite fills only the room that was "
                    "made in (b).",
                ),
                Slip(
                    "target weight for the barite",
                    lambda numbers, earlier: earlier.b * numbers.target,
                    "You filled the room with mud of the target weight. It is filled with barite: multiply by the "
                    "density of barite.",
                ),
                Slip(
                    "42 left out",
                    lambda numbers, earlier: mislabelled(earlier.b, "bbl", "gal") * numbers.barite,
                    "Your answer is 42 times too small: there are 42 gal in a barrel. A barrel of barite weighs 1470 "
                    "lb.",
                    only=System.FIELD,
                ),
                Slip(
                    "kilograms called tonnes",
                    lambda numbers, earlier: mislabelled(earlier.b * numbers.barite, "kg", "t"),
                    "This is the mass in kilograms. A tonne is 1000 kg: divide by 1000.",
                    only=System.METRIC,
                ),
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
            ask="Put the steps of the job in a safe and sound order. Give the letters, first step first.",
            steps={
                "talk": "Hold a short talk with the crew. Put on dust mask, goggles and gloves.",
                "room": "Check that the reserve pit has room for the mud.",
                "line": "Open the valves from the pits to the reserve pit. A second person checks the line.",
                "out": "Pump the mud to the reserve pit. Watch both pit levels.",
                "close": "Close the valves to the reserve pit.",
                "hopper": "Start the mixing pump. Check that mud flows through the hopper.",
                "barite": "Add the barite at a steady rate.",
                "weigh": "Weigh the mud at both ends of the pits until it shows the target everywhere.",
            },
            rules=(
                Before(
                    "talk",
                    "line",
                    "The talk comes first: everybody must know the job, and be protected, before a valve is touched.",
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
            marks=Marks(4),
            outcome=WORKING_SAFELY,
            reason=(
                "Other orders are right too: the room can be checked before the talk, and the hopper can be started at "
                "any time before the barite. The procedure of the rig comes before this exercise."
            ),
        ),
    ),
)

# cut-back -------------------------------------------------------------------------------------------------------------

COMPARE_BOTH_WAYS = (
    "Check both ways. Letting the volume grow works if the pits can hold your answer to (b). Replacing mud works if "
    "the reserve pit has room for your answer to (c)."
)


def _premix_growing(numbers: Numbers, earlier: Earlier) -> pint.Quantity:
    return dilution_volume(numbers.volume, numbers.mud_weight, numbers.target, numbers.premix)


def _premix_replacing(numbers: Numbers, earlier: Earlier) -> pint.Quantity:
    return replacement_volume(numbers.volume, numbers.mud_weight, numbers.target, numbers.premix)


def _way_that_works(numbers: Numbers, earlier: Earlier) -> str:
    growing = earlier.b <= numbers.pit_capacity
    replacing = earlier.c <= numbers.reserve_room
    return {(True, True): "both", (True, False): "growing", (False, True): "replacing", (False, False): "neither"}[
        bool(growing), bool(replacing)
    ]


def _room_can_be_judged(numbers: Numbers) -> bool:
    """Weights that make sense, and room that is neither far from what is needed nor so near that rounding decides."""
    if not 0.5 <= (numbers.mud_weight - numbers.target).m_as("lb/gal") <= 2.0:
        return False
    if not numbers.volume * 1.02 <= numbers.pit_capacity:
        return False
    none = Earlier({})
    replaced = _premix_replacing(numbers, none)
    if replaced > 0.35 * numbers.volume:
        return False
    capacity = (numbers.pit_capacity / (numbers.volume + _premix_growing(numbers, none))).m_as("")
    reserve = (numbers.reserve_room / replaced).m_as("")
    return bool(0.04 <= abs(capacity - 1) <= 0.25 and 0.1 <= abs(reserve - 1) <= 0.6)


CUT_BACK = Exercise(
    id="cut-back",
    title="Cutting back: two ways, and the room for them",
    lesson=LESSON,
    level=2,
    version=1,
    numbers=(
        Number("volume", Grid(500, 900, 10, "bbl"), Grid(80, 145, 1, "m3")),
        Number("mud_weight", Grid(11.0, 14.5, 0.1, "lb/gal"), Grid(1320, 1740, 10, "kg/m3")),
        Number("target", Grid(10.0, 13.5, 0.1, "lb/gal"), Grid(1200, 1620, 10, "kg/m3")),
        Number("premix", Grid(8.4, 9.0, 0.1, "lb/gal"), Grid(1010, 1080, 10, "kg/m3")),
        Number("pit_capacity", Grid(550, 1500, 10, "bbl"), Grid(90, 240, 1, "m3")),
        Number("reserve_room", Grid(40, 400, 10, "bbl"), Grid(7, 65, 1, "m3")),
    ),
    valid=_room_can_be_judged,
    setting=(
        "Rig Northern Gannet has {volume} of mud of {mud_weight}. The next section of well Saltreed-7 needs {target}. "
        "The crew cuts the mud back with premix of {premix}."
    ),
    parts=(
        Numeric(
            key="a",
            ask="First way: no mud is moved out, and the volume grows. What volume of premix is needed?",
            unit=By("bbl", "m3"),
            solve=_premix_growing,
            tolerance=relative(0.01, because="an exact balance; volumes are given to about a barrel"),
            marks=Marks(2),
            outcome=CUTTING_BACK,
            slips=(
                Slip(
                    "formula for a constant volume",
                    _premix_replacing,
                    "You divided by the old weight minus the premix. That holds when mud is moved out first. Here the "
                    "volume grows: divide by the target minus the premix.",
                ),
                Slip(
                    "weight of the premix left out",
                    lambda numbers, earlier: numbers.volume * (numbers.mud_weight - numbers.target) / numbers.target,
                    "You divided by the target alone, as if premix weighed nothing. Divide by the target minus the "
                    "premix.",
                ),
                Slip(
                    "upside down",
                    lambda numbers, earlier: (
                        numbers.volume * (numbers.target - numbers.premix) / (numbers.mud_weight - numbers.target)
                    ),
                    "Your fraction is upside down. The drop in weight goes above the line, the target minus the premix "
                    "below it.",
                ),
            ),
            working=(
                Step(
                    "The volume grows, so the target minus the premix goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({target} - {premix})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the volume of mud at the end, in this first way?",
            unit=By("bbl", "m3"),
            uses=("a",),
            solve=lambda numbers, earlier: numbers.volume + earlier.a,
            tolerance=SUM_OF_VOLUMES,
            marks=Marks(1),
            outcome=CUTTING_BACK,
            slips=(
                Slip(
                    "premix alone",
                    lambda numbers, earlier: earlier.a,
                    "This is the premix of (a) again. The mud is still there: add it.",
                ),
                Slip(
                    "volume kept as it was",
                    lambda numbers, earlier: numbers.volume,
                    "This is the volume before. In the first way nothing goes out: add the premix of (a).",
                ),
                Slip(
                    "premix taken off",
                    lambda numbers, earlier: numbers.volume - earlier.a,
                    "You took the premix off. It goes into the pits: add it.",
                ),
            ),
            working=(Step("The mud and the premix together:", "{volume} + {a}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "Second way: mud is moved to the reserve pit first, and premix takes its place, so that the volume is "
                "{volume} again. What volume of mud must be moved out?"
            ),
            unit=By("bbl", "m3"),
            solve=_premix_replacing,
            tolerance=relative(0.01, because="an exact balance; volumes are given to about a barrel"),
            marks=Marks(2),
            outcome=CUTTING_BACK,
            slips=(
                Slip(
                    "formula for a growing volume",
                    _premix_growing,
                    "You divided by the target minus the premix. That holds when the volume grows. Here mud makes room "
                    "first: divide by the old weight minus the premix.",
                ),
                Slip(
                    "weight of the premix left out",
                    lambda numbers, earlier: (
                        numbers.volume * (numbers.mud_weight - numbers.target) / numbers.mud_weight
                    ),
                    "You divided by the old weight alone, as if premix weighed nothing. Divide by the old weight "
                    "minus the premix.",
                ),
                Slip(
                    "what stays",
                    lambda numbers, earlier: numbers.volume - _premix_replacing(numbers, earlier),
                    "This is the mud that stays in the pits. The question asks for what must be moved out.",
                ),
            ),
            working=(
                Step(
                    "Mud makes room first, so the old weight minus the premix goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({mud_weight} - {premix})",
                ),
            ),
        ),
        Choice(
            key="d",
            ask=(
                "The pits can hold {pit_capacity} in all. The reserve pit has room for {reserve_room}. "
                "No mud may go anywhere else. Which way works?"
            ),
            options=(
                Option("growing", "Only the first: let the volume grow.", COMPARE_BOTH_WAYS),
                Option("replacing", "Only the second: move mud out and replace it.", COMPARE_BOTH_WAYS),
                Option("both", "Both ways work.", COMPARE_BOTH_WAYS),
                Option("neither", "Neither way works: more room must be found first.", COMPARE_BOTH_WAYS),
            ),
            right=_way_that_works,
            uses=("b", "c"),
            marks=Marks(2),
            outcome=PLANNING,
            reason=(
                "The first way needs pits for {b}, and they hold {pit_capacity}. The second way needs room for {c} in "
                "the reserve pit, and there is room for {reserve_room}."
            ),
        ),
    ),
)

EXERCISES: tuple[Exercise, ...] = (WEIGHT_UP_GROWING, WEIGHT_UP_FIXED_FINAL, CUT_BACK)
