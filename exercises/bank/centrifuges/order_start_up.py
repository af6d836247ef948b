"""Starting and stopping a centrifuge."""

from __future__ import annotations

from exercises.bank.centrifuges import BALANCE, Outcome
from exercises.fleet.envelope import POND
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Range
from exercises.model.parts import Before, Marks, Numeric, Order, Slip
from exercises.model.working import Step
from pitside.units import Q

EXERCISE = Exercise(
    title="Starting and stopping a centrifuge",
    level=1,
    version=4,
    outcome=Outcome.SAFELY,
    tolerance=BALANCE,
    numbers=(
        Number("pond", Grid(25, 70, 1, "gal"), Grid(90, 260, 5, "L")),
        Number("changes", Grid(3, 6, 1)),
        Number("flush", Grid(15, 40, 1, "gal/min"), Grid(60, 150, 5, "L/min")),
    ),
    envelope=(Within("pond of the bowl", lambda n: n.pond, POND),),
    setting=(
        "A centrifuge for unweighted mud on rig Heron 4 was idle for a day and is to run for a tour. Its guards are in "
        "place, locks and tags are off, and the crew has the permit for the work; driller and mud logger know that it "
        "will take mud. A start in the wrong order can fill "
        "a bowl that does not turn, stall the scroll, or shake the machine off its skid. By the maker's book water "
        "goes only into a bowl that turns at its speed. That book and the rig's own rules come before this exercise."
    ),
    parts=(
        Order(
            key="a",
            ask="Put the steps of the run in a safe order. Give the letters, first step first.",
            steps={
                "look": "Look the machine over from outside the guards: bolts and hoses sound, nobody near.",
                "bowl": "Start bowl and scroll as the maker's book says, and let the bowl come up to its set speed.",
                "shake": "At set speed, before any mud goes in, check that vibration and amperes are low and steady.",
                "dilution": "Open the dilution water.",
                "feed": "Start the feed pump, slowly, and raise it in steps while the torque stays low.",
                "stop_feed": "Stop the feed pump.",
                "flush": (
                    "Let water run through the machine until nothing more comes from the solids end and the overflow "
                    "runs clear."
                ),
                "stop_water": "Shut the water.",
                "stop_bowl": "Switch the motors of bowl and scroll off, and let the bowl run down by itself.",
            },
            rules=(
                Before(
                    "look", "bowl", "Look first: once the bowl turns nobody may reach in, and a fault can throw it."
                ),
                Before("bowl", "shake", "Vibration and amperes show only when the bowl turns at its speed."),
                Before(
                    "shake",
                    "feed",
                    "Feed only a bowl that turns at speed without shaking: mud in a slow bowl packs unevenly, and it "
                    "shakes.",
                ),
                Before(
                    "bowl", "dilution", "Water goes into a bowl that turns at speed, not into one that stands still."
                ),
                Before("dilution", "feed", "Water first: thick mud in a dry bowl packs it and can stall the scroll."),
                Before("feed", "stop_feed", "The feed can only be stopped after it was started."),
                Before("stop_feed", "flush", "Flush after the feed is off: while it runs the bowl never gets clear."),
                Before("flush", "stop_water", "Shut the water only after the flush, or solids are left in the bowl."),
                Before(
                    "flush",
                    "stop_bowl",
                    "Flush while the bowl still turns: solids left in it cake, and the next start is out of balance.",
                ),
                Before(
                    "stop_water",
                    "stop_bowl",
                    "Shut the water before the bowl slows down, or it runs out over the seals.",
                ),
            ),
            marks=Marks(5),
            reason=(
                "One safe order: look, bowl up to speed, check for shaking, water, feed; then feed off, flush, water "
                "off, bowl off. The water may also be opened before vibration is checked. The maker's procedure "
                "decides."
            ),
            must_pass=True,
        ),
        Numeric(
            key="b",
            ask=(
                "The pond of the bowl holds {pond}. By the maker's book it is to be changed at least {changes} times "
                "in the flush. How much water does that take at the least?"
            ),
            unit=By("gal", "L"),
            solve=lambda n: n.pond * n.changes,
            plausible=Range(70, 425, "gal"),
            marks=Marks(1),
            slips=(
                Slip("one pond", lambda n: n.pond, "This changes the pond once. Multiply by the number of changes."),
                Slip(
                    "one change more",
                    lambda n: n.pond * (n.changes + 1),
                    "You counted one change too many: the pond that is in the bowl is what gets changed.",
                ),
            ),
            working=(Step("The pond, as often as it is to be changed.", "{pond} * {changes}"),),
        ),
        Numeric(
            key="c",
            ask=(
                "The water runs at {flush}. For how many minutes at the least must it run after the feed is off, "
                "before the bowl is stopped?"
            ),
            unit="min",
            digits=3,
            uses=("b",),
            solve=lambda n: n.b / n.flush,
            plausible=Range(1.5, 30, "min"),
            marks=Marks(1, unit=1),
            slips=(
                Slip(
                    "upside down",
                    lambda n: Q(1, "min") ** 2 * n.flush / n.b,
                    "You turned the sum round. Divide the water by its flow.",
                ),
                Slip(
                    "one pond",
                    lambda n: n.pond / n.flush,
                    "In this time the pond is changed once. Divide the water of (b) by its flow.",
                ),
            ),
            working=(Step("The water of (b) over its flow.", "{b} / {flush}"),),
        ),
    ),
)
