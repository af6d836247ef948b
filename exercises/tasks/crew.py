"""Tasks of mixing, moving and keeping people whole."""

from __future__ import annotations

from exercises.model import By, absolute, relative
from exercises.tasks.machines import LOCKED, MONITOR, PRACTICE, SLIP, WORN
from exercises.tasks.model import SITE, Ask, Do, Read, Task, Work
from exercises.tasks.mud import GLASS
from pitside.units import Q
from pitside.weighting import weighting_mass

DUST = "Dust of barite and chemicals: mask, glasses, gloves, extraction on. Caustic burns: face shield and apron."
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
        "gloves, glasses, apron, eyewash near",
        "cloths for spills",
        "waste container",
    ),
    conditions=("Safety data sheets are on the bench.",),
    cautions=(
        SITE,
        "Polymer on a floor is as slippery as ice: clear it at once, dry; no hose. Coagulants burn: gloves, glasses.",
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
    version=2,
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
        "dust mask of the class that the data sheet names, fitted to the face",
        "glasses, gloves",
        "mud balance",
        "radio",
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
        Do(
            "Tells the driller before the weight changes, and says how fast.",
            "Mud weight is well control: the driller knows before it changes.",
            critical=True,
        ),
        Do(
            "Reads the data sheet, and puts on mask, glasses and gloves before the first sack, extraction on.",
            "Dust harms for years. Protect first.",
            critical=True,
        ),
        Do(
            "Lines up the suction from and the return to the same pit, and starts the pump before the sacks.",
            "A hopper without flow fills and blocks.",
        ),
        Do(
            "Moves no sack alone: with a mate or a lifting aid, to a table, and cuts away from the body.",
            "A sack of 100 lb (45 kg) is too much for one back. Knives come next.",
            critical=True,
        ),
        Do(
            "Feeds evenly, and says: over one whole circulation, weighed every ten minutes.",
            "Even weight all round, or the column differs from what the driller believes.",
        ),
        Do("Tells the driller the weight that was reached, and cleans up.", "The last word is the new weight."),
        Ask(
            "The hopper stops drawing. What do you do?",
            {
                "Stop the sacks, look at flow and blockage from the side.": "Never lean over a blocked hopper.",
            },
        ),
    ),
    minutes=30,
    source=PRACTICE,
    version=3,
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
        Do(
            "Tells the driller volume, tanks and time, and waits for yes.",
            "A pit that rises without notice looks like a kick.",
            critical=True,
        ),
        Do("Reads both levels and says whether there is room.", "Room is looked at before a valve turns."),
        Do(
            "Walks the line and says each valve, dump and overboard valves shut.",
            "A line-up is walked. One dump valve left open is mud in the sea or on the ground.",
            critical=True,
        ),
        Do("Starts, and stays where the level can be seen.", "Nobody leaves a tank that fills.", critical=True),
        Do(
            "Stops short, the pump before the valves, reads levels again and compares.",
            "What left one tank arrived in the other, or it went elsewhere.",
        ),
        Do("Tells the driller that it is over, and the new levels.", "The driller sets the alarms again."),
        Ask(
            "Halfway the driller calls: gain in the active system. What do you do?",
            {
                "Stop at once and say so.": "Stop: the driller must see the well alone.",
            },
        ),
    ),
    minutes=20,
    source=PRACTICE,
    version=3,
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
        "Old sand holds gas, H2S too, and gives it off when it moves: gas monitor worn, stand upwind.",
        "A grating that is lifted is fenced and closed at once: nobody steps over an open trap.",
    ),
    told="Dump the trap, as much as is needed and no more.",
    work=(
        Do(
            "Has the permit, and says where it goes and who allowed it.",
            "Waste has a place and a paper.",
            critical=True,
        ),
        Do(
            "Tells the driller how much the level will fall, before it falls.",
            "A falling pit looks like losses.",
            critical=True,
        ),
        Do(
            "Wears face shield, gloves, apron and gas monitor, looks at the monitor, and stands upwind.",
            "Sand that moves gives its gas off at once, and what splashes is caustic. Dress, look, stand upwind.",
            critical=True,
        ),
        Do("Leads the flow past the trap if the tank plan has a way.", "Dumping with flow on it dumps good mud."),
        Do("Dips how deep the solids are.", "Half a trap of sand, or a trap of good mud: the stick says it."),
        Do("Opens slowly, watches, and closes when mud comes.", "When mud comes, close."),
        Do("Stays outside, and lets nobody in.", "A trap is a confined space.", critical=True),
        Do("Writes volume, time, place.", "Waste is written down: it is law in most places."),
        Ask(
            "Why not dump it every hour?",
            {
                "It throws away mud.": "Each dump is mud lost and waste to pay for.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=3,
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
        Do("Asks each to say back their part.", "Heads that nod have not always understood."),
        Do("Asks what is different today: weather, people, other work.", "Accidents come with what is different."),
        Do("Speaks so that those with little English follow.", "Short sentences, show with the hands, ask back."),
        Do("Has all sign, and begins with what came up.", "What came up changes the job."),
    ),
    minutes=10,
    source=PRACTICE,
    version=3,
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
        "It is announced as a drill, and ends at once when a real alarm sounds.",
        "No running on wet gratings.",
        "Whoever has trouble with heart or lungs says so before, and wears no set.",
    ),
    told="The H2S alarm at the shakers sounds now. Act.",
    work=(
        Do(
            "Holds the breath, puts on the escape set, looks at the wind sock, leaves across, then against the wind.",
            "H2S kills within breaths, and the nose stops smelling it.",
            critical=True,
        ),
        Do(
            "Warns by alarm and hand signs on the way, takes no breath for shouting, and does not go to look.",
            "A shout needs a breath of what kills. The alarm shouts for you, and nobody looks for the leak.",
            critical=True,
        ),
        Do("Goes to the muster point and is counted.", "Who is not counted is searched for by others at risk."),
        Do("Tells driller or control room what was seen and where.", "The driller must know at once."),
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
    version=4,
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
        Do("Says depth, mud weight, volume and what the well does.", "The well comes first."),
        Do(
            "Goes through each machine: running, standing, why, settings, screens.",
            "Machine by machine, in the order of the flow.",
        ),
        Do("Names isolations, permits and locks that stand.", "A lock whose story is lost is a danger.", critical=True),
        Do("Says stock: screens, chemicals, spares.", "What runs out at three in the morning is known at six."),
        Do("Says what is open, and what worries.", "Half of what goes wrong was a worry the shift before."),
        Do("Walks the plant with whoever takes over.", "Pictures, not words."),
        Do("Is asked, answers, and both sign.", "A handover ends when the other has understood."),
    ),
    minutes=15,
    source=PRACTICE,
    version=2,
)

TASKS = (JAR_TEST, MIX_BARITE, MOVE_MUD, DUMP_TRAP, TALK, GAS_ALARM, HANDOVER)
