"""Lines of a week's report: the rock that each machine took, what stays, who fell behind, and what a remark tells."""

from __future__ import annotations

import pint

from exercises.bank.active_system import Outcome
from exercises.bank.active_system.weekly_report import (
    ACCEPTED,
    MACHINES,
    PRINTED,
    SOLIDS_IN_DISCARD,
    furthest_behind,
    share_taken,
    taken_out,
)
from exercises.fleet.envelope import REMOVAL
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Pick, Range
from exercises.model.parts import (
    Choice,
    Column,
    Known,
    Marks,
    Numeric,
    Option,
    Row,
    RowSlip,
    Slip,
    Table,
    relative,
)
from exercises.model.working import Step
from pitside.units import Q

#: A remark of the report and what it tells. Common practice, no source.
REMARKS = {
    "the cones threw out much more than last week, and a bucket of it weighs hardly more than the mud": "mud",
    "a bucket of the centrifuge's discard is thin and runs like the mud": "mud",
    "less mud was dumped and built than last week, and the drilled solids of the mud climbed on each day": "built",
    "the machines took the shares that they took at acceptance, but the hole was drilled twice as fast and no more new "
    "mud was built": "built",
    "the shares of the three machines add up to more than all the rock": "count",
    "the discards say that less rock stayed than last week, but the mud that was built says that more stayed": "count",
    "sand was found in the feed of the cones, and one shaker had hardly any rock on its deck": "torn",
    "the cones' discard grew coarser, and the shakers threw out less though the bit was as fast": "torn",
}
OTHER_REMARK = "Follow the rock: over the screens, through the cones and the bowl, or in the mud. Where did it go?"
ROCK_IN_A_WEEK = Usual(300, 900, "bbl", "300 to 900 bbl is 2600 to 7700 ft of 12 1/4 in hole with 20 % pores")


def _discard(machine: str) -> Derived:
    return Derived(
        f"{machine}_discard",
        lambda n: n.rock * share_taken(n, machine) / getattr(n, f"{machine}_solids"),
        By("bbl", "m3"),
        By(0, 1),
    )


def _all_taken(n: Known) -> pint.Quantity:
    return sum((n[f"a.{machine}.rock"] for machine in MACHINES), Q(0.0, "bbl"))


EXERCISE = Exercise(
    title="Read the week",
    level=2,
    version=2,
    outcome=Outcome.REPORT,
    tolerance=relative(0.01, because="volumes and shares of two or three digits"),
    numbers=(
        ROCK_IN_A_WEEK.number("rock", (10, "bbl"), (2, "m3")),
        *ACCEPTED,
        Pick("worn", tuple(MACHINES)),
        Number("worse", Grid(40, 60, 1, "%")),
        Number("drift", Grid(0.5, 2, 0.1, "%")),
        *SOLIDS_IN_DISCARD,
        *(_discard(machine) for machine in MACHINES),
        Pick("remark", tuple(REMARKS)),
    ),
    envelope=(
        Within("rock of a week", lambda n: n.rock, ROCK_IN_A_WEEK),
        Within("rock taken out, of all rock", lambda n: _all_taken(n) / n.rock, REMOVAL),
    ),
    setting=(
        "Rig Heron 4 drilled {rock} of rock in seven days, counted without its pores. The crew measured what each "
        "machine threw out in the week, and read a retort of it. The share of the rock that each machine took "
        "at acceptance, when the plant was new, is in the table too."
    ),
    parts=(
        Table(
            key="a",
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
                    plausible=Range(15, 330, "bbl"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "all that is thrown out",
                            lambda n, machine: getattr(n, f"{machine}_discard"),
                            "This is rock and mud together. Multiply by the share of drilled solids in it.",
                        ),
                        RowSlip(
                            "the mud in it",
                            lambda n, machine: getattr(n, f"{machine}_discard") - taken_out(n, machine),
                            "This is the mud that went out with the rock. Multiply by the share of drilled solids.",
                        ),
                    ),
                    working=lambda machine: (
                        Step(
                            "What is thrown out, times the share of rock in it:",
                            f"{{{machine}_discard}} * {{{machine}_solids}} / 100",
                        ),
                    ),
                ),
                Column(
                    key="share",
                    title="Share of the week's rock, in percent, to one decimal",
                    unit="%",
                    uses=(".rock",),
                    solve=lambda n, machine: Q(1.0) * n[f"a.{machine}.rock"] / n.rock,
                    plausible=Range(5, 44, "%"),
                    tolerance=relative(0.015, because="one decimal of a share of ten percent or less, and 1 % each"),
                    marks=Marks(0.5),
                    slips=(
                        RowSlip(
                            "all that is thrown out",
                            lambda n, machine: Q(1.0) * getattr(n, f"{machine}_discard") / n.rock,
                            "You put all that is thrown out above the line. Take the rock in it.",
                        ),
                        RowSlip(
                            "of the rock that the machines took",
                            lambda n, machine: (
                                n[f"a.{machine}.rock"] / sum((taken_out(n, one) for one in MACHINES), Q(0.0, "bbl"))
                            ),
                            "You divided by what the machines took together. Divide by all the rock that was drilled.",
                        ),
                    ),
                    working=lambda machine: (
                        Step("Rock taken out, over rock drilled:", f"{{a.{machine}.rock}} / {{rock}} * 100"),
                    ),
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What volume of the week's rock stays in the mud?",
            unit=By("bbl", "m3"),
            uses=tuple(f"a.{machine}.rock" for machine in MACHINES),
            solve=lambda n: n.rock - _all_taken(n),
            plausible=Range(70, 600, "bbl"),
            tolerance=relative(0.025, because="a difference: 1 % of what was taken out is up to 2.5 % of what stays"),
            marks=Marks(1),
            slips=(
                Slip(
                    "what was taken out",
                    _all_taken,
                    "This is the rock that the machines took. Take it off the rock that was drilled.",
                ),
                Slip(
                    "all that was thrown out",
                    lambda n: n.rock - sum((getattr(n, f"{machine}_discard") for machine in MACHINES), Q(0.0, "bbl")),
                    "You took the mud in the discard off too. Take off the rock alone.",
                ),
            ),
            working=(
                Step(
                    "Rock drilled, less what the three took:",
                    "{rock} - {a.shakers.rock} - {a.cones.rock} - {a.centrifuge.rock}",
                ),
            ),
        ),
        Choice(
            key="c",
            ask="Which machine has lost the most, compared with its share at acceptance?",
            uses=tuple(f"a.{machine}.share" for machine in MACHINES),
            options=tuple(
                Option(machine, f"{title}.", "Take each share of (a) from the share at acceptance.")
                for machine, title in MACHINES.items()
            ),
            right=lambda n: furthest_behind(n, "a"),
            marks=Marks(1),
            reason=(
                "Shares now and at acceptance: shakers {a.shakers.share} and {shakers_before}, hydrocyclones "
                "{a.cones.share} and {cones_before}, centrifuge {a.centrifuge.share} and {centrifuge_before}."
            ),
        ),
        Choice(
            key="d",
            ask="The report of another week says: {remark}. What does it tell you?",
            options=(
                Option(
                    "mud", "Good mud leaves with a discard: look at the machine's setting and its feed.", OTHER_REMARK
                ),
                Option(
                    "built",
                    "Too little mud is built for the rock that stays: dilute more, or take more out.",
                    OTHER_REMARK,
                ),
                Option(
                    "count",
                    "A figure of the report is wrong: check volumes, samples and water before you send it.",
                    OTHER_REMARK,
                ),
                Option(
                    "torn",
                    "Rock slips by the shakers: look for a torn screen, a bad seal or an open bypass.",
                    OTHER_REMARK,
                ),
            ),
            right=lambda n: REMARKS[n.remark],
            marks=Marks(2),
            reason=(
                "A discard that is as thin as the mud is mud. Rock that nobody takes out must be thinned. Two counts "
                "of one thing must agree. What the shakers miss is found in the cones."
            ),
        ),
    ),
)
