"""The machines of our invented scenario, as data sheets: what each takes, leaves and draws.

Machines are called by their duty; no sheet is that of a real machine. Where a sheet gives a range, machines of the
school lie anywhere in it, and an exercise draws one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from exercises.fleet import envelope
from exercises.model.envelope import Usual

PRICE = "an invented price"


@dataclass(frozen=True)
class Power:
    """Rated power, on which supply and cables are sized, and the share of it that the machine draws empty."""

    rated: Usual
    empty: Usual


@dataclass(frozen=True)
class Shaker:
    """A shaker or a drying deck: g, flow and rock that one carries, oil in 100 g of wet cuttings behind it.

    ``fine`` is the flow on screens of API 140 and API 170, ``coarse`` that on API 80 and coarser in thin mud; a drying
    deck takes no flow of mud.
    """

    name: str
    g: Usual
    fine: Usual | None
    coarse: Usual | None
    rock: Usual
    oil: Usual
    power: Power
    hire: Usual


SHAKER = Shaker(
    "shaker",
    g=envelope.SHAKER_G,
    fine=envelope.FLOW_OVER_FINE_SCREENS,
    coarse=envelope.FLOW_OVER_COARSE_SCREENS,
    rock=envelope.ROCK_OVER_SHAKER,
    oil=envelope.OIL_OFF_SHAKER,
    power=Power(envelope.SHAKER_POWER, Usual(80, 100, "%")),
    hire=envelope.SHAKER_HIRE,
)
#: With about half as much screen again; nothing else of it stands in an exercise.
LARGE_SHAKER = replace(SHAKER, name="large shaker", fine=envelope.FLOW_OVER_LARGE_SHAKER, coarse=None)
DRYING_DECK = Shaker(
    "drying deck",
    g=envelope.SHAKER_G,
    fine=None,
    coarse=None,
    rock=envelope.ROCK_OVER_DRYING_DECK,
    oil=envelope.OIL_OFF_DRYING_DECK,
    power=Power(envelope.SHAKER_POWER, Usual(80, 100, "%")),
    hire=Usual(250, 500, "money/day", PRICE),
)
#: Trials of decks at very high g are few: an exercise that uses this sheet says that the figures are a trial's.
HIGH_G_DECK = Shaker(
    "drying deck at very high g",
    g=Usual(50, 100),
    fine=None,
    coarse=None,
    rock=envelope.ROCK_OVER_DRYING_DECK,
    oil=Usual(4, 9, "%", "common practice, no source; trials spread over this range"),
    power=Power(Usual(5, 12, "kW"), Usual(80, 100, "%")),
    hire=Usual(400, 900, "money/day", PRICE),
)


@dataclass(frozen=True)
class Basket:
    """A basket dryer: a screen basket of ``diameter`` at its wide end, turning at ``speed``."""

    name: str
    diameter: Usual
    speed: Usual
    g: Usual
    rock: Usual
    oil: Usual
    power: Power
    hire: Usual


BASKET_DRYER = Basket(
    "basket dryer",
    diameter=Usual(30, 36, "in"),
    speed=Usual(840, 960, "rpm"),
    g=Usual(300, 500),
    rock=envelope.ROCK_THROUGH_BASKET,
    oil=envelope.OIL_OFF_BASKET,
    power=Power(envelope.BASKET_POWER, Usual(35, 50, "%")),
    hire=Usual(900, 1800, "money/day", PRICE),
)


@dataclass(frozen=True)
class Cones:
    """A size of cone: its diameter, the flow of one at the head, its cut, the mud in which it runs open."""

    name: str
    diameter: Usual
    head: Usual
    flow: Usual
    cut: Usual
    mud_weight: Usual


DESANDER = Cones(
    "desander cone",
    Usual(10, 12, "in"),
    envelope.CONE_HEAD,
    envelope.FEED_TO_DESANDER_CONE,
    envelope.CUT_OF_DESANDER_CONE,
    envelope.OPEN_CONE_MUD_WEIGHT,
)
DESILTER = Cones(
    "desilter cone",
    Usual(4, 4, "in"),
    envelope.CONE_HEAD,
    envelope.FEED_TO_DESILTER_CONE,
    envelope.CUT_OF_DESILTER_CONE,
    envelope.OPEN_CONE_MUD_WEIGHT,
)
#: The cones of a cyclonic module for barite: both streams are kept in hand, so they run in weighted mud too.
SMALL_CONE = Cones(
    "small cone",
    Usual(1, 2, "in"),
    Usual(70, 110, "ft"),
    envelope.FEED_TO_SMALL_CONE,
    envelope.CUT_OF_SMALL_CONE,
    Usual(8.6, 18.0, "lb/gal"),
)


@dataclass(frozen=True)
class CycloneModule:
    """Small cones with their pumps on one frame; power follows from flow, head and mud weight."""

    name: str
    flow: Usual
    least_load: Usual
    price: Usual
    hire: Usual


CYCLONE_MODULE = CycloneModule(
    "cyclonic module",
    flow=envelope.FLOW_OF_MODULE,
    least_load=Usual(70, 85, "%"),
    price=Usual(60_000, 180_000, "money", PRICE),
    hire=Usual(500, 1500, "money/day", PRICE),
)


@dataclass(frozen=True)
class Decanter:
    """A decanting centrifuge in one duty: bowl, speed and g, feed, cut, most solids, power with its pump, hire."""

    name: str
    diameter: Usual
    speed: Usual
    g: Usual
    feed: Usual
    cut: Usual
    solids: Usual
    power: Power
    price: Usual
    hire: Usual


BARITE_BOWL = Decanter(
    "barite bowl",
    diameter=Usual(14, 16, "in"),
    speed=Usual(1500, 2100, "rpm"),
    g=envelope.BARITE_BOWL_G,
    feed=envelope.BARITE_BOWL_FEED,
    cut=envelope.CUT_OF_BARITE_BOWL,
    solids=envelope.SOLIDS_THROUGH_SMALL_BOWL,
    power=Power(envelope.SMALL_BOWL_POWER, Usual(30, 45, "%")),
    price=Usual(110_000, 200_000, "money", PRICE),
    hire=envelope.CENTRIFUGE_HIRE,
)
FINES_BOWL = Decanter(
    "fines bowl",
    diameter=Usual(14, 16, "in"),
    speed=Usual(2600, 3200, "rpm"),
    g=envelope.FINES_BOWL_G,
    feed=envelope.FINES_BOWL_FEED,
    cut=envelope.CUT_OF_FINES_BOWL,
    solids=envelope.SOLIDS_THROUGH_SMALL_BOWL,
    power=Power(envelope.SMALL_BOWL_POWER, Usual(30, 45, "%")),
    price=Usual(110_000, 200_000, "money", PRICE),
    hire=envelope.CENTRIFUGE_HIRE,
)
LARGE_BOWL = Decanter(
    "large bowl",
    diameter=Usual(18, 24, "in"),
    speed=Usual(1200, 2600, "rpm"),
    g=Usual(500, 2200),
    feed=envelope.LARGE_BOWL_FEED,
    cut=Usual(4, 10, "um"),
    solids=envelope.SOLIDS_THROUGH_LARGE_BOWL,
    power=Power(envelope.LARGE_BOWL_POWER, Usual(30, 45, "%")),
    price=Usual(200_000, 400_000, "money", PRICE),
    hire=Usual(1500, 2500, "money/day", PRICE),
)


@dataclass(frozen=True)
class Pump:
    """A centrifugal pump: impeller, speed, head, efficiency; power follows from density, flow and head."""

    name: str
    impeller: Usual
    speed: Usual
    head: Usual
    efficiency: Usual


FEED_PUMP = Pump(
    "feed pump",
    impeller=Usual(10, 13, "in"),
    speed=Usual(1150, 1750, "rpm"),
    head=envelope.FEED_PUMP_HEAD,
    efficiency=Usual(55, 70, "%"),
)

SHAKERS = (SHAKER, LARGE_SHAKER, DRYING_DECK, HIGH_G_DECK)
CONES = (DESANDER, DESILTER, SMALL_CONE)
DECANTERS = (BARITE_BOWL, FINES_BOWL, LARGE_BOWL)
