"""Water and cake of a dewatering bowl: what goes wrong, how much water comes back, and whether the mud may have it."""

from __future__ import annotations

import pint

from exercises.bank.dewatering import Outcome
from exercises.fleet.envelope import FINES_BOWL_FEED, SOLIDS_THROUGH_SMALL_BOWL
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Pick, Range, Told
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Point, Slip, Written, relative
from exercises.model.working import Step
from pitside.materials import LOW_GRAVITY
from pitside.units import Q

#: Signs at a dewatering bowl, and what is done first. Common practice, no source.
SIGNS = {
    "The water comes out cloudy, the cake is crumbly, and small lumps float in the feed tube.": "more",
    "The water is clear and feels slippery; it foams, and the cake is slimy.": "less",
    "The water was clear all morning. Since the mud in the feed tank was changed it is grey, at the same dose.": "jars",
    "The water is clear, the cake runs like soup, and the torque is low.": "scroll",
}
OTHER_SIGN = "Read water and cake together: is there too little or too much polymer, another mud, or another setting?"


#: What the water is like, by what may be done with it: its pH, solids (%), chlorides as a share of the limit, and
#: whether fresh mud with some of it in it makes lumps.
WATERS = {
    "mud": ((8.1, 9.2), (0.1, 0.4), (0.3, 0.8), "none"),
    "lime": ((4.2, 5.6), (0.1, 0.4), (0.3, 0.8), "none"),
    "again": ((8.1, 9.2), (2.2, 4.5), (0.3, 0.8), "none"),
    "salt": ((8.1, 9.2), (0.1, 0.4), (1.3, 2.2), "none"),
    "polymer": ((8.1, 9.2), (0.1, 0.4), (0.3, 0.8), "lumps within a minute"),
}
OTHER_WATER = "Compare each of the four lines with what the setting wants."


def _between(ends: tuple[float, float], share: pint.Quantity) -> float:
    return ends[0] + (ends[1] - ends[0]) * float(share.m_as(""))


def _water(n: Known) -> pint.Quantity:
    """What does not leave with the cake; the cake holds all of the solids."""
    return n.feed * (1 - n.share / n.cake)


EXERCISE = Exercise(
    title="Water back from the bowl",
    level=2,
    version=2,
    outcome=Outcome.WATER_BACK,
    numbers=(
        Pick("water_is", tuple(WATERS)),
        Pick("sign", tuple(SIGNS)),
        *(Number(f"place_{line}", Grid(0, 1, 0.05)) for line in ("acid", "solids", "salt")),
        Number("feed", Grid(40, 90, 1, "gal/min"), Grid(9, 20, 0.2, "m3/h")),
        Number("share", Grid(4, 8, 0.5, "%")),
        Number("cake", Grid(32, 44, 1, "%")),
        Number("salt_limit", Grid(1000, 4000, 500)),
        Derived("acid", lambda n: Q(_between(WATERS[n.water_is][0], n.place_acid)), "fraction", 1),
        Derived("solids", lambda n: Q(_between(WATERS[n.water_is][1], n.place_solids), "percent"), "%", 1),
        Derived("salt", lambda n: n.salt_limit * _between(WATERS[n.water_is][2], n.place_salt), "fraction", -2),
        Told("jar", lambda n: WATERS[n.water_is][3]),
    ),
    envelope=(
        Within("feed of the bowl", lambda n: n.feed, FINES_BOWL_FEED),
        Within("solids through the bowl", lambda n: n.feed * n.share * LOW_GRAVITY, SOLIDS_THROUGH_SMALL_BOWL),
    ),
    setting=(
        "A centrifuge on rig Heron 4 dewaters {feed} of unweighted mud with {share} of solids by volume. The cake "
        "holds {cake} solids by volume. Leave the few solids that stay in the water out of the sum. The water is "
        "tested before anything is done with it:\n\n| Line | Wanted for water that goes to the mud | Found |\n| --- | "
        "--- | ---: |\n| pH | 8 to 10 | {acid:n} |\n| Solids by volume | at most 0.5 % | {solids} |\n| Chlorides "
        "(mg/L) | at most {salt_limit:n} | {salt:n} |\n| A spoon of it in a cup of mud | no lumps | {jar} |\n\nThe "
        "permit and local rules say where water and cake may go outside the mud. Acid water burns eyes: goggles on at "
        "each sample."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What flow of water comes back from the mud? Leave the polymer's own water out.",
            unit=By("gal/min", "m3/h"),
            solve=_water,
            plausible=Range(29, 82, "gal/min"),
            tolerance=relative(0.01, because="an exact balance of figures to two or three digits"),
            digits=3,
            marks=Marks(2),
            slips=(
                Slip(
                    "solids alone taken off",
                    lambda n: n.feed * (1 - n.share),
                    (
                        "You took the solids off alone. The cake takes water along: divide the solids by their share "
                        "in it."
                    ),
                ),
                Slip(
                    "the cake",
                    lambda n: n.feed * n.share / n.cake,
                    "This is the flow of the cake. The water is the rest of the feed.",
                ),
            ),
            working=(
                Step("The cake holds all of the solids:", "{feed} * {share} / {cake}", gives="cakes", digits=4),
                Step("The rest is water:", "{feed} - {cakes}"),
            ),
        ),
        Choice(
            key="b",
            ask="What do you do with this water?",
            options=(
                Option("mud", "It may go to the mud, by the mud engineer's word.", OTHER_WATER),
                Option("lime", "Not yet: it is acid. Bring its pH up, and test again.", OTHER_WATER),
                Option(
                    "again",
                    "Not yet: there are solids in it. Send it back to the feed, and correct the dose.",
                    OTHER_WATER,
                ),
                Option(
                    "salt",
                    "Not to this mud: it is too salty. Keep it apart, for a mud that can take it or for disposal.",
                    OTHER_WATER,
                ),
                Option(
                    "polymer", "Not yet: there is flocculant left in it. Lower the dose, and test again.", OTHER_WATER
                ),
            ),
            right=lambda n: n.water_is,
            marks=Marks(2),
            reason=(
                "pH {acid:n}, solids {solids}, chlorides {salt:n} mg/L, in the cup: {jar}. One line that is not kept "
                "is enough: acid water eats steel, and polymer that is left makes lumps of the bentonite in the mud."
            ),
        ),
        Choice(
            key="c",
            ask="Another tour. {sign} What do you do first?",
            options=(
                Option("more", "Raise the dose of flocculant in small steps, and watch the water.", OTHER_SIGN),
                Option("less", "Lower the dose of flocculant in small steps, and watch the water.", OTHER_SIGN),
                Option("jars", "Turn the feed down and make new jars: another mud wants another dose.", OTHER_SIGN),
                Option("scroll", "Lower the differential speed of the scroll, and watch the torque.", OTHER_SIGN),
            ),
            right=lambda n: SIGNS[n.sign],
            marks=Marks(2),
            reason=(
                "Cloudy water and small lumps want more, slime wants less; a new mud wants new jars; soup wants a "
                "slower scroll."
            ),
        ),
        Written(
            key="d",
            ask=(
                'Somebody says: "Below the cut of the bowl only dilution helps." Is he right? Answer him in two or '
                "three sentences, and say what it costs."
            ),
            outcome=Outcome.JAR_TEST,
            points=(
                Point("says that coagulant and flocculant gather fine grains into lumps that the bowl can take", 1),
                Point(
                    "says what it costs or cannot do: chemicals, jars, tests of the water, or weighted mud",
                    1,
                ),
            ),
            model=(
                "Grains that are too fine for the bowl can be gathered: a coagulant takes their charge, a flocculant "
                "ties them into lumps, and the bowl throws the lumps out. It costs chemicals, jars and tests of the "
                "water, and bentonite and barite would go too. So there are two ways, and we work out which is cheaper."
            ),
        ),
    ),
)
