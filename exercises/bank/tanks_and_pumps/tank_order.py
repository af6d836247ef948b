"""Tanks in series: what comes after what, why, and what flows back."""

from __future__ import annotations

from exercises.bank.tanks_and_pumps import Outcome
from exercises.fleet.envelope import PUMP_RATE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Pick, Range
from exercises.model.parts import Before, Choice, Known, Marks, Numeric, Option, Order, Slip, absolute
from exercises.model.possible import ANYTHING
from exercises.model.working import Step
from pitside.units import Q

#: What the crew sees after a change of valves, and which station then stands in the wrong place.
COMPLAINTS = {
    "the pumps that feed the cones surge and lose pressure whenever gas comes up": "gas",
    "the small cones of the desilter plug with sand, one after the other": "sand",
    "the centrifuge throws out material that was mixed in an hour before": "mixing",
    "sand wears out the degasser and packs its suction tank": "trap",
}
SAME_COMPLAINT = "It would show elsewhere. Follow the mud along: which station gets what it should not get?"

#: A moment at the tanks, and the first safe action.
MOMENTS = {
    "The sand trap must be dug out by hand.": "permit",
    "The coupling of a stirrer must be changed, from outside the tank.": "lock",
    "The alarm for hydrogen sulphide at the degasser sounds.": "leave",
    "Somebody lies still at the bottom of an empty tank.": "rescue",
}
SAME_MOMENT = "That is the first action at another moment. Think of what can hurt someone here, and how soon."


def _valid(n: Known) -> bool:
    """The cones take clearly more or clearly less than the first rate, and less than the raised rate."""
    first = n.feed / n.flow
    return (
        (1.08 <= first <= 1.35 or 0.82 <= first <= 0.92)
        and n.raised / n.feed >= 1.05
        and (1.08 <= n.raised / n.flow <= 1.5)
    )


EXERCISE = Exercise(
    title="Tanks in series",
    level=1,
    version=2,
    outcome=Outcome.TANKS,
    numbers=(
        Number("flow", Grid(400, 900, 10, "gal/min"), Grid(90, 205, 1, "m3/h")),
        Number("feed", Grid(340, 1200, 10, "gal/min"), Grid(78, 272, 1, "m3/h")),
        Number("raised", Grid(460, 1200, 10, "gal/min"), Grid(105, 272, 1, "m3/h")),
        Pick("complaint", tuple(COMPLAINTS)),
        Pick("moment", tuple(MOMENTS)),
    ),
    valid=_valid,
    envelope=(
        Within("flow from the well", lambda n: n.flow, PUMP_RATE),
        Within("raised flow", lambda n: n.raised, PUMP_RATE),
    ),
    setting=(
        "The tanks of rig Heron 4 are being lined up for an unweighted mud with some gas in it. The well gives {flow}. "
        "The feed pump of the desilter takes {feed} from the tank before it; the overflow of the cones goes to the "
        "next tank. An equalising line low down joins the two tanks. Count the underflow of the cones as nothing."
    ),
    parts=(
        Order(
            key="a",
            ask=(
                "Put the stations of the mud in the right order, from the flow line to the mud pumps. Give the letters."
            ),
            steps={
                "shakers": "Shale shakers.",
                "trap": "Sand trap.",
                "degasser": "Degasser, with its suction tank.",
                "desander": "Desander.",
                "desilter": "Desilter.",
                "centrifuge": "Centrifuge.",
                "mixing": "Mixing tank, where chemicals and material go in.",
                "suction": "Suction tank of the mud pumps, where the mud is checked and stirred.",
            },
            rules=(
                Before(
                    "shakers", "trap", "The trap settles what came through the screens: it stands after the shakers."
                ),
                Before("trap", "degasser", "Coarse sand must not reach the degasser: the trap stands before it."),
                Before(
                    "degasser",
                    "desander",
                    "Degas before the desander: gas takes the head off the pump that feeds its cones.",
                ),
                Before(
                    "desander", "desilter", "The coarse cut comes first: sand would overload and plug the small cones."
                ),
                Before(
                    "desilter",
                    "centrifuge",
                    "The finest cut comes last: the centrifuge takes a part of what the cones have cleaned.",
                ),
                Before(
                    "centrifuge", "mixing", "Mix after the last machine: otherwise it throws out what was just put in."
                ),
                Before(
                    "mixing", "suction", "Mud is built before the suction tank, where it is checked as it goes down."
                ),
            ),
            marks=Marks(4),
            reason=(
                "Coarse before fine, gas out before the first centrifugal pump, and new material in after the last "
                "machine. Only this order keeps it all; a rig without one of the machines leaves its place out."
            ),
        ),
        Choice(
            key="b",
            ask="After a change of valves the crew notices that {complaint}. What is in the wrong place?",
            options=(
                Option("sand", "The desander: it has been lined up after the desilter.", SAME_COMPLAINT),
                Option("gas", "The degasser: it has been lined up after the cyclones.", SAME_COMPLAINT),
                Option("trap", "The sand trap: it has been lined up after the degasser.", SAME_COMPLAINT),
                Option("mixing", "The mixing tank: it has been lined up before the last machine.", SAME_COMPLAINT),
            ),
            right=lambda n: COMPLAINTS[n.complaint],
            marks=Marks(1),
            reason=(
                "The crew noticed that {complaint}. Each station protects the next. The degasser stands before the "
                "cyclones because gas gathers in the eye of a centrifugal pump: its head falls, the manifold loses "
                "pressure and the cones stop separating."
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "How much mud flows through the equalising line? Count flow back to the feed tank as positive; put a "
                "minus sign before flow on to the next tank."
            ),
            unit=By("gal/min", "m3/h"),
            solve=lambda n: n.feed - n.flow,
            plausible=Range(-320, 340, "gal/min"),
            possible=ANYTHING,
            tolerance=absolute(2, "gal/min", because="flows are printed to 10 gal/min or 1 m³/h; the balance is exact"),
            digits=3,
            marks=Marks(2),
            slips=(
                Slip(
                    "all that the pump takes",
                    lambda n: n.feed,
                    "This is all that the feed pump takes. Take the flow of the well off.",
                ),
                Slip(
                    "flows added",
                    lambda n: n.feed + n.flow,
                    "You added the flows. In a tank whose level stands still, what comes in is what goes out.",
                ),
                Slip(
                    "flow of the well",
                    lambda n: n.flow,
                    "This is what comes from the well. The line carries the difference to what the pump takes.",
                ),
            ),
            working=(Step("The line makes up what the pump takes beyond the well.", "{feed} - {flow}"),),
        ),
        Choice(
            key="d",
            ask="Which way does it flow, and what does that say?",
            options=(
                Option(
                    "on",
                    "On, from the feed tank to the next one: some mud is not cleaned by the cones; this is a fault.",
                    "The pump takes more than the well brings, so the line must bring some back.",
                ),
                Option(
                    "still",
                    "Not at all: an equalising line only levels the tanks while the pumps are off.",
                    "The pump does not take just what the well brings. The line must carry the difference.",
                    never_right=True,
                ),
                Option(
                    "back",
                    "Back, from the next tank to the feed tank: all the mud passes the cones.",
                    "The pump takes less than the well brings, so the rest must flow on past the cones.",
                ),
            ),
            uses=("c",),
            right=lambda n: "back" if n.c > Q(0, "m**3/s") else "on",
            marks=Marks(1),
            reason=(
                "The pump takes {feed} and the well brings {flow}. A steady flow back over the line is the sign that "
                "the cones are given enough. A flow on to the next tank is a fault: give the cones more feed, by more "
                "cones on a pump that can feed them."
            ),
        ),
        Numeric(
            key="e",
            ask="The driller raises the rate to {raised}. What share of the mud then slips past the cones untreated?",
            unit="%",
            solve=lambda n: Q(1.0) * (n.raised - n.feed) / n.raised,
            plausible=Range(4, 52, "%"),
            tolerance=absolute(0.3, "%", because="a share rounded to half a percent"),
            marks=Marks(2),
            slips=(
                Slip(
                    "share of the feed",
                    lambda n: (n.raised - n.feed) / n.feed,
                    "You divided by what the cones take. The share is of the mud that comes: divide by the new rate.",
                ),
                Slip(
                    "share that is treated",
                    lambda n: n.feed / n.raised,
                    "This is the share that the cones do treat. The question asks for the rest.",
                ),
                Slip(
                    "rise of the rate",
                    lambda n: (n.raised - n.flow) / n.raised,
                    "You compared the new rate with the old one. Compare it with what the feed pump takes.",
                ),
            ),
            working=(
                Step(
                    "What the cones cannot take, over all that comes, in percent:",
                    "({raised} - {feed}) / {raised} * 100",
                ),
            ),
        ),
        Choice(
            key="f",
            ask="{moment} What is the first safe action?",
            options=(
                Option(
                    "lock",
                    "Have the drive isolated, locked and tagged, and press start: it must not start. Only then a guard "
                    "comes off.",
                    SAME_MOMENT,
                ),
                Option(
                    "leave",
                    "Escape set on, raise the alarm, leave at once across the wind, then against it, to the muster "
                    "point; the driller is told from there.",
                    SAME_MOMENT,
                ),
                Option(
                    "permit",
                    "Keep everyone out until the tank is isolated, its air is tested, a rescue is planned and a permit "
                    "to enter is signed.",
                    SAME_MOMENT,
                ),
                Option(
                    "rescue",
                    "Raise the alarm and call the rescue team; do not go in, and let nobody else go in.",
                    SAME_MOMENT,
                ),
            ),
            right=lambda n: MOMENTS[n.moment],
            marks=Marks(1),
            outcome=Outcome.WORKING_SAFELY,
            must_pass=True,
            reason=(
                "A tank is a confined space: gas, lack of air, mud that comes in, a stirrer that starts. Most who die "
                "in one went in to help. The permit and the rules of the rig come before this exercise."
            ),
        ),
    ),
)
