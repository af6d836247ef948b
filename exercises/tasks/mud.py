"""Tasks at the mud bench: weighing, funnel, viscometer, sand, retort, methylene blue and chlorides."""

from __future__ import annotations

from exercises.model import By, absolute, relative
from exercises.tasks.model import SITE, Ask, Do, Read, Task, Work
from pitside.bentonite import bentonite_equivalent
from pitside.hydraulics import plastic_viscosity, yield_point
from pitside.units import Q

BENCH = "mud bench or mud laboratory"
RP = "API RP 13B-1 gives the test; steps and limits from memory"
GLOVES = "Gloves and eye protection: muds are caustic, and oil muds harm the skin. The eyewash is near and known."
WORN = "goggles and gloves"
DRESSED = Do(
    "Wears goggles and gloves before the mud is opened.",
    "Caustic mud can blind: goggles and gloves first, then the mud.",
    critical=True,
)
NO_MERCURY = "thermometer without mercury"
ELECTRIC = (
    "Electric: dry hands, sound cable and plug. What is damaged goes out of use; only a licensed electrician opens or "
    "mends it."
)
#: Muds with sulphide: acid frees the gas in the dish.
SULPHIDE = (
    "Acid sets H2S free from a mud with sulphide: extraction, or outdoors upwind, and the gas monitor worn. No such "
    "test on a mud in which H2S was found."
)
SULPHIDE_ASKED = Do(
    "Asks whether H2S was found in this mud or well (yes or not known: no test); wears the gas monitor, extraction on.",
    "Acid on a mud with sulphide kills in a small room: ask first, and test no mud of which it is not known.",
    critical=True,
)
#: Warm mud from the line, and mud that brings gas.
FRESH = (
    "Mud from the flow line can scald: let it cool before it is poured by hand. From a well with H2S: gas monitor worn "
    "and extraction on, or no test."
)
#: Chlorides in the filtrate for each millilitre of silver nitrate, with 1 mL of filtrate in the dish.
SILVER_STANDS_FOR = Q(1000, "mg/L") / Q(1, "mL")
TWO_DIVISIONS = absolute(2, "fraction", because="two divisions of the dial")
#: Glass tubes, dishes and flasks.
GLASS = "Glass breaks: nothing cracked is used, and no force on it."
SPILL = "Mop up what is spilled at once: mud on a floor is a fall."

WEIGH = Task(
    id="weigh-mud",
    title="Weigh mud and prove the balance with water",
    lesson="mud-weight",
    outcome="Weigh mud on a balance that was proved with water.",
    place=BENCH,
    kit=("mud balance", "fresh water", NO_MERCURY, "fresh mud in a covered cup", "cloth", "report sheet", WORN),
    conditions=("The observer has weighed the same mud, and noted the reading.",),
    cautions=(SITE, GLOVES, FRESH, SPILL),
    told="Prove this balance, then weigh this mud and write the weight on the sheet.",
    work=(
        DRESSED,
        Do(
            "Sees that the balance is clean, dry and stands level.",
            "Dirt in the cup or a sloping bench moves the reading. Clean, dry and level it first.",
        ),
        Do(
            "Weighs fresh water: it reads 8.3 lb/gal, 1.00 SG, within a division; else this balance weighs no mud.",
            "A balance that was not proved with water can be wrong all day. Prove it every shift.",
            critical=True,
        ),
        Do(
            "Says what to do when water reads wrong: adjust where the maker says, never at the knife edge, or take the "
            "balance out of use.",
            "A balance that is off is adjusted or put aside, never corrected in the head.",
        ),
        Do(
            "Stirs the mud, fills the cup to the brim without air, taps it to free gas.",
            "Air in the cup makes the mud look light. Stir, fill slowly, tap.",
        ),
        Do(
            "Puts the lid on with a turn until mud comes out of the hole, covers it and wipes the outside dry.",
            "Mud must come out of the hole, and the outside must be dry, or the reading is wrong.",
        ),
        Read("weight", "Mud weight", By("lb/gal", "SG"), 11.2, absolute(0.1, "lb/gal", because="one division")),
        Do(
            "Writes weight, unit, time and where the sample came from.",
            "A weight without time and place helps nobody. Write all four.",
        ),
        Ask(
            "The weight at the shaker is 0.3 lb/gal lower than in the suction pit. What do you do?",
            {
                "Tell the driller at once, before anything else.": "A weight that falls in the return is the driller's "
                "business at once.",
                "Then weigh again, and think of gas, water or foam.": "Gas and water are the usual causes.",
            },
        ),
    ),
    minutes=12,
    source=RP,
    version=4,
)

FUNNEL = Task(
    id="funnel",
    title="Run the funnel",
    lesson="solids",
    outcome="Measure funnel viscosity and say what it can and cannot tell.",
    place=BENCH,
    kit=("funnel and its cup with a mark at 1 quart (946 mL)", "stopwatch", NO_MERCURY, "fresh mud", "water", WORN),
    conditions=("The observer times the same run with a second stopwatch.",),
    cautions=(SITE, GLOVES, FRESH, SPILL),
    told="Check this funnel with water, then run this mud and report it.",
    work=(
        DRESSED,
        Do(
            "Looks through the tip and cleans it with nothing hard.",
            "A scratched or plugged tip reads wrong. Use water and a soft brush.",
        ),
        Do(
            "Runs water and says about 26 seconds for a quart.",
            "Water at about 70 °F (21 °C) takes 26 s for a quart. Another time: the funnel is worn or dirty.",
        ),
        Do(
            "Pours fresh mud through the screen up to its underside, a gloved finger on the tip.",
            "Fill through the screen to the mark, or the head differs.",
        ),
        Do(
            "Takes the finger away and starts the watch at one moment, and stops at the mark.",
            "Watch and finger start together; stop at the quart.",
        ),
        Read("time", "Funnel time", "s", 48, absolute(2, "s", because="two persons' thumbs; common practice")),
        Do(
            "Writes the temperature beside the time.",
            "Hot mud runs faster. A time without temperature cannot be compared.",
        ),
        Ask(
            "What does a longer time tell you?",
            {
                "That something changed, and not what.": "The funnel gives a warning, not a cause. Go on to the "
                "viscometer and the retort.",
                "More solids, finer solids or gelled mud are possible.": "Name what can make mud thick: solids, fines, "
                "gels, cold.",
            },
        ),
    ),
    minutes=10,
    source=RP,
    version=3,
)

VISCOMETER = Task(
    id="viscometer",
    title="Read the viscometer and work out PV and YP",
    lesson="solids",
    outcome="Take viscometer readings and gels, and work out plastic viscosity and yield point.",
    place=BENCH,
    kit=("six-speed viscometer", "heated cup with its own thermostat", NO_MERCURY, "stopwatch", "fresh mud", WORN),
    conditions=(
        "The observer reads the dial at each speed as well.",
        "The cup is heated to the temperature of the programme, usually 120 °F (49 °C) or 150 °F (66 °C).",
    ),
    cautions=(
        SITE,
        GLOVES,
        FRESH,
        "The cup is hot, and the sleeve turns: gloves are thin and tight; fingers, cloth, hair and cuffs stay away.",
        "Warm oil mud gives off vapour: extraction, no flame.",
        ELECTRIC,
    ),
    told="Take the readings at 600 and 300, the 10-second gel, and report PV and YP.",
    work=(
        DRESSED,
        Do(
            "Sees that cable and plug are sound, and ties back hair and cuffs, before the motor runs.",
            "A turning sleeve takes hair and cuffs along. Tie them back, and look at the cable first.",
            critical=True,
        ),
        Do(
            "Sees that sleeve and bob are clean and turn without rubbing.",
            "A bent or dirty bob reads wrong at every speed.",
        ),
        Do(
            "Fills to the mark on the sleeve, and stirs at 600 until the temperature stands.",
            "Readings before the temperature stands cannot be compared.",
        ),
        Read("r600", "Dial at 600 rev/min", "fraction", 58, TWO_DIVISIONS),
        Do(
            "Changes speed as the maker says, often while the motor runs, and waits until the dial stands.",
            "Change the speed as the maker says, and wait for a steady dial.",
        ),
        Read("r300", "Dial at 300 rev/min", "fraction", 37, TWO_DIVISIONS),
        Work(
            "Plastic viscosity",
            "cP",
            ("r600", "r300"),
            lambda r: plastic_viscosity(r["r600"], r["r300"]),
            absolute(0.5, "cP", because="whole degrees of the dial"),
        ),
        Work(
            "Yield point",
            "lbf/100ft2",
            ("r600", "r300"),
            lambda r: yield_point(r["r600"], r["r300"]),
            absolute(0.5, "lbf/100ft2", because="whole degrees of the dial"),
        ),
        Do(
            "Stirs at 600 for 10 seconds, lets it stand for 10, and reads the highest dial at 3 rev/min.",
            "The gel is the highest reading after the mud stood: stir, wait, read the peak.",
        ),
        Ask(
            "PV has risen from 15 to 21, YP is unchanged. What is in the mud?",
            {
                "More solids, or finer ones.": "Plastic viscosity follows the amount and the fineness of solids.",
                "Look at solids and screens before adding a thinner.": "A thinner does not take solids out.",
            },
        ),
    ),
    minutes=20,
    source=RP,
    version=3,
)

SAND = Task(
    id="sand-content",
    title="Measure sand content",
    lesson="solids",
    outcome="Measure the sand in a mud and say what it asks for.",
    place=BENCH,
    kit=("200-mesh sieve with funnel", "measuring tube", "water or base oil as the mud has it", "fresh mud", WORN),
    conditions=("The observer reads the same tube.",),
    cautions=(SITE, GLOVES, FRESH, SPILL, GLASS, "With oil mud wash with base oil, away from flame and heat."),
    told="Measure the sand of this mud.",
    work=(
        DRESSED,
        Do(
            "Fills mud to its mark, then wash liquid to its mark, closes and shakes.",
            "Both marks matter: the scale is in percent of the mud.",
        ),
        Do("Washes on the sieve until what runs off is clear.", "Mud left on the sieve counts as sand."),
        Do(
            "Turns the funnel over and washes all sand back into the tube.", "Sand that stays on the sieve is not read."
        ),
        Do("Lets it settle and reads at the level of the eye.", "Read settled sand at eye level."),
        Read("sand", "Sand content", "%", 0.5, absolute(0.25, "%", because="a quarter of a percent on the tube")),
        Ask(
            "Sand has gone from 0.25 % to 1 % since the last check. Where do you look?",
            {
                "Torn or wrongly fitted screens, an open bypass.": "Sand in the suction has passed the shaker: look at "
                "screens, seals and the bypass.",
                "The cones and the sand trap after that.": "Cones should take sand: look at their discharge, then the "
                "trap.",
            },
        ),
    ),
    minutes=12,
    source=RP,
    version=3,
)

RETORT = Task(
    id="run-a-retort",
    title="Run a retort",
    lesson="solids",
    outcome="Run a retort safely and report oil, water and solids.",
    place=BENCH,
    kit=(
        "retort with cup and lid",
        "steel wool",
        "graduated receiver",
        "wetting agent",
        "spatula",
        "goggles and gloves for the mud; heat-proof gloves and face shield",
        "fire extinguisher at hand",
        "deaerated mud",
    ),
    conditions=(
        "The observer reads the receiver as well.",
        "Ventilation runs, nothing that burns is near; the heater has a switch away from the lid.",
        "The minutes do not count cooling: nobody is hurried.",
    ),
    cautions=(
        SITE,
        "Hot metal and hot vapour, with oil mud also vapour that burns: heat-proof gloves, face shield, "
        "ventilation, no flame. Never open a hot retort.",
        GLOVES,
        FRESH,
        "What is left is hot and may be caustic: let it cool.",
        "The heater has its own thermostat, which is left alone.",
        ELECTRIC,
    ),
    told="Run this mud and report volumes of oil and water, and the solids.",
    work=(
        DRESSED,
        Do(
            "Sees that cup, lid, threads and condenser are clean and the drain is free.",
            "A plugged condenser builds pressure in a hot retort.",
            critical=True,
        ),
        Do(
            "Puts on face shield and heat-proof gloves before the heat is on, and keeps them on.",
            "Hot metal and hot vapour burn at the first touch: dress before the heat.",
            critical=True,
        ),
        Do(
            "Says, before the heat is on, what to do when vapour or smoke comes out at the lid: step back, off at the "
            "switch outside the vapour, which is named now; out of reach: out, alarm; nothing is tightened or opened "
            "hot.",
            "Nobody reaches through vapour, and a pulled plug sparks: step back, off at the switch, or out and alarm.",
            critical=True,
        ),
        Do(
            "Fills the cup with mud free of gas, presses the lid on until mud comes out, wipes it.",
            "Gas in the cup reads as solids that are not there.",
        ),
        Do(
            "Packs steel wool, closes the retort and stands the dry receiver under the condenser.",
            "Without steel wool solids boil over into the receiver.",
        ),
        Do(
            "Starts the heat, the ventilation running, stays by it, nothing that burns near.",
            "Vapour of an oil mud burns. Ventilate, keep flame away, stay.",
            critical=True,
        ),
        Do(
            "Goes on until no drop has fallen for 10 minutes or for the time of the maker's sheet.",
            "Stopping early reads water as solids.",
        ),
        Do(
            "Switches off and unplugs as soon as it is over, before anything is read or worked out.",
            "Heat that is on is not left alone for reading and sums.",
            critical=True,
        ),
        Read("oil", "Oil in the receiver", "%", 8, absolute(1, "%", because="a division of the receiver")),
        Read("water", "Water in the receiver", "%", 74, absolute(1, "%", because="a division of the receiver")),
        Work(
            "Solids",
            "%",
            ("oil", "water"),
            lambda r: Q(100, "%") - r["oil"] - r["water"],
            absolute(0.5, "%", because="a difference of readings in half percents"),
        ),
        Do(
            "Lets it cool before anything is opened, then cleans it.",
            "A retort opened hot can spray hot mud and vapour.",
            critical=True,
        ),
        Ask(
            "Oil and water read less than you expect. What may have gone wrong?",
            {
                "Gas in the sample, a leak at the lid, or heat stopped early.": "Name gas, leak and time before you "
                "believe the solids.",
            },
        ),
    ),
    minutes=60,
    source=RP,
    version=4,
)

BLUE = Task(
    id="methylene-blue",
    title="Test with methylene blue",
    lesson="solids",
    outcome="Run a methylene-blue test and report the bentonite equivalent.",
    place=BENCH,
    kit=(
        "methylene-blue solution",
        "flask and hot plate",
        "hydrogen peroxide 3 %",
        "dilute sulphuric acid",
        "filter paper",
        "burette or syringe",
        "goggles, face shield, gloves, apron, eyewash near",
        "gas monitor",
        "safety data sheets of acid, peroxide and dye",
        "tongs for the hot flask",
        "waste bottle",
        "stirring rod",
    ),
    conditions=("The observer judges the same spots.",),
    cautions=(
        SITE,
        "Acid and peroxide burn skin and eyes: goggles, face shield, gloves and apron, eyewash near, acid into water "
        "and never water into acid.",
        SULPHIDE,
        "Boiling liquid: a gentle boil under extraction, no face over the flask.",
        "Acid and dye go into their own waste bottle.",
        GLASS,
        ELECTRIC,
    ),
    told="Find the bentonite equivalent of this mud, 2 mL of it in the flask.",
    work=(
        Do(
            "Reads the data sheets, puts on goggles, face shield, gloves and apron, and says where the eyewash is.",
            "Acid in the eye is a matter of seconds. Goggles and shield on, eyewash known.",
            critical=True,
        ),
        SULPHIDE_ASKED,
        Do(
            "Has water in the flask first, then the mud and peroxide, and adds the acid last and slowly.",
            "Water first: acid goes into water, never water into acid, or it spits.",
            critical=True,
        ),
        Do(
            "Boils gently for 10 minutes under extraction, never dry, and takes the flask with tongs.",
            "Peroxide and boiling get rid of polymers, which take blue too. A flask that boils dry breaks.",
        ),
        Do(
            "Adds blue by half a millilitre, swirling each time for 30 seconds.",
            "Too much at a time runs past the end point.",
        ),
        Do(
            "Spots on filter paper until a blue ring stands around the dot, then swirls 2 minutes and spots again.",
            "The end is a ring that stays after two minutes more.",
        ),
        Read("blue", "Methylene blue at the end", "mL", 8, absolute(0.5, "mL", because="a step of the titration")),
        Work(
            "Bentonite equivalent",
            By("lb/bbl", "kg/m3"),
            ("blue",),
            lambda r: bentonite_equivalent(r["blue"], Q(2, "mL")),
            relative(0.02, because="5 lb/bbl (14.27 kg/m3) times blue, divided by mud"),
        ),
        Do(
            "Empties the flask into the waste bottle, rinses into it, and washes hands.",
            "Acid and dye that stay on bench or hands harm whoever comes next.",
        ),
        Ask(
            "The equivalent is up and nobody added bentonite. What does that say?",
            {
                "Clay from the rock is getting into the mud.": "Drilled clay takes blue as bentonite does.",
                "Low-gravity solids are not all drilled solids: this test splits them.": "The retort gives low-gravity "
                "solids, this test says how much of them is clay.",
            },
        ),
    ),
    minutes=30,
    source=RP,
    version=4,
)

CHLORIDES = Task(
    id="chlorides",
    title="Measure chlorides in the filtrate",
    lesson="solids",
    outcome="Titrate chlorides, and correct a retort for salt.",
    place=BENCH,
    kit=(
        "filtrate",
        "pipette with a filler",
        "silver nitrate of known strength",
        "potassium chromate",
        "acid to neutral",
        "white dish",
        "goggles, gloves, waste bottle, eyewash near",
        "gas monitor",
        "safety data sheets of silver nitrate, chromate and acid",
    ),
    conditions=("The observer watches the same end point.",),
    cautions=(
        SITE,
        "Silver nitrate stains and harms skin and eyes, chromate is poisonous and causes cancer: goggles and gloves, "
        "waste into its own bottle. Where the site has an indicator without chromate, take that.",
        SULPHIDE,
        GLASS,
    ),
    told="Find the chlorides of 1 mL of this filtrate, with the silver nitrate of which 1 mL stands for 1,000 mg/L.",
    work=(
        Do(
            "Reads the data sheets, puts on goggles and gloves, and has the waste bottle ready.",
            "Chromate is poisonous: protect yourself, and keep it out of the drain.",
            critical=True,
        ),
        SULPHIDE_ASKED,
        Do(
            "Takes 1 mL of filtrate by pipette, not by mouth, and adds water.",
            "A pipette is never sucked by mouth.",
            critical=True,
        ),
        Do("Brings it to neutral, then adds some drops of chromate.", "In acid or in caustic the colour lies."),
        Do(
            "Adds silver nitrate drop by drop, stirring, until orange stays for 30 seconds.",
            "The end is a colour that stays.",
        ),
        Read("silver", "Silver nitrate", "mL", 6.5, absolute(0.3, "mL", because="a drop or two at the end point")),
        Work(
            "Chlorides",
            "mg/L",
            ("silver",),
            lambda r: r["silver"] * SILVER_STANDS_FOR,
            relative(0.01, because="a plain product"),
        ),
        Do(
            "Empties the dish into the waste bottle, rinses into it, and washes hands.",
            "Chromate that stays on bench or hands harms whoever comes next.",
        ),
        Ask(
            "Why must who looks after solids know the chlorides?",
            {
                "Salt stays in the retort and reads as solids.": "Salt does not boil off: uncorrected, "
                "low-gravity solids look too high.",
            },
        ),
    ),
    minutes=15,
    source=RP,
    version=4,
)

TASKS = (WEIGH, FUNNEL, VISCOMETER, SAND, RETORT, BLUE, CHLORIDES)
