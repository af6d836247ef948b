"""Dilution, centrifuge or both: volumes, bills and the choice."""

from __future__ import annotations

import pint

from exercises.bank.cutting_back import EXACT_BALANCE, Outcome
from exercises.fleet.envelope import BARITE_PRICE, DISPOSAL_PRICE, DRILLED_SOLIDS, WATER_MUD_PRICE, WEIGHTED_MUD
from exercises.fleet.rigs import HERON_4
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Range
from exercises.model.parts import Choice, Known, Marks, Numeric, Option, Slip, relative
from exercises.model.working import Step
from pitside.blending import reduce_by_both, reduce_by_dilution, reduce_by_removal
from pitside.density import specific_gravity
from pitside.dilution import dilution_volume
from pitside.materials import BARITE, LOW_GRAVITY

A_BILL = relative(0.01, because="a sum of products; volumes and loads are given to three digits or more")
COMPARE_THE_BILLS = (
    "Strike out each way that leaves less than {needed} in hole and pits. Of the others take the one with the "
    "smallest bill."
)


def _barite(density: pint.Quantity, low_gravity: pint.Quantity) -> pint.Quantity:
    """Mass of barite in a volume of fresh-water mud or underflow of this density, by its mass balance."""
    barite, rock = specific_gravity(BARITE), specific_gravity(LOW_GRAVITY)
    share = (specific_gravity(density) - 1 - (rock - 1) * low_gravity) / (barite - 1)
    return share * BARITE


def _diluted(n: Known) -> pint.Quantity:
    return reduce_by_dilution(n.volume, n.mud_weight, n.target, n.liquid, pit_limit=n.volume).mud_out


def _removed(n: Known) -> pint.Quantity:
    return reduce_by_removal(n.volume, n.mud_weight, n.target, n.underflow).underflow_out


def _both(n: Known) -> pint.Quantity:
    return reduce_by_both(n.volume, n.mud_weight, n.target, n.underflow, n.liquid).underflow_out


def _bill_of_dilution(n: Known, out: pint.Quantity) -> pint.Quantity:
    return out * (n.liquid_price + n.disposal_price + n.barite * n.barite_price)


def _bill_of_removal(n: Known, out: pint.Quantity) -> pint.Quantity:
    return n.rent + out * (n.disposal_price + n.underflow_barite * n.barite_price)


def _bill_of_both(n: Known, out: pint.Quantity) -> pint.Quantity:
    return _bill_of_removal(n, out) + out * n.liquid_price


def _cheapest(
    n: Known, diluting: pint.Quantity, removing: pint.Quantity, both: pint.Quantity, out: pint.Quantity
) -> str:
    bills = {"diluting": diluting, "both": both}
    if n.volume - out >= n.needed:
        bills["removing"] = removing
    return min(bills, key=lambda way: bills[way])


def _choice_is_clear(n: Known) -> bool:
    """Weights that a centrifuge and dilution are used for; no two bills, and no volumes, that rounding could swap."""
    if not (0.5 <= (n.mud_weight - n.target).m_as("lb/gal") <= 1.5 and n.needed <= n.volume):
        return False
    left = n.volume - _removed(n)
    if abs((left / n.needed).m_as("") - 1) < 0.015:
        return False
    bills = sorted(
        bill.m_as("money")
        for bill in (_bill_of_dilution(n, _diluted(n)), _bill_of_removal(n, _removed(n)), _bill_of_both(n, _both(n)))
    )
    return bool(bills[1] >= 1.06 * bills[0] and bills[2] >= 1.06 * bills[1])


def _lost(n: Numbers) -> pint.Quantity:
    return _barite(n.mud_weight, n.low_gravity)


EXERCISE = Exercise(
    title="Dilution, centrifuge or both",
    level=2,
    version=3,
    outcome=Outcome.ROUTE,
    tolerance=EXACT_BALANCE,
    numbers=(
        Number("volume", Grid(700, 1300, 20, "bbl"), Grid(112, 206, 2, "m3")),
        Number("mud_weight", Grid(11.5, 14.5, 0.1, "lb/gal"), Grid(1380, 1740, 10, "kg/m3")),
        Number("target", Grid(10.5, 14.0, 0.1, "lb/gal"), Grid(1260, 1680, 10, "kg/m3")),
        Number("liquid", Grid(8.4, 8.8, 0.1, "lb/gal"), Grid(1010, 1060, 10, "kg/m3")),
        Number("underflow", Grid(19.0, 22.0, 0.5, "lb/gal"), Grid(2280, 2640, 20, "kg/m3")),
        Number("low_gravity", Grid(5, 8, 1, "%")),
        Derived("barite", _lost, By("lb/bbl", "kg/m3"), 0),
        Derived("underflow_barite", lambda n: _barite(n.underflow, n.low_gravity), By("lb/bbl", "kg/m3"), 0),
        Number("liquid_price", Grid(20, 60, 2, "money/bbl"), Grid(130, 380, 10, "money/m3")),
        Number("disposal_price", Grid(15, 40, 1, "money/bbl"), Grid(100, 250, 10, "money/m3")),
        Number("barite_price", Grid(8, 20, 1, "money/sack"), Grid(180, 440, 20, "money/t")),
        Number("rent", Grid(1000, 9000, 500, "money")),
        Number("needed", Grid(600, 1300, 20, "bbl"), Grid(95, 206, 2, "m3")),
    ),
    valid=_choice_is_clear,
    envelope=(
        Within("active mud", lambda n: n.volume, HERON_4.active),
        Within("mud weight", lambda n: n.mud_weight, WEIGHTED_MUD),
        Within("low-gravity solids", lambda n: n.low_gravity, DRILLED_SOLIDS),
        Within("price of liquid made to mud", lambda n: n.liquid_price, WATER_MUD_PRICE),
        Within("disposal", lambda n: n.disposal_price, DISPOSAL_PRICE),
        Within("price of barite", lambda n: n.barite_price, BARITE_PRICE),
    ),
    setting=By.each(
        lambda system: (
            "Rig Heron 4 has {volume} of mud of {mud_weight} in hole and pits, with {barite} of barite in it. Another "
            "section of well Marram-1 needs {target}. All prices are invented, in units of currency.\n\n"
            "- New liquid weighs {liquid} and costs {liquid_price}, chemicals included.\n"
            "- A centrifuge can be rented for the job for {rent}. From first to last it takes out an underflow of "
            "{underflow}, which holds {underflow_barite} of barite, and returns the rest.\n"
            "- Mud or underflow that leaves costs {disposal_price} to dispose of. Barite that leaves with it counts as "
            "a loss of {barite_price}"
            + By(" (a sack holds 100 lb)", "").of(system)
            + ".\n- The bills leave out that a centrifuge used in this way keeps the finest drilled solids in the mud, "
            "while dilution thins them out. There is no tank here to keep the underflow in.\n\n"
            "Nobody opens a centrifuge until its bowl has run down and its power is locked out, by the rig's own "
            "rules. The driller and the mud logger are told before any mud moves or changes weight."
        )
    ),
    parts=(
        Numeric(
            key="a",
            ask=(
                "First way, dilution: mud is moved out, and then as much new liquid fills hole and pits up to {volume} "
                "again. Take it that all of this mud goes out before any liquid comes in. What volume of mud must go "
                "out?"
            ),
            unit=By("bbl", "m3"),
            solve=_diluted,
            plausible=Range(50, 800, "bbl"),
            marks=Marks(1),
            outcome=Outcome.CUTTING_BACK,
            slips=(
                Slip(
                    "formula for a growing volume",
                    lambda n: dilution_volume(n.volume, n.mud_weight, n.target, n.liquid),
                    "You divided by the target minus the liquid. That holds when the volume grows. Here mud makes room "
                    "first: divide by the old weight minus the liquid.",
                ),
                Slip(
                    "weight of the liquid left out",
                    lambda n: n.volume * (n.mud_weight - n.target) / n.mud_weight,
                    "You divided by the old weight alone. Divide by the old weight minus the liquid.",
                ),
            ),
            working=(
                Step(
                    "The volume is held, so the old weight minus the liquid goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({mud_weight} - {liquid})",
                ),
            ),
        ),
        Numeric(
            key="b",
            ask="What does dilution cost: new liquid, disposal, and the barite that leaves with the mud?",
            unit="money",
            uses=("a",),
            solve=lambda n: _bill_of_dilution(n, n.a),
            plausible=Range(1500, 200_000, "money"),
            tolerance=A_BILL,
            marks=Marks(2),
            slips=(
                Slip(
                    "barite left out",
                    lambda n: n.a * (n.liquid_price + n.disposal_price),
                    "You left the barite out. It leaves with the mud and must be bought again one day.",
                ),
                Slip(
                    "new liquid left out",
                    lambda n: n.a * (n.disposal_price + n.barite * n.barite_price),
                    "You left the new liquid out. As much of it comes in as mud goes out.",
                ),
            ),
            working=(
                Step(
                    By("Barite that leaves, 100 lb in a sack:", "Barite that leaves, 1000 kg in a tonne:"),
                    By("{a} * {barite} / 100", "{a} * {barite} / 1000"),
                    "lost",
                    By("sack", "t"),
                ),
                Step(
                    "Liquid, disposal and barite together:",
                    "{a} * {liquid_price} + {a} * {disposal_price} + {lost} * {barite_price}",
                ),
            ),
        ),
        Numeric(
            key="c",
            ask=(
                "Second way, the centrifuge alone: underflow is taken out until the mud left in hole and pits weighs "
                "{target}. Nothing is added. What volume of underflow goes out?"
            ),
            unit=By("bbl", "m3"),
            solve=_removed,
            plausible=Range(20, 400, "bbl"),
            marks=Marks(2),
            outcome=Outcome.CUTTING_BACK,
            slips=(
                Slip(
                    "old weight below the line",
                    lambda n: n.volume * (n.mud_weight - n.target) / (n.underflow - n.mud_weight),
                    "You divided by the underflow minus the old weight. The mud that is left weighs the target: divide "
                    "by the underflow minus the target.",
                ),
                Slip(
                    "liquid fills up",
                    _both,
                    "You divided by the underflow minus the liquid. That holds when liquid takes the underflow's "
                    "place. Nothing is added here.",
                ),
                Slip(
                    "weight of the mud left out",
                    lambda n: n.volume * (n.mud_weight - n.target) / n.underflow,
                    "You divided by the underflow alone. Its volume is lost to the mud too: divide by the underflow "
                    "minus the target.",
                ),
            ),
            working=(
                Step(
                    "The underflow minus the target goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({underflow} - {target})",
                ),
            ),
        ),
        Numeric(
            key="d",
            ask="What does the second way cost: rent, disposal, and the barite in the underflow?",
            unit="money",
            uses=("c",),
            solve=lambda n: _bill_of_removal(n, n.c),
            plausible=Range(2000, 90_000, "money"),
            tolerance=A_BILL,
            marks=Marks(2),
            slips=(
                Slip(
                    "rent left out",
                    lambda n: _bill_of_removal(n, n.c) - n.rent,
                    "You left the rent of the centrifuge out. Add {rent}.",
                ),
                Slip(
                    "barite of the mud",
                    lambda n: n.rent + n.c * (n.disposal_price + n.barite * n.barite_price),
                    "You took the barite of the mud. The underflow holds {underflow_barite}.",
                ),
                Slip(
                    "barite left out",
                    lambda n: n.rent + n.c * n.disposal_price,
                    "You left the barite out. The underflow is full of it.",
                ),
            ),
            working=(
                Step(
                    By("Barite that leaves, 100 lb in a sack:", "Barite that leaves, 1000 kg in a tonne:"),
                    By("{c} * {underflow_barite} / 100", "{c} * {underflow_barite} / 1000"),
                    "lost",
                    By("sack", "t"),
                ),
                Step(
                    "Rent, disposal and barite together:", "{rent} + {c} * {disposal_price} + {lost} * {barite_price}"
                ),
            ),
        ),
        Numeric(
            key="e",
            ask=(
                "Third way, both: new liquid takes the place of the underflow, so that hole and pits hold {volume} of "
                "mud of {target} at the end. What volume of underflow goes out?"
            ),
            unit=By("bbl", "m3"),
            solve=_both,
            plausible=Range(20, 260, "bbl"),
            marks=Marks(2),
            outcome=Outcome.CUTTING_BACK,
            slips=(
                Slip(
                    "nothing added",
                    _removed,
                    "You divided by the underflow minus the target. That holds when nothing is added. Here liquid "
                    "takes its place: divide by the underflow minus the liquid.",
                ),
                Slip(
                    "whole mud moved out",
                    _diluted,
                    "This is the whole mud that dilution alone moves out. Underflow is heavier: less of it goes out.",
                ),
            ),
            working=(
                Step(
                    "Liquid takes the place of the underflow: the difference of the two goes below the line.",
                    "{volume} * ({mud_weight} - {target}) / ({underflow} - {liquid})",
                ),
            ),
        ),
        Numeric(
            key="f",
            ask="What does the third way cost: rent, new liquid, disposal, and the barite in the underflow?",
            unit="money",
            uses=("e",),
            solve=lambda n: _bill_of_both(n, n.e),
            plausible=Range(2000, 90_000, "money"),
            tolerance=A_BILL,
            marks=Marks(2),
            slips=(
                Slip(
                    "rent left out",
                    lambda n: _bill_of_both(n, n.e) - n.rent,
                    "You left the rent of the centrifuge out. Add {rent}.",
                ),
                Slip(
                    "new liquid left out",
                    lambda n: _bill_of_removal(n, n.e),
                    "You left the new liquid out. As much of it comes in as underflow goes out.",
                ),
                Slip(
                    "barite of the mud",
                    lambda n: n.rent + n.e * (n.liquid_price + n.disposal_price + n.barite * n.barite_price),
                    "You took the barite of the mud. The underflow holds {underflow_barite}.",
                ),
            ),
            working=(
                Step(
                    By("Barite that leaves, 100 lb in a sack:", "Barite that leaves, 1000 kg in a tonne:"),
                    By("{e} * {underflow_barite} / 100", "{e} * {underflow_barite} / 1000"),
                    "lost",
                    By("sack", "t"),
                ),
                Step(
                    "Rent, liquid, disposal and barite together:",
                    "{rent} + {e} * {liquid_price} + {e} * {disposal_price} + {lost} * {barite_price}",
                ),
            ),
        ),
        Choice(
            key="g",
            ask=(
                "At the end hole and pits must hold {needed} or more. By these bills, which is the cheapest way that "
                "leaves enough mud?"
            ),
            options=(
                Option("diluting", "Dilution.", COMPARE_THE_BILLS),
                Option("removing", "The centrifuge alone.", COMPARE_THE_BILLS),
                Option("both", "Both.", COMPARE_THE_BILLS),
            ),
            right=lambda n: _cheapest(n, n.b, n.d, n.f, n.c),
            uses=("b", "c", "d", "f"),
            marks=Marks(2),
            reason=(
                "Dilution costs {b}, the centrifuge alone {d}, both {f}. Dilution and both leave {volume}; the "
                "centrifuge alone leaves {volume} less {c}, and {needed} is needed. (Money is not all: what a "
                "centrifuge returns holds the finest solids, and dilution thins them out.)"
            ),
        ),
    ),
)
