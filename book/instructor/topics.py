"""What a school of solids control teaches, topic by topic, and where: page, picture, exercises, source.

``tests/book/test_topics.py`` holds each entry to the pages: the section is there, the picture stands in a lesson, the
exercises are in the bank, and the source is cited in the lesson. "common practice" stands where the lesson says that it
has none.
"""

from __future__ import annotations

from dataclasses import dataclass

from exercises import BANK, LESSONS
from exercises.tasks import TASKS

#: A topic of which the lesson says that it is common practice, without a source.
COMMON = "common practice"
#: The picture of a topic for which the book has none.
NO_PICTURE = "no picture"


@dataclass(frozen=True)
class Topic:
    """A topic: its words, the lesson and the section, a picture there, exercises that ask for it, and its source.

    ``picture`` is the name of a drawing, of a computed figure (``fig-...``), a ``tree`` that the page draws, or
    :data:`NO_PICTURE`.
    ``source`` is a key of the bibliography, or :data:`COMMON`.
    """

    says: str
    lesson: str
    section: str
    picture: str
    exercises: tuple[str, ...]
    source: str


#: By the heading of a part of the trade.
TOPICS: dict[str, tuple[Topic, ...]] = {
    "Screens at work": (
        Topic("motions, g-factor", "shakers", "How hard it shakes", "shaker", ("g-factor-shaker",), "asme2005"),
        Topic(
            "designation, D100", "shakers", "The number on the screen", "fig-ladder", ("screen-designation",), "api13c"
        ),
        Topic(
            "conductance, area, choice of a panel",
            "shakers",
            "Choose a panel",
            "screen-panel",
            ("choose-screens",),
            "aade1999",
        ),
        Topic(
            "fixing, tension, wear, plugging, coating",
            "shakers",
            "The panel: fixing, tension, wear",
            "screen-panel",
            ("signs-at-a-machine",),
            COMMON,
        ),
        Topic("several decks, scalping", "shakers", "Dress the decks", "screen-panel", ("choose-screens",), COMMON),
        Topic("deck angle, pool, load", "shakers", "Deck angle and load", "fig-walk", ("shaker-load",), COMMON),
        Topic(
            "cut curve from samples",
            "shakers",
            "What it removes: the cut curve",
            "fig-shaker-cut",
            ("cut-curve-from-samples",),
            "aade1999",
        ),
        Topic("flow between shakers", "shakers", "How many shakers", "shaker", ("shaker-load",), COMMON),
        Topic(
            "faults, first acts",
            "shakers",
            "When something is wrong",
            "shaker",
            ("signs-at-a-machine", "fault-diary"),
            COMMON,
        ),
    ),
    "The mud check": (
        Topic(
            "sample and order of tests", "mud-check", "Sample, then order", "viscometer", ("check-and-act",), "api13b1"
        ),
        Topic("weight, funnel", "mud-check", "Weighing", NO_PICTURE, ("check-and-act",), "api13b1"),
        Topic(
            "viscometer, PV, YP, gels", "mud-check", "The viscometer", "viscometer", ("viscometer-readings",), "api13b1"
        ),
        Topic("sand", "mud-check", "Sand", NO_PICTURE, ("check-and-act",), "api13b1"),
        Topic("retort, step by step", "solids", "What a retort tells", "retort", ("retort-reading",), "lapeyrouse2002"),
        Topic(
            "salt, oil, uncertainty",
            "solids",
            "What the readings do to the result",
            "fig-reading",
            ("solids-salt", "solids-fresh", "solids-invert", "retort-uncertainty"),
            "lapeyrouse2002",
        ),
        Topic(
            "methylene blue, bentonite against drilled",
            "mud-check",
            "Methylene blue: what of it is clay",
            "fig-split",
            ("blue-test",),
            "api13b1",
        ),
        Topic(
            "filtrate, cake, pH",
            "mud-check",
            "Filtrate, cake and pH",
            NO_PICTURE,
            ("check-and-act",),
            "api13b1",
        ),
        Topic("chlorides", "mud-check", "Chlorides", NO_PICTURE, ("check-and-act",), "api13b1"),
        Topic(
            "oil muds, electrical stability",
            "mud-check",
            "When the mud is an oil mud",
            NO_PICTURE,
            ("check-and-act",),
            "api13b2",
        ),
        Topic("daily solids sheet", "mud-check", "The daily solids sheet", "fig-split", ("five-days-sheet",), COMMON),
    ),
    "Gas": (
        Topic(
            "gas-cut mud and its weight", "gas", "What gas does to the weight", "fig-gas-loss", ("gas-cut-mud",), COMMON
        ),
        Topic(
            "degasser: kinds, place, check",
            "gas",
            "Separator and degasser",
            "degasser",
            ("which-gas-machine",),
            "asme2005",
        ),
        Topic(
            "separator, seal, vent line",
            "gas",
            "Check the separator, with the driller's crew",
            "separator",
            ("which-gas-machine",),
            "macdougall1991",
        ),
        Topic(
            "gas at the shakers, hydrogen sulphide",
            "gas",
            "Gas at the shakers",
            "plant-hazards",
            ("smell-of-gas",),
            "api49",
        ),
    ),
    "Sand trap, tanks, stirring": (
        Topic(
            "order, compartments, high and low joints",
            "tanks-and-pumps",
            "Tanks in series",
            "tank-plan",
            ("tank-order",),
            "asme2005",
        ),
        Topic(
            "volumes, sand trap, dumping",
            "tanks-and-pumps",
            "How large, and the trap",
            "fig-trap",
            ("stirrers-and-trap",),
            "aade1999",
        ),
        Topic("stirrers and guns", "tanks-and-pumps", "Stirring", "tank-plan", ("stirrers-and-trap",), COMMON),
        Topic("hopper", "tanks-and-pumps", "Mixing at the hopper", "hopper", ("wrong-line-up",), COMMON),
        Topic(
            "errors of line-up on a drawing",
            "tanks-and-pumps",
            "Find the wrong line-up",
            "fig-line-up",
            ("wrong-line-up",),
            COMMON,
        ),
        Topic(
            "pump, head, suction",
            "tanks-and-pumps",
            "A centrifugal pump makes head",
            "fig-duty",
            ("total-head", "affinity-laws"),
            "perry2008",
        ),
    ),
    "Cones and mud cleaner": (
        Topic(
            "sizes of cones: flow, head, cut",
            "hydrocyclones",
            "The cone and its sizes",
            "cone",
            ("number-of-cones", "cone-underflow"),
            COMMON,
        ),
        Topic(
            "feed head", "hydrocyclones", "Feed head, not feed pressure", "fig-head", ("feed-head-pressure",), COMMON
        ),
        Topic(
            "manifold, overflow, vent",
            "hydrocyclones",
            "The bank and its manifold",
            "cone-bank",
            ("read-the-bank",),
            COMMON,
        ),
        Topic(
            "cut, bypass",
            "hydrocyclones",
            "What a cone cuts",
            "fig-cone-curves",
            ("partition-curve", "cut-point-change", "read-the-curve"),
            "plitt1976",
        ),
        Topic(
            "apex, spray and rope", "hydrocyclones", "Spray or rope: set the apex", "cone", ("spray-or-rope",), COMMON
        ),
        Topic(
            "mud cleaner, when",
            "hydrocyclones",
            "The mud cleaner",
            "mud-cleaner",
            ("read-the-bank", "cones-in-weighted-mud"),
            COMMON,
        ),
        Topic(
            "plugged and worn cones",
            "hydrocyclones",
            "When something is wrong",
            "cone-bank",
            ("read-the-bank",),
            COMMON,
        ),
    ),
    "Decanters as machines": (
        Topic("bowl, scroll, beach, pond", "centrifuges", "The machine", "decanter", ("signs-at-a-machine",), COMMON),
        Topic(
            "g and cut", "centrifuges", "What it cuts", "fig-cut-map", ("centrifuge-cut", "g-factor-bowl"), "ambler1959"
        ),
        Topic(
            "balance of streams", "centrifuges", "The streams", "decanter", ("centrifuge-balance",), "lapeyrouse2002"
        ),
        Topic(
            "pond, differential, feed",
            "centrifuges",
            "Set it: pond, scroll, feed",
            "decanter",
            ("torque-trend",),
            COMMON,
        ),
        Topic(
            "torque, limit of solids",
            "centrifuges",
            "Torque and the limit of solids",
            "decanter",
            ("torque-trend",),
            COMMON,
        ),
        Topic(
            "duties and hook-ups",
            "centrifuges",
            "Duties and hook-ups",
            "centrifuge-hookups",
            ("centrifuge-cut",),
            "svarovsky2000",
        ),
        Topic(
            "start, run, stop",
            "centrifuges",
            "A safe order",
            "decanter",
            ("order-start-up", "isolate-before-opening"),
            COMMON,
        ),
        Topic("sound and discard", "centrifuges", "What sound and discard tell", "decanter", ("torque-trend",), COMMON),
    ),
    "Flocculation and dewatering": (
        Topic(
            "colloids below the cut",
            "dewatering",
            "Why fine grains stay",
            "sizes",
            ("machine-for-the-size",),
            "svarovsky2000",
        ),
        Topic(
            "coagulant, flocculant, jars, dose",
            "dewatering",
            "The jar test",
            "jar-test",
            ("jar-test", "polymer-dose"),
            "svarovsky2000",
        ),
        Topic(
            "closed loop, water back, faults",
            "dewatering",
            "Closed loop: water back to the mud",
            "fig-cake",
            ("water-back",),
            COMMON,
        ),
    ),
    "Dryers and cuttings": (
        Topic(
            "oil on cuttings, limits",
            "oil-on-cuttings",
            "Limits, and the average of a well",
            "fig-well-average",
            ("oil-on-cuttings", "well-average-retention"),
            "cfr435",
        ),
        Topic(
            "drying decks, baskets, heat", "oil-on-cuttings", "The dryers", "basket-dryer", ("drier-cuttings",), COMMON
        ),
        Topic(
            "what more g takes off",
            "oil-on-cuttings",
            "What more g takes off",
            "drained-bed",
            ("base-fluid-lost",),
            COMMON,
        ),
        Topic(
            "routes of waste, papers",
            "oil-on-cuttings",
            "Where it all goes",
            "fig-boxes",
            ("route-of-the-cuttings",),
            COMMON,
        ),
        Topic("boxes, mass, trips", "commissioning", "What leaves the rig", "fig-boxes", ("waste-volume",), COMMON),
    ),
    "Barite recovery and lighter risers": (
        Topic(
            "one bowl, two bowls, modules",
            "barite-recovery",
            "By one bowl, two bowls, cyclonic modules, or both",
            "fig-streams",
            ("which-way", "barite-two-ways", "barite-recovered"),
            "asme2005",
        ),
        Topic("two stages", "barite-recovery", "Two stages", "two-stages", ("barite-recovered",), COMMON),
        Topic(
            "modules, power",
            "barite-recovery",
            "Modules side by side",
            "fig-load",
            ("parallel-modules", "power-and-energy"),
            COMMON,
        ),
        Topic(
            "ways to two gradients",
            "dual-gradient",
            "Ways to get two gradients",
            "riser-methods",
            ("two-gradient-column",),
            "choe1999",
        ),
        Topic(
            "a light fluid in the riser",
            "dual-gradient",
            "A worked model: light fluid at the riser's foot",
            "riser",
            ("riser-dilution", "rate-and-plant", "riser-return-plant"),
            COMMON,
        ),
    ),
    "Commissioning": (
        Topic("survey, utilities", "commissioning", "1. Rig-up survey", "commissioning", ("bring-up",), COMMON),
        Topic("rotation, uncoupled", "commissioning", "4. Rotation", "commissioning", ("bring-up",), COMMON),
        Topic(
            "pressure test with water",
            "commissioning",
            "Why a test is made with water",
            "fig-stored",
            ("bring-up",),
            COMMON,
        ),
        Topic(
            "capacity, baseline",
            "commissioning",
            "6. A run on water: capacity",
            "commissioning",
            ("acceptance-test",),
            COMMON,
        ),
        Topic(
            "acceptance test",
            "commissioning",
            "8. The acceptance test",
            "commissioning",
            ("acceptance-test",),
            "jcgm106",
        ),
        Topic(
            "spares, training, handover",
            "commissioning",
            "Handover record",
            "commissioning",
            ("explain-to-the-crew",),
            COMMON,
        ),
    ),
    "Running a well": (
        Topic("section plan, rounds", "running-a-well", "The rounds", "rig-circuit", ("rounds-of-a-tour",), COMMON),
        Topic(
            "lag, hole cleaning",
            "running-a-well",
            "From the bit to the shakers",
            "fig-cleaning",
            ("bottoms-up", "is-the-hole-clean"),
            "lapeyrouse2002",
        ),
        Topic(
            "friction and ECD", "running-a-well", "Up the annulus", "fig-ecd", ("annular-velocity-ecd",), "guoliu2011"
        ),
        Topic(
            "gain and loss, who is told",
            "running-a-well",
            "The account of the pits",
            "fig-cleaning",
            ("pits-and-people",),
            COMMON,
        ),
        Topic(
            "displacement, brine",
            "running-a-well",
            "Changing the mud: displacement",
            "tank-plan",
            ("rounds-of-a-tour",),
            COMMON,
        ),
        Topic(
            "cost and report",
            "running-a-well",
            "The daily report",
            "fig-cleaning",
            ("read-the-week", "weekly-report"),
            COMMON,
        ),
        Topic(
            "removal, dilution, low gravity against drilled",
            "dilution",
            "What the machines took: removal performance",
            "fig-total-discard",
            ("removal-performance", "dilution-bill", "least-discard", "did-the-plant-get-better"),
            "api13c",
        ),
        Topic(
            "the system over time",
            "active-system",
            "Where it ends, and how fast",
            "fig-approach",
            ("steady-state-solids",),
            "api13c",
        ),
    ),
    "Weight, sizes, settling, packages": (
        Topic(
            "what drilled solids do and cost",
            "solids-cost",
            "What drilled solids do",
            "fig-bill",
            ("solids-effects",),
            COMMON,
        ),
        Topic(
            "volumes, pump, a barrel round the tanks",
            "solids-cost",
            "A barrel round the tanks",
            "rig-circuit",
            ("hole-volume", "pit-volume", "pump-output"),
            "lapeyrouse2002",
        ),
        Topic(
            "mud weight, pressure, window",
            "mud-weight",
            "The window",
            "fig-window",
            ("column-pressure", "convert-mud-weight"),
            "lapeyrouse2002",
        ),
        Topic(
            "weighting up",
            "weighting",
            "The job, step by step",
            "fig-sacks",
            ("weight-up-growing", "weight-up-fixed-final", "weight-up-in-two-batches", "weighting-materials"),
            "lapeyrouse2002",
        ),
        Topic(
            "cutting back, blending",
            "cutting-back",
            "Do it at the pits",
            "fig-cut",
            ("cut-back", "dilute-constant", "dilute-growing", "blend-muds", "cut-back-plan"),
            "lapeyrouse2002",
        ),
        Topic(
            "samples, sizes, the curve",
            "sizes",
            "A distribution and its curve",
            "fig-distribution",
            ("read-the-distribution", "machine-for-the-size"),
            "rosinrammler1933",
        ),
        Topic("grind of barite", "sizes", "The grind of barite", "fig-grind", ("grind-check",), "api13a"),
        Topic(
            "settling, crowding, what settles alike",
            "settling",
            "What pulls and what holds",
            "fig-alike",
            ("equal-settling-size", "hindered-settling", "settling-regime", "unit-of-viscosity"),
            "stokes1851",
        ),
        Topic(
            "a package within its limits",
            "packages",
            "What a sound package keeps",
            "fig-feed",
            ("size-a-train", "choose-a-package", "package-for-a-section"),
            COMMON,
        ),
        Topic("buy or hire", "packages", "What it costs", "fig-bands", ("compare-trains",), COMMON),
    ),
    "Keeping people whole": (
        Topic(
            "hazards and controls",
            "safety",
            "The hazards, one by one",
            "plant-hazards",
            ("hazard-and-control",),
            COMMON,
        ),
        Topic(
            "lock-out",
            "safety",
            "Isolate, lock, try",
            "plant-hazards",
            ("isolate-before-opening", "into-the-tank"),
            "osha147",
        ),
        Topic("confined space", "safety", "A tank is a trap", "tank-plan", ("into-the-tank",), "osha146"),
        Topic("noise", "safety", "Noise", "fig-noise", ("noise-dose",), "cfr1910_95"),
        Topic(
            "hydrogen sulphide, the meter",
            "safety",
            "What the meter asks of you",
            "plant-hazards",
            ("smell-of-gas",),
            "api49",
        ),
        Topic("chemicals", "safety", "Chemicals", "plant-hazards", ("hazard-and-control",), COMMON),
        Topic("lifting", "safety", "Lifting and carrying", "plant-hazards", ("hazard-and-control",), COMMON),
        Topic("electrics", "safety", "Electrics where gas may be", "plant-hazards", ("hazard-and-control",), COMMON),
        Topic("first acts", "safety", "First actions", "plant-hazards", ("hazard-and-control", "smell-of-gas"), COMMON),
    ),
    "Fault-finding": (
        Topic("six steps", "fault-finding", "Six steps, always the same", "tree", ("next-check",), COMMON),
        Topic(
            "tables and trees, machine by machine",
            "fault-finding",
            "Shakers",
            "tree",
            ("fault-diary", "signs-at-a-machine"),
            COMMON,
        ),
        Topic("and, or", "fault-finding", "Two things at once: and, or", "tree", ("next-check",), COMMON),
        Topic(
            "readings as evidence",
            "fault-finding",
            "Let a reading decide",
            "fig-gauge",
            ("read-the-bank", "next-check"),
            COMMON,
        ),
        Topic(
            "the note for the next tour",
            "fault-finding",
            "The note for the next tour",
            "tree",
            ("fault-diary",),
            COMMON,
        ),
    ),
}


def table(topics: tuple[Topic, ...]) -> str:
    """Topics as a table in Markdown."""
    rows = ["| Topic | Page | Picture | Exercises | Source |", "| --- | --- | --- | --- | --- |"]
    for one in topics:
        page = f"[{LESSONS[one.lesson].title}](../lessons/{one.lesson}.md): {one.section}"
        asked = "; ".join(BANK[exercise].title for exercise in one.exercises)
        source = one.source if one.source == COMMON else "{footcite:p}`" + one.source + "`"
        rows.append(f"| {one.says} | {page} | {one.picture} | {asked} | {source} |")
    return "\n".join(rows)


def task_table() -> str:
    """The tasks that are watched at the bench and at the machine, as a table in Markdown by lesson."""
    rows = ["| Task | Page | What it shows |", "| --- | --- | --- |"]
    for lesson, about in LESSONS.items():
        page = f"[{about.title}](../lessons/{lesson}.md)"
        rows += [f"| {task.title} | {page} | {task.outcome} |" for task in TASKS.values() if task.lesson == lesson]
    return "\n".join(rows)
