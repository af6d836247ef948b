"""Reading a retort."""

from __future__ import annotations

from exercises.bank.solids import WHOLE_PERCENT, Outcome
from exercises.fleet.envelope import OIL_SHARE_OF_LIQUID
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Range
from exercises.model.parts import Before, Known, Marks, Numeric, Order, Slip
from exercises.model.working import Step
from pitside.retort import corrected_solids_api, oil_water_ratio
from pitside.units import Q


def _retort_can_be(n: Known) -> bool:
    """An invert mud with 10 to 30 % solids and a usual oil-water ratio."""
    oil, water = (n.oil / n.cup).m_as(""), (n.water / n.cup).m_as("")
    return bool(0.10 <= 1 - oil - water <= 0.30 and 0.65 <= oil / (oil + water) <= 0.90)


EXERCISE = Exercise(
    title="Reading a retort",
    level=1,
    version=1,
    outcome=Outcome.READING,
    tolerance=WHOLE_PERCENT,
    digits=3,
    numbers=(
        Number("cup", Grid(50, 50, 1, "mL")),
        Number("oil", Grid(22.0, 35.0, 0.5, "mL")),
        Number("water", Grid(4.0, 13.0, 0.5, "mL")),
    ),
    valid=_retort_can_be,
    envelope=(Within("oil in the liquid", lambda n: n.d, OIL_SHARE_OF_LIQUID),),
    setting=(
        "On rig Sandpiper 2 a retort is run on the oil-base mud of well Marram-2. The cup holds {cup} of mud. "
        "The tube under the condenser shows {oil} of oil and {water} of water."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the mud is oil, in percent?",
            unit="%",
            solve=lambda n: n.oil / n.cup,
            plausible=Range(40, 75, "%"),
            marks=Marks(1),
            slips=(
                Slip(
                    "millilitres called percent",
                    lambda n: n.oil / Q(100, "mL"),
                    "You wrote the millilitres as percent. Divide them by the volume of the cup.",
                ),
                Slip(
                    "share of the liquid",
                    lambda n: oil_water_ratio(n.oil / n.cup, n.water / n.cup)[0],
                    "You divided by oil and water together. The share of the mud is taken on the whole cup.",
                ),
            ),
            working=(Step("The oil as a share of the cup.", "{oil} / {cup} * 100"),),
        ),
        Numeric(
            key="b",
            ask="What share of the mud is water, in percent?",
            unit="%",
            solve=lambda n: n.water / n.cup,
            plausible=Range(5, 30, "%"),
            marks=Marks(1),
            slips=(
                Slip(
                    "millilitres called percent",
                    lambda n: n.water / Q(100, "mL"),
                    "You wrote the millilitres as percent. Divide them by the volume of the cup.",
                ),
                Slip(
                    "share of the liquid",
                    lambda n: oil_water_ratio(n.oil / n.cup, n.water / n.cup)[1],
                    "You divided by oil and water together. The share of the mud is taken on the whole cup.",
                ),
            ),
            working=(Step("The water as a share of the cup.", "{water} / {cup} * 100"),),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is solids (with the salt that stays behind), in percent?",
            unit="%",
            uses=("a", "b"),
            solve=lambda n: corrected_solids_api(n.b, n.a),
            plausible=Range(9.9, 30.1, "%"),
            marks=Marks(1),
            slips=(
                Slip(
                    "water not taken off",
                    lambda n: Q(1) - n.a,
                    "You only took the oil off. What is left of 100 % after oil and water is solids.",
                ),
                Slip(
                    "oil not taken off",
                    lambda n: Q(1) - n.b,
                    "You only took the water off. What is left of 100 % after oil and water is solids.",
                ),
                Slip(
                    "millilitres called percent",
                    lambda n: (n.cup - n.oil - n.water) / Q(100, "mL"),
                    "These are the millilitres of solids. Divide them by the volume of the cup, or take oil and water "
                    "off 100 %.",
                ),
            ),
            working=(Step("What is neither oil nor water is solids.", "100 - {a} - {b}"),),
        ),
        Numeric(
            key="d",
            ask="What is the oil part of the oil-water ratio, in percent? (In a ratio of 80/20 it is 80.)",
            unit="%",
            uses=("a", "b"),
            solve=lambda n: oil_water_ratio(n.a, n.b)[0],
            plausible=Range(64.9, 90.1, "%"),
            marks=Marks(2),
            slips=(
                Slip(
                    "share of the whole mud",
                    lambda n: n.a,
                    "This is the oil in the whole mud. The ratio counts the liquid only: divide by oil and water "
                    "together.",
                ),
                Slip(
                    "water part",
                    lambda n: oil_water_ratio(n.a, n.b)[1],
                    "This is the water part. The oil part comes first in the ratio.",
                ),
            ),
            working=(Step("The ratio counts the liquid only, oil and water.", "{a} / ({a} + {b}) * 100"),),
        ),
        Order(
            key="e",
            ask="Put the steps of the retort test in a safe order. Give the letters, first step first.",
            steps={
                "clean": "Check that cup, chamber and condenser are clean, dry and cold.",
                "gas": "Stir the sample gently until no gas and no air is left in it.",
                "fill": "Fill the cup, put the lid on, and wipe off the mud that comes out.",
                "join": "Screw the cup to the chamber, and put the tube under the condenser.",
                "heat": "Put on face shield and heat-proof gloves, start the air extraction and switch the heater on.",
                "off": "Wait until no more liquid drips. Then switch the heater off.",
                "read": "When the liquid in the tube is cool, read the volumes of oil and water.",
                "cool": "Let the retort cool down.",
                "open": "With gloves on, open the retort and clean it.",
            },
            rules=(
                Before("clean", "fill", "Clean first: what an earlier test left behind would count as mud."),
                Before(
                    "gas",
                    "fill",
                    "Get the gas out first: gas in the cup takes the place of mud, and all shares are wrong.",
                ),
                Before("fill", "join", "The cup is filled before it goes on the chamber."),
                Before(
                    "join",
                    "heat",
                    "Heat only a closed retort with its tube in place: hot vapour burns, and oil can catch fire.",
                ),
                Before("heat", "off", "The liquid comes over only after the heater has been on."),
                Before("off", "read", "Read only when no more liquid drips: before that oil and water are too low."),
                Before("off", "cool", "It cannot cool down while the heater is on."),
                Before("cool", "open", "Let it cool before you open it: the chamber is hot enough to burn you badly."),
            ),
            marks=Marks(4),
            outcome=Outcome.RETORT_SAFELY,
            reason=(
                "Other orders are right too: the sample can be stirred before the retort is checked, and the tube can "
                "be read before the retort itself is cold, once the liquid in the tube is cool. The laboratory's own "
                "procedure comes before this exercise."
            ),
        ),
    ),
)
