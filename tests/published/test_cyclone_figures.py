"""Hydrocyclones against handbook figures, restated correlations and SciPy constants.

No published example of a drilling cone was found: Plitt's and Castilho and Medronho's equations are checked as others
restate them or as recalled, not against a cone that ran.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.core import Euler, Reynolds
from scipy import constants

from pitside.cyclones import (
    DESIGN_HEAD,
    LOW_GRAVITY_FIELD,
    Bank,
    Cone,
    ConeFamily,
    Discharge,
    classify_discharge,
    family_cone,
    family_cone_dilute,
    family_numbers,
    family_water_split,
    feed_pressure,
    feed_pressure_field,
    feed_pressure_rule,
    plitt,
    plitt_cut_point,
    plitt_cut_point_later,
    plitt_flow_split,
    plitt_pressure,
    plitt_sharpness,
    pump_duty,
    rope_limit_by_overflow,
    rope_limit_by_size,
    sampled_underflow,
    underflow_share,
    underflow_solids,
)
from pitside.pumps import head_from_pressure
from pitside.units import WATER_FIELD, Q
from tests.published.published_check import Check, Status, as_cases, wrong_turns

pytestmark = [pytest.mark.published, pytest.mark.filterwarnings("ignore::pitside.errors.ValidityWarning")]

HANDBOOK = "drilling fluids processing text"
BOOK = "Lapeyrouse 2002 p. 97, formula"
CODE = "public documentation of mineral-processing functions, Plitt"
EXACT = "the formula as restated; only rounding of floating point remains"
RECALLED = "the formula as recalled; only rounding of floating point remains"
MUD = Q(12.0, "lb/gal")

PRESSURE = [
    Check(
        claim="75 ft of head of 12.0 lb/gal mud, 0.052 * 75 * 12",
        compute=lambda: feed_pressure_field(MUD),
        value=lambda: 0.052 * 75 * 12,
        unit="psi",
        relative=1e-9,
        because="75 ft of head and the rounded 0.052, both as printed",
        source=f"{HANDBOOK}; Lapeyrouse 2002 ch. 1",
        status=Status.SEEN,
        wrong_turns=(
            ("75 psi for 75 ft", lambda: Q(75, "psi")),
            ("head in feet of water", lambda: feed_pressure_field(WATER_FIELD)),
        ),
    ),
    Check(
        claim="75 ft of head of 12.0 lb/gal mud, exact",
        compute=lambda: feed_pressure(MUD),
        value=lambda: 12 * constants.lb / constants.gallon * constants.g * 75 * constants.foot / constants.psi,
        unit="psi",
        relative=1e-9,
        because="definitions of the units",
        source="SciPy constants",
        status=Status.LIBRARY,
        wrong_turns=(("the rounded 0.052", lambda: feed_pressure_field(MUD)),),
    ),
    Check(
        claim="four times the mud weight, 12.0 lb/gal",
        compute=lambda: feed_pressure_rule(MUD),
        value=48.0,
        unit="psi",
        absolute=0.05,
        because="the rule as it is said",
        source="rig floor",
        status=Status.COMMON,
        wrong_turns=(("four times in kg/m3 and kPa", lambda: Q(4 * 12.0, "kPa")),),
    ),
    Check(
        claim="head behind four times the mud weight",
        compute=lambda: head_from_pressure(feed_pressure_rule(MUD), MUD),
        value=75.0,
        unit="ft",
        relative=0.03,
        because="four rounds 3.9 up",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("feet of water", lambda: head_from_pressure(feed_pressure_rule(MUD), WATER_FIELD)),),
    ),
]


def bank_of_four() -> Bank:
    return Bank(4, Q(250, "gal/min"))


MODULES = [
    Check(
        claim="four cyclonic barite-recovery modules of 250 gal/min in parallel",
        compute=lambda: bank_of_four().capacity(),
        value=1000.0,
        unit="gal/min",
        absolute=0.5,
        because="said to the nearest ten",
        source="barite recovery",
        status=Status.COMMON,
        wrong_turns=(("one out of service", lambda: bank_of_four().capacity(shut=1)),),
    ),
    Check(
        claim="power of cyclonic recovery at 1,000 gal/min, 12.0 lb/gal, 75 ft, 65 %",
        compute=lambda: pump_duty(Q(1000, "gal/min"), MUD).shaft_power,
        value=50.0,
        unit="hp",
        relative=0.25,
        because="said as 'about'; mud weight, head with pipes, and efficiency are not said",
        source="barite recovery",
        status=Status.COMMON,
        wrong_turns=(
            ("a recovery centrifuge system of that duty, at least 175 hp", lambda: Q(175, "hp")),
            ("efficiency multiplied", lambda: pump_duty(Q(1000, "gal/min"), MUD).hydraulic_power * 0.65),
        ),
    ),
    Check(
        claim="shaft power, 900 gal/min * 85 ft * 1.44 / (3960 * 0.70)",
        compute=lambda: pump_duty(Q(900, "gal/min"), Q(1.44, "SG"), Q(85, "ft"), 0.70).shaft_power,
        value=lambda: 900 * 85 * 1.44 / (3960 * 0.70),
        unit="hp",
        relative=0.002,
        because="3960 is for water of 998.5 kg/m3",
        source="general pump formula",
        status=Status.SEEN,
        wrong_turns=(
            (
                "efficiency multiplied",
                lambda: pump_duty(Q(900, "gal/min"), Q(1.44, "SG"), Q(85, "ft"), 0.70).hydraulic_power * 0.70,
            ),
            ("SG left out", lambda: pump_duty(Q(900, "gal/min"), Q(1, "SG"), Q(85, "ft"), 0.70).shaft_power),
        ),
    ),
    Check(
        claim="solids of 16 cones of 4 gal/min each, as 510 ft3/h",
        compute=lambda: Bank(16, Q(4, "gal/min")).capacity(),
        value=510.0,
        unit="ft**3/h",
        relative=0.01,
        because="the text rounds 513",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("one cone", lambda: Bank(1, Q(4, "gal/min")).capacity()),),
    ),
    Check(
        claim="solids of a 4 in cone, 4 gal/min as 5.7 bbl/h",
        compute=lambda: Bank(1, Q(4, "gal/min")).capacity(),
        value=5.7,
        unit="bbl/h",
        absolute=0.05,
        because="printed to a tenth",
        source=HANDBOOK,
        status=Status.SEEN,
        wrong_turns=(("a barrel of 31.5 gal", lambda: Q(4 * 60 / 31.5, "bbl/h")),),
    ),
]

SAMPLES = ((16.0, 2.0, 45.0), (12.0, 1.0, 8.0), (14.5, 0.5, 10.0))

UNDERFLOW = [
    check
    for weight, quarts, seconds in SAMPLES
    for check in (
        Check(
            claim=f"solids fraction of a {weight:g} lb/gal underflow",
            compute=lambda w=weight: underflow_solids(Q(w, "lb/gal")),
            value=lambda w=weight: (w - 8.33) / 13.37,
            unit="",
            relative=1e-9,
            because=EXACT,
            source=BOOK,
            status=Status.RESTATED,
            wrong_turns=(
                (
                    "weight fraction",
                    lambda w=weight: underflow_solids(Q(w, "lb/gal")) * (LOW_GRAVITY_FIELD / Q(w, "lb/gal")),
                ),
                ("barite", lambda w=weight: underflow_solids(Q(w, "lb/gal"), solid_density=Q(35, "lb/gal"))),
            ),
        ),
        Check(
            claim=f"solids of a cone, {quarts:g} quarts of {weight:g} lb/gal in {seconds:g} s",
            compute=lambda w=weight, v=quarts, t=seconds: (
                sampled_underflow(Q(w, "lb/gal"), Q(v, "quart"), Q(t, "s")).solids_rate
            ),
            value=lambda w=weight, v=quarts, t=seconds: 19_530 * (w - 8.33) / 13.37 * v / t,
            unit="lb/h",
            relative=1e-9,
            because=EXACT,
            source=BOOK,
            status=Status.RESTATED,
            wrong_turns=(
                (
                    "the slurry's weight for the solids'",
                    lambda w=weight, v=quarts, t=seconds: Q(w, "lb/gal") * Q(v, "quart") / Q(t, "s"),
                ),
            ),
        ),
        Check(
            claim=f"water of a cone, {quarts:g} quarts of {weight:g} lb/gal in {seconds:g} s",
            compute=lambda w=weight, v=quarts, t=seconds: (
                sampled_underflow(Q(w, "lb/gal"), Q(v, "quart"), Q(t, "s")).liquid_rate
            ),
            value=lambda w=weight, v=quarts, t=seconds: 900 * (1 - (w - 8.33) / 13.37) * v / t,
            unit="gal/h",
            relative=1e-9,
            because=EXACT,
            source=BOOK,
            status=Status.RESTATED,
            wrong_turns=(("all of it", lambda v=quarts, t=seconds: Q(v, "quart") / Q(t, "s")),),
        ),
    )
] + [
    Check(
        claim="share of the underflow from densities of 9.2, 12.0 and 9.1 lb/gal",
        compute=lambda: underflow_share(Q(9.2, "lb/gal"), Q(12, "lb/gal"), Q(9.1, "lb/gal")),
        value=lambda: np.linalg.solve([[1, 1], [12.0, 9.1]], [1, 9.2])[0],
        unit="",
        relative=1e-9,
        because="the same balance solved another way; only rounding of floating point remains",
        source="volume and mass balance, solved with numpy",
        status=Status.DERIVED,
        wrong_turns=(("shares of mass", lambda: Q(0.0345 * 12 / 9.2)),),
    ),
]

#: The example that the public documentation of Plitt's functions gives its arguments for: cm, L/min, percent by weight.
LARGE = {"Dc": 50.0, "Di": 5.0, "Do": 10.0, "Du": 8.0, "h": 15.0, "PS": 45.0, "rho": 2.7, "Q": 300.0, "P": 100.0}
#: A 4 in desilter; invented.
SMALL = {"Dc": 10.16, "Di": 2.5, "Do": 3.5, "Du": 1.6, "h": 45.0, "PS": 12.0, "rho": 2.6, "Q": 190.0, "P": 130.0}


def volume_percent(given: dict[str, float]) -> float:
    return 100 * given["PS"] / given["rho"] / (given["PS"] / given["rho"] + 100 - given["PS"])


def slurry_density(given: dict[str, float]) -> float:
    return 100 / (given["PS"] / given["rho"] + 100 - given["PS"])


def restated_cut_point(c: dict[str, float], constant: float = 50.21) -> float:
    top = constant * c["Dc"] ** 0.46 * c["Di"] ** 0.6 * c["Do"] ** 1.21 * math.exp(0.063 * volume_percent(c))
    return top / (c["Du"] ** 0.71 * c["h"] ** 0.38 * c["Q"] ** 0.45 * (c["rho"] - 1) ** 0.5)


def restated_pressure(c: dict[str, float]) -> float:
    top = 1.88 * c["Q"] ** 1.78 * math.exp(0.0055 * volume_percent(c))
    return top / (c["Dc"] ** 0.37 * c["Di"] ** 0.94 * c["h"] ** 0.28 * (c["Du"] ** 2 + c["Do"] ** 2) ** 0.87)


def restated_split(c: dict[str, float]) -> float:
    top = 1.9 * (c["Du"] / c["Do"]) ** 3.31 * c["h"] ** 0.54 * (c["Du"] ** 2 + c["Do"] ** 2) ** 0.36
    head = c["P"] / (9.81 * slurry_density(c))
    return top * math.exp(0.0054 * volume_percent(c)) / (c["Dc"] ** 1.11 * head**0.24)


def restated_sharpness(c: dict[str, float], split: float) -> float:
    return 1.94 * math.exp(-1.58 * split / (split + 1)) * (c["Dc"] ** 2 * c["h"] / c["Q"]) ** 0.15


def of(c: dict[str, float], unit: str = "cm") -> Cone:
    return Cone(*(Q(c[name], unit) for name in ("Dc", "Di", "Do", "Du", "h")))


def feed(c: dict[str, float], **changes) -> dict:
    solids = Q(volume_percent(c), "percent")
    return {"flow": Q(c["Q"], "L/min"), "solids_fraction": solids} | changes


def cut(c: dict[str, float], law=plitt_cut_point, **changes):
    return law(of(c), **feed(c, **changes), solid_density=Q(c["rho"], "g/cm**3"), liquid_density=Q(1, "g/cm**3"))


def split_of(c: dict[str, float]):
    return plitt_flow_split(of(c), Q(c["P"], "kPa"), Q(slurry_density(c), "g/cm**3"), Q(volume_percent(c), "percent"))


PLITT = [
    check
    for size, c in (("50 cm cyclone", LARGE), ("4 in cone", SMALL))
    for check in (
        Check(
            claim=f"Plitt's cut point of 1976, {size}",
            compute=lambda c=c: cut(c),
            value=lambda c=c: restated_cut_point(c),
            unit="um",
            relative=0.006,
            because="restated with 50.21, the constant of the later form; 1976 has 50.5",
            source=CODE,
            status=Status.RESTATED,
            wrong_turns=(
                ("L/s for L/min", lambda c=c: cut(c, flow=Q(c["Q"], "L/s"))),
                ("percent by weight", lambda c=c: cut(c, solids_fraction=Q(c["PS"], "percent"))),
            ),
        ),
        Check(
            claim=f"Plitt's later cut point in water, {size}",
            compute=lambda c=c: cut(c, plitt_cut_point_later),
            value=lambda c=c: restated_cut_point(c),
            unit="um",
            relative=2e-4,
            because="39.7 * 1.6 ** 0.5 is 50.217, restated as 50.21",
            source=CODE,
            status=Status.RESTATED,
            wrong_turns=(("the form of 1976", lambda c=c: cut(c)),),
        ),
        Check(
            claim=f"Plitt's cut point of 1976 with 50.5, {size}",
            compute=lambda c=c: cut(c),
            value=lambda c=c: restated_cut_point(c, 50.5),
            unit="um",
            relative=1e-9,
            because=RECALLED,
            source="Plitt 1976",
            status=Status.MEMORY,
            wrong_turns=(("the later form", lambda c=c: cut(c, plitt_cut_point_later)),),
        ),
        Check(
            claim=f"Plitt's pressure drop, {size}",
            compute=lambda c=c: plitt_pressure(of(c), **feed(c)),
            value=lambda c=c: restated_pressure(c),
            unit="kPa",
            relative=1e-9,
            because=EXACT,
            source=CODE,
            status=Status.RESTATED,
            wrong_turns=(
                ("L/s for L/min", lambda c=c: plitt_pressure(of(c), **feed(c, flow=Q(c["Q"], "L/s")))),
                ("mm for cm", lambda c=c: plitt_pressure(of(c, "mm"), **feed(c))),
            ),
        ),
        Check(
            claim=f"Plitt's flow split, {size}",
            compute=lambda c=c: split_of(c),
            value=lambda c=c: restated_split(c),
            unit="",
            relative=1e-3,
            because="restated with g of 9.81 m/s2",
            source=CODE,
            status=Status.RESTATED,
            wrong_turns=(("share of the feed", lambda c=c: split_of(c) / (1 + split_of(c))),),
        ),
        Check(
            claim=f"Plitt's sharpness, {size}",
            compute=lambda c=c: plitt_sharpness(of(c), Q(c["Q"], "L/min"), 0.12 / 1.12),
            value=lambda c=c: restated_sharpness(c, 0.12),
            unit="",
            relative=1e-9,
            because=EXACT,
            source=CODE,
            status=Status.RESTATED,
            wrong_turns=(
                ("split for share", lambda c=c: plitt_sharpness(of(c), Q(c["Q"], "L/min"), 0.12)),
                ("gal/min for L/min", lambda c=c: plitt_sharpness(of(c), Q(c["Q"], "gal/min"), 0.12 / 1.12)),
            ),
        ),
    )
]

FLOW, SIZE, LIQUID, VISCOSITY = Q(1.0, "L/s"), Q(75, "mm"), Q(1000, "kg/m**3"), Q(1, "mPa*s")
WATER_SPLIT, CROWD, SOLID = 0.10, 0.02, Q(2650, "kg/m**3")
VELOCITY = 4 * 1e-3 / (math.pi * 0.075**2)
REYNOLDS = 1000 * VELOCITY * 0.075 / 1e-3


def performance(family: ConeFamily, crowd: float = CROWD):
    return family_cone(family, FLOW, SIZE, WATER_SPLIT, crowd, SOLID, LIQUID, VISCOSITY)


def cut_by(product: float, euler: float) -> float:
    """Cut point (um) from Stk50 * Eu and Eu."""
    return 1e6 * math.sqrt(18 * 1e-3 * 0.075 * product / euler / (1650 * VELOCITY))


RIETEMA_EULER = 371.5 * REYNOLDS**0.116 * math.exp(-2.12 * CROWD)
BRADLEY_EULER = 258 * REYNOLDS**0.37

FAMILIES = [
    Check(
        claim="Rietema cone of 75 mm, Euler number",
        compute=lambda: family_numbers(ConeFamily.RIETEMA, FLOW, SIZE, CROWD, LIQUID, VISCOSITY)[1],
        value=lambda: RIETEMA_EULER,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="Castilho and Medronho 2000, in public code",
        status=Status.RESTATED,
        wrong_turns=(
            ("Bradley", lambda: family_numbers(ConeFamily.BRADLEY, FLOW, SIZE, CROWD, LIQUID, VISCOSITY)[1]),
            ("no solids", lambda: family_numbers(ConeFamily.RIETEMA, FLOW, SIZE, 0.0, LIQUID, VISCOSITY)[1]),
        ),
    ),
    Check(
        claim="Rietema cone of 75 mm, cut point",
        compute=lambda: performance(ConeFamily.RIETEMA).cut_point,
        value=lambda: cut_by(0.0474 * math.log(10) ** 0.742 * math.exp(8.96 * CROWD), RIETEMA_EULER),
        unit="um",
        relative=1e-9,
        because=EXACT,
        source="Castilho and Medronho 2000, in public code",
        status=Status.RESTATED,
        wrong_turns=(
            ("Bradley", lambda: performance(ConeFamily.BRADLEY).cut_point),
            ("no solids", lambda: performance(ConeFamily.RIETEMA, 0.0).cut_point),
        ),
    ),
    Check(
        claim="Rietema cone, water split for an apex of 0.2 cone diameters",
        compute=lambda: family_water_split(ConeFamily.RIETEMA, 0.2, 1100.0),
        value=lambda: 1218 * 0.2**4.75 * 1100**-0.3,
        unit="",
        relative=1e-9,
        because=EXACT,
        source="Castilho and Medronho 2000, in public code",
        status=Status.RESTATED,
        wrong_turns=(("Bradley", lambda: family_water_split(ConeFamily.BRADLEY, 0.2, 9000.0)),),
    ),
    Check(
        claim="Bradley cone of 75 mm, pressure drop",
        compute=lambda: performance(ConeFamily.BRADLEY).pressure,
        value=lambda: BRADLEY_EULER * 1000 * VELOCITY**2 / 2 / 1000,
        unit="kPa",
        relative=1e-9,
        because=RECALLED,
        source="Castilho and Medronho 2000",
        status=Status.MEMORY,
        wrong_turns=(("no half in Euler's number", lambda: performance(ConeFamily.BRADLEY).pressure * 2),),
    ),
    Check(
        claim="Bradley cone of 75 mm, cut point",
        compute=lambda: performance(ConeFamily.BRADLEY).cut_point,
        value=lambda: cut_by(0.055 * math.log(10) ** 0.66 * math.exp(12 * CROWD), BRADLEY_EULER),
        unit="um",
        relative=1e-9,
        because=RECALLED,
        source="Castilho and Medronho 2000",
        status=Status.MEMORY,
        wrong_turns=(("Rietema", lambda: performance(ConeFamily.RIETEMA).cut_point),),
    ),
    Check(
        claim="Reynolds number of the 75 mm cone",
        compute=lambda: family_numbers(ConeFamily.RIETEMA, FLOW, SIZE, CROWD, LIQUID, VISCOSITY)[0],
        value=lambda: Reynolds(V=VELOCITY, D=0.075, rho=1000.0, mu=1e-3),
        unit="",
        relative=1e-9,
        because="the same definition",
        source="fluids library, Reynolds",
        status=Status.LIBRARY,
    ),
    Check(
        claim="Euler number behind the pressure drop of the Rietema cone",
        compute=lambda: family_numbers(ConeFamily.RIETEMA, FLOW, SIZE, CROWD, LIQUID, VISCOSITY)[1],
        value=lambda: 2 * Euler(performance(ConeFamily.RIETEMA).pressure.m_as("Pa"), 1000.0, VELOCITY),
        unit="",
        relative=1e-9,
        because="the library's number is without the half of the velocity head",
        source="fluids library, Euler",
        status=Status.LIBRARY,
    ),
    *(
        Check(
            claim=f"{family.name.title()} cone in a very dilute feed, cut point",
            compute=lambda family=family: family_cone_dilute(family, FLOW, SIZE, SOLID, LIQUID, VISCOSITY)[0],
            value=lambda product=product, drag=drag, power=power: cut_by(product, drag * REYNOLDS**power),
            unit="um",
            relative=1e-9,
            because=RECALLED,
            source="Svarovsky 1984",
            status=Status.MEMORY,
            wrong_turns=(("the full correlation", lambda family=family: performance(family).cut_point),),
        )
        for family, product, drag, power in (
            (ConeFamily.RIETEMA, 0.0611, 316.0, 0.134),
            (ConeFamily.BRADLEY, 0.1111, 446.5, 0.323),
        )
    ),
]

ROPE = [
    Check(
        claim="most solids in a spray, overflow of 10 %",
        compute=lambda: rope_limit_by_overflow(Q(10, "percent")),
        value=lambda: 100 * (0.5385 * 0.10 + 0.4931),
        unit="percent",
        relative=1e-9,
        because=RECALLED,
        source="SPOC manual 1985 criterion",
        status=Status.MEMORY,
        wrong_turns=(("percent for fraction", lambda: Q(0.5385 * 10 + 0.4931, "percent")),),
    ),
    Check(
        claim="most solids in a spray, underflow d50 of 60 um",
        compute=lambda: rope_limit_by_size(Q(60, "um")),
        value=lambda: 62.3 * (1 - math.exp(-1)),
        unit="percent",
        relative=1e-9,
        because=RECALLED,
        source="Plitt, Flintoff and Stuffco 1987 criterion",
        status=Status.MEMORY,
        wrong_turns=(("mm for um", lambda: rope_limit_by_size(Q(60, "mm"))),),
    ),
]

CHECKS = PRESSURE + MODULES + UNDERFLOW + PLITT + FAMILIES + ROPE


@pytest.mark.parametrize("check", as_cases(CHECKS))
def test_figure_matches(check):
    assert check.found == check.expected


@pytest.mark.parametrize(("check", "wrong"), wrong_turns(CHECKS))
def test_wrong_turn_misses(check, wrong):
    assert check.in_unit(wrong()) != check.expected


def test_of_two_cones_of_a_size_bradleys_cuts_finer_and_rietemas_takes_more():
    """Seen: the abstract of Castilho and Medronho 2000."""
    rietema, bradley = performance(ConeFamily.RIETEMA), performance(ConeFamily.BRADLEY)
    assert bradley.cut_point < rietema.cut_point
    assert bradley.pressure > rietema.pressure


def test_a_desilter_cuts_in_the_handbooks_band():
    """From memory: a 4 in cone at its design head cuts at 15 to 25 um."""
    found = plitt(of(SMALL), Q(190, "L/min"), 0.05, Q(2.6, "SG"), Q(1, "SG"))
    assert 15 < found.cut_point.m_as("um") < 25
    assert found.pressure < feed_pressure(Q(9.0, "lb/gal"), DESIGN_HEAD)


def test_the_usual_discharge_of_desilters_is_a_spray():
    """Seen, drilling fluids processing text: desander and desilter underflows hold about 35 % solids by volume."""
    assert classify_discharge(Q(35, "percent")) is Discharge.SPRAY
