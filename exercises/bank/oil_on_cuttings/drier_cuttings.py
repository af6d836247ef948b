"""Case: keep a well under its discharge limit with a dryer, decks or a basket, beside the ordinary shakers."""

from __future__ import annotations

import functools
import math

import pint

from exercises.bank.oil_on_cuttings import Outcome
from exercises.fleet.envelope import CENTRIFUGE_HIRE, OIL_OFF_SHAKER
from exercises.fleet.machines import BASKET_DRYER, HIGH_G_DECK
from exercises.fleet.rigs import LARGE_HOLE
from exercises.model.envelope import Usual, Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Range, System, mislabelled
from exercises.model.parts import (
    Choice,
    Chosen,
    Known,
    Limit,
    Marks,
    Numeric,
    Option,
    Point,
    Slip,
    Written,
    absolute,
    relative,
)
from exercises.model.possible import ANYTHING, RATIO
from exercises.model.working import Step
from pitside.cuttings import base_fluid_lost, dry_basis, last_section_limit, well_average, wet_from_dry
from pitside.materials import MATERIALS
from pitside.removal import drilled_hole_volume
from pitside.units import Q

BALANCE = relative(0.01, because="a balance of figures given to two or three digits")
POINTS = absolute(0.1, "%", because="shares given to one place, weighed with masses that may be 1 % off")
DIFFERENCE = relative(0.03, because="a difference of balances, each to 1 %")

ROCK = Q(2.6, "SG")
#: Rock that a 17-1/2 in hole gives, over four or five shakers: from the shakers' own range.
ROCK_FROM_LARGE_HOLE = Usual(8, 30, "t/h")
#: What each sound way for the liquid from the dryer costs in a day; the keys are the options' own.
ROUTES = {"centrifuge": "centrifuge_rent", "tank": "tank_rent"}
#: The dryers that are offered; the keys are the options' own.
DRYERS = ("decks", "basket")
STEP = Q(0.05)
#: What there is too little of for one of the dryers; short power is drawn more often, since fewer such draws are clear.
SHORT = ("power",) * 5 + ("places",) * 2 + ("nothing",) * 4


def _ordinary(n: Known | Numbers) -> pint.Quantity:
    return dry_basis(n.oil, n.density, n.dry_mass)


def _rock_mass(n: Known | Numbers) -> pint.Quantity:
    return drilled_hole_volume(n.diameter, n.length, n.washout) * ROCK


def _most(n: Known | Numbers, mass: pint.Quantity) -> pint.Quantity:
    return last_section_limit(n.limit, Q([n.earlier_share.m_as("")]), Q([n.earlier_mass.m_as("kg")], "kg"), mass)


def _leaves(n: Known | Numbers, dryer: str) -> pint.Quantity:
    return n.deck_share if dryer == "decks" else n.basket_share


def _share_to_dry(n: Known | Numbers, ordinary: pint.Quantity, most: pint.Quantity, dryer: str) -> pint.Quantity:
    """Share of the rock that must go through the dryer for the section to have no more than ``most``."""
    return (ordinary - most) / (ordinary - _leaves(n, dryer))


def _rock_rate(n: Known | Numbers) -> pint.Quantity:
    return _rock_mass(n) / (n.length / n.drilling_rate)


def _power(n: Numbers) -> pint.Quantity:
    """What there is to spare: more than a basket needs, or less where power is what decides against it."""
    return n.basket_power * (1 - n.spare / 2 if n.short == "power" else 1 + n.spare)


def _most_decks(n: Known | Numbers) -> float:
    """Decks for which there are places and power."""
    return float(min(n.places.m_as(""), math.floor((n.power / n.deck_power).m_as("") + 1e-9)))


def _greatest_share(n: Known | Numbers, dryer: str, rate: pint.Quantity) -> pint.Quantity:
    """Share of the rock that the dryer can take with the places and the power that there are; all of it at most."""
    if dryer == "basket":
        takes = n.basket_takes if n.basket_power <= n.power else 0 * n.basket_takes
    else:
        takes = _most_decks(n) * n.deck_takes
    return Q(min(float((takes / rate).m_as("")), 1.0))


def _sound_dryers(
    n: Known | Numbers, ordinary: pint.Quantity, most: pint.Quantity, rate: pint.Quantity
) -> tuple[str, ...]:
    return tuple(
        dryer for dryer in DRYERS if _greatest_share(n, dryer, rate) >= _share_to_dry(n, ordinary, most, dryer)
    )


def _one_takes(n: Known | Numbers, dryer: str) -> pint.Quantity:
    return n.deck_takes if dryer == "decks" else n.basket_takes


@functools.lru_cache(maxsize=256)
def _suggested(drawn: Numbers) -> str:
    """The model answer's dryer: decks where they can, from the share that a basket would have to take as it was drawn.

    What is printed of the section before is rounded, and every draw keeps clear of that.
    """
    ordinary = _ordinary(drawn)
    needed = drawn.share_to_dry * (ordinary - drawn.basket_share) / (ordinary - drawn.deck_share)
    return "decks" if _greatest_share(drawn, "decks", _rock_rate(drawn)) >= needed else "basket"


def _earlier_share(n: Numbers) -> pint.Quantity:
    """What the section before had, such that the drawn share of this one must go through a basket."""
    most = _ordinary(n) - n.share_to_dry * (_ordinary(n) - n.basket_share)
    return n.limit + (n.limit - most) * (_rock_mass(n) / n.earlier_mass)


def _saved(n: Known) -> pint.Quantity:
    """Volume of base oil that drying keeps, from the section's mass and the two averages."""
    return base_fluid_lost(n.b, n.a - n.i, n.density)[1]


def _rent_a_day(n: Known | Numbers, dryer: str) -> pint.Quantity:
    return n.deck_rent if dryer == "decks" else n.basket_rent


def _rents(n: Known, machines: pint.Quantity, route: str) -> pint.Quantity:
    return (machines * _rent_a_day(n, n.e) + getattr(n, ROUTES[route])) * (n.length / n.drilling_rate)


def _wet(n: Known, dry: pint.Quantity) -> pint.Quantity:
    """Share of wet cuttings, for the envelope: with 3 % of water, as no retort is printed for it."""
    return wet_from_dry(dry, Q(0.03))


def _least_step(n: Known) -> pint.Quantity:
    """The least multiple of 5 % that is as much as must be dried."""
    return Q(math.ceil(n.f.m_as("") / STEP.m_as("") - 1e-9) * STEP.m_as(""))


def _machines(n: Known) -> pint.Quantity:
    return _whole(n.g * n.d / _one_takes(n, n.e))


def _whole(count: pint.Quantity) -> pint.Quantity:
    """The next whole number up."""
    return Q(float(math.ceil(count.m_as("") - 1e-9)))


def _offers_a_choice(n: Known) -> bool:
    """Part of the rock must be dried; each dryer clearly can or clearly cannot, with room for rounded early answers.

    The section before had a usual share, clearly off the limit, of another mass of cuttings. No dryer takes all of the
    rock, and two shares or more can be planned with a dryer that can. The rent eats up no more than half of the oil's
    value.
    """
    earlier = n.earlier_share.m_as("%")
    if not (4.5 <= earlier <= 11 and abs(earlier - n.limit.m_as("%")) >= 0.6):
        return False
    rate, step = _rock_rate(n), STEP.m_as("")
    greatest = {dryer: _greatest_share(n, dryer, rate).m_as("") for dryer in DRYERS}
    if not (all(share <= 0.96 for share in greatest.values()) and max(greatest.values()) >= 0.4):
        return False
    mass = _rock_mass(n)
    if abs((mass / n.earlier_mass).m_as("") - 1) < 0.2:
        return False
    ordinary, most = _ordinary(n), _most(n, mass)
    if ordinary > Q(17.5, "%") or ordinary - 1.15 * most < 0.06 * ordinary:
        return False
    needed = {dryer: _share_to_dry(n, ordinary, most, dryer).m_as("") for dryer in DRYERS}
    sound = [dryer for dryer in DRYERS if greatest[dryer] >= needed[dryer]]
    for dryer in DRYERS:
        if dryer not in sound:
            with_a_wrong_limit = _share_to_dry(n, ordinary, 1.15 * most, dryer).m_as("")
            if greatest[dryer] > min(0.72 * needed[dryer], with_a_wrong_limit):
                return False
    for dryer in sound:
        if not (needed[dryer] >= 0.25 and 0.3 <= needed[dryer] / step % 1 <= 0.7):
            return False
        if greatest[dryer] < max(1.15 * needed[dryer] + step, needed[dryer] + 0.15):
            return False
        if greatest[dryer] < _share_to_dry(n, ordinary, 0.87 * most, dryer).m_as("") + step:
            return False
        loads = math.ceil(needed[dryer] / step) * step * (rate / _one_takes(n, dryer)).m_as("")
        if math.ceil(1.85 * loads) == math.ceil(loads) or abs(loads - round(loads)) < 0.03:
            return False
    if not sound:
        return False
    machines = math.ceil(needed["decks"] * (rate / n.deck_takes).m_as(""))
    value = base_fluid_lost(mass, ordinary - most, n.density)[1] * n.oil_price
    highest = max(machines * n.deck_rent, n.basket_rent) + max(n.centrifuge_rent, n.tank_rent)
    return bool((highest * (n.length / n.drilling_rate) / value).m_as("") < 0.5)


EXERCISE = Exercise(
    title="Drier cuttings for a permit",
    level=3,
    minutes=60,
    combines=("solids-cost", "shakers"),
    version=4,
    outcome=Outcome.LIMIT,
    numbers=(
        Number("diameter", Grid(17.5, 17.5, 0.5, "in"), Grid(445, 445, 1, "mm")),
        Number("length", Grid(2000, 3900, 100, "ft"), Grid(600, 1200, 20, "m")),
        Number("washout", Grid(3, 8, 1, "%")),
        Number("drilling_rate", Grid(80, 150, 5, "ft/h"), Grid(24, 46, 1, "m/h")),
        Number("earlier_mass", Grid(400_000, 1_100_000, 20_000, "lb"), Grid(180, 500, 10, "t")),
        Number("limit", Grid(6.5, 8.0, 0.5, "%")),
        Number("oil", Grid(13.0, 18.0, 0.2, "mL")),
        Number("density", Grid(0.78, 0.82, 0.01, "g/mL")),
        Number("dry_mass", Grid(76.0, 86.0, 0.5, "g")),
        Number("deck_share", Grid(5.0, 7.0, 0.1, "%")),
        Number("basket_share", Grid(2.5, 4.8, 0.1, "%")),
        Number("share_to_dry", Grid(0.325, 0.625, 0.05)),
        Derived("earlier_share", _earlier_share, "%", 1),
        Number("deck_takes", Grid(110, 220, 5, "lb/min"), Grid(3.0, 6.0, 0.1, "t/h")),
        Pick("short", SHORT),
        Number("fewer", Grid(1, 2, 1)),
        Number("more", Grid(3, 5, 1)),
        Derived("places", lambda n: n.fewer if n.short == "places" else n.more, "fraction", 0),
        Number("deck_power", Grid(6, 12, 1, "kW")),
        Number("basket_takes", Grid(370, 660, 10, "lb/min"), Grid(10.0, 18.0, 0.5, "t/h")),
        Number("basket_power", Grid(30, 60, 2, "kW")),
        Number("spare", Grid(8, 40, 4, "%")),
        Derived("power", _power, "kW", 0),
        Number("deck_rent", Grid(400, 900, 50, "money/d")),
        Number("basket_rent", Grid(900, 1800, 50, "money/d")),
        Number("centrifuge_rent", Grid(1000, 1800, 50, "money/d")),
        Number("tank_rent", Grid(300, 700, 50, "money/d")),
        Number("oil_price", Grid(100, 180, 5, "money/bbl"), Grid(640, 1140, 20, "money/m3")),
        # What the model's dryer leaves, takes and costs, for the worked solution.
        Derived("left", lambda n: _leaves(n, _suggested(n)), "%", 1),
        Derived("takes", lambda n: _one_takes(n, _suggested(n)), By("lb/min", "t/h"), By(0, 1)),
        Derived("day_rent", lambda n: _rent_a_day(n, _suggested(n)), "money/d", 0),
    ),
    valid=_offers_a_choice,
    envelope=(
        Within("rock from the well", _rock_rate, ROCK_FROM_LARGE_HOLE),
        Within("rock over a deck", lambda n: n.deck_takes, HIGH_G_DECK.rock),
        Within("rock through a basket", lambda n: n.basket_takes, BASKET_DRYER.rock),
        Within("oil off the ordinary shakers, wet", lambda n: _wet(n, _ordinary(n)), OIL_OFF_SHAKER),
        Within("oil off a deck, wet", lambda n: _wet(n, n.deck_share), HIGH_G_DECK.oil),
        Within("oil off a basket, wet", lambda n: _wet(n, n.basket_share), BASKET_DRYER.oil),
        Within("power of a deck", lambda n: n.deck_power, HIGH_G_DECK.power.rated),
        Within("power of a basket", lambda n: n.basket_power, BASKET_DRYER.power.rated),
        Within("hire of a deck", lambda n: n.deck_rent, HIGH_G_DECK.hire),
        Within("hire of a basket", lambda n: n.basket_rent, BASKET_DRYER.hire),
        Within("hire of a centrifuge", lambda n: n.centrifuge_rent, CENTRIFUGE_HIRE),
        Within("drilling rate", lambda n: n.drilling_rate, LARGE_HOLE.rate),
    ),
    setting=(
        "On a later well, under a permit of its own, Sandpiper 2 is about to drill {length} of {diameter} hole with "
        "invert mud at {drilling_rate}; washout is put at {washout} of the volume that the bit drills, and the rock "
        "has a specific gravity of 2.60. In this exercise the permit allows an average of {limit} base oil by mass of "
        "dry cuttings over the well, that is, over this section and the one before it. The section before gave "
        "{earlier_mass} of dry cuttings with {earlier_share}: part of them were dried, by a machine that has left the "
        "rig. A retort of cuttings from the ordinary shakers held {oil} of base oil, of {density}, and {dry_mass} of "
        "dry cuttings.\n\nPart of the shakers' discard can be dried, by one kind of dryer:\n\n| | Drying deck with a "
        "very high g-factor | Basket dryer |\n| --- | ---: | ---: |\n| Base oil that it left in a trial, by mass of "
        "dry cuttings | {deck_share} | {basket_share} |\n| Dry rock that one takes at most | {deck_takes} | "
        "{basket_takes} |\n| Power that one needs | {deck_power} | {basket_power} |\n| Rent of one | {deck_rent} | "
        "{basket_rent} |\n| Room on the rig for | {places} | 1 |\n\nTrials of drying decks differ much. There is "
        "{power} of power to spare for dryers; a centrifuge or a tank for the liquid from the dryer has a supply of "
        "its own. The permit of this exercise counts the average alone, so cuttings that are not dried may go "
        "overboard from the ordinary shakers; in many places that is forbidden.\n\nBase oil costs {oil_price} (money "
        "stands for an invented currency). Rents count for the hours of drilling, as a part of a day; leave out "
        "transport, rigging up and crew.\n\nThe rig's own rules hold for lifting, for electrics, for the turning "
        "basket and for hot oil mud, and its permit holds for discharge."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What base oil do the ordinary shakers leave, by mass of dry cuttings, in percent?",
            unit="%",
            solve=_ordinary,
            plausible=Range(11, 20, "%"),
            possible=RATIO,
            tolerance=BALANCE,
            marks=Marks(2),
            outcome=Outcome.RETENTION,
            slips=(
                Slip(
                    "millilitres called grams",
                    lambda n: dry_basis(n.oil, Q(1, "g/mL"), n.dry_mass),
                    "You used millilitres as if they were grams. Multiply the volume of the oil by its density.",
                ),
                Slip(
                    "oil counted as cuttings",
                    lambda n: n.oil * n.density / (n.dry_mass + n.oil * n.density),
                    "You added the oil to the cuttings below the line. The dry basis takes what is left in the retort.",
                ),
            ),
            working=(Step("Mass of the oil over the dry cuttings.", "{oil} * {density} / {dry_mass} * 100"),),
        ),
        Numeric(
            key="b",
            ask="What mass of dry rock will the section give? Take the rock as solid, without pores.",
            unit=By("lb", "t"),
            solve=_rock_mass,
            plausible=Range(520_000, 1_250_000, "lb"),
            tolerance=BALANCE,
            marks=Marks(2),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "washout left out",
                    lambda n: drilled_hole_volume(n.diameter, n.length) * ROCK,
                    "You left the washout out. Its rock comes up as cuttings too.",
                ),
                Slip(
                    "weighed as water",
                    lambda n: _rock_mass(n) / 2.6,
                    "You gave the rock the density of water. Multiply by its specific gravity.",
                ),
                Slip(
                    "weighed as barite",
                    lambda n: drilled_hole_volume(n.diameter, n.length, n.washout) * MATERIALS["barite"].density,
                    "You gave the rock the density of barite. Its own specific gravity is in the text.",
                ),
            ),
            working=(
                Step(
                    "Volume of the hole with its washout:",
                    By(
                        "{diameter}**2 / 1029.4 * {length} * (1 + {washout} / 100)",
                        "pi / 4 * ({diameter} / 1000)**2 * {length} * (1 + {washout} / 100)",
                    ),
                    "hole",
                    By("bbl", "m3"),
                ),
                Step(
                    By("Times 350.5 lb for a barrel of water and 2.60.", "Times 2.60 t/m³."),
                    By("{hole} * 350.5 * 2.60", "{hole} * 2.60"),
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "What is the most that this section's dry cuttings may have, for the well to keep the permit, in "
                "percent?"
            ),
            unit="%",
            uses=("b",),
            solve=lambda n: _most(n, n.b),
            plausible=Range(3, 13, "%"),
            possible=ANYTHING,
            tolerance=POINTS,
            marks=Marks(3),
            slips=(
                Slip(
                    "plain mean of the two sections",
                    lambda n: 2 * n.limit - n.earlier_share,
                    "You counted both sections alike. Weigh each with the mass of its cuttings.",
                ),
                Slip(
                    "the other way",
                    lambda n: n.limit - (n.limit - n.earlier_share) * (n.earlier_mass / n.b),
                    "You turned the sign. If the section before had more than the limit, this one may have less.",
                ),
            ),
            working=(
                Step(
                    "The limit, less what the section before had too much, weighed with the masses.",
                    "{limit} - ({earlier_share} - {limit}) * {earlier_mass} / {b}",
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="At what rate does the section give dry rock while drilling goes on?",
            unit=By("lb/min", "t/h"),
            uses=("b",),
            solve=lambda n: n.b / (n.length / n.drilling_rate),
            plausible=Range(340, 760, "lb/min"),
            tolerance=BALANCE,
            marks=Marks(2),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "hour for minute",
                    lambda n: mislabelled(n.b / (n.length / n.drilling_rate), "lb/h", "lb/min"),
                    "This is the rock of an hour. A dryer's rate is given for a minute.",
                    only=System.FIELD,
                ),
                Slip(
                    "day for hour",
                    lambda n: mislabelled(n.b / (n.length / n.drilling_rate), "t/d", "t/h"),
                    "This is the rock of a day. A dryer's rate is given for an hour.",
                    only=System.METRIC,
                ),
                Slip(
                    "rate for the whole well",
                    lambda n: (n.b + n.earlier_mass) / (n.length / n.drilling_rate),
                    "You added the rock of the section before. It has gone: take this section alone.",
                ),
            ),
            working=(
                Step("Hours of drilling:", "{length} / {drilling_rate}", "hours", "h"),
                Step("Rock over time.", By("{b} / {hours} / 60", "{b} / {hours}")),
            ),
        ),
        Choice(
            key="e",
            ask=(
                "Which dryer do you take? It must bring the section to your answer to (c) or below, with the room "
                "and the power that there are. Where both dryers can do that, both are right; the rest of the case "
                "goes on with yours."
            ),
            options=(
                Option(
                    "decks",
                    "Drying decks.",
                    "Work out what share decks would have to dry, and what share the decks can take for which there "
                    "are places and power.",
                ),
                Option(
                    "basket",
                    "A basket dryer.",
                    "Compare what the basket dryer needs with the power that there is to spare.",
                ),
                Option(
                    "none",
                    "None: the ordinary shakers can stay as they are.",
                    "The ordinary shakers leave more than this section may have. Some of it must be dried.",
                    never_right=True,
                ),
            ),
            uses=("a", "c", "d"),
            right=lambda n: _sound_dryers(n, n.a, n.c, n.d) or DRYERS,
            marks=Marks(2),
            reason=(
                "With {c} allowed, decks that leave {deck_share} have to dry more of the rock than a basket that "
                "leaves {basket_share}. Decks are bounded by {places} places and {power}, at {deck_power} each; the "
                "basket needs {basket_power}. Where both can do it, both are sound."
            ),
        ),
        Numeric(
            key="f",
            ask="What share of the section's rock must go through your dryer at least, in percent?",
            unit="%",
            uses=("a", "c", "e"),
            solve=lambda n: _share_to_dry(n, n.a, n.c, n.e),
            plausible=Range(24, 91, "%"),
            tolerance=absolute(1.5, "%", because="0.1 points in the shares before moves it by more than one point"),
            marks=Marks(3),
            slips=(
                Slip(
                    "the share that stays",
                    lambda n: 1 - _share_to_dry(n, n.a, n.c, n.e),
                    "This is the share that needs no drying. The rest must be dried.",
                ),
                Slip(
                    "dried to nothing",
                    lambda n: (n.a - n.c) / n.a,
                    "You took dried cuttings as free of oil. Take off what your dryer leaves on them.",
                ),
            ),
            working=(
                Step(
                    "What must come off, over what the dryer takes off. It leaves {left}.",
                    "({a} - {c}) / ({a} - {left}) * 100",
                ),
            ),
        ),
        Chosen(
            key="g",
            ask=(
                "What share of the rock do you plan to dry, to a multiple of 5 %? It must keep the permit, and the "
                "machines of your choice must be able to take it while drilling goes on. More than one share is sound; "
                "the rest of the case goes on with yours."
            ),
            grid=Grid(5, 100, 5, "%"),
            uses=("d", "e", "f"),
            suggest=_least_step,
            digits=3,
            limits=(
                Limit(
                    "keeps the permit",
                    lambda n: n.g >= n.f,
                    "This is less than must be dried, and the well goes over {limit}.",
                    2,
                ),
                Limit(
                    "can be taken",
                    lambda n: n.g <= _greatest_share(n, n.e, n.d) * 1.0001,
                    "Your machines cannot take so much while drilling goes on, with the places and the power that "
                    "there are.",
                    1,
                ),
            ),
            reason=(
                "{g} is the least multiple of 5 % that is more than {f}. Somewhat more keeps the permit when the "
                "cuttings are wetter than in the trial, and is as sound while the machines can take it."
            ),
        ),
        Numeric(
            key="h",
            ask="How many dryers of the kind that you chose does that take?",
            unit="fraction",
            whole=True,
            uses=("d", "e", "g"),
            solve=_machines,
            plausible=Range(1, 6),
            tolerance=absolute(0.4, "fraction", because="only whole machines run: one more or less is wrong"),
            marks=Marks(2),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "rounded down",
                    lambda n: _machines(n) - 1,
                    "You rounded down. What is left over needs a machine as well.",
                ),
                Slip(
                    "hour over minute",
                    lambda n: _whole(60 * n.g * n.d / _one_takes(n, n.e)),
                    "You divided the rock of an hour by what a machine takes in a minute. Take both for a minute.",
                    only=System.FIELD,
                ),
                Slip(
                    "day over hour",
                    lambda n: _whole(24 * n.g * n.d / _one_takes(n, n.e)),
                    "You divided the rock of a day by what a machine takes in an hour. Take both for an hour.",
                    only=System.METRIC,
                ),
            ),
            working=(
                Step("Rock to dry:", "{g} / 100 * {d}", "dried", By("lb/min", "t/h")),
                Step("Over what one machine takes, the next whole number:", "ceil({dried} / {takes})"),
            ),
        ),
        Numeric(
            key="i",
            ask=(
                "The share that you plan is dried, and no more. What base oil will the section's dry cuttings have on "
                "average, in percent?"
            ),
            unit="%",
            uses=("a", "e", "g"),
            solve=lambda n: n.a - n.g * (n.a - _leaves(n, n.e)),
            plausible=Range(3, 13, "%"),
            possible=RATIO,
            tolerance=POINTS,
            marks=Marks(3),
            slips=(
                Slip(
                    "plain mean",
                    lambda n: (n.a + _leaves(n, n.e)) / 2,
                    "You took the plain mean of shakers and dryer. Weigh each with the share of rock that it takes.",
                ),
                Slip(
                    "shares the wrong way round",
                    lambda n: _leaves(n, n.e) + n.g * (n.a - _leaves(n, n.e)),
                    "You gave the dried share of the rock to the ordinary shakers. The dryer takes it.",
                ),
                Slip(
                    "dried to nothing",
                    lambda n: n.a * (1 - n.g),
                    "You took dried cuttings as free of oil. Add what your dryer leaves on them.",
                ),
            ),
            working=(
                Step(
                    "The ordinary shakers' figure, less what drying takes off that share. The dryer leaves {left}.",
                    "{a} - {g} / 100 * ({a} - {left})",
                ),
            ),
        ),
        Numeric(
            key="j",
            ask="What will the average of the well be then, in percent?",
            unit="%",
            uses=("b", "i"),
            solve=lambda n: well_average(
                Q([n.earlier_share.m_as(""), n.i.m_as("")]), Q([n.earlier_mass.m_as("kg"), n.b.m_as("kg")], "kg")
            ),
            plausible=Range(4, 8, "%"),
            possible=RATIO,
            tolerance=POINTS,
            marks=Marks(2),
            slips=(
                Slip(
                    "masses the wrong way round",
                    lambda n: (n.earlier_share * n.b + n.i * n.earlier_mass) / (n.earlier_mass + n.b),
                    "You gave each section the other one's mass. Weigh each with its own dry cuttings.",
                ),
                Slip(
                    "this section alone",
                    lambda n: n.i,
                    "This is the section alone. The permit counts the one before as well.",
                ),
            ),
            working=(
                Step(
                    "Both sections, weighed with their dry cuttings.",
                    "({earlier_share} * {earlier_mass} + {i} * {b}) / ({earlier_mass} + {b})",
                ),
            ),
        ),
        Choice(
            key="k",
            ask=(
                "The dryer throws off mud that is rich in fines. Where do you send it? More than one answer is sound; "
                "the next parts go on with yours."
            ),
            options=(
                Option(
                    "suction",
                    "Straight back to the suction tank.",
                    "Fines that went through the dryer's screen would go down the hole again, and build up there.",
                    never_right=True,
                ),
                Option(
                    "centrifuge",
                    "Through a decanting centrifuge, rented at {centrifuge_rent}, to the active system; its solids go "
                    "to land.",
                    "",
                ),
                Option(
                    "sea",
                    "Overboard with the dried cuttings.",
                    "Mud and base oil may not be discharged, and the permit would be broken with it. Keep it on board.",
                    never_right=True,
                ),
                Option(
                    "tank",
                    "To a holding tank, rented at {tank_rent}; the mud engineer tests it and blends it in bit by bit.",
                    "",
                ),
            ),
            right=lambda n: tuple(ROUTES),
            marks=Marks(2),
            outcome=Outcome.LOSS,
            reason=(
                "A centrifuge takes fines out before the mud goes back; a tank lets it be tested and blended in "
                "slowly. "
                "Either is sound. Straight to the suction it brings fines to the pumps, and overboard it is forbidden."
            ),
        ),
        Numeric(
            key="l",
            ask=(
                "What volume of base oil does drying keep on board in this section, compared with the ordinary shakers "
                "alone? Count all oil that the dryer takes off as kept, whatever you chose in (k). Its density is that "
                "of the oil in the retort."
            ),
            unit=By("bbl", "m3"),
            uses=("a", "b", "i"),
            solve=_saved,
            plausible=Range(30, 500, "bbl"),
            tolerance=DIFFERENCE,
            marks=Marks(3),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "what still leaves",
                    lambda n: base_fluid_lost(n.b, n.i, n.density)[1],
                    "This is the oil that still leaves. The question asks for what would leave without drying, less "
                    "this.",
                ),
                Slip(
                    "what left before",
                    lambda n: base_fluid_lost(n.b, n.a, n.density)[1],
                    "This is the oil that leaves from the ordinary shakers alone. Take off what still leaves.",
                ),
                Slip(
                    "density of water",
                    lambda n: base_fluid_lost(n.b, n.a - n.i, Q(1, "g/mL"))[1],
                    "You gave the oil the density of water. It takes more room for its mass.",
                ),
            ),
            working=(
                Step("Mass of oil kept:", "{b} * ({a} - {i}) / 100", "kept", By("lb", "t")),
                Step("Over its density.", By("{kept} / ({density} * 350.5)", "{kept} / {density}")),
            ),
        ),
        Numeric(
            key="m",
            ask=(
                "What is saved over the drilling of the section: the value of that oil, less the rent of your machines "
                "and of the centrifuge or tank that you chose in (k)?"
            ),
            unit="money",
            uses=("e", "h", "k", "l"),
            solve=lambda n: n.l * n.oil_price - _rents(n, n.h, n.k),
            plausible=Range(2000, 90_000, "money"),
            tolerance=DIFFERENCE,
            marks=Marks(3),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "rent left out",
                    lambda n: n.l * n.oil_price,
                    "This is the value of the oil alone. Take off the rent of the machines and of the centrifuge "
                    "or tank.",
                ),
                Slip(
                    "rent added",
                    lambda n: n.l * n.oil_price + _rents(n, n.h, n.k),
                    "You added the rent. It is paid, so it comes off.",
                ),
            ),
            working=(
                Step("Days of drilling:", "{length} / {drilling_rate} / 24", "days", "d"),
                Step(
                    "Rent, here with the centrifuge:",
                    "({h} * {day_rent} + {centrifuge_rent}) * {days}",
                    "rent",
                    "money",
                ),
                Step("Value of the oil, less the rent.", "{l} * {oil_price} - {rent}"),
            ),
        ),
        Written(
            key="n",
            ask=(
                "Defend your choice to the operator's representative in five or six sentences: why this dryer, this "
                "share and this destination for the liquid, and what would make you choose otherwise."
            ),
            points=(
                Point("Gives the well's average with the choice, and compares it with the permit.", 1),
                Point("Says why this dryer and not the other: what it leaves, what it takes, places or power.", 1),
                Point("Says why a smaller share would not do, or what a machine out of service would do.", 1),
                Point("Says why the liquid goes the chosen way, naming the fines.", 1),
                Point(
                    "Names what could change the choice: faster drilling, wetter cuttings, the trial not repeated.", 1
                ),
            ),
            model=(
                "With the share that I plan to dry the average of the well stays under the permit's {limit}, as worked "
                "out above. A smaller share would not keep it, or would leave nothing for a machine that stands. Decks "
                "leave {deck_share} and are bounded by {places} places; the basket leaves {basket_share} and needs "
                "{basket_power} of the {power} that there is. The liquid is rich in fines, so it goes through a "
                "centrifuge, or is tested in a tank, and not straight to the pumps. If drilling goes faster than "
                "{drilling_rate}, or retorts are wetter than in the trial, I would dry more, slow down, or ship the "
                "rest; retorts each tour tell in time."
            ),
        ),
    ),
)
