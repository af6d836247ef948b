"""Tasks at shakers, cones and centrifuges."""

from __future__ import annotations

from exercises.model import By, absolute, relative
from exercises.tasks.model import SITE, Ask, Do, Read, Task, Work
from pitside.pumps import head_from_pressure
from pitside.shakers import g_factor

PRACTICE = "common practice, no source"
#: Where a machine is isolated in the task.
AGREED = (
    "It is agreed who may isolate: where law or site leaves the main switch to an electrician, the candidate asks for "
    "the isolation, hangs the own lock with it, and tries it."
)
ELECTRIC = "Starters, junction boxes and motors are opened and mended by licensed electricians alone."
WORN = "eye protection, hearing protection, gloves"
MONITOR = "gas monitor"
TRIED = (
    "Shows a gas monitor that was tried with test gas this tour, worn at the collar: H2S 0. Any reading: stays away, "
    "tells the driller."
)
MONITORED = Do(
    TRIED,
    "Gas comes out where mud meets air: monitor tried, worn and at 0. Any reading: stay away and tell the driller.",
    critical=True,
)
LOCKED = "Nobody opens, reaches into or stands on a machine that is not isolated, locked, tagged and tried."
VAPOUR = "Hot mud, vapour and H2S at the header box: gas monitor worn, stand out of the vapour, hearing protection."
PRESSURE = "Mud under pressure: nobody stands in line with caps, hoses and couplings. Eye protection."
BOWL = "A rotating bowl: guards on, no hand into a chute, never opened before it stands still and is locked out."
SLIP = "Walkways at shakers and tanks are wet with mud: wash down, keep them clear, one hand for the rail."

CHANGE_SCREEN = Task(
    id="change-a-screen",
    title="Inspect, change and tension a screen under lock-out",
    lesson="shakers",
    outcome="Inspect, change and tension a shaker screen under lock-out.",
    place="a shaker that can be taken out of service",
    kit=(
        "own padlocks and tags",
        "new panel of the programme's designation",
        "seals",
        "the tools that the shaker's manual names",
        WORN,
        MONITOR,
        "torch",
        "scraper and water",
    ),
    conditions=(
        "Another shaker can take the mud; the person in charge has given the permit.",
        AGREED,
    ),
    cautions=(
        SITE,
        LOCKED,
        ELECTRIC,
        VAPOUR,
        "Panels are heavy and have sharp wires: gloves, two people where site rules say so.",
        "Air or oil of clamps and deck keeps its pressure without current: it is let out.",
        SLIP,
    ),
    told="This screen is thought to be torn. Inspect it and change it, until mud runs over this shaker again.",
    work=(
        MONITORED,
        Do(
            "Tells the driller and the person in charge before touching flow or machine, and waits for yes.",
            "Flow that moves without notice overflows somewhere, and a level changes. Tell first.",
            critical=True,
        ),
        Do(
            "Sends the flow to another machine; shuts, locks and tags the gate of this one; sees no flow.",
            "A gate that is not locked can be opened, and hot mud and gas come over your hands.",
            critical=True,
        ),
        Do(
            "Stops it; isolates main switch and air or oil; own lock and tag on each; keeps the key.",
            "Own lock, own key, own tag, on current and air: nobody else can start it or bring pressure back.",
            critical=True,
        ),
        Do(
            "Lets the pressure out of clamps and deck, gauge at 0; sees that the basket rests.",
            "A main switch does not empty an air line: clamps and decks move by what is left in them.",
            critical=True,
        ),
        Do(
            "Sees that nobody is at it. Tries the start: nothing moves. Sets it back to off.",
            "The lock may be on the wrong switch, and then the try starts the machine: look first, then try.",
            critical=True,
        ),
        Do(
            "Washes, no water on motor or cable; inspects wires, seals, rubbers, hold-downs.",
            "Look at seals and rubbers too: mud goes round a whole screen through a bad seal.",
        ),
        Do(
            "Lifts the old panel out with gloves, with a mate where site rules say so; says what its damage tells.",
            "Wires cut, panels crush. And a tear at one place tells of a hard spot or a bad seat.",
        ),
        Do(
            "Compares the designation on the label with the programme before fitting.",
            "A screen of another designation is a hole in the plan.",
        ),
        Do(
            "Seats the panel by the manual. All hands are out, seen and called, before air or oil comes back.",
            "A clamp that gets its air back closes on what lies in it. And a loose panel is torn within hours.",
            critical=True,
        ),
        Do(
            "Tools out, guards back, nobody at it: takes the own lock off last and tells that it is free.",
            "Count the tools and the people. The lock goes last.",
            critical=True,
        ),
        Do(
            "Warns those near, sees all clear, then starts.",
            "Nobody is surprised by a start: warn, look, then press.",
            critical=True,
        ),
        Do(
            "Runs it empty, tells the driller, waits for yes, brings mud back, looks from outside under the screen.",
            "Start empty. Mud moves only after the driller's yes; then look for mud that comes through at the seat.",
            critical=True,
        ),
        Ask(
            "A screen is torn and no spare is there. What now?",
            {
                "Tell the driller; under lock-out block it or shut that deck.": "A "
                "torn screen takes nothing out: under lock-out plug the hole as the manual allows, or shut that deck.",
                "Say so in the report and order spares.": "Who reads the report must know what ran without a screen.",
            },
        ),
    ),
    minutes=35,
    source=PRACTICE,
    version=4,
)

SET_POOL = Task(
    id="set-the-pool",
    title="Set deck angle and pool",
    lesson="shakers",
    outcome="Set deck angle and flow so that the pool ends where it should.",
    place="a running shaker",
    kit=("shaker with an adjustable deck", "the manual's range of angles", "radio", WORN, MONITOR),
    conditions=("Mud runs at a steady rate.",),
    cautions=(
        SITE,
        VAPOUR,
        "A shaking deck: adjust only from the place and in the state that its manual names, with hands off the basket.",
        SLIP,
    ),
    told="Set this shaker for the flow that comes now.",
    cases=(
        "Mud runs over the end of the deck.",
        "Cuttings lie dry and pile up far from the end.",
        "The pool lies on one side of the deck.",
    ),
    work=(
        MONITORED,
        Do(
            "Looks at the pool, the cuttings and the flow before touching anything.",
            "Look first: what you see says which way to turn.",
        ),
        Do(
            "Says the cause of what is seen.",
            "Name the cause: too much flow, a coated screen, an angle, a deck that hangs, a blocked feeder side.",
        ),
        Do(
            "Tells the driller what is seen and what will be changed, mud that is lost at once, and waits for yes "
            "before touching deck or gate.",
            "Mud lost at the shaker looks like losses in the well: the driller hears it first.",
            critical=True,
        ),
        Do(
            "Keeps hands and sleeves off the basket while it runs, and adjusts only from the place and in the state "
            "that the manual names.",
            "A moving basket breaks fingers, and a deck that is freed in the wrong state drops.",
            critical=True,
        ),
        Do(
            "Changes one thing, a little, and waits until the pool stands.",
            "One change at a time, then wait: two changes tell you nothing.",
        ),
        Do(
            "Ends with the pool over about two thirds to three quarters of the deck, the end dry and moving.",
            "Where the pool ends, mud is lost or screen is wasted.",
        ),
        Do(
            "Tells the driller what was set, and notes angle, screens and flow.",
            "Who comes next must know what was set.",
        ),
        Ask(
            "Why not simply raise the deck to its end?",
            {
                "Cuttings are ground on a steep deck, and stay longer.": "A steep deck holds cuttings: they break into "
                "fines that no screen takes.",
                "Coarser screens or another machine may be the answer.": "Too much flow for the screen is not cured by "
                "angle alone.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=3,
)

SPLIT_FLOW = Task(
    id="split-the-flow",
    title="Split the flow between shakers",
    lesson="shakers",
    outcome="Split the return evenly between shakers.",
    place="the header box above running shakers",
    kit=("header box with gates", MONITOR, "radio", WORN),
    conditions=("Two shakers or more run, all gates can be moved.",),
    cautions=(
        SITE,
        VAPOUR,
        "Open trenches and gratings: no step into a header box, no climbing over its rail.",
        "Gates pinch: hands on the handle alone.",
        SLIP,
    ),
    told="One shaker floods and its neighbour runs half dry. Put that right.",
    work=(
        Do(
            f"{TRIED} Stands upwind, never with the head in or over the box.",
            "Gas comes out first at the header box: monitor tried, worn and at 0; stand upwind, look from the side.",
            critical=True,
        ),
        Do(
            "Compares the pools and the screens of all shakers.",
            "Different screens flood at different flows: look at them before the gates.",
        ),
        Do(
            "Tells the driller and the crew below, waits for yes, moves one gate a little, and waits until the pools "
            "are steady.",
            "A gate moved without notice floods who stands below.",
            critical=True,
        ),
        Do("Ends with pools of like length on like screens.", "An even split uses all the screen that there is."),
        Do(
            "Never shuts all gates: one way for the mud stays open at all times.",
            "A return that finds every gate shut overflows the box.",
            critical=True,
        ),
        Ask(
            "Cuttings settle in the header box on one side. What then?",
            {
                "That shaker gets more of the rock, and its screens wear.": "Rock follows the bottom: the deepest gate "
                "takes the most of it.",
                "Clean it from outside, the driller told, under permit, when the flow is off.": "A box is cleaned from "
                "outside when nothing flows, under permit. A hand or a head in it needs an entry permit.",
            },
        ),
    ),
    minutes=12,
    source=PRACTICE,
    version=4,
)

DECK_MOTION = Task(
    id="measure-deck-motion",
    title="Measure a deck's stroke and work out its g",
    lesson="shakers",
    outcome="Measure stroke and speed of a deck and work out its g.",
    place="a running shaker without mud, or one with mud where its manual allows",
    kit=(
        "stroke card, stuck to the basket while it stood",
        "strobe or tachometer that reads without touching, of a kind allowed in that zone",
        "calculator or card",
        WORN,
        MONITOR,
    ),
    conditions=(
        "The card was fixed while the machine was locked out; every guard is on.",
        "The observer reads card and speed as well.",
    ),
    cautions=(
        SITE,
        LOCKED,
        "No hand on a shaking basket, no guard off for a reading; a strobe can make a turning part look still.",
        "Flicker of a strobe can harm some people: ask first.",
        VAPOUR,
    ),
    told="Read the stroke on this card, measure the speed, and say how many g the deck has.",
    work=(
        MONITORED,
        Do(
            "Reads card and speed without touching the basket and with every guard on.",
            "Read from outside: the basket moves, and no reading is worth an open guard.",
            critical=True,
        ),
        Read("stroke", "Stroke, end to end", By("in", "mm"), 0.2, absolute(0.02, "in", because="the lines of a card")),
        Read("speed", "Speed", "rpm", 1750, relative(0.02, because="a tachometer in the hand")),
        Work(
            "Acceleration",
            "fraction",
            ("stroke", "speed"),
            lambda r: g_factor(r["stroke"], r["speed"]),
            relative(0.03, because="the constant of the card, and roundings"),
        ),
        Do(
            "Compares with the data sheet and with the other side of the basket.",
            "Two sides that differ tell of a spring, a motor or a crack.",
        ),
        Ask(
            "The stroke is a fifth short. What may be wrong?",
            {
                "Too much load, worn springs, wrong weights, low supply.": "Look at load, springs, weights and supply "
                "before you blame the screen.",
                "If the sides differ: tell the driller, send the flow over another, stop it, tell the mechanic.": "A "
                "basket that twists breaks: stop it, but first the mud needs another way.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=4,
)

SAMPLE_SCREEN = Task(
    id="sample-over-and-under",
    title="Sample over and under a screen",
    lesson="shakers",
    outcome="Take fair samples over and under a screen and say what they show.",
    place="a running shaker",
    kit=(
        "sample cups with lids and labels, one on a long handle",
        "tray as wide as the deck, which stands by itself",
        "stopwatch",
        "balance",
        WORN,
        MONITOR,
    ),
    conditions=("Flow and screens stay the same while samples are taken.",),
    cautions=(
        SITE,
        VAPOUR,
        "Reach no further than the discharge end: no arm under or over a moving basket, nothing held against it.",
        "A full tray is heavy: two carry it, or it is emptied by the cup.",
        "A handle is held beside the body, with no loop round the hand. Where the mud under the deck cannot be reached "
        "from outside, it is taken at the next sample point.",
        SLIP,
    ),
    told="Take samples from which the screen of this deck can be judged.",
    work=(
        MONITORED,
        Do(
            "Takes the discharge over the whole width, for a time that is measured.",
            "A handful from the middle is no sample: cut the whole stream.",
        ),
        Do(
            "Takes the mud under the same deck at the same time, with the cup on its handle or at the sample point.",
            "Over and under belong to one moment, and no arm goes under a basket for it.",
        ),
        Do("Puts no arm in, over or under the basket.", "A moving basket breaks arms.", critical=True),
        Do("Closes, labels with deck, screen, time, depth and flow.", "A cup without a label is waste."),
        Do("Weighs the discharge and works out mass a minute.", "Mass in a measured time is what the deck carries."),
        Ask(
            "There is sand under a fine screen. What does it tell?",
            {
                "A tear, a bad seal or a bypass.": "A screen that is whole passes no sand: look for the hole.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=4,
)

MANIFOLD_HEAD = Task(
    id="manifold-head",
    title="Read the head at a cone manifold and judge it",
    lesson="hydrocyclones",
    outcome="Work out the feed head of cones from gauge and mud weight, and judge it.",
    place="the manifold of a running desilter or desander",
    kit=("manifold with a gauge that is in date", "mud balance", "sample cup", "calculator or card", WORN, MONITOR),
    conditions=(
        "The observer reads gauge and balance as well.",
        "The cones' data sheet says which head they want, often about 75 ft (23 m).",
    ),
    cautions=(
        SITE,
        PRESSURE,
        "Feed is sampled at the tank, standing upwind, the hatch shut after, or at a sample valve that is opened "
        "slowly; never at a coupling.",
        "A gauge is not tapped with a hammer, not unscrewed under pressure, and vented only where it has a valve "
        "for that and site rules allow it.",
    ),
    told="Say whether these cones have the head that they want.",
    work=(
        MONITORED,
        Do(
            "Sees that the gauge is in date, and says how it is proved: it falls to 0 when vented by the rule.",
            "A gauge that sticks tells yesterday's pressure.",
        ),
        Do(
            "Wears eye protection, keeps out of the line of caps and couplings, and unscrews nothing.",
            "Mud under pressure goes through skin: out of its line, and nothing is opened.",
            critical=True,
        ),
        Read("pressure", "Gauge at the manifold", By("psi", "kPa"), 38, absolute(2, "psi", because="a division")),
        Read(
            "weight", "Weight of the feed mud", By("lb/gal", "SG"), 9.6, absolute(0.1, "lb/gal", because="one division")
        ),
        Work(
            "Head",
            By("ft", "m"),
            ("pressure", "weight"),
            lambda r: head_from_pressure(r["pressure"], r["weight"]),
            relative(0.02, because="0.052 for the exact constant, and roundings"),
        ),
        Do("Says low, right or high against the data sheet.", "The number means nothing before it is compared."),
        Do(
            "Looks at the discharge of each cone before saying what to do.",
            "Gauge and discharge together tell the cause.",
        ),
        Ask(
            "The head is too low. What do you look at, and in which order?",
            {
                "Suction: level, plugged strainer, air, another open valve.": "Most low heads are on the suction side.",
                "Then the pump, and too many cones open.": "Speed, impeller, bypass; more cones than it can feed.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=4,
)

SET_SPRAY = Task(
    id="set-spray",
    title="Classify the discharge of cones and set spray",
    lesson="hydrocyclones",
    outcome="Tell spray from rope and set a cone to spray.",
    place="a running bank of cones",
    kit=(
        "bank with adjustable apexes and its manual",
        "the key or tool of the maker",
        "face shield",
        "radio",
        WORN,
        MONITOR,
    ),
    conditions=(
        "The head at the manifold is right.",
        "The cones' manual allows the apex to be turned under pressure; else each turn is made with the bank stopped, "
        "isolated, locked, tagged, vented and tried.",
    ),
    cautions=(SITE, PRESSURE, "Discharge under pressure: face shield, and no finger into an apex."),
    told="Go along this bank, say how each cone discharges, and set it right where it can be.",
    work=(
        MONITORED,
        Do(
            "Wears the face shield before the first look at an apex, and keeps face, fingers and tools out of the "
            "discharge.",
            "What comes out cuts, and a tool is shot back: shield first, then look.",
            critical=True,
        ),
        Do(
            "Calls each cone: spray, rope, dry or plugged, and water only.",
            "Four pictures: learn to name them at a glance.",
        ),
        Do("Says that a rope means solids go back into the mud.", "A rope looks heavy and good, and is the opposite."),
        Do(
            "Says from the manual whether an apex may be turned under pressure. Where not: tells the driller, waits "
            "for yes, and the bank is stopped, isolated, locked, tagged, vented and tried.",
            "An apex that is turned against the manual can come off in the hand. Read first.",
            critical=True,
        ),
        Do("Turns the apex of one cone a little, from the side, and watches.", "From the side, a little, and watch."),
        Do(
            "Ends with a spray that just draws air, as dry as it goes without a rope.",
            "Wider wastes mud, narrower ropes.",
        ),
        Do("Marks what cannot be set and reports it.", "A cone that will not spray is shut and reported."),
        Ask(
            "All cones rope at once. What do you do?",
            {
                "Too many solids come: finer screens, more cones.": "All together means the feed, not the apex.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=3,
)

CLEAR_CONE = Task(
    id="clear-a-plugged-cone",
    title="Clear a plugged cone",
    lesson="hydrocyclones",
    outcome="Clear a plugged cone without opening anything under pressure.",
    place="a bank of cones",
    kit=(
        "bank that can be shut down, with a gauge and a vent or drain for the cone that is opened",
        "locks and tags, one for each thing that is isolated",
        "rod of wood or plastic",
        "face shield, hearing protection, gloves",
        "radio",
        MONITOR,
    ),
    conditions=(
        "One cone is plugged; the bank can be shut down without harm.",
        "In this task the pump is locked out. At work it may be left running, behind the cone's own locked valves, "
        "only if the permit says so.",
        AGREED,
    ),
    cautions=(SITE, PRESSURE, LOCKED, ELECTRIC),
    told="This cone gives nothing at its apex. Clear it.",
    work=(
        MONITORED,
        Do(
            "Tells the driller and the person in charge which machine goes down, and waits for yes.",
            "A bank that stops or comes back moves the levels that the driller watches.",
            critical=True,
        ),
        Do(
            "Stops the pump and isolates it; shuts suction, feed and overflow valves; locks and tags each.",
            "Another pump can fill a cone whose own pump is locked: valves are locked too.",
            critical=True,
        ),
        Do(
            "Proves no pressure at THIS cone: gauge at 0, and its own vent or drain runs, then stops. No flow: not "
            "safe, does not open, calls the person in charge.",
            "A plugged cone holds its own pressure. A drain that gives nothing may be plugged: do not open, call.",
            critical=True,
        ),
        Do(
            "Sees that nobody is at the pump. Tries its start: nothing moves. Sets the switch back to off.",
            "The lock may be on the wrong switch: look first, then try.",
            critical=True,
        ),
        Do(
            "Opens slowly, from the side, behind a face shield.",
            "What was trapped comes out at the first turn.",
            critical=True,
        ),
        Do(
            "Clears from the apex without steel that scratches, and looks at liner and apex.",
            "A scratched liner cuts coarser for good.",
        ),
        Do(
            "Closes, takes tools away, sees all clear, takes the own lock off last, tells the driller and those near, "
            "waits for yes, opens the feed valve slowly and looks for leaks.",
            "The lock goes when all are clear, and all know of the start. Slowly: a hammering header breaks cones.",
            critical=True,
        ),
        Ask(
            "The same cone plugs every hour. Why?",
            {
                "A torn screen or a bypassed shaker.": "What plugs a cone should have been taken out before it.",
            },
        ),
    ),
    minutes=20,
    source=PRACTICE,
    version=4,
)

SAMPLE_UNDERFLOW = Task(
    id="sample-an-underflow",
    title="Sample an underflow and weigh it",
    lesson="hydrocyclones",
    outcome="Sample feed, overflow and underflow together and weigh them.",
    place="a running bank of cones or a centrifuge",
    kit=("sample cups, one on a long handle", "mud balance", "stopwatch", "labels", "face shield", WORN, MONITOR),
    conditions=("The observer weighs the same underflow.",),
    cautions=(SITE, PRESSURE, BOWL),
    told="Take and weigh feed, overflow and underflow so that a balance can be made.",
    work=(
        MONITORED,
        Do(
            "Wears the face shield, opens sample valves slowly, stays out of the line of couplings and outside the "
            "guards.",
            "What waits in a sample valve jumps out: shield on, slowly, from the side.",
            critical=True,
        ),
        Do(
            "Takes all three within a minute, the machine running steadily.",
            "Samples of different moments never balance.",
        ),
        Do(
            "Flushes the sample valves first, and holds the cup under the whole underflow.",
            "The first cup from a valve is what settled in it.",
        ),
        Read(
            "weight",
            "Weight of the underflow",
            By("lb/gal", "SG"),
            14.6,
            absolute(0.2, "lb/gal", because="two divisions: an underflow holds air"),
        ),
        Do(
            "Sees that feed lies between overflow and underflow, and samples again if not.",
            "A feed outside of the two is a wrong sample.",
        ),
        Do("Labels machine, stream, time.", "Three cups look alike an hour later."),
        Ask(
            "Overflow and feed weigh the same. What does it say?",
            {
                "The machine takes out next to nothing.": "No difference, no separation: look at head, apex, feed.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=3,
)

DESILTER = Task(
    id="start-a-desilter",
    title="Line up and start a desilter",
    lesson="tanks-and-pumps",
    outcome="Line up a cone bank tank by tank and start it.",
    place="mud tanks with a desilter",
    kit=("tank plan", "own lock and tag", "gauge in date", "radio", WORN, MONITOR),
    conditions=("The pump is isolated at the beginning; valves are not as they should be.", AGREED),
    cautions=(
        SITE,
        LOCKED,
        ELECTRIC,
        PRESSURE,
        "Centrifugal pumps: coupling guard on, never run against a shut suction.",
    ),
    told="Bring this desilter on line from the tank plan.",
    work=(
        MONITORED,
        Do(
            "Hangs own lock and tag at the isolation, sees that nobody is at the pump, and tries the start: nothing "
            "moves.",
            "The lock of another does not guard you, and a lock that was not tried may be on the wrong switch.",
            critical=True,
        ),
        Do(
            "Walks the line from suction tank to pump, cones, overflow and underflow.",
            "A line-up is walked, not remembered.",
        ),
        Do(
            "Says that suction is upstream, overflow goes one compartment downstream, with the equaliser open between.",
            "Overflow into its own suction treats the same mud, and a shut equaliser pulls mud past the cones.",
        ),
        Do(
            "Sets every valve by hand and says its position: all dump valves SHUT, all overboard valves SHUT.",
            "Point and say: each valve once. One dump valve left open is mud in the sea or on the ground.",
            critical=True,
        ),
        Do(
            "Sees that guards are on and nobody is at pump or header, warns those near, and takes the own lock off "
            "last; nobody takes off another's.",
            "The one who locked it unlocks it, when everybody is clear.",
            critical=True,
        ),
        Do(
            "Tells the driller before mud moves, and waits for yes.",
            "Mud that moves changes the pit level that the driller watches.",
            critical=True,
        ),
        Do(
            "Starts with the suction fully open, opens the DISCHARGE slowly, reads the head, looks at each cone and "
            "for leaks.",
            "A manifold filled at once hammers.",
        ),
        Do(
            "Watches levels for ten minutes and tells the driller.",
            "A wrong line-up or an open dump valve shows in the levels, and nowhere else.",
            critical=True,
        ),
        Ask(
            "The pump runs and the gauge stays at 0. What first?",
            {
                "Stop it and tell the driller; then look at suction valve, air, and the way it turns.": "A dry pump "
                "destroys its seal. Stop, then look. One that turns backwards is for the electrician.",
            },
        ),
    ),
    minutes=30,
    source=PRACTICE,
    version=4,
)

DECANTER = Task(
    id="run-a-decanter",
    title="Start, load, flush and stop a decanter",
    lesson="centrifuges",
    outcome="Start, load, flush and stop a decanting centrifuge in the safe order.",
    place="a decanting centrifuge with its feed pump",
    kit=(
        "decanter",
        "feed pump",
        "flush liquid",
        "check list of its manual",
        "own locks and tags",
        "radio",
        WORN,
        MONITOR,
    ),
    conditions=(
        "The machine is ready, at rest and empty; a person who is licensed for it is there.",
        "The minutes do not count run-down, locks and permits: nobody is hurried.",
        AGREED,
    ),
    cautions=(
        SITE,
        BOWL,
        LOCKED,
        ELECTRIC,
        "Noise: hearing protection. With oil mud vapour that burns: moving air, no flame.",
    ),
    told="Run this machine on mud for a quarter of an hour and stop it so that it can stay stopped until tomorrow.",
    work=(
        MONITORED,
        Do(
            "Tells the driller and the person in charge which mud, what goes back, how long; waits for yes; tells them "
            "again before the stop.",
            "The bowl takes barite and volume out of the mud: the driller must know why weight and level fall.",
            critical=True,
        ),
        Do(
            "Isolates bowl, scroll and feed pump, shuts feed and flush valves, locks and tags each; sees that nobody "
            "is at it, tries the start; then checks: guards, covers, oil, belts, outlets, turned by hand.",
            "A bowl is turned by hand only when nobody can start it and no mud can come into it.",
            critical=True,
        ),
        Do(
            "Sees all clear and every cover on, takes own lock off last, and warns those near.",
            "The lock goes last, and nobody is surprised by a start.",
            critical=True,
        ),
        Do(
            "Says the manual's order and starts by it, often bowl, then scroll; no feed before full speed.",
            "Feed into a slow bowl packs it.",
            critical=True,
        ),
        Do(
            "Lets it run empty, stands clear, listens for vibration, and says: what shakes is stopped and reported.",
            "What shakes empty shakes worse full, and a bowl that breaks comes through its cover.",
            critical=True,
        ),
        Do("Opens flush liquid, then feeds slowly, and watches torque and current.", "Load by steps, torque in view."),
        Do(
            "Sets feed and dilution to the torque, and looks at both discharges.",
            "Torque, cake and overflow say how much it takes.",
        ),
        Do(
            "Stops the feed first, and flushes until the discharge is clear and torque is low.",
            "A bowl stopped with solids will not start, or starts out of balance.",
            critical=True,
        ),
        Do(
            "Stops the drive and keeps covers closed until shaft and scroll drive were SEEN to stand still and are "
            "locked.",
            "A bowl turns for many minutes: trust neither clock nor silence, see the shaft stand.",
            critical=True,
        ),
        Do(
            "Isolates, locks and tags all of it again, feed pump and valves too; sees that nobody is at it, tries the "
            "start; writes hours, feed, readings.",
            "It stays stopped until tomorrow, and who opens it tomorrow must find it dead.",
            critical=True,
        ),
        Ask(
            "It begins to shake while stopping. What do you do?",
            {
                "Keep away and keep it closed; flush only if the manual says so.": "Stay clear until it stands.",
                "Report it, and no new start before it was looked at.": "A bowl out of balance is for the mechanic.",
            },
        ),
    ),
    minutes=45,
    source=PRACTICE,
    version=4,
)

TORQUE = Task(
    id="read-torque-and-act",
    title="Read torque and act",
    lesson="centrifuges",
    outcome="Read a decanter's torque and act before it trips.",
    place="a decanting centrifuge, or its panel",
    kit=("running decanter or its panel with readings that the observer sets", WORN),
    conditions=(
        "The observer says the readings, or shows them on a panel that drives nothing: no overload is provoked on a "
        "machine that runs.",
    ),
    cautions=(
        SITE,
        BOWL,
        "An overload device is never bridged or set higher, and reset only by who is named for it, the cause found. If "
        "the machine shakes: stop it, go away from it, report.",
    ),
    told="You watch this machine. Say and do what the readings ask for.",
    cases=(
        "Torque has risen from 40 % to 75 % in ten minutes, and cake comes in lumps.",
        "Torque falls to 10 % and mud comes out of the solids side.",
        "Torque swings up and down, and the cake comes in bursts.",
    ),
    work=(
        Do(
            "Stops the feed first, tells the driller, and then explains.",
            "Feed is what you stop first: act, tell, then explain.",
            critical=True,
        ),
        Do(
            "Says what the reading means within a minute.",
            "Rising: solids pile up. Falling: nothing is being "
            "carried, or the pond runs out. Swinging: the feed is uneven.",
        ),
        Do("Flushes or dilutes as the manual says, and watches torque come back.", "Flush frees the scroll."),
        Do(
            "Leaves overload device and settings alone.",
            "The overload device saves the gearbox and people. It is never bridged.",
            critical=True,
        ),
        Do(
            "Brings feed back in steps below the old one, and writes it down.",
            "Coming back to the old rate brings the old trouble.",
        ),
        Ask(
            "It has tripped. Why not start at once?",
            {
                "The bowl is packed, and may be out of balance.": "It stays shut until it was seen stopped, isolated, "
                "locked and tried. Then it is flushed and turned by the manual.",
                "Tell the driller, and find why it tripped first.": "A second trip without a cause found is a broken "
                "gearbox.",
            },
        ),
    ),
    minutes=15,
    source=PRACTICE,
    version=4,
)

TASKS = (CHANGE_SCREEN, SET_POOL, SPLIT_FLOW, DECK_MOTION, SAMPLE_SCREEN, MANIFOLD_HEAD, SET_SPRAY, CLEAR_CONE,
         SAMPLE_UNDERFLOW, DESILTER, DECANTER, TORQUE)  # fmt: skip
