"""Case: a week's solids-control report of a rig, read, judged and acted upon."""

from __future__ import annotations

import math

import pint

from exercises.bank.active_system import Outcome
from exercises.bank.dilution import Outcome as Dilution
from exercises.fleet.envelope import CENTRIFUGE_HIRE, DISPOSAL_PRICE, DRILLED_SOLIDS, WATER_MUD_PRICE
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Drawn, Grid, Number, Numbers, Pick, Range
from exercises.model.parts import (
    Choice,
    Chosen,
    Column,
    Convention,
    Known,
    Limit,
    Marks,
    Method,
    Numeric,
    Option,
    Point,
    PrintedColumn,
    Row,
    RowSlip,
    Slip,
    Table,
    Written,
    absolute,
    relative,
)
from exercises.model.usual_slips import upside_down
from exercises.model.working import Step
from pitside.removal import clean_mud, drilled_hole_volume, drilled_solids, mud_built, new_mud, removal_performance
from pitside.unit_names import read_unit
from pitside.units import Q, Quantity

BALANCE = relative(0.01, because="a volume balance of figures given to two or three digits")
MONEY = relative(0.015, because="the volume and its rounding, and whole units of currency")
WEEK = Q(7, "d")
#: A share that is this much above the target is written as the target, to one decimal.
HALF_A_TENTH = Q(0.05, "%")

MACHINES = {"shakers": "Shakers", "cones": "Hydrocyclones", "centrifuge": "Centrifuge"}
#: Of the rock that is drilled, what each machine of Heron 4 took when it was accepted. Common practice, no source.
ACCEPTED = (
    Number("shakers_before", Grid(34, 42, 1, "%")),
    Number("cones_before", Grid(16, 24, 1, "%")),
    Number("centrifuge_before", Grid(15, 22, 1, "%")),
)
#: Drilled solids in what each throws out. Common practice, no source.
SOLIDS_IN_DISCARD = (
    Number("shakers_solids", Grid(40, 55, 1, "%")),
    Number("cones_solids", Grid(21, 30, 1, "%")),
    Number("centrifuge_solids", Grid(38, 52, 1, "%")),
)
#: What the report of a week prints of each machine.
PRINTED = (
    PrintedColumn("Thrown out", lambda row: f"{{{row.key}_discard}}"),
    PrintedColumn("Drilled solids in it", lambda row: f"{{{row.key}_solids}}"),
    PrintedColumn("Share of the rock at acceptance", lambda row: f"{{{row.key}_before}}"),
)
#: The share of the rock that stays now which each sound remedy takes, and what the remedy costs in the week.
REMEDIES = {"repair": ("back", "repair"), "rent": ("more", "rent")}
#: The steps to which a day's volume is chosen, by unit.
STEPS = {"bbl/d": 40, "m3/d": 5}
OFFERED = By(Grid(80, 1400, 40, "bbl/d"), Grid(15, 220, 5, "m3/d"))


def _rock(n: Known | Numbers) -> pint.Quantity:
    return drilled_solids(n.diameter, n.length, n.washout, n.porosity)


def share_taken(n: Numbers, machine: str) -> pint.Quantity:
    """Share of the week's rock that a machine took: well below acceptance for the worn one, a little for the others."""
    before = getattr(n, f"{machine}_before")
    return before * (1 - n.worse) if n.worn == machine else before - n.drift


def _discard(machine: str) -> Derived:
    """What a machine threw out in the week, so that it holds the machine's share of the rock."""
    return Derived(
        f"{machine}_discard",
        lambda n: _rock(n) * share_taken(n, machine) / getattr(n, f"{machine}_solids"),
        By("bbl", "m3"),
        By(0, 1),
    )


def _removal(n: Numbers) -> pint.Quantity:
    return sum((share_taken(n, machine) for machine in MACHINES), Q(0.0))


def _water(n: Numbers) -> pint.Quantity:
    """Water added in the week, so that the mud built with it diluted what the machines left."""
    return new_mud(_rock(n) * (1 - _removal(n)), n.drilled) * n.water_share


def _back(n: Numbers) -> pint.Quantity:
    """Of the rock that stays, what the worn machine takes once it is as good as at acceptance.

    Of what comes to it, that is: each machine takes its part of what those before it left, so what a better shaker
    takes no longer comes to the cones, and they take as much less.
    """
    upstream = tuple(MACHINES)[: tuple(MACHINES).index(n.worn)]
    before = getattr(n, f"{n.worn}_before") / (1 - sum((getattr(n, f"{one}_before") for one in upstream), Q(0.0)))
    now = share_taken(n, n.worn) / (1 - sum((share_taken(n, one) for one in upstream), Q(0.0)))
    return (before - now) / (1 - now)


def _planned(n: Numbers) -> pint.Quantity:
    """Mud that the programme replaces in a day: too little for what the machines leave now."""
    return n.plan * _rock(n) * (1 - _removal(n)) / n.target / WEEK


def taken_out(n: Known, machine: str) -> pint.Quantity:
    return getattr(n, f"{machine}_discard") * getattr(n, f"{machine}_solids")


def _stays(n: Known | Numbers, rock: pint.Quantity, removal: pint.Quantity) -> pint.Quantity:
    """Rock that stays in the mud by the day."""
    return rock * (1 - removal) / WEEK


def _price(n: Known) -> pint.Quantity:
    return n.mud_price + n.disposal_price


def _remedy_cost(n: Known, remedy: str) -> pint.Quantity:
    return getattr(n, REMEDIES[remedy][1])


def _better(n: Known) -> pint.Quantity:
    return n.c + (1 - n.c) * getattr(n, REMEDIES[n.h][0])


def _bill(n: Known) -> pint.Quantity:
    return n.j * WEEK * _price(n) + _remedy_cost(n, n.h)


def _by_the_day(n: Numbers) -> str:
    """The unit in which this variant gives volumes by the day."""
    planned = n["planned"]
    assert isinstance(planned, Drawn)
    return planned.unit


def _least_that_holds(n: Known) -> pint.Quantity:
    """The least volume by the day, of those that are offered, that holds the target."""
    unit = _by_the_day(n.drawn)
    day, step = read_unit(unit), STEPS[unit]
    return Quantity(float(step * math.ceil((_stays(n, n.a, n.i) / n.target).m_as(day) / step)), day)


def furthest_behind(n: Known, table: str) -> str:
    """The machine that has lost most since acceptance, by the shares that were answered in this table."""
    return max(
        MACHINES, key=lambda machine: float((getattr(n, f"{machine}_before") - n[f"{table}.{machine}.share"]).m_as("%"))
    )


def _leaves_a_choice(n: Known) -> bool:
    """With either remedy three offered volumes or so hold the target and cost less than going on as now.

    Some offered volumes are too small and some too large. The remedies pay, and differ from each other. A remedy takes
    enough for its share of all the rock, a slip, to be told from a wrong answer of another kind.
    """
    if not Q(2, "percent") <= 1 - n.water_share - n.drilled <= Q(7, "percent"):
        return False
    if n.target >= n.drilled or n.washout == n.porosity or not 0.15 <= n.back.m_as("") <= 0.45:
        return False
    if abs(float((n.back - n.more).m_as("%"))) < 2:
        return False
    if _stays(n.drawn, _rock(n.drawn), _removal(n.drawn)) / n.planned > Q(9.8, "%"):
        return False
    unit = _by_the_day(n.drawn)
    day, step = read_unit(unit), STEPS[unit]
    offered = OFFERED.field if unit == OFFERED.field.unit else OFFERED.metric
    now = (_stays(n.drawn, _rock(n.drawn), _removal(n.drawn)) / n.target).m_as(day)
    for taken, cost in ((n.back, n.repair), (n.more, n.rent)):
        least = now * (1 - taken.m_as(""))
        most = now - (cost / WEEK / _price(n)).m_as(day)
        chosen = step * math.ceil(least / step)
        if most - least < 0.06 * least + 2 * step or most - chosen < 0.08 * now:
            return False
        if least < offered.low + step or most > offered.high - step:
            return False
    return True


EXERCISE = Exercise(
    title="The week's solids-control report",
    level=3,
    minutes=75,
    combines=("solids-cost", "dilution"),
    version=6,
    outcome=Outcome.REPORT,
    numbers=(
        Number("diameter", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("length", Grid(2800, 6000, 50, "ft"), Grid(850, 1800, 10, "m")),
        Number("washout", Grid(4, 15, 1, "%")),
        Number("porosity", Grid(8, 20, 1, "%")),
        *ACCEPTED,
        Pick("worn", tuple(MACHINES)),
        Number("worse", Grid(45, 75, 1, "%")),
        Number("drift", Grid(0.2, 0.8, 0.1, "%")),
        *SOLIDS_IN_DISCARD,
        *(_discard(machine) for machine in MACHINES),
        Number("drilled", Grid(5.5, 8.0, 0.1, "%")),
        Number("target", Grid(4.5, 6.0, 0.5, "%")),
        Number("water_share", Grid(86, 91, 1, "%")),
        Derived("water", _water, By("bbl", "m3"), By(-1, 0)),
        Number("volume", Grid(800, 1300, 20, "bbl"), Grid(130, 205, 5, "m3")),
        Number("plan", Grid(60, 80, 1, "%")),
        Derived("planned", _planned, By("bbl/d", "m3/d"), By(-1, 0)),
        Derived("back", _back, "%", 0),
        Number("more", Grid(15, 32, 1, "%")),
        Number("repair", Grid(3000, 12_000, 500, "money")),
        Number("rent", Grid(7000, 14_000, 500, "money")),
        Number("mud_price", Grid(30, 60, 2, "money/bbl"), Grid(190, 370, 10, "money/m3")),
        Number("disposal_price", Grid(16, 50, 2, "money/bbl"), Grid(100, 310, 10, "money/m3")),
    ),
    valid=_leaves_a_choice,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("drilled solids now", lambda n: n.drilled, DRILLED_SOLIDS),
        Within("drilled solids in the end", lambda n: n.e, DRILLED_SOLIDS),
        Within("price of mud", lambda n: n.mud_price, WATER_MUD_PRICE),
        Within("disposal", lambda n: n.disposal_price, DISPOSAL_PRICE),
        Within("hire of a centrifuge", lambda n: n.rent / WEEK, CENTRIFUGE_HIRE),
    ),
    setting=(
        "Fill in the week's solids-control report of rig Heron 4. Next week is to be drilled at the same rate.\n\n"
        "- Drilled in seven days: {length} of {diameter} hole. Washout was {washout} of the volume that the "
        "bit drills, the rock has a porosity of {porosity}.\n"
        "- Machines: what each threw out was measured, and a retort of it read. The share of the rock that each took "
        "at acceptance, when the plant was new, is in the table of (b).\n"
        "- Mud: {water} of water were added. The retorts of the mud average {water_share} water and {drilled} drilled "
        "solids; the rest is bentonite, lubricant and salt. The programme allows {target} drilled solids.\n"
        "- The active system is kept at {volume}: for each volume of mud built, as much mud leaves.\n"
        "- Prices: clean mud costs {mud_price}, disposal of what leaves {disposal_price} (money stands for an invented "
        "currency).\n"
        "- Rules of counting: mud that is built is counted with the rock in it. Mud that fills the new hole is left "
        "out. What leaves is the mud in the discard and the mud that is dumped, taken together; the rock in the "
        "discard is not counted in it."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What volume of rock, without its pores, was drilled in the week?",
            unit=By("bbl", "m3"),
            solve=_rock,
            plausible=Range(250, 1050, "bbl"),
            tolerance=BALANCE,
            marks=Marks(2),
            slips=(
                Slip(
                    "porosity left out",
                    lambda n: drilled_hole_volume(n.diameter, n.length, n.washout),
                    "This is the volume of the hole. The pores are no rock: multiply by 100 % minus the porosity.",
                ),
                Slip(
                    "washout left out",
                    lambda n: drilled_solids(n.diameter, n.length, 0.0, n.porosity),
                    "You left the washout out. It is drilled rock too: multiply by 100 % plus the washout.",
                ),
            ),
            working=(
                Step(
                    "Hole of the bit's size:",
                    By("{diameter}**2 / 1029.4 * {length}", "pi / 4 * ({diameter} / 1000)**2 * {length}"),
                    "hole",
                    By("bbl", "m3"),
                    digits=5,
                ),
                Step(
                    "With the washout, without the pores:",
                    "{hole} * (1 + {washout} / 100) * (1 - {porosity} / 100)",
                    digits=5,  # the bills rest on it, and (n) is a difference of two of them
                ),
            ),
        ),
        Table(
            key="b",
            ask="Fill in the report, machine by machine.",
            corner="Machine",
            rows=tuple(Row(machine, title) for machine, title in MACHINES.items()),
            columns=(
                *PRINTED,
                Column(
                    key="rock",
                    title="Rock taken out",
                    unit=By("bbl", "m3"),
                    solve=taken_out,
                    plausible=Range(10, 370, "bbl"),
                    tolerance=BALANCE,
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "all that is thrown out",
                            lambda n, machine: getattr(n, f"{machine}_discard"),
                            "This is rock and mud. Multiply by the share of drilled solids in it.",
                        ),
                        RowSlip(
                            "the mud in it",
                            lambda n, machine: getattr(n, f"{machine}_discard") - taken_out(n, machine),
                            "This is the mud that went with the rock. Multiply by the share of drilled solids.",
                        ),
                    ),
                    working=lambda machine: (
                        Step(
                            "What is thrown out, times the share of rock in it.",
                            f"{{{machine}_discard}} * {{{machine}_solids}} / 100",
                        ),
                    ),
                ),
                Column(
                    key="share",
                    title="Share of the week's rock, in percent, to one decimal",
                    unit="%",
                    uses=("a", ".rock"),
                    solve=lambda n, machine: Q(1.0) * n[f"b.{machine}.rock"] / n.a,
                    plausible=Range(3, 44, "%"),
                    tolerance=relative(0.015, because="one decimal of a share of ten percent or less, and 1 % each"),
                    marks=Marks(1),
                    slips=(
                        RowSlip(
                            "all that is thrown out",
                            lambda n, machine: Q(1.0) * getattr(n, f"{machine}_discard") / n.a,
                            "You put all that is thrown out above the line. Take the rock in it.",
                        ),
                        RowSlip(
                            "of the hole",
                            lambda n, machine: (
                                Q(1.0) * n[f"b.{machine}.rock"] / drilled_hole_volume(n.diameter, n.length, n.washout)
                            ),
                            "You divided by the volume of the hole. Divide by the rock alone, your answer to (a).",
                        ),
                    ),
                    working=lambda machine: (
                        Step("Rock taken out over rock drilled.", f"{{b.{machine}.rock}} / {{a}} * 100", digits=5),
                    ),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask="What share of the rock did the machines take out together, in percent?",
            unit="%",
            uses=tuple(f"b.{machine}.share" for machine in MACHINES),
            solve=lambda n: sum((n[f"b.{machine}.share"] for machine in MACHINES), Q(0.0)),
            plausible=Range(36, 79, "%"),
            tolerance=absolute(0.5, "%", because="three shares, each to one decimal or to 1 %"),
            marks=Marks(1),
            slips=(
                Slip(
                    "mean of the machines",
                    lambda n: sum((n[f"b.{machine}.share"] for machine in MACHINES), Q(0.0)) / 3,
                    "You took the mean. Each share is of the same rock: add them.",
                ),
                Slip(
                    "what stays",
                    lambda n: 1 - sum((n[f"b.{machine}.share"] for machine in MACHINES), Q(0.0)),
                    "This is what stays in the mud. The question asks what the machines took out.",
                ),
            ),
            working=(
                Step(
                    "The shares are of the same rock.",
                    "{b.shakers.share} + {b.cones.share} + {b.centrifuge.share}",
                    digits=5,
                ),
            ),
        ),
        Numeric(
            key="d",
            ask=(
                "Check it from the other side: what removal performance, in percent, follows from the mud that was "
                "built and the drilled solids that it holds?"
            ),
            unit="%",
            digits=3,
            uses=("a",),
            solve=lambda n: removal_performance(mud_built(n.water, n.water_share), n.a, n.drilled),
            plausible=Range(36, 79, "%"),
            tolerance=absolute(1, "%", because="a dilution factor with two decimals carries one percent"),
            marks=Marks(3),
            outcome=Dilution.PERFORMANCE,
            method=(
                Method(
                    "built",
                    "What volume of mud was built?",
                    By("bbl", "m3"),
                    lambda n: mud_built(n.water, n.water_share),
                    BALANCE,
                    marks=1,
                    plausible=Range(1200, 8000, "bbl"),
                ),
            ),
            slips=(
                Slip(
                    "dilution factor",
                    lambda n: 1 - removal_performance(mud_built(n.water, n.water_share), n.a, n.drilled),
                    "This is the dilution factor. It says what was not removed: take it off 100 %.",
                ),
                Slip(
                    "water for mud",
                    lambda n: removal_performance(n.water, n.a, n.drilled),
                    "You took the water as the mud that was built. Divide it by its share of the mud.",
                ),
            ),
            working=(
                Step("Mud built with the water:", "{water} / ({water_share} / 100)", "built", By("bbl", "m3")),
                Step(
                    "Mud that would hold all the rock at the average:",
                    "{a} / ({drilled} / 100)",
                    "all",
                    By("bbl", "m3"),
                ),
                Step("What dilution did not have to do.", "100 * (1 - {built} / {all})"),
            ),
        ),
        Numeric(
            key="e",
            ask=(
                "The programme plans to build {planned} of mud next week, and as much leaves, in the discard or "
                "dumped. If the machines go on removing what you found in (c), to what share do drilled solids come in "
                "the end, in percent?"
            ),
            unit="%",
            digits=3,
            uses=("a", "c"),
            solve=lambda n: _stays(n, n.a, n.c) / n.planned,
            plausible=Range(5, 10.2, "%"),
            tolerance=relative(0.02, because="a removal is known to no better than half a point"),
            marks=Marks(3),
            outcome=Outcome.BUILD_UP,
            slips=(
                Slip(
                    "what is removed",
                    lambda n: n.a * n.c / WEEK / n.planned,
                    "You took the rock that is removed. What stays builds up: 100 % minus the removal.",
                ),
                Slip(
                    "a week's rock for a day's mud",
                    lambda n: 7 * _stays(n, n.a, n.c) / n.planned,
                    "You put the rock of a week over the mud of a day. Divide the rock by seven.",
                ),
                Slip(
                    "all the rock",
                    lambda n: n.a / WEEK / n.planned,
                    "You took all the rock. Only what the machines leave builds up.",
                ),
            ),
            working=(
                Step("Rock that stays in a day:", "{a} * (1 - {c} / 100) / 7", "stays", By("bbl/d", "m3/d")),
                Step("In the end the mud that leaves takes away as much rock as stays.", "100 * {stays} / {planned}"),
            ),
        ),
        Numeric(
            key="f",
            ask=(
                "Suppose that nothing is done to the machines, and that mud is replaced instead, so much that the rock "
                "that stays is {target} of the mud. What does a week of that cost, mud and disposal together? The mud "
                "with the rock in it, or the clean mud alone: both ways of counting are accepted, here and in (n)."
            ),
            unit="money",
            uses=("a", "c"),
            solve=lambda n: new_mud(n.a * (1 - n.c), n.target) * _price(n),
            plausible=Range(80_000, 1_100_000, "money"),
            conventions=(
                Convention("clean mud, less the rock", lambda n: clean_mud(n.a * (1 - n.c), n.target) * _price(n)),
            ),
            tolerance=MONEY,
            marks=Marks(3),
            outcome=Dilution.BILL,
            slips=(
                Slip(
                    "disposal left out",
                    lambda n: new_mud(n.a * (1 - n.c), n.target) * n.mud_price,
                    "You left the disposal out. What leaves the system is paid for as well.",
                ),
                Slip(
                    "all the rock diluted",
                    lambda n: new_mud(n.a, n.target) * _price(n),
                    "You diluted all the rock. The machines take a part of it out: dilute what stays.",
                ),
                Slip(
                    "at the present share",
                    lambda n: new_mud(n.a * (1 - n.c), n.drilled) * _price(n),
                    "You held the mud where it is. The programme allows {target}: dilute to that.",
                ),
            ),
            working=(
                Step("Rock that stays in the week:", "{a} * (1 - {c} / 100)", "stays", By("bbl", "m3"), digits=5),
                Step("Mud that holds it:", "{stays} / ({target} / 100)", "mud", By("bbl", "m3"), digits=5),
                Step("Volume times both prices.", "{mud} * ({mud_price} + {disposal_price})", digits=5),
            ),
        ),
        Choice(
            key="g",
            ask="Which machine has lost the most, compared with its share at acceptance?",
            uses=tuple(f"b.{machine}.share" for machine in MACHINES),
            options=(
                Option(
                    "shakers",
                    "The shakers.",
                    "Compare the shakers' share of this week with their share at acceptance, and do so with the "
                    "others.",
                ),
                Option(
                    "cones",
                    "The hydrocyclones.",
                    "Compare the cones' share of this week with their share at acceptance, and do so with the others.",
                ),
                Option(
                    "centrifuge",
                    "The centrifuge.",
                    "Compare the centrifuge's share of this week with its share at acceptance, and do so with the "
                    "others.",
                ),
                Option(
                    "none",
                    "None: all are within two points of it.",
                    "One is more than two points behind. Compare each share with the one at acceptance.",
                    never_right=True,
                ),
            ),
            right=lambda n: furthest_behind(n, "b"),
            marks=Marks(2),
            reason=(
                "Take each machine's share this week ({b.shakers.share}, {b.cones.share}, {b.centrifuge.share}) off its"
                " share at acceptance ({shakers_before}, {cones_before}, {centrifuge_before}). One has lost several "
                "points, the others about one at most."
            ),
        ),
        Choice(
            key="h",
            ask=(
                "What do you recommend for next week? More than one way is sound; the rest goes on with yours. The "
                "shares in the options hold for the whole plant: what one machine takes no longer comes to those "
                "behind it."
            ),
            options=(
                Option(
                    "coarser",
                    "Coarser screens on the shakers, so that less mud goes over with the cuttings.",
                    "Coarser screens let more rock into the mud, where it is ground finer. Removal falls.",
                    never_right=True,
                ),
                Option(
                    "repair",
                    "Repair the machine that is behind, stopped and isolated by the rig's rules. This takes {back} of "
                    "the rock that stays now, and it lasts; it costs {repair}.",
                    "",
                ),
                Option(
                    "faster",
                    "Run the centrifuge's bowl above its rated speed for the week.",
                    "Never run a bowl above its rated speed: it can burst. The rating and local rules stand.",
                    never_right=True,
                ),
                Option(
                    "rent",
                    "Rent a second centrifuge, lifted and wired by people qualified for it. In a trial one took {more} "
                    "of the rock that stays now; it costs {rent} for the week.",
                    "",
                ),
            ),
            right=lambda n: tuple(REMEDIES),
            marks=Marks(2),
            reason=(
                "Both the repair and the second centrifuge take rock out that now has to be diluted, and both cost "
                "less than the mud they save. Coarser screens make it worse, and a bowl's rated speed is a limit."
            ),
        ),
        Numeric(
            key="i",
            ask="What share of the rock will be removed with your recommendation, in percent?",
            unit="%",
            uses=("c", "h"),
            solve=_better,
            plausible=Range(52, 86, "%"),
            tolerance=absolute(0.7, "%", because="the removal of (c) to half a point, and shares in whole percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "share of all the rock",
                    lambda n: n.c + getattr(n, REMEDIES[n.h][0]),
                    "You added the percentage as it stands. It is of the rock that stays now: multiply it by that.",
                ),
                Slip(
                    "gain alone",
                    lambda n: (1 - n.c) * getattr(n, REMEDIES[n.h][0]),
                    "This is what comes on top. Add what is removed already.",
                ),
            ),
            working=(
                Step("What is removed, and the new share of what stays (repair).", "{c} + (100 - {c}) * {back} / 100"),
            ),
        ),
        Chosen(
            key="j",
            ask=By(
                "With it, how much mud do you plan to build each day, while as much leaves, to a multiple of 40 bbl/d? "
                "It must hold the mud at {target} or below in the end, rounded to one decimal, and with your "
                "recommendation the week must cost less than in (f). More than one volume is sound; the rest goes on "
                "with yours.",
                "With it, how much mud do you plan to build each day, while as much leaves, to a multiple of 5 m³/d? "
                "It must hold the mud at {target} or below in the end, rounded to one decimal, and with your "
                "recommendation the week must cost less than in (f). More than one volume is sound; the rest goes on "
                "with yours.",
            ),
            grid=OFFERED,
            uses=("a", "f", "h", "i"),
            suggest=_least_that_holds,
            limits=(
                Limit(
                    "holds the target",
                    lambda n: _stays(n, n.a, n.i) / n.j <= n.target + HALF_A_TENTH,
                    "So little mud lets drilled solids rise above {target}. Divide the rock that stays in a day by it.",
                    2,
                ),
                Limit(
                    "costs less",
                    lambda n: _bill(n) < n.f,
                    "With so much mud the week costs no less than going on as now. Plan less.",
                    1,
                ),
            ),
            outcome=Outcome.BUILD_UP,
            reason=(
                "{j} is the least that holds {target} with a removal of {i}. Somewhat more leaves room for a faster "
                "bit or a tired screen, and is as sound while the week stays below {f}."
            ),
        ),
        Numeric(
            key="k",
            ask="To what share do drilled solids come in the end with that volume, in percent?",
            unit="%",
            digits=3,
            uses=("a", "i", "j"),
            solve=lambda n: _stays(n, n.a, n.i) / n.j,
            plausible=Range(3.5, 6.06, "%"),
            tolerance=relative(0.02, because="a removal is known to no better than half a point"),
            marks=Marks(2),
            outcome=Outcome.BUILD_UP,
            slips=(
                Slip(
                    "what is removed",
                    lambda n: n.a * n.i / WEEK / n.j,
                    "You took the rock that is removed. What stays builds up: 100 % minus the removal.",
                ),
                Slip(
                    "a week's rock for a day's mud",
                    lambda n: 7 * _stays(n, n.a, n.i) / n.j,
                    "You put the rock of a week over the mud of a day. Divide the rock by seven.",
                ),
            ),
            working=(
                Step("Rock that stays in a day:", "{a} * (1 - {i} / 100) / 7", "stays", By("bbl/d", "m3/d")),
                Step("Over the mud that leaves.", "100 * {stays} / {j}"),
            ),
        ),
        Numeric(
            key="l",
            ask=(
                "After how many days has the share of drilled solids gone 63 % of the way from that of this week to "
                "that of (k), that is, when has as much mud left as the system holds?"
            ),
            unit="d",
            digits=3,
            uses=("j",),
            solve=lambda n: n.volume / n.j,
            plausible=Range(0.6, 13, "d"),
            tolerance=relative(0.02, because="days are given to two or three figures"),
            marks=Marks(1),
            outcome=Outcome.BUILD_UP,
            slips=(
                upside_down(lambda n: Q(1, "d**2") * n.j / n.volume, "The volume goes above the line."),
                Slip(
                    "63 % of the time",
                    lambda n: 0.632 * n.volume / n.j,
                    "63 % of the way is there when the whole volume has been replaced once. Leave the 0.63 out.",
                ),
            ),
            working=(Step("The system's volume over the mud of a day.", "{volume} / {j}"),),
        ),
        Numeric(
            key="m",
            ask=(
                "What does the week cost with your volume: mud, disposal and your recommendation? Pay both prices for "
                "the whole volume, the rock in it too."
            ),
            unit="money",
            uses=("h", "j"),
            solve=_bill,
            plausible=Range(60_000, 900_000, "money"),
            tolerance=relative(0.005, because="a sum of given prices on a volume in whole steps, rounded to hundreds"),
            marks=Marks(2),
            outcome=Dilution.BILL,
            slips=(
                Slip(
                    "recommendation left out",
                    lambda n: n.j * WEEK * _price(n),
                    "This is mud and disposal alone. What you recommend has to be paid as well.",
                ),
                Slip(
                    "disposal left out",
                    lambda n: n.j * WEEK * n.mud_price + _remedy_cost(n, n.h),
                    "You left the disposal out. What leaves the system is paid for as well.",
                ),
                Slip(
                    "one day of mud",
                    lambda n: n.j * Q(1, "d") * _price(n) + _remedy_cost(n, n.h),
                    "You took the mud of one day. The week has seven.",
                ),
            ),
            working=(
                Step(
                    "Seven days of mud at both prices, and the repair.",
                    "{j} * 7 * ({mud_price} + {disposal_price}) + {repair}",
                ),
            ),
        ),
        Numeric(
            key="n",
            ask="What does it save in the week, compared with (f)?",
            unit="money",
            uses=("f", "m"),
            solve=lambda n: n.f - n.m,
            plausible=Range(8000, 400_000, "money"),
            tolerance=absolute(500, "money", because="a difference of two bills, each to three figures or more"),
            marks=Marks(2),
            outcome=Dilution.BILL,
            slips=(
                Slip(
                    "sum of both",
                    lambda n: n.f + n.m,
                    "You added the bills. What is saved is the old one less the new one.",
                ),
                Slip("share of the bill", lambda n: n.m, "This is the new bill itself. Take it off the one of (f)."),
            ),
            working=(Step("The old bill less the new one.", "{f} - {m}"),),
        ),
        Written(
            key="o",
            ask=(
                "Write to the rig manager in five or six sentences: how the week went, which machine is behind, what "
                "you recommend and what it brings, and what you will watch."
            ),
            points=(
                Point("Gives the removal, from the discards and from the mud built, and says whether they agree.", 1),
                Point("Names the machine that is behind, with its share now and at acceptance.", 1),
                Point("Says what happens if nothing is done: the share that drilled solids reach, or the bill.", 1),
                Point("Recommends one way and gives the new removal, the volume by the day and the saving.", 1),
                Point("Says what will be watched, and a caution for the work: isolation, lifting or rated speed.", 1),
            ),
            model=(
                "The discards and the mud that was built tell of nearly the same removal, so that I trust the report. "
                "One machine took far less of the rock than at acceptance; the others hold theirs. With the {planned} "
                "that are planned the mud would go over {target}. I recommend to repair that machine, which takes "
                "{back} of what now stays, for {repair}; the volume by the day and the saving are worked out above. It "
                "is to be stopped, isolated and locked by the rig's rules before it is opened. I will read the retorts "
                "each tour, and report if removal does not rise or drilled solids do not fall within days."
            ),
        ),
    ),
)
