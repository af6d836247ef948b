"""What a rig would see: named ranges, shared by all exercises, each with unit and status.

A status that begins with "seen" names the publication whose text was seen, and what it says where that differs from the
range: the range is then wider or narrower by common practice. ``WITHOUT`` names the exercises that have no quantity to
hold in a range, with the reason.
"""

from __future__ import annotations

from exercises.model.envelope import Usual

FROM_MEMORY = "from memory of textbooks"
ENCYCLOPAEDIA = "seen: Wikipedia, Desander"
PROCESSING_TEXT = "seen: a drilling fluids processing text (ASME 2005?)"

# Mud, solids and hole
#: In fresh water 8 % of drilled solids of 2.60 make 9.4 lb/gal: without barite or salt more than that is a bad mud.
UNWEIGHTED_MUD = Usual(8.6, 9.5, "lb/gal", "worked out: fresh water with up to 8.5 % of drilled solids")
WEIGHTED_MUD = Usual(10.0, 18.0, "lb/gal")
#: The heaviest mud in which cones that discard their underflow are run; above it they stand over a screen.
OPEN_CONE_MUD_WEIGHT = Usual(8.6, 10.5, "lb/gal")
#: Drilled solids by volume: 3 to 6 % is wanted, 8 % is bad, more is hardly seen.
DRILLED_SOLIDS = Usual(1.0, 10.0, "%")
#: Average density of all solids that a retort or a mud weight implies, in a mud weighted with barite.
IMPLIED_SOLIDS_DENSITY = Usual(2.6, 4.2, "SG", f"{PROCESSING_TEXT}, 2.6 for drilled solids and 4.2 for barite")
OIL_SHARE_OF_LIQUID = Usual(65, 90, "%")
#: A plan keeps room to both limits of the rock, as a share of the window between them.
PLAN_IN_WINDOW = Usual(20, 80, "%", "what a plan is: it asks for nothing that breaks the rock or lets the well flow")
ANNULAR_VELOCITY = Usual(120, 250, "ft/min", "seen: SPE 16546, abstract, 100 to 200; above that no source")
#: What all the tanks of a rig hold together.
MUD_ON_THE_RIG = Usual(700, 5000, "bbl")
ACTIVE_MUD = Usual(700, 2500, "bbl")
#: What one run of a recovery plant passes, against the active mud: no more than all of it.
SHARE_OF_ACTIVE = Usual(5, 100, "%")
PUMP_RATE = Usual(400, 1200, "gal/min")
DRILLING_RATE = Usual(20, 200, "ft/h")
#: Of the size of the bit, by volume.
WASHOUT = Usual(0, 30, "%")
HOLE = Usual(6, 17.5, "in")
PIT = Usual(150, 750, "bbl")
#: The liquid between the grains, with what is dissolved in it and the clay that thickens it.
LIQUID_BETWEEN_GRAINS = Usual(8.33, 10.5, "lb/gal")
VISCOSITY_BETWEEN_GRAINS = Usual(1, 50, "cP")
ALL_SOLIDS = Usual(3, 35, "%")
#: Of weighted muds, those in need of treatment with them.
PLASTIC_VISCOSITY = Usual(10, 50, "cP", FROM_MEMORY)
YIELD_POINT = Usual(5, 40, "lbf/100ft2", FROM_MEMORY)
MEDIAN_OF_SOLIDS = Usual(5, 60, "um", FROM_MEMORY)
#: API Spec 13A allows 3.0 % by weight above 75 um and 30 % below 6 um: lots that fail lie above.
BARITE_ABOVE_75_UM = Usual(0, 10, "%", "seen restated: API Spec 13A, at most 3.0 %; above that a lot that fails")
BARITE_BELOW_6_UM = Usual(0, 45, "%", "seen restated: API Spec 13A, at most 30 %; above that a lot that fails")
BARITE_SACKS_BY_HOPPER = Usual(0.5, 2.0, "sack/min")
BARITE_IN_BULK = Usual(100, 600, "kg/min")

# Shakers and dryers
#: Screens of shakers, from API 40 to API 325.
D100_OF_SCREEN = Usual(41.5, 462.5, "um", "the ends of two rows of API RP 13C, one seen restated, one from memory")
#: Half is removed at less than the D100 while the screen runs.
CUT_OF_SHAKER = Usual(40, 300, "um")
SHAKER_G = Usual(7.0, 8.0)
#: Of the rock that is drilled, what a plant that works takes out, poor to good.
REMOVAL = Usual(36, 90, "%")
#: What one shaker takes hangs on its screens and on the mud: from a fine screen to a coarse one in thin mud.
FLOW_OVER_SHAKER = Usual(190, 600, "gal/min")
#: API 140 and API 170.
FLOW_OVER_FINE_SCREENS = Usual(250, 400, "gal/min")
#: API 200, which carries about 60 to 80 % of what API 140 does.
FLOW_OVER_FINEST_SCREENS = Usual(190, 330, "gal/min")
#: API 80 and coarser, in the thin mud of a top hole.
FLOW_OVER_COARSE_SCREENS = Usual(400, 600, "gal/min")
#: A shaker with about half as much screen again, API 140 and API 170.
FLOW_OVER_LARGE_SHAKER = Usual(360, 550, "gal/min")
ROCK_OVER_SHAKER = Usual(2.0, 8.0, "t/h")
ROCK_OVER_DRYING_DECK = Usual(3.0, 6.0, "t/h")
ROCK_THROUGH_BASKET = Usual(10, 40, "t/h")
#: Grams of oil in 100 g of wet cuttings, as a percentage.
OIL_OFF_SHAKER = Usual(10, 15, "%", "seen: a public page on drilling waste")
#: Off any machine of a rig, from a basket dryer to a poor shaker.
OIL_ON_CUTTINGS = Usual(2, 15, "%")
OIL_OFF_DRYING_DECK = Usual(6, 9, "%")
OIL_OFF_BASKET = Usual(2, 5, "%", "seen: a public page on drilling waste, 5 % or better")
SHAKER_POWER = Usual(3, 5, "kW")
BASKET_POWER = Usual(30, 75, "kW")

# Cuttings as waste
#: Loose cuttings take so much more room than the rock did: a heap of grains is a third to nearly half pores.
BULKING = Usual(45, 80, "%")
MUD_ON_CUTTINGS = Usual(0.5, 1.5)
BOX = Usual(15, 25, "bbl")

# Cones, with the head of the mud itself at the manifold
CONE_HEAD = Usual(70, 80, "ft", f"{PROCESSING_TEXT}, 75 ft")
FEED_TO_DESANDER_CONE = Usual(400, 600, "gal/min", f"{ENCYCLOPAEDIA}, 500")
FEED_TO_DESILTER_CONE = Usual(50, 60, "gal/min", f"{ENCYCLOPAEDIA}, 60; {PROCESSING_TEXT}, 50")
FEED_TO_SMALL_CONE = Usual(5, 25, "gal/min", f"{ENCYCLOPAEDIA}, 15")
UNDERFLOW_OF_DESILTER_CONE = Usual(0.4, 3.0, "gal/min")
CUT_OF_DESANDER_CONE = Usual(40, 75, "um", f"{ENCYCLOPAEDIA}, takes out 45 to 74 um, half of 40 to 50 um")
CUT_OF_DESILTER_CONE = Usual(20, 35, "um", f"{ENCYCLOPAEDIA}, takes out 15 to 44 um, half of 15 to 20 um in thin feed")
#: In thin feed; in mud it is coarser.
CUT_OF_SMALL_CONE = Usual(10, 15, "um", f"{ENCYCLOPAEDIA}, half of 10 to 15 um")
#: In mud, thinned or not, by Plitt's law for a 2 in cone: 12 um in thin feed, about 20 um at 10 % and 40 um at 21 %
#: solids, coarser in a thick liquid.
CUT_OF_SMALL_CONE_IN_MUD = Usual(10, 55, "um", "worked out by Plitt's law, as pitside has it")
FLOW_OF_MODULE = Usual(60, 250, "gal/min")

# Bowls
BOWL_G = Usual(400, 2200)
BARITE_BOWL_G = Usual(500, 900)
FINES_BOWL_G = Usual(1500, 2200)
BARITE_BOWL_FEED = Usual(15, 40, "gal/min")
FINES_BOWL_FEED = Usual(40, 120, "gal/min")
LARGE_BOWL_FEED = Usual(100, 250, "gal/min")
CUT_OF_BARITE_BOWL = Usual(4, 7, "um")
CUT_OF_FINES_BOWL = Usual(5, 10, "um")
#: A small bowl or a large one, on light mud.
FEED_OF_LIGHT_MUD = Usual(25, 250, "gal/min")
#: Sigma is for an ideal bowl; real ones cut coarser.
CUT_OF_DRILLED_IN_BOWL = Usual(2, 12, "um")
#: Drilled solids are lighter: where barite is cut at 4 to 7 um, they are cut at about 1.4 times that.
SOLIDS_THROUGH_SMALL_BOWL = Usual(0.2, 5.0, "t/h")
SOLIDS_THROUGH_LARGE_BOWL = Usual(1.0, 15.0, "t/h")
#: A barite bowl's underflow still runs off its chute at this weight.
UNDERFLOW_OF_BOWL = Usual(15, 23, "lb/gal")
SMALL_BOWL_POWER = Usual(30, 55, "kW")
LARGE_BOWL_POWER = Usual(75, 150, "kW")
#: What a machine draws against its rated power, from empty to full.
POWER_OF_RATED = Usual(25, 100, "%")

#: What a bowl holds while it turns.
POND = Usual(20, 80, "gal")

# Pumps
FEED_PUMP_HEAD = Usual(70, 110, "ft")
#: g H / u2^2 at the rim of the impeller; the ideal pump with radial blades would reach 1.
HEAD_COEFFICIENT = Usual(0.35, 0.60, "fraction", FROM_MEMORY)
PUMP_EFFICIENCY = Usual(50, 75, "%")
MOTOR_EFFICIENCY = Usual(88, 95, "%", "seen: an article on premium motors, 95 % at 60 hp; below from memory")
VELOCITY_IN_PIPES = Usual(3, 12, "ft/s", "seen: a public table of slurry velocities, 3 to 11")

# Noise, in dB(A), a bare number
NOISE_AT_SHAKERS = Usual(88, 105)
NOISE_AT_TANKS = Usual(78, 95)

# Money, in units of currency of nowhere
SHAKER_HIRE = Usual(150, 400, "money/day", "an invented price")
CENTRIFUGE_HIRE = Usual(1000, 2500, "money/day", "an invented price")
PACKAGE_HIRE = Usual(2000, 5000, "money/day", "an invented price")
BARITE_PRICE = Usual(8, 20, "money/sack", "an invented price")
WATER_MUD_PRICE = Usual(20, 60, "money/bbl", "an invented price")
INVERT_MUD_PRICE = Usual(80, 200, "money/bbl", "an invented price")
DISPOSAL_PRICE = Usual(15, 60, "money/bbl", "an invented price")
ENERGY_PRICE = Usual(0.10, 0.40, "money/kWh", "an invented price")
#: The energy of a train is a small share of its hire.
ENERGY_OF_HIRE = Usual(0.2, 20, "%")

#: Exercises that hold no quantity in a range, and why. Each other exercise has an envelope.
WITHOUT: dict[str, str] = {}
