"""Tasks of mixing, moving and keeping people from harm."""

from __future__ import annotations

from exercises.model import By, absolute, relative
from exercises.tasks.machines import LOCKED, MONITOR, MONITORED, PRACTICE, SLIP, TRIED, WORN
from exercises.tasks.model import SITE, Ask, Do, Read, Task, Work
from exercises.tasks.mud import GLASS
from pitside.units import Q
from pitside.weighting import weighting_mass

DUST = "Dust of barite: mask that fits a close-shaven face, glasses, gloves, extraction on. No caustic in this task."
LIFT = "Sacks are too heavy for one: two people or a lifting aid, knife away from the body, load never over people."
#: Density of barite with which the card of the school works out sacks: 35 lb/gal.
BARITE = Q(35, "lb/gal")
SACK = Q(100, "lb")

JAR_TEST = Task(
    id="jar-test-at-the-bench",
    title="Make a jar test and choose a dose",
    lesson="centrifuges",
    outcome="Find a flocculant's dose by jar test.",
    place="mud bench",
    kit=(
        "six jars",
        "polymer solution made up by the sheet",
        "syringes",
        "stirrer",
        "watch",
        "mud to be dewatered",
        "safety data sheets",
        "gloves, goggles, face shield, apron, dust mask, eyewash near",
        "cloths for spills",
        "waste container",
    ),
    conditions=("Safety data sheets are on the bench.",),
    cautions=(
        SITE,
        "Polymer on a floor is as slippery as ice: wipe it dry at once, no water. Coagulants burn: gloves, goggles, "
        "face shield.",
        "Read the safety data sheet first.",
        GLASS,
    ),
    told="Find the smallest dose that gives clear water and a floc that holds.",
    work=(
        Do(
            "Reads the data sheets and dresses by them.",
            "Each chemical has its own dangers: read before opening.",
            critical=True,
        ),
        Do(
            "Takes mud that is fresh and diluted as in the plant, the same volume in each jar.",
            "Jars that differ in more than the dose tell nothing.",
        ),
        Do("Doses in rising steps, one jar without any.", "A jar without polymer shows what polymer does."),
        Do("Stirs fast a short time, then slowly, all jars alike.", "Too much stirring breaks the floc."),
        Do("Judges water, floc and strength after the same time.", "Clear water, and a floc that holds when poured."),
        Do(
            "Names the smallest dose that works, and says that too much makes it worse.",
            "Too much polymer coats the solids and costs money.",
        ),
        Do(
            "Empties the jars into the waste container, wipes up every drop, and washes hands.",
            "A drop of polymer on the floor is the next fall.",
        ),
        Ask(
            "How do you turn the jar into a pump rate?",
            {
                "Dose by volume of mud, times the feed of the machine.": "Millilitres a litre, times litres a minute.",
                "Begin lower and look at the overflow.": "The plant mixes unlike a jar: adjust by what you see.",
            },
        ),
    ),
    minutes=30,
    source=PRACTICE,
    version=3,
)

MIX_BARITE = Task(
    id="mix-barite",
    title="Mix barite by hopper, protected, the driller told",
    lesson="weighting",
    outcome="Weight up by hopper, protected, with the driller told.",
    place="mixing hopper and pits",
    kit=(
        "hopper with its pump and a table at its height",
        "barite and its safety data sheet",
        "lifting aid, or a mate",
        "dust mask of the class that the data sheet names, fitted, on a close-shaven face",
        "glasses, gloves, hearing protection",
        "mud balance",
        "radio",
        MONITOR,
    ),
    conditions=(
        "The observer gives volume, weight and target, and has worked out nothing aloud.",
        "The pit serves no well, or the driller and the person in charge want this weight.",
    ),
    cautions=(SITE, DUST, LIFT, "A hopper that blocks can blow back: no face over it, and its grid stays on."),
    told="Weight this pit up as the observer says. Say how many sacks, then mix the first two.",
    work=(
        Read("volume", "Volume of the pit", By("bbl", "m3"), 120, relative(0.03, because="a dip stick")),
        Read("weight", "Weight now", By("lb/gal", "SG"), 10.4, absolute(0.1, "lb/gal", because="one division")),
        Read("target", "Weight asked for", By("lb/gal", "SG"), 10.8, absolute(0.01, "lb/gal", because="it is said")),
        Work(
            "Barite",
            By("lb", "kg"),
            ("volume", "weight", "target"),
            lambda r: weighting_mass(r["volume"], r["weight"], r["target"], BARITE),
            relative(0.03, because="1,470 for the exact constant, whole sacks"),
        ),
        MONITORED,
        Do(
            "Tells the driller weight now, weight wanted and how fast, and waits for yes.",
            "Mud weight is well control: the driller says yes before it changes.",
            critical=True,
        ),
        Do(
            "Reads the data sheet, and puts on mask, glasses and gloves before the first sack, extraction on.",
            "Dust harms for years. Protect first.",
            critical=True,
        ),
        Do(
            "Lines up suction and return to the same pit and says each valve, all dump and overboard valves SHUT. "
            "Guards on, nobody at the pump: warns, starts, and only then the sacks.",
            "One dump valve left open is mud lost. Nobody is surprised by a start. And a hopper without flow blocks.",
            critical=True,
        ),
        Do(
            "Moves no sack alone: with a mate or a lifting aid, to a table, and cuts away from the body.",
            "A sack of 100 lb (45 kg) is too much for one back. Knives come next.",
            critical=True,
        ),
        Do(
            "Feeds evenly, and says: over at least one circulation, weighed every ten minutes, each weight told to the "
            "driller.",
            "A heavy slug can break the hole down, and a loss can bring a kick.",
            critical=True,
        ),
        Do("Tells the driller the weight that was reached, and cleans up.", "The last word is the new weight."),
        Ask(
            "The hopper stops drawing. What do you do?",
            {
                "Stop the sacks, tell the driller, stop the pump, isolate, lock, let the pressure out, try. Only then "
                "clear it.": "Never lean over a blocked hopper or poke into it with the pump on: it blows back.",
            },
        ),
    ),
    minutes=30,
    source=PRACTICE,
    version=4,
)

MOVE_MUD = Task(
    id="move-mud",
    title="Move mud between tanks with the driller told",
    lesson="tanks-and-pumps",
    outcome="Move mud between tanks so that nobody is surprised.",
    place="mud tanks",
    kit=("tank plan", "radio", "dip stick or level gauge", WORN, MONITOR),
    conditions=("The well is in a state in which mud may be moved; the person in charge has agreed.",),
    cautions=(
        SITE,
        LOCKED,
        "Overflow on gratings: slips, and mud on what is below.",
        "Mud that moves gives off gas: gas monitor worn. Nobody goes into a tank.",
        "No hose is held by hand while a pump runs.",
    ),
    told="Move the volume that the observer names from one tank to another.",
    work=(
        MONITORED,
        Do(
            "Reads both levels and says whether there is room.",
            "Without room the tank overflows: look before a valve turns.",
            critical=True,
        ),
        Do(
            "Tells the driller volume, tanks and time, agrees that it stops at once on the driller's call or a well "
            "alarm, and waits for yes.",
            "A pit that rises without notice looks like a kick, and pumping on hides a gain.",
            critical=True,
        ),
        Do(
            "Walks the line and says each valve: all dump valves SHUT, all overboard valves SHUT.",
            "A line-up is walked. One dump valve left open is mud in the sea or on the ground.",
            critical=True,
        ),
        Do(
            "Sees guards on and nobody at the pump, warns, starts, and stays where the level can be seen.",
            "Nobody is surprised by a start, and nobody leaves a tank that fills.",
            critical=True,
        ),
        Do(
            "Stops the pump before the level is full, then shuts the valves and says each, reads levels again and "
            "compares.",
            "What left one tank arrived in the other, or it went elsewhere.",
        ),
        Do(
            "Tells the driller that it is over, and the new levels.",
            "With a wrong pit volume the driller misses a kick.",
            critical=True,
        ),
        Ask(
            "Halfway the driller calls: gain in the active system. What do you do?",
            {
                "Stop at once, as agreed before, shut the valves and say so.": "Stop, as agreed: the driller must see "
                "the well alone. Start or stop nothing that was not agreed.",
            },
        ),
    ),
    minutes=20,
    source=PRACTICE,
    version=4,
)

DUMP_TRAP = Task(
    id="dump-a-trap",
    title="Dump a sand trap by permit",
    lesson="tanks-and-pumps",
    outcome="Dump a sand trap by permit, without losing mud or harming anyone.",
    place="sand trap",
    kit=("permit", "waste tank with room", "radio", "dip stick", "gas monitor", "face shield, gloves, apron"),
    conditions=("The waste tank takes it, and local law allows the way.",),
    cautions=(
        SITE,
        "Nobody goes into a trap or tank: confined space, with its own permit, gas test and watch.",
        "Caustic and oil mud: face shield, gloves, apron.",
        "Old sand holds gas, H2S too, and gives it off when it moves: gas monitor worn, stand upwind, a second man "
        "upwind with a radio.",
        "A grating that is lifted is fenced at once, and closed as soon as the dip is done: nobody steps over an open "
        "trap.",
    ),
    told="Dump the trap, as much as is needed and no more.",
    work=(
        Do(
            "Has the permit, and says where it goes and who allowed it.",
            "Waste has a place and a paper.",
            critical=True,
        ),
        Do(
            f"Wears face shield, gloves and apron. {TRIED} Stands upwind.",
            "Sand that moves gives its gas off at once, and what splashes is caustic. Dress, look, stand upwind.",
            critical=True,
        ),
        Do("Dips how deep the solids are.", "Half a trap of sand, or a trap of good mud: the stick says it."),
        Do(
            "Tells the driller how much the level will fall and in which minute, waits for yes, and warns those at the "
            "waste tank.",
            "A falling pit looks like losses.",
            critical=True,
        ),
        Do("Leads the flow past the trap if the tank plan has a way.", "Dumping with flow on it dumps good mud."),
        Do(
            "Opens slowly, one hand at the valve until it is shut, shuts when mud comes, and sees that nothing runs "
            "any more.",
            "A dump valve that is left empties the active system.",
            critical=True,
        ),
        Do("Stays outside, and lets nobody in.", "A trap is a confined space.", critical=True),
        Do(
            "Tells the driller that it is shut, and the level; writes volume, time, place.",
            "Else the driller cannot tell the dump from a loss. And waste is written down: it is law in most places.",
            critical=True,
        ),
        Ask(
            "Why not dump it every hour?",
            {
                "It throws away mud.": "Each dump is mud lost and waste to pay for.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=4,
)

TALK = Task(
    id="toolbox-talk",
    title="Give a toolbox talk",
    lesson="commissioning",
    outcome="Brief a crew before a job so that each knows the danger and the stop.",
    place="anywhere quiet",
    kit=("the job's permit and risk sheet",),
    conditions=("A crew of two or more listens, the job is a real one of the day.",),
    cautions=(SITE, "The talk is held away from traffic, lifting and noise."),
    told="Brief this crew for the job that the observer names.",
    work=(
        Do("Says the job, its order, and who does what.", "Each must know their own part."),
        Do("Names what can hurt, and what keeps it away.", "Danger and barrier belong together.", critical=True),
        Do(
            "Says that everybody may stop the job, and by which word and hand sign.",
            "Anyone may stop it: say it every time, and show the sign, for a word is not heard beside a shaker.",
            critical=True,
        ),
        Do(
            "Says what to do if it goes wrong: alarm, muster point, first aid, whom to call.",
            "A crew that must ask where to go loses the minute that counts.",
            critical=True,
        ),
        Do("Asks each to say back their part.", "Heads that nod have not always understood.", critical=True),
        Do("Asks what is different today: weather, people, other work.", "Accidents come with what is different."),
        Do("Speaks so that those with little English follow.", "Short sentences, show with the hands, ask back."),
        Do("Settles first what came up, then has all sign, then starts.", "What came up changes the job."),
    ),
    minutes=10,
    source=PRACTICE,
    version=4,
)

GAS_ALARM = Task(
    id="gas-alarm-drill",
    title="Gas alarm drill",
    lesson="commissioning",
    outcome="Do the right thing in the first minute of a gas alarm.",
    place="shakers and mud tanks, as a drill that was announced to the rig",
    kit=("gas monitor", "escape set for training", "wind sock", "alarm", "muster list", "radio"),
    conditions=("The drill is known to the driller and the person in charge.", "No real breathing set is used up."),
    cautions=(
        SITE,
        "It is announced as a drill, and each call begins “Drill, drill, drill”. It ends at once when a real alarm "
        "sounds, or with the words “No drill”, said three times: then it is real.",
        "No running on wet gratings.",
        "Whoever has trouble with heart or lungs says so before, and wears no set.",
    ),
    told="Drill, drill, drill. H2S at the shakers. Act.",
    work=(
        Do(
            "Holds the breath, puts on the escape set (says: no set, go at once), looks at the wind sock, leaves "
            "across, then against the wind.",
            "H2S kills within breaths, and the nose stops smelling it. Without a set at hand nobody looks for one.",
            critical=True,
        ),
        Do(
            "Warns by hand signs and alarm on the way (shows the button, presses it only if the driller agreed), does "
            "not shout or go to look.",
            "A shout needs a breath of what kills. The alarm shouts for you, and nobody looks for the leak.",
            critical=True,
        ),
        Do(
            "Out of the gas, tells the driller by radio what was seen and where.",
            "The driller must know at once, not after the muster.",
            critical=True,
        ),
        Do(
            "Goes to the muster point and is counted.",
            "Who is not counted is searched for by others, in the gas.",
            critical=True,
        ),
        Do("Goes back only when told so by the person in charge.", "All clear is said by one person.", critical=True),
        Ask(
            "A mate lies at the shakers. What do you do?",
            {
                "Raise the alarm, and leave it to those who are trained and sent, with sets and in pairs.": "Without a "
                "set you lie beside him: most who die of H2S went in to help.",
            },
        ),
    ),
    minutes=10,
    source=PRACTICE,
    version=5,
)

HANDOVER = Task(
    id="shift-handover",
    title="Hand over a shift",
    lesson="commissioning",
    outcome="Hand over the solids control of a rig so that nothing is lost.",
    place="mud laboratory or shakers",
    kit=("shift log", "tank plan with line-up", "solids sheet", WORN, MONITOR),
    conditions=("Somebody takes over and asks.",),
    cautions=(SITE, "On the walk: gas monitor, no hand into a machine, no step over a rail.", SLIP),
    told="Hand this shift over.",
    work=(
        Do(
            "Says depth, mud weight, volume, gains, losses, gas, and mud that is being moved.",
            "The well comes first.",
            critical=True,
        ),
        Do(
            "Goes through each machine: running, standing, why, settings, screens.",
            "Machine by machine, in the order of the flow.",
        ),
        Do(
            "Names isolations, permits and locks that stand, and says: at each the next one's lock on, then mine off; "
            "permits signed over.",
            "Between two locks a machine is open to anyone: the next lock goes on before yours comes off.",
            critical=True,
        ),
        Do("Says stock: screens, chemicals, spares.", "What runs out at three in the morning is known at six."),
        Do("Says what is open, and what worries.", "Half of what goes wrong was a worry the shift before."),
        Do("Walks the plant with whoever takes over.", "Pictures, not words."),
        Do("Is asked, answers, and both sign.", "A handover ends when the other has understood."),
    ),
    minutes=15,
    source=PRACTICE,
    version=3,
)

TASKS = (JAR_TEST, MIX_BARITE, MOVE_MUD, DUMP_TRAP, TALK, GAS_ALARM, HANDOVER)
