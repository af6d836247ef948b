"""Exercises of the lesson solids in the mud: read a retort, split the solids, correct for salt and oil."""

from __future__ import annotations

import functools
import warnings

import pint

from exercises.model import (
    Before,
    By,
    Convention,
    Exercise,
    Grid,
    Marks,
    Number,
    Numbers,
    Numeric,
    Order,
    Slip,
    Step,
    absolute,
    reading,
    relative,
)
from pitside.errors import ValidityWarning
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.retort import (
    WATER_OF_TWELVE,
    average_solids_density,
    corrected_solids_api,
    corrected_solids_book,
    filtrate_density_api,
    filtrate_density_book,
    low_gravity_fraction,
    low_gravity_from_average,
    oil_water_ratio,
    solids_concentration,
)
from pitside.units import WATER_4C, WATER_FIELD, Q

LESSON = "solids"

READING = "Turn the readings of a retort into shares of the mud and an oil-water ratio."
RETORT_SAFELY = "Put the steps of a retort test in a safe and sound order."
SPLITTING = "Find the low-gravity and high-gravity solids of a water-base mud from its weight and its retort."
SALT = "Correct the solids of a water-base mud for the salt and the oil in it."

WHOLE_PERCENT = reading(1, "%", because="mud reports give the shares of a retort to a whole percent")
TENTHS_OF_PERCENT = absolute(
    0.3, "%", because="a tenth of a percent as reports have it, and the average density of the solids rounded to 0.01"
)

# retort-reading -------------------------------------------------------------------------------------------------------


def _retort_can_be(numbers: Numbers) -> bool:
    """An invert mud with 10 to 30 % solids and a usual oil-water ratio."""
    oil, water = (numbers.oil / numbers.cup).m_as(""), (numbers.water / numbers.cup).m_as("")
    return bool(0.10 <= 1 - oil - water <= 0.30 and 0.65 <= oil / (oil + water) <= 0.90)


RETORT_READING = Exercise(
    id="retort-reading",
    title="Reading a retort",
    lesson=LESSON,
    level=1,
    version=1,
    numbers=(
        Number("cup", Grid(50, 50, 1, "mL")),
        Number("oil", Grid(22.0, 35.0, 0.5, "mL")),
        Number("water", Grid(4.0, 13.0, 0.5, "mL")),
    ),
    valid=_retort_can_be,
    setting=(
        "On rig Sandpiper 2 a retort is run on the oil-base mud of well Marram-2. The cup holds {cup} of mud. "
        "The tube under the condenser shows {oil} of oil and {water} of water."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the mud is oil, in percent?",
            unit="%",
            digits=3,
            solve=lambda numbers, earlier: numbers.oil / numbers.cup,
            tolerance=WHOLE_PERCENT,
            marks=Marks(1),
            outcome=READING,
            slips=(
                Slip(
                    "millilitres called percent",
                    lambda numbers, earlier: numbers.oil / Q(100, "mL"),
                    "You wrote the millilitres as percent. Divide them by the volume of the cup.",
                ),
                Slip(
                    "share of the liquid",
                    lambda numbers, earlier: oil_water_ratio(numbers.oil / numbers.cup, numbers.water / numbers.cup)[0],
                    "You divided by oil and water together. The share of the mud is taken on the whole cup.",
                ),
            ),
            working=(Step("The oil as a share of the cup.", "{oil} / {cup} * 100"),),
        ),
        Numeric(
            key="b",
            ask="What share of the mud is water, in percent?",
            unit="%",
            digits=3,
            solve=lambda numbers, earlier: numbers.water / numbers.cup,
            tolerance=WHOLE_PERCENT,
            marks=Marks(1),
            outcome=READING,
            slips=(
                Slip(
                    "millilitres called percent",
                    lambda numbers, earlier: numbers.water / Q(100, "mL"),
                    "You wrote the millilitres as percent. Divide them by the volume of the cup.",
                ),
                Slip(
                    "share of the liquid",
                    lambda numbers, earlier: oil_water_ratio(numbers.oil / numbers.cup, numbers.water / numbers.cup)[1],
                    "You divided by oil and water together. The share of the mud is taken on the whole cup.",
                ),
            ),
            working=(Step("The water as a share of the cup.", "{water} / {cup} * 100"),),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is solids (with the salt that stays behind), in percent?",
            unit="%",
            digits=3,
            uses=("a", "b"),
            solve=lambda numbers, earlier: corrected_solids_api(earlier.b, earlier.a),
            tolerance=WHOLE_PERCENT,
            marks=Marks(1),
            outcome=READING,
            slips=(
                Slip(
                    "water not taken off",
                    lambda numbers, earlier: Q(1) - earlier.a,
                    "You only took the oil off. What is left of 100 % after oil and water is solids.",
                ),
                Slip(
                    "oil not taken off",
                    lambda numbers, earlier: Q(1) - earlier.b,
                    "You only took the water off. What is left of 100 % after oil and water is solids.",
                ),
                Slip(
                    "millilitres called percent",
                    lambda numbers, earlier: (numbers.cup - numbers.oil - numbers.water) / Q(100, "mL"),
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
            digits=3,
            uses=("a", "b"),
            solve=lambda numbers, earlier: oil_water_ratio(earlier.a, earlier.b)[0],
            tolerance=WHOLE_PERCENT,
            marks=Marks(2),
            outcome=READING,
            slips=(
                Slip(
                    "share of the whole mud",
                    lambda numbers, earlier: earlier.a,
                    "This is the oil in the whole mud. The ratio counts the liquid only: divide by oil and water "
                    "together.",
                ),
                Slip(
                    "water part",
                    lambda numbers, earlier: oil_water_ratio(earlier.a, earlier.b)[1],
                    "This is the water part. The oil part comes first in the ratio.",
                ),
            ),
            working=(Step("The ratio counts the liquid only, oil and water.", "{a} / ({a} + {b}) * 100"),),
        ),
        Order(
            key="e",
            ask="Put the steps of the retort test in a safe and sound order. Give the letters, first step first.",
            steps={
                "clean": "Check that cup, chamber and condenser are clean, dry and cold.",
                "gas": "Stir the sample gently until no gas and no air is left in it.",
                "fill": "Fill the cup, put the lid on, and wipe off what runs over.",
                "join": "Screw the cup to the chamber, and put the tube under the condenser.",
                "heat": "Start the air extraction and switch the heater on.",
                "off": "Switch the heater off when no more liquid drips.",
                "read": "Read the volumes of oil and water in the tube.",
                "cool": "Let the retort cool down.",
                "open": "Open the retort and clean it.",
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
            outcome=RETORT_SAFELY,
            reason=(
                "Other orders are right too: the sample can be stirred before the retort is checked, and the tube can "
                "be read before, while or after the retort cools. The laboratory's own procedure comes before this "
                "exercise."
            ),
        ),
    ),
)

# solids-fresh ---------------------------------------------------------------------------------------------------------


@functools.lru_cache(maxsize=64)
def _solids(numbers: Numbers) -> pint.Quantity:
    """The solids of a fresh-water mud without oil; asked for some thirty times for each set of numbers."""
    return corrected_solids_api(numbers.water, 0.0)


def _average(numbers: Numbers, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return average_solids_density(numbers.mud_weight, _solids(numbers), WATER_4C, reference_water=reference_water)


def _low_from(solids: pint.Quantity | float, average: pint.Quantity) -> pint.Quantity:
    """Low-gravity solids from a trainee's own average, which is carried on also where no solids could have it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        return low_gravity_from_average(solids, average)


def _low(numbers: Numbers, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return low_gravity_fraction(numbers.mud_weight, _solids(numbers), WATER_4C, reference_water=reference_water)


def _is_a_weighted_mud(numbers: Numbers) -> bool:
    """Some low-gravity solids and some barite, as a mud report would have them."""
    low = _low(numbers)
    return bool(low >= 0.025 and low <= 0.15 and _solids(numbers) - low >= 0.025)


SOLIDS_FRESH = Exercise(
    id="solids-fresh",
    title="Solids of a fresh-water mud",
    lesson=LESSON,
    level=2,
    version=1,
    numbers=(
        Number("mud_weight", Grid(10.0, 16.5, 0.1, "lb/gal"), Grid(1200, 1980, 10, "kg/m3")),
        Number("water", Grid(60.0, 90.0, 0.5, "%")),
    ),
    valid=_is_a_weighted_mud,
    setting=(
        "The fresh-water mud of rig Heron 4 weighs {mud_weight}. The retort gives {water} water and no oil; the rest "
        "is solids. Take specific gravities of 1.00 for water, 2.60 for low-gravity solids and 4.20 for barite."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What is the average specific gravity of the solids? Give two decimals.",
            unit="SG",
            solve=lambda numbers, earlier: _average(numbers),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda numbers, earlier: _average(numbers, WATER_OF_TWELVE),
                ),
                Convention("8.33 lb/gal for water", lambda numbers, earlier: _average(numbers, WATER_FIELD)),
            ),
            tolerance=relative(0.01, because="8.33 for 8.345 moves it by up to 0.7 %; it is given to two decimals"),
            marks=Marks(2),
            outcome=SPLITTING,
            slips=(
                Slip(
                    "water not taken off",
                    lambda numbers, earlier: numbers.mud_weight / _solids(numbers),
                    "You divided the whole mud by its solids. First take off what the water weighs.",
                ),
                Slip(
                    "water taken as the whole mud",
                    lambda numbers, earlier: (numbers.mud_weight - WATER_4C) / _solids(numbers),
                    "You took off 1.00 for water, but only a part of the mud is water. Take off the share of water "
                    "times 1.00.",
                ),
            ),
            working=(
                Step(
                    By(
                        "Specific gravity of the mud, with water of 8.345 lb/gal (8.33 is near enough):",
                        "Specific gravity of the mud:",
                    ),
                    By("{mud_weight} / 8.345", "{mud_weight} / 1000"),
                    "sg",
                    "SG",
                ),
                Step("Solids:", "100 - {water}", "solids", "%", digits=3),
                Step(
                    "Of 100 parts of mud, take off what the water weighs. Divide by the solids.",
                    "(100 * {sg} - {water} * 1.00) / {solids}",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What share of the mud is low-gravity solids, in percent by volume? Give one decimal.",
            unit="%",
            digits=3,
            uses=("a",),
            solve=lambda numbers, earlier: _low_from(_solids(numbers), earlier.a),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it", lambda numbers, earlier: _low(numbers, WATER_OF_TWELVE)
                ),
                Convention("8.33 lb/gal for water", lambda numbers, earlier: _low(numbers, WATER_FIELD)),
            ),
            tolerance=TENTHS_OF_PERCENT,
            marks=Marks(2),
            outcome=SPLITTING,
            slips=(
                Slip(
                    "high-gravity for low-gravity",
                    lambda numbers, earlier: _solids(numbers) - _low_from(_solids(numbers), earlier.a),
                    "These are the high-gravity solids. For the low-gravity solids, 4.20 minus the average goes above "
                    "the line.",
                ),
                Slip(
                    "share of the solids",
                    lambda numbers, earlier: _low_from(1.0, earlier.a),
                    "This is the share of the solids that is low-gravity. Multiply it by the solids in the mud.",
                ),
            ),
            working=(
                Step(
                    "The nearer the average lies to 2.60, the more of the solids are low-gravity.",
                    "(100 - {water}) * (4.20 - {a}) / (4.20 - 2.60)",
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is barite, in percent by volume? Give one decimal.",
            unit="%",
            digits=3,
            uses=("b",),
            solve=lambda numbers, earlier: _solids(numbers) - earlier.b,
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda numbers, earlier: _solids(numbers) - _low(numbers, WATER_OF_TWELVE),
                ),
                Convention(
                    "8.33 lb/gal for water", lambda numbers, earlier: _solids(numbers) - _low(numbers, WATER_FIELD)
                ),
            ),
            tolerance=TENTHS_OF_PERCENT,
            marks=Marks(1),
            outcome=SPLITTING,
            slips=(
                Slip(
                    "all solids",
                    lambda numbers, earlier: _solids(numbers),
                    "These are all solids. Take the low-gravity solids off.",
                ),
                Slip(
                    "taken off the whole mud",
                    lambda numbers, earlier: Q(1) - earlier.b,
                    "You took the low-gravity solids off 100 %. Take them off the solids: the rest of the mud is "
                    "water.",
                ),
            ),
            working=(Step("The solids that are not low-gravity.", "100 - {water} - {b}"),),
        ),
        Numeric(
            key="d",
            ask=By(
                "How many pounds of low-gravity solids are in a barrel of mud?",
                "How many kilograms of low-gravity solids are in a cubic metre of mud?",
            ),
            unit=By("lb/bbl", "kg/m3"),
            digits=3,
            uses=("b",),
            solve=lambda numbers, earlier: earlier.b * LOW_GRAVITY,
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda numbers, earlier: solids_concentration(_low(numbers, WATER_OF_TWELVE), LOW_GRAVITY),
                ),
                Convention(
                    "8.33 lb/gal for water",
                    lambda numbers, earlier: solids_concentration(_low(numbers, WATER_FIELD), LOW_GRAVITY),
                ),
            ),
            tolerance=relative(
                0.02, because="a tenth of a percent of solids, to which (b) is rounded, is up to 2 % of it"
            ),
            marks=Marks(1, unit=1),
            outcome=SPLITTING,
            slips=(
                Slip(
                    "specific gravity left out",
                    lambda numbers, earlier: earlier.b * WATER_4C,
                    "This is what the same volume of water weighs. Multiply by the specific gravity of the solids, "
                    "2.60.",
                ),
                Slip(
                    "specific gravity of barite",
                    lambda numbers, earlier: earlier.b * BARITE,
                    "You took 4.20, the specific gravity of barite. Low-gravity solids have 2.60.",
                ),
            ),
            working=(
                Step(
                    By(
                        "1 % of a barrel of water weighs 3.505 lb (3.5 is near enough). These solids weigh 2.60 times "
                        "as much.",
                        "1 % of a cubic metre of water weighs 10 kg. These solids weigh 2.60 times as much.",
                    ),
                    By("3.505 * 2.60 * {b}", "10 * 2.60 * {b}"),
                ),
            ),
        ),
    ),
)

# solids-salt ----------------------------------------------------------------------------------------------------------

#: Mass of sodium chloride for a mass of chloride: 58.44 / 35.45, from the molar masses.
SALT_PER_CHLORIDE = 1.65


def _retort_solids(numbers: Numbers) -> pint.Quantity:
    """The solids as the retort shows them, salt and all."""
    return corrected_solids_api(numbers.water, numbers.oil)


def _corrected_api(numbers: Numbers) -> pint.Quantity:
    return corrected_solids_api(numbers.water, numbers.oil, numbers.chloride)


def _corrected_book(numbers: Numbers) -> pint.Quantity:
    return corrected_solids_book(numbers.water, numbers.oil, numbers.chloride)


def _low_salt(
    numbers: Numbers, solids: pint.Quantity, filtrate: pint.Quantity, reference_water: pint.Quantity = WATER_4C
) -> pint.Quantity:
    average = average_solids_density(numbers.mud_weight, solids, filtrate, numbers.oil, reference_water=reference_water)
    return _low_from(solids, average)


def _low_api(numbers: Numbers, reference_water: pint.Quantity = WATER_4C) -> pint.Quantity:
    return _low_salt(numbers, _corrected_api(numbers), filtrate_density_api(numbers.chloride), reference_water)


def _low_book(numbers: Numbers) -> pint.Quantity:
    """The low-gravity solids in the form of the book, with its 12 for each lb/gal."""
    return _low_salt(numbers, _corrected_book(numbers), filtrate_density_book(numbers.chloride), WATER_OF_TWELVE)


def _is_a_weighted_salt_mud(numbers: Numbers) -> bool:
    """Some low-gravity solids and some barite, as a mud report would have them."""
    low = _low_api(numbers)
    return bool(low >= 0.025 and low <= 0.15 and _corrected_api(numbers) - low >= 0.025)


SOLIDS_SALT = Exercise(
    id="solids-salt",
    title="Solids of a salt mud with oil",
    lesson=LESSON,
    level=2,
    version=1,
    numbers=(
        Number("mud_weight", Grid(11.0, 16.5, 0.1, "lb/gal"), Grid(1320, 1980, 10, "kg/m3")),
        Number("water", Grid(52, 78, 1, "%")),
        Number("oil", Grid(2.0, 8.0, 0.5, "%")),
        Number("chloride", Grid(45_000, 110_000, 1000, "mg/L")),
    ),
    valid=_is_a_weighted_salt_mud,
    setting=(
        "The salt mud of rig Northern Gannet weighs {mud_weight}. The retort gives {water} water and {oil} oil. The "
        "filtrate holds {chloride} of chlorides. Take specific gravities of 0.84 for oil, 2.60 for low-gravity solids "
        "and 4.20 for barite. Use the salt correction that you were taught; both usual forms are accepted."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What share of the mud is solids, corrected for salt, in percent by volume? Give one decimal.",
            unit="%",
            digits=4,
            solve=lambda numbers, earlier: _corrected_api(numbers),
            conventions=(
                Convention(
                    "Lapeyrouse form",
                    lambda numbers, earlier: _corrected_book(numbers),
                ),
            ),
            tolerance=absolute(0.15, "%", because="it is given to a tenth of a percent"),
            marks=Marks(2),
            outcome=SALT,
            slips=(
                Slip(
                    "salt left in",
                    lambda numbers, earlier: _retort_solids(numbers),
                    "These are the solids as the retort shows them. The salt of the water is still in there: take it "
                    "off.",
                ),
                Slip(
                    "salt added",
                    lambda numbers, earlier: (
                        _retort_solids(numbers) + (_retort_solids(numbers) - _corrected_api(numbers))
                    ),
                    "You added the salt. It stays in the retort with the solids, so it must be taken off.",
                ),
                Slip(
                    "salt of a mud that is all water",
                    lambda numbers, earlier: (
                        _retort_solids(numbers) - (_retort_solids(numbers) - _corrected_api(numbers)) / numbers.water
                    ),
                    "You took off too much salt, as if the whole mud were water. Multiply the correction by the share "
                    "of water.",
                ),
            ),
            working=(
                Step("Solids as the retort shows them:", "100 - {water} - {oil}", "retort", "%"),
                Step(
                    "Salt that the retort leaves with them (API form; the other form gives a little less):",
                    "{water} * {chloride} / (1680000 - 1.21 * {chloride})",
                    "salt",
                    "%",
                ),
                Step("Without the salt:", "{retort} - {salt}"),
            ),
        ),
        Numeric(
            key="b",
            ask="What is the specific gravity of the filtrate, the water with its salt? Give two or three decimals.",
            unit="SG",
            digits=5,
            solve=lambda numbers, earlier: filtrate_density_api(numbers.chloride),
            conventions=(
                Convention("Lapeyrouse form", lambda numbers, earlier: filtrate_density_book(numbers.chloride)),
            ),
            tolerance=relative(0.005, because="it is given to two decimals"),
            marks=Marks(1),
            outcome=SALT,
            slips=(
                Slip(
                    "fresh water",
                    lambda numbers, earlier: WATER_4C,
                    "This is fresh water. The salt in the filtrate makes it heavier.",
                ),
                Slip(
                    "salt for chlorides",
                    lambda numbers, earlier: filtrate_density_api(SALT_PER_CHLORIDE * numbers.chloride),
                    "You turned the chlorides into salt (times 1.65) first. The formula wants the chlorides "
                    "themselves.",
                ),
            ),
            working=(
                Step(
                    "Each mg/L of chlorides adds 1.09 millionths (API form).",
                    "1 + 1.09 * {chloride} / 1000000",
                    digits=5,
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What share of the mud is low-gravity solids, in percent by volume? Give one decimal.",
            unit="%",
            digits=3,
            uses=("a", "b"),
            solve=lambda numbers, earlier: _low_salt(numbers, earlier.a, earlier.b),
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda numbers, earlier: _low_salt(numbers, earlier.a, earlier.b, WATER_OF_TWELVE),
                ),
                Convention(
                    "8.33 lb/gal for water",
                    lambda numbers, earlier: _low_salt(numbers, earlier.a, earlier.b, WATER_FIELD),
                ),
                Convention("Lapeyrouse form", lambda numbers, earlier: _low_book(numbers)),
            ),
            tolerance=TENTHS_OF_PERCENT,
            marks=Marks(3),
            outcome=SALT,
            slips=(
                Slip(
                    "salt left in",
                    lambda numbers, earlier: low_gravity_fraction(
                        numbers.mud_weight, _retort_solids(numbers), WATER_4C, numbers.oil
                    ),
                    "You worked with the solids as the retort shows them, and with fresh water. Use the corrected "
                    "solids of (a) and the filtrate of (b).",
                ),
                Slip(
                    "high-gravity for low-gravity",
                    lambda numbers, earlier: earlier.a - _low_salt(numbers, earlier.a, earlier.b),
                    "These are the high-gravity solids. Take them off the corrected solids.",
                ),
                Slip(
                    "share of the solids",
                    lambda numbers, earlier: _low_salt(numbers, earlier.a, earlier.b) / earlier.a,
                    "This is the share of the solids that is low-gravity. Multiply it by the solids in the mud.",
                ),
            ),
            working=(
                Step(
                    By(
                        "What 100 parts of mud weigh, with water of 8.345 lb/gal (8.33 is near enough):",
                        "What 100 parts of mud weigh:",
                    ),
                    By("100 * {mud_weight} / 8.345", "100 * {mud_weight} / 1000"),
                    "mud",
                    "fraction",
                    digits=5,
                ),
                Step("Filtrate, which is neither solids nor oil:", "100 - {a} - {oil}", "filtrate", "%"),
                Step(
                    "What the solids weigh: the mud without its filtrate and its oil.",
                    "{mud} - {filtrate} * {b} - {oil} * 0.84",
                    "mass",
                    "fraction",
                    digits=5,
                ),
                Step(
                    "If all solids were barite they would weigh 4.20 times their volume. What is missing comes from "
                    "the low-gravity solids, 1.60 lighter.",
                    "({a} * 4.20 - {mass}) / (4.20 - 2.60)",
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="What share of the mud is barite, in percent by volume? Give one decimal.",
            unit="%",
            digits=3,
            uses=("a", "c"),
            solve=lambda numbers, earlier: earlier.a - earlier.c,
            conventions=(
                Convention(
                    "12 for each lb/gal, as handbooks round it",
                    lambda numbers, earlier: _corrected_api(numbers) - _low_api(numbers, WATER_OF_TWELVE),
                ),
                Convention("Lapeyrouse form", lambda numbers, earlier: _corrected_book(numbers) - _low_book(numbers)),
            ),
            tolerance=TENTHS_OF_PERCENT,
            marks=Marks(1),
            outcome=SPLITTING,
            slips=(
                Slip(
                    "salt counted as barite",
                    lambda numbers, earlier: _retort_solids(numbers) - earlier.c,
                    "You took the low-gravity solids off the solids of the retort, so the salt counts as barite. Take "
                    "them off the corrected solids of (a).",
                ),
                Slip(
                    "all solids",
                    lambda numbers, earlier: earlier.a,
                    "These are all solids, as in (a). Take the low-gravity solids off.",
                ),
            ),
            working=(Step("The corrected solids that are not low-gravity.", "{a} - {c}"),),
        ),
    ),
)

EXERCISES: tuple[Exercise, ...] = (RETORT_READING, SOLIDS_FRESH, SOLIDS_SALT)
