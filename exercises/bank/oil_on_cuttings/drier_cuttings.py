"""Case: keep a well under its discharge limit with high-g decks beside the ordinary shakers."""

from __future__ import annotations

import functools
import math

import pint

from exercises.bank.oil_on_cuttings import Outcome
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range, System, mislabelled
from exercises.model.parts import (
    Choice,
    Chosen,
    Known,
    Limit,
    Marks,
    Method,
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
from pitside.cuttings import base_fluid_lost, dry_basis, last_section_limit, well_average
from pitside.materials import MATERIALS
from pitside.removal import drilled_hole_volume
from pitside.units import Q

BALANCE = relative(0.01, because="a balance of figures given to two or three digits")
POINTS = absolute(0.1, "%", because="shares given to one place, weighed with masses that may be 1 % off")
DIFFERENCE = relative(0.03, because="a difference of balances, each to 1 %")

ROCK = Q(2.6, "SG")
MOST_DECKS = 8
#: What each sound way for the liquid from the high-g decks costs in a day; the keys are the options' own.
ROUTES = {"centrifuge": "centrifuge_rent", "tank": "tank_rent"}


def _ordinary(n: Known | Numbers) -> pint.Quantity:
    return dry_basis(n.oil, n.density, n.dry_mass)


def _rock_mass(n: Known | Numbers) -> pint.Quantity:
    return drilled_hole_volume(n.diameter, n.length, n.washout) * ROCK


def _most(n: Known | Numbers, mass: pint.Quantity) -> pint.Quantity:
    return last_section_limit(n.limit, Q([n.earlier_share.m_as("")]), Q([n.earlier_mass.m_as("kg")], "kg"), mass)


def _share_to_dry(n: Known | Numbers, ordinary: pint.Quantity, most: pint.Quantity) -> pint.Quantity:
    """Share of the rock that must go over high-g decks for the section to have no more than ``most``."""
    return (ordinary - most) / (ordinary - n.high_g_share)


def _rock_rate(n: Known | Numbers) -> pint.Quantity:
    return _rock_mass(n) / (n.length / n.drilling_rate)


def _dried(decks: pint.Quantity, n: Known | Numbers, rate: pint.Quantity) -> pint.Quantity:
    """Share of the rock that so many decks take: all of it at most."""
    return Q(min(float((decks * n.deck_takes / rate).m_as("")), 1.0))


@functools.lru_cache(maxsize=256)
def _needed(drawn: Numbers) -> pint.Quantity:
    return _share_to_dry(drawn, _ordinary(drawn), _most(drawn, _rock_mass(drawn)))


@functools.lru_cache(maxsize=256)
def _fewest(drawn: Numbers) -> float:
    """High-g decks that the limit asks for, not yet rounded up."""
    return float((_needed(drawn) * _rock_rate(drawn) / drawn.deck_takes).m_as(""))


def _earlier_share(n: Numbers) -> pint.Quantity:
    """What the section before had, such that the drawn share of this one must be dried."""
    most = _ordinary(n) - n.share_to_dry * (_ordinary(n) - n.high_g_share)
    return n.limit + (n.limit - most) * (_rock_mass(n) / n.earlier_mass)


def _deck_takes(n: Numbers) -> pint.Quantity:
    """What one deck takes, such that the drawn count of decks carries the whole section."""
    return _rock_rate(n) / n.decks_for_all


def _saved(n: Known) -> pint.Quantity:
    """Volume of base oil that drying keeps, from the section's mass and the two averages."""
    return base_fluid_lost(n.b, n.a - n.g, n.density)[1]


def _rents(n: Known, route: str) -> pint.Quantity:
    return (n.f * n.deck_rent + getattr(n, ROUTES[route])) * (n.length / n.drilling_rate)


def _decks(n: Known) -> pint.Quantity:
    """The fewest high-g decks that take the share to dry."""
    return Q(float(math.ceil((n.d * n.e / n.deck_takes).m_as("") - 1e-9)))


def _offers_a_choice(n: Known) -> bool:
    """Part of the rock must be dried; two counts of decks or more are sound, with room for rounded early answers.

    The section before had a usual share, clearly off the limit, of another mass of cuttings. The fewest decks that
    will do leave some rock undried. Each of the limits refuses some count that is offered, and the
    rent eats up no more than half of the oil's value.
    """
    earlier, masses = n.earlier_share.m_as("%"), (_rock_mass(n) / n.earlier_mass).m_as("")
    if not (4.5 <= earlier <= 11 and abs(earlier - n.limit.m_as("%")) >= 0.6 and abs(masses - 1) >= 0.2):
        return False
    needed, fewest = _needed(n.drawn).m_as(""), _fewest(n.drawn)
    if not (0.25 <= needed <= 0.85 and 0.12 <= fewest % 1 <= 0.88):
        return False
    by_power = math.floor((n.power / n.deck_power).m_as(""))
    most = min(n.places.m_as(""), by_power)
    if not (
        fewest > 1 and math.ceil(fewest) + 1 <= most and math.ceil(1.25 * fewest) <= most and by_power < MOST_DECKS
    ):
        return False
    if math.ceil(fewest) >= 0.97 * n.decks_for_all.m_as(""):
        return False
    value = base_fluid_lost(_rock_mass(n), _ordinary(n) - _most(n, _rock_mass(n)), n.density)[1] * n.oil_price
    rents = (most * n.deck_rent + max(n.centrifuge_rent, n.tank_rent)) * (n.length / n.drilling_rate)
    return bool((rents / value).m_as("") < 0.5)


EXERCISE = Exercise(
    title="Drier cuttings for a permit",
    level=3,
    minutes=60,
    combines=("solids-cost", "shakers"),
    version=1,
    outcome=Outcome.LIMIT,
    numbers=(
        Number("diameter", Grid(12.25, 12.25, 0.25, "in"), Grid(311, 311, 1, "mm")),
        Number("length", Grid(4000, 8000, 100, "ft"), Grid(1200, 2400, 20, "m")),
        Number("washout", Grid(3, 8, 1, "%")),
        Number("drilling_rate", Grid(40, 80, 2, "ft/h"), Grid(12, 25, 1, "m/h")),
        Number("earlier_mass", Grid(500_000, 1_100_000, 20_000, "lb"), Grid(220, 500, 10, "t")),
        Number("limit", Grid(6.5, 8.0, 0.5, "%")),
        Number("oil", Grid(11.0, 17.0, 0.2, "mL")),
        Number("density", Grid(0.78, 0.82, 0.01, "g/mL")),
        Number("dry_mass", Grid(78.0, 92.0, 0.5, "g")),
        Number("high_g_share", Grid(3.0, 5.0, 0.1, "%")),
        Number("share_to_dry", Grid(0.36, 0.76, 0.02)),
        Derived("earlier_share", _earlier_share, "%", 1),
        Number("decks_for_all", Grid(3.4, 6.6, 0.2)),
        Derived("deck_takes", _deck_takes, By("lb/min", "t/h"), By(0, 2)),
        Number("places", Grid(4, 6, 1)),
        Number("deck_power", Grid(8, 12, 1, "kW")),
        Number("decks_by_power", Grid(4, 7, 1)),
        Derived("power", lambda n: n.deck_power * (n.decks_by_power + 0.4), "kW", 0),
        Number("deck_rent", Grid(300, 700, 50, "money/d")),
        Number("centrifuge_rent", Grid(900, 1500, 50, "money/d")),
        Number("tank_rent", Grid(300, 700, 50, "money/d")),
        Number("oil_price", Grid(180, 300, 10, "money/bbl"), Grid(1150, 1900, 50, "money/m3")),
    ),
    valid=_offers_a_choice,
    setting=(
        "Sandpiper 2 is about to drill {length} of {diameter} hole with invert mud at {drilling_rate}; washout is put "
        "at {washout} by volume, and the rock has a specific gravity of 2.60. In this exercise the permit allows an "
        "average of {limit} base oil by mass of dry cuttings over the well. The section before gave {earlier_mass} of "
        "dry cuttings with {earlier_share}. A retort of cuttings from the ordinary decks held {oil} of base oil, of "
        "{density}, and {dry_mass} of dry cuttings. High-g decks can be put under part of the shakers' discard: in a "
        "trial they left {high_g_share} by mass of dry cuttings. One takes {deck_takes} of rock counted dry, needs "
        "{deck_power} and {deck_rent} of rent. There are {places} places for them, and {power} to spare. What is not "
        "dried goes overboard from the ordinary decks. Base oil costs {oil_price} (money stands for an invented "
        "currency). Lifting, electrics and hot oil mud come under the rig's own rules, and discharge under its permit."
    ),
    parts=(
        Numeric(
            key="a",
            ask="What base oil do the ordinary decks leave, by mass of dry cuttings, in percent?",
            unit="%",
            solve=_ordinary,
            plausible=Range(9, 18, "%"),
            possible=RATIO,
            tolerance=BALANCE,
            marks=Marks(2),
            outcome=Outcome.RETENTION,
            slips=(
                Slip(
                    "millilitres called grams",
                    lambda n: dry_basis(n.oil, Q(1, "g/mL"), n.dry_mass),
                    "You put millilitres for grams. Multiply the volume of the oil by its density.",
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
            ask="What mass of dry rock will the section give? Leave out the pores.",
            unit=By("lb", "t"),
            solve=_rock_mass,
            plausible=Range(500_000, 1_200_000, "lb"),
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
            ask="What share of the section's rock must go over high-g decks at least, in percent?",
            unit="%",
            uses=("a", "c"),
            solve=lambda n: _share_to_dry(n, n.a, n.c),
            plausible=Range(25, 85, "%"),
            tolerance=absolute(1.5, "%", because="0.1 points in the shares before moves it by more than one point"),
            marks=Marks(3),
            slips=(
                Slip(
                    "the share that stays",
                    lambda n: 1 - _share_to_dry(n, n.a, n.c),
                    "This is the share that may stay on ordinary decks. The rest must be dried.",
                ),
                Slip(
                    "dried to nothing",
                    lambda n: (n.a - n.c) / n.a,
                    "You took dried cuttings as free of oil. They keep {high_g_share}.",
                ),
            ),
            working=(
                Step(
                    "What must come off, over what a high-g deck takes off.",
                    "({a} - {c}) / ({a} - {high_g_share}) * 100",
                ),
            ),
        ),
        Numeric(
            key="e",
            ask="At what rate does the section give rock, counted dry, while drilling goes on?",
            unit=By("lb/min", "t/h"),
            uses=("b",),
            solve=lambda n: n.b / (n.length / n.drilling_rate),
            plausible=Range(85, 220, "lb/min"),
            tolerance=BALANCE,
            marks=Marks(2),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "hour for minute",
                    lambda n: mislabelled(n.b / (n.length / n.drilling_rate), "lb/h", "lb/min"),
                    "This is the rock of an hour. A deck's rate is given for a minute.",
                    only=System.FIELD,
                ),
                Slip(
                    "day for hour",
                    lambda n: mislabelled(n.b / (n.length / n.drilling_rate), "t/d", "t/h"),
                    "This is the rock of a day. A deck's rate is given for an hour.",
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
        Chosen(
            key="f",
            ask=(
                "Choose a whole number of high-g decks. They must take what has to be dried while drilling goes on, "
                "fit into the places, and keep to the power to spare. More than one number is sound; the rest of the "
                "case goes on with yours."
            ),
            grid=Grid(1, MOST_DECKS, 1),
            uses=("d", "e"),
            suggest=_decks,
            digits=1,
            limits=(
                Limit(
                    "takes what must be dried",
                    lambda n: n.f * n.deck_takes >= n.d * n.e,
                    "They take less than must be dried while drilling goes on, and the well goes over {limit}.",
                    2,
                ),
                Limit("fits in", lambda n: n.f <= n.places, "There are only {places} places for high-g decks.", 1),
                Limit(
                    "keeps to the power",
                    lambda n: n.f * n.deck_power <= n.power,
                    "At {deck_power} each they need more than the {power} to spare.",
                    1,
                ),
            ),
            reason=(
                "{f} decks are the fewest that take {d} of {e}. One more costs rent, and keeps the permit when a deck "
                "stands or drilling goes faster: as sound, if there are places and power for it."
            ),
        ),
        Numeric(
            key="g",
            ask=(
                "All high-g decks of your choice are kept full, and no more is dried than the section gives. What base "
                "oil will the section's dry cuttings have on average, in percent?"
            ),
            unit="%",
            uses=("a", "e", "f"),
            solve=lambda n: n.a - _dried(n.f, n, n.e) * (n.a - n.high_g_share),
            plausible=Range(3, 13, "%"),
            possible=RATIO,
            tolerance=POINTS,
            marks=Marks(3),
            slips=(
                Slip(
                    "plain mean of the decks",
                    lambda n: (n.a + n.high_g_share) / 2,
                    "You took the plain mean of ordinary and high-g decks. Weigh each with the share of rock that it "
                    "takes.",
                ),
                Slip(
                    "shares the wrong way round",
                    lambda n: n.high_g_share + _dried(n.f, n, n.e) * (n.a - n.high_g_share),
                    "You gave the dried share of the rock to the ordinary decks. The high-g decks take it.",
                ),
                Slip(
                    "dried to nothing",
                    lambda n: n.a * (1 - _dried(n.f, n, n.e)),
                    "You took dried cuttings as free of oil. They keep {high_g_share}.",
                ),
            ),
            method=(
                Method(
                    "dried",
                    "What share of the rock do they take, in percent (100 at most)?",
                    "%",
                    lambda n: _dried(n.f, n, n.e) * Q(1.0),
                    relative(0.015, because="two figures to 1 % or less"),
                    marks=1,
                    uses=("e", "f"),
                    plausible=Range(25, 97, "%"),
                ),
            ),
            working=(
                Step("Share of the rock that goes over high-g decks:", "{f} * {deck_takes} / {e} * 100", "dried", "%"),
                Step(
                    "The ordinary decks' figure, less what drying takes off that share.",
                    "{a} - {dried} / 100 * ({a} - {high_g_share})",
                ),
            ),
        ),
        Numeric(
            key="h",
            ask="What will the average of the well be then, in percent?",
            unit="%",
            uses=("b", "g"),
            solve=lambda n: well_average(
                Q([n.earlier_share.m_as(""), n.g.m_as("")]), Q([n.earlier_mass.m_as("kg"), n.b.m_as("kg")], "kg")
            ),
            plausible=Range(4, 8, "%"),
            possible=RATIO,
            tolerance=POINTS,
            marks=Marks(2),
            slips=(
                Slip(
                    "masses the wrong way round",
                    lambda n: (n.earlier_share * n.b + n.g * n.earlier_mass) / (n.earlier_mass + n.b),
                    "You gave each section the other one's mass. Weigh each with its own dry cuttings.",
                ),
                Slip(
                    "this section alone",
                    lambda n: n.g,
                    "This is the section alone. The permit counts the one before as well.",
                ),
            ),
            working=(
                Step(
                    "Both sections, weighed with their dry cuttings.",
                    "({earlier_share} * {earlier_mass} + {g} * {b}) / ({earlier_mass} + {b})",
                ),
            ),
        ),
        Choice(
            key="i",
            ask=(
                "The high-g decks shake off mud that is rich in fines. Where does it go? More than one way is sound; "
                "the next parts go on with yours."
            ),
            options=(
                Option(
                    "suction",
                    "Straight back to the suction tank.",
                    "Fines that the high g shook through the screens would go down the hole again, and build up there.",
                ),
                Option(
                    "centrifuge",
                    "Through a decanting centrifuge, rented at {centrifuge_rent}, and then to the active system.",
                    "",
                ),
                Option(
                    "sea",
                    "Overboard with the dried cuttings.",
                    "Mud and base oil may not be discharged, and the permit would be broken with it. Keep it on board.",
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
            key="j",
            ask="What volume of base oil does drying keep on board in this section, against ordinary decks alone?",
            unit=By("bbl", "m3"),
            uses=("a", "b", "g"),
            solve=_saved,
            plausible=Range(30, 500, "bbl"),
            tolerance=DIFFERENCE,
            marks=Marks(3),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "what still leaves",
                    lambda n: base_fluid_lost(n.b, n.g, n.density)[1],
                    "This is the oil that still leaves. Asked is what would have left, less this.",
                ),
                Slip(
                    "what left before",
                    lambda n: base_fluid_lost(n.b, n.a, n.density)[1],
                    "This is the oil that leaves from ordinary decks alone. Take off what still leaves.",
                ),
                Slip(
                    "density of water",
                    lambda n: base_fluid_lost(n.b, n.a - n.g, Q(1, "g/mL"))[1],
                    "You gave the oil the density of water. It takes more room for its mass.",
                ),
            ),
            working=(
                Step("Mass of oil kept:", "{b} * ({a} - {g}) / 100", "kept", By("lb", "t")),
                Step("Over its density.", By("{kept} / ({density} * 350.5)", "{kept} / {density}")),
            ),
        ),
        Numeric(
            key="k",
            ask=(
                "What is saved over the drilling of the section: the value of that oil, less the rent of your decks "
                "and of your way for the liquid?"
            ),
            unit="money",
            uses=("f", "i", "j"),
            solve=lambda n: n.j * n.oil_price - _rents(n, n.i),
            plausible=Range(2000, 120_000, "money"),
            tolerance=DIFFERENCE,
            marks=Marks(3),
            outcome=Outcome.LOSS,
            slips=(
                Slip(
                    "rent left out",
                    lambda n: n.j * n.oil_price,
                    "This is the value of the oil alone. Take off the rent of the decks and of the way for the liquid.",
                ),
                Slip(
                    "rent added",
                    lambda n: n.j * n.oil_price + _rents(n, n.i),
                    "You added the rent. It is paid, so it comes off.",
                ),
                Slip(
                    "rent of one deck",
                    lambda n: (
                        n.j * n.oil_price - (n.deck_rent + getattr(n, ROUTES[n.i])) * (n.length / n.drilling_rate)
                    ),
                    "You took off the rent of one deck. All the decks of your choice are rented.",
                ),
            ),
            working=(
                Step("Days of drilling:", "{length} / {drilling_rate} / 24", "days", "d"),
                Step(
                    "Rent, here with the centrifuge:",
                    "({f} * {deck_rent} + {centrifuge_rent}) * {days}",
                    "rent",
                    "money",
                ),
                Step("Value of the oil, less the rent.", "{j} * {oil_price} - {rent}"),
            ),
        ),
        Written(
            key="l",
            ask=(
                "Defend your choice to the operator's representative in five or six sentences: why this number of "
                "decks and this way for the liquid, and what would make you choose otherwise."
            ),
            points=(
                Point("Gives the well's average with the choice, and sets it against the permit.", 1),
                Point("Says why fewer decks would not do, or what one deck out of service would do.", 1),
                Point("Says what bounds the number from above: places, power or rent.", 1),
                Point("Says why the liquid goes the chosen way, naming the fines.", 1),
                Point(
                    "Names what could change the choice: faster drilling, wetter cuttings, the trial not repeated.", 1
                ),
            ),
            model=(
                "With my decks the average of the well stays under the permit's {limit}, as worked out above. One "
                "deck fewer would not take what must be dried, or would leave nothing for a deck that stands. Places "
                "({places}) and power ({power}) bound the number from above, and each deck costs {deck_rent}. The "
                "liquid is rich in fines, so it goes through a centrifuge, or is tested in a tank, and not straight "
                "to the pumps. If drilling goes faster than {drilling_rate}, or retorts are wetter than in the trial, "
                "I would take one deck more, slow down, or ship the rest; retorts each tour tell in time."
            ),
        ),
    ),
)
