"""Hydrocyclones: feed pressure, number of cones, cut point, discharge and balance of the underflow.

``feed_pressure``, ``feed_pressure_field``, ``feed_pressure_rule``, ``flow_at_head``: cones are fed at a constant head
of the mud itself (:func:`pitside.pumps.head_from_pressure` finds it from the gauge). ``number_of_cones``, ``Bank``: how
many in parallel. ``pump_duty``: what feeds them. ``Cone`` with ``plitt_cut_point``, ``plitt_cut_point_later``,
``plitt_pressure``, ``plitt_flow``, ``plitt_flow_split``, ``plitt_sharpness``, ``plitt``: a cone of any shape.
``ConeFamily`` with ``family_cone``: cones of Rietema's and Bradley's proportions, by dimensionless numbers.
``rope_limit_by_overflow``, ``rope_limit_by_size``, ``classify_discharge``: spray or rope. ``underflow_solids``,
``underflow_share``, ``sampled_underflow``: balances.

The correlations rest on clean water and narrow ranges of cones. On a mud they show which way a change goes and roughly
how far; no published example of a drilling cone was found to check them against. The rated flow at the rated head, and
samples of feed, underflow and overflow, decide.
"""

from __future__ import annotations

import enum
import math
import warnings
from dataclasses import dataclass

import numpy as np
import pint

from pitside.errors import ValidityWarning
from pitside.hydrostatics import FACTOR_LB_PER_GAL, column_pressure, column_pressure_field
from pitside.partition import PartitionCurve, require_sinks
from pitside.pumps import head_from_pressure, hydraulic_power, shaft_power
from pitside.units import (
    WATER_FIELD,
    Q,
    number,
    quantities,
    quantity_fields,
    require,
    require_above_zero,
    require_less_than_all,
    require_not_negative,
)

#: Head of the mud itself that most cones are designed for: [ASME2005], seen.
DESIGN_HEAD = Q(75.0, "ft")
#: "Four times the mud weight", psi for each lb/gal at the design head: common practice, no source. By 0.052 it is 3.9.
FOUR_TIMES = Q(4.0, "psi/(lb/gal)")
#: Drilled solids as the cone formula of [Lapeyrouse2002] p. 97 has them, SG 2.60: 8.33 + 13.37 lb/gal; seen restated.
LOW_GRAVITY_FIELD = Q(21.7, "lb/gal")

#: Constant of Plitt's cut point, from memory; one public restatement prints 50.21, see :data:`PLITT_LATER`.
PLITT_1976 = 50.5
#: Constant of the later form of Plitt's cut point, from memory; times 1.6 ** 0.5 it is 50.2.
PLITT_LATER = 39.7
#: Density difference (g/cm3) that the later form divides by: quartz in water, from memory.
PLITT_LATER_DIFFERENCE = 1.6
#: Viscosity that the later form divides by: water at 20 degC, from memory.
PLITT_LATER_VISCOSITY = Q(1.0, "cP")
#: Feed solids by volume above which no correlation here was shown to hold: our choice.
MOST_SOLIDS = 0.30

#: Most solids by volume in a spray, where neither size nor overflow is known: from memory, mineral practice says 50 to
#: 53 %; desilters are said to discharge about 35 % ([ASME2005], seen).
ROPE_LIMIT = 0.50
#: How near to the limit of spray a cone counts as on the verge: our choice.
ROPE_MARGIN = 0.05


def _require_solids(solids_fraction: pint.Quantity | float) -> None:
    require_less_than_all(solids_fraction=solids_fraction)
    if np.any(np.asarray(number(solids_fraction)) > MOST_SOLIDS):
        warnings.warn(
            f"above {MOST_SOLIDS:.0%} solids in the feed no correlation for cones was shown to hold",
            ValidityWarning,
            stacklevel=4,
        )


def _plain(value: pint.Quantity | float) -> float:
    return float(number(value))


@quantities(returns="[pressure]", mud_weight="[density]", head="[length]")
def feed_pressure(mud_weight: pint.Quantity, head: pint.Quantity = DESIGN_HEAD) -> pint.Quantity:
    """Manifold pressure that makes a head of the mud itself.

    pressure = mud_weight * g * head

    Parameters
    ----------
    mud_weight : density of the mud that is pumped (lb/gal, kg/m3 or SG); scalar or array.
    head : of that mud, not of water (ft or m); :data:`DESIGN_HEAD` by default; scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mud weight that is not above zero; a negative head.

    Valid range: the gauge at the height of the manifold.
    Source: the definition; 75 ft of head is [ASME2005].

    >>> print(f"{feed_pressure(Q(12.0, 'lb/gal')).to('psi'):.1f~P}")
    46.8 psi
    """
    require_not_negative(head=head)
    return column_pressure(mud_weight, head)


@quantities(returns="[pressure]", mud_weight="[density]", head="[length]")
def feed_pressure_field(mud_weight: pint.Quantity, head: pint.Quantity = DESIGN_HEAD) -> pint.Quantity:
    """Manifold pressure with the handbook's rounded factor: psi = 0.052 * 75 * lb/gal = 3.9 * lb/gal.

    Parameters
    ----------
    mud_weight, head : as :func:`feed_pressure`.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : as :func:`feed_pressure`.

    Valid range: as :func:`feed_pressure`; 0.10 % above the exact value.
    Source: 0.052 is [Lapeyrouse2002] ch. 1; 75 ft is [ASME2005].

    >>> print(f"{feed_pressure_field(Q(12.0, 'lb/gal')).to('psi'):.1f~P}")
    46.8 psi
    """
    require_not_negative(head=head)
    return column_pressure_field(mud_weight, head, FACTOR_LB_PER_GAL)


@quantities(returns="[pressure]", mud_weight="[density]")
def feed_pressure_rule(mud_weight: pint.Quantity) -> pint.Quantity:
    """Manifold pressure by the rule of the rig: four times the mud weight, psi for lb/gal.

    Parameters
    ----------
    mud_weight : density of the mud that is pumped (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Pressure, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a mud weight that is not above zero.

    Valid range: cones designed for 75 ft; 2.7 % above the exact value.
    Source: common practice, no source.

    >>> print(f"{feed_pressure_rule(Q(12.0, 'lb/gal')).to('psi'):.1f~P}")
    48.0 psi
    """
    require_above_zero(mud_weight=mud_weight)
    return FOUR_TIMES * mud_weight


@quantities(returns="[volumetric_flow_rate]", flow="[volumetric_flow_rate]", head="[length]", rated_head="[length]")
def flow_at_head(flow: pint.Quantity, head: pint.Quantity, rated_head: pint.Quantity = DESIGN_HEAD) -> pint.Quantity:
    """Flow of a cone at another head than it is rated at: it passes mud as a nozzle does.

    flow * sqrt(head / rated_head)

    Parameters
    ----------
    flow : at the rated head (gal/min or m3/h); scalar or array.
    head : of the mud itself (ft or m); scalar or array.
    rated_head : :data:`DESIGN_HEAD` by default; scalar or array.

    Returns
    -------
    Flow, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow or head; a rated head that is not above zero.

    Valid range: heads near the rated one; Plitt's exponent is 1 / 1.78 rather than 1 / 2 (see :func:`plitt_flow`).
    Source: common practice, no source; the same head gives the same flow at any mud weight ([ASME2005]).

    >>> print(f"{flow_at_head(Q(50, 'gal/min'), Q(60, 'ft')).to('gal/min'):.1f~P}")
    44.7 gal/min
    """
    require((flow.magnitude >= 0) & (head.magnitude >= 0), "flow and head must not be negative")
    require_above_zero(rated_head=rated_head)
    return flow * (head / rated_head) ** 0.5


@quantities(returns="[]", flow="[volumetric_flow_rate]", cone_flow="[volumetric_flow_rate]", excess="[]")
def number_of_cones(
    flow: pint.Quantity, cone_flow: pint.Quantity, excess: pint.Quantity | float = 0.0
) -> pint.Quantity:
    """Cones in parallel that take a flow and an excess over it, rounded up to whole cones.

    cones = flow * (1 + excess) / cone_flow, rounded up

    Parameters
    ----------
    flow : circulation rate (gal/min or m3/h); scalar or array.
    cone_flow : rated flow of one cone at the head it gets (gal/min or m3/h); scalar or array.
    excess : how much more than the circulation is to be processed (fraction or percent), so that mud runs back from the
        clean tank to the suction side and none slips past; none by default; scalar or array.

    Returns
    -------
    Number of cones, whole.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow or excess; a cone flow that is not above zero.

    Valid range: any.
    Source: common practice, no source; 40 to 100 gal/min a 4 in cone is [ASME2005].

    >>> print(f"{number_of_cones(Q(900, 'gal/min'), Q(50, 'gal/min'), Q(25, 'percent')).magnitude:.0f}")
    23
    """
    require_not_negative(flow=flow)
    require(np.asarray(number(excess)) >= 0, "excess must not be negative")
    require_above_zero(cone_flow=cone_flow)
    return Q(_whole_up((flow * (1 + excess) / cone_flow).magnitude))


def _whole_up(count: np.ndarray | float) -> np.ndarray:
    """Rounded up, but not for the last digits of a quotient that is whole."""
    return np.ceil(np.round(count, 9))


@quantity_fields(head="[length]", pressure="[pressure]", hydraulic_power="[power]", shaft_power="[power]")
@dataclass(frozen=True)
class PumpDuty:
    """What the pump that feeds the cones must do; head is of the mud itself."""

    head: pint.Quantity
    pressure: pint.Quantity
    hydraulic_power: pint.Quantity
    shaft_power: pint.Quantity


@quantities(flow="[volumetric_flow_rate]", mud_weight="[density]", head="[length]", efficiency="[]")
def pump_duty(
    flow: pint.Quantity,
    mud_weight: pint.Quantity,
    head: pint.Quantity = DESIGN_HEAD,
    efficiency: pint.Quantity | float = 0.65,
) -> PumpDuty:
    """Pressure and power of the pump that feeds cones.

    hydraulic power = mud_weight * g * head * flow; shaft power = hydraulic power / efficiency

    Parameters
    ----------
    flow : through all cones (gal/min or m3/h); scalar or array.
    mud_weight : density of the mud that is pumped (lb/gal, kg/m3 or SG); scalar or array.
    head : that the pump makes, of the mud itself: at the cones, and what pipe and lift take (ft or m); scalar or array.
    efficiency : of the pump (fraction or percent); 65 % by default, our choice; scalar or array.

    Returns
    -------
    A :class:`PumpDuty`; power in W.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a negative flow or head; an efficiency outside 0 to 100 %.

    Valid range: any; the power grows with the mud weight, the head does not.
    Source: :func:`feed_pressure`, :func:`pitside.pumps.hydraulic_power`, :func:`pitside.pumps.shaft_power`.

    >>> duty = pump_duty(Q(900, "gal/min"), Q(1.44, "SG"), head=Q(85, "ft"), efficiency=0.70)
    >>> print(f"{duty.shaft_power.to('hp'):.1f~P} = {duty.shaft_power.to('kW'):.1f~P}")
    39.8 hp = 29.7 kW
    """
    pressure = feed_pressure(mud_weight, head)
    return PumpDuty(head, pressure, hydraulic_power(pressure, flow), shaft_power(flow, head, mud_weight, efficiency))


@quantity_fields(module_flow="[volumetric_flow_rate]", least_load=_plain)
@dataclass(frozen=True)
class Bank:
    """Cones or modules in parallel, each of which can be shut.

    ``modules``: how many there are. ``module_flow``: rated flow of each (gal/min or m3/h). ``least_load``: the smallest
    share of the rated flow at which one still separates as it should; 80 % by default, our choice: at 80 % of the flow
    a cone has 64 % of its head.

    Raises :class:`CalculationError` where a field is out of range.

    >>> bank = Bank(4, Q(250, "gal/min"))
    >>> print(f"{bank.capacity().to('gal/min'):.0f~P}, with one shut {bank.capacity(shut=1).to('gal/min'):.0f~P}")
    1000 gal/min, with one shut 750 gal/min
    >>> bank.to_run(Q(620, "gal/min")), f"{bank.load(Q(620, 'gal/min')):.1%}"
    (3, '82.7%')
    """

    modules: int
    module_flow: pint.Quantity
    least_load: float = 0.80

    def __post_init__(self) -> None:
        whole = isinstance(self.modules, int) and self.modules >= 1
        require(whole, "a bank has a whole number of modules")
        require(self.module_flow.magnitude > 0, "rated flow of a module must be above zero")
        require(0 < self.least_load <= 1, "least load must be above zero and at most 100 %")

    @classmethod
    def for_flow(
        cls, flow: pint.Quantity, module_flow: pint.Quantity, spare: int = 0, least_load: float = 0.80
    ) -> Bank:
        """The smallest bank that takes a flow with ``spare`` modules shut."""
        require(spare >= 0, "number of spare modules must not be negative")
        needed = int(number_of_cones(flow, module_flow).magnitude)
        return cls(max(needed, 1) + spare, module_flow, least_load)

    def capacity(self, shut: int = 0) -> pint.Quantity:
        """Flow (m3/s) that the bank takes with some modules shut. Raises CalculationError for more than there are."""
        require(0 <= shut <= self.modules, f"a bank of {self.modules} modules cannot have {shut} of them shut")
        return self.module_flow * (self.modules - shut)

    @property
    def turndown(self) -> float:
        """Largest flow over the smallest: all modules full, against one at its least load."""
        return self.modules / self.least_load

    def to_run(self, flow: pint.Quantity, shut: int = 0) -> int:
        """Fewest modules that take the flow, each at its least load or more, with ``shut`` of them out of service.

        Raises CalculationError where the flow is too large for what is left, or too small to load what it needs.
        """
        capacity = self.capacity(shut)
        running = int(number_of_cones(flow, self.module_flow).magnitude)
        require(
            running <= self.modules - shut,
            f"{_in_gallons(flow)} is more than {self.modules - shut} modules take: at most {_in_gallons(capacity)}",
        )
        require(running >= 1, "a bank without flow runs no module")
        least = self.module_flow * running * self.least_load
        require(
            flow.m_as("m**3/s") >= least.magnitude * (1 - 1e-9),
            f"{_in_gallons(flow)} is too little for {running} of these modules and too much for fewer: at least "
            f"{_in_gallons(least)}; send some mud round again",
        )
        return running

    def load(self, flow: pint.Quantity, shut: int = 0) -> float:
        """Share of its rated flow that each running module gets. Raises CalculationError as :meth:`to_run`."""
        return float((flow / (self.to_run(flow, shut) * self.module_flow)).m_as(""))


def _in_gallons(flow: pint.Quantity) -> str:
    return f"{flow.m_as('gal/min'):,.0f} gal/min ({flow.m_as('m**3/h'):,.0f} m3/h)"


@quantity_fields(
    diameter="[length]",
    inlet="[length]",
    overflow="[length]",
    underflow="[length]",
    free_vortex_height="[length]",
)
@dataclass(frozen=True)
class Cone:
    """Dimensions of a cone, kept in m.

    ``diameter``: inside, of the cylinder. ``inlet``: of a round hole of the inlet's area. ``overflow``: inside of the
    vortex finder. ``underflow``: of the apex. ``free_vortex_height``: from the lip of the vortex finder to the apex.

    Raises :class:`CalculationError` where a length is not above zero, or an opening as wide as the cone.
    """

    diameter: pint.Quantity
    inlet: pint.Quantity
    overflow: pint.Quantity
    underflow: pint.Quantity
    free_vortex_height: pint.Quantity

    def __post_init__(self) -> None:
        openings = {"inlet": self.inlet, "overflow": self.overflow, "underflow": self.underflow}
        require_above_zero(diameter=self.diameter, free_vortex_height=self.free_vortex_height)
        require_above_zero(**{f"{name}_diameter": opening for name, opening in openings.items()})
        for name, opening in openings.items():
            require(opening.magnitude < self.diameter.magnitude, f"the {name} must be smaller than the cone")

    def _centimetres(self) -> tuple[np.ndarray | float, ...]:
        lengths = (self.diameter, self.inlet, self.overflow, self.underflow, self.free_vortex_height)
        return tuple(length.m_as("cm") for length in lengths)


@quantities(
    returns="[length]",
    flow="[volumetric_flow_rate]",
    solids_fraction="[]",
    solid_density="[density]",
    liquid_density="[density]",
)
def plitt_cut_point(
    cone: Cone,
    flow: pint.Quantity,
    solids_fraction: pint.Quantity | float,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
) -> pint.Quantity:
    """Corrected cut point of a cone by Plitt, 1976.

    d50c = 50.5 * Dc ** 0.46 * Di ** 0.6 * Do ** 1.21 * exp(0.063 * phi)
           / (Du ** 0.71 * h ** 0.38 * Q ** 0.45 * (rho_s - rho_l) ** 0.5),
    with um, cm, L/min, g/cm3 and phi the feed solids in percent by volume

    Parameters
    ----------
    cone : dimensions.
    flow : feed of one cone (gal/min or L/min); scalar or array.
    solids_fraction : volume fraction of all solids in the feed (percent or fraction); scalar or array.
    solid_density : of the solid that the cut point is for (SG or kg/m3); scalar or array.
    liquid_density : of the liquid between the grains (SG or kg/m3); scalar or array.

    Returns
    -------
    Corrected cut point, m.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a flow not above zero; solids outside 0 to 100 %; a solid that is
        not denser than the liquid.

    Valid range: slurries of minerals in water, solids up to :data:`MOST_SOLIDS` (warns above); viscosity is not in it.
    Source: [Plitt1976], from memory; exponents seen restated in public code, with 50.21 for 50.5.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> print(f"{plitt_cut_point(desilter, Q(190, 'L/min'), 0.05, Q(2.6, 'SG'), Q(1.0, 'SG')).to('um'):.2f~P}")
    19.94 µm
    """
    return _plitt_cut_point(PLITT_1976, cone, flow, solids_fraction, (solid_density - liquid_density).m_as("g/cm**3"))


@quantities(
    returns="[length]",
    flow="[volumetric_flow_rate]",
    solids_fraction="[]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def plitt_cut_point_later(
    cone: Cone,
    flow: pint.Quantity,
    solids_fraction: pint.Quantity | float,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity = PLITT_LATER_VISCOSITY,
) -> pint.Quantity:
    """Corrected cut point of a cone by the later form of Plitt's correlation, which knows the liquid's viscosity.

    as :func:`plitt_cut_point` with 39.7 * viscosity ** 0.5 / ((rho_s - rho_l) / 1.6) ** 0.5, viscosity in cP

    Parameters
    ----------
    cone, flow, solids_fraction, solid_density, liquid_density : as :func:`plitt_cut_point`.
    viscosity : of the liquid (cP or mPa.s); 1 cP by default; scalar or array.

    Returns
    -------
    Corrected cut point, m.

    Raises
    ------
    CalculationError : as :func:`plitt_cut_point`; a viscosity that is not above zero.

    Valid range: as :func:`plitt_cut_point`; thin liquids.
    Source: Flintoff, Plitt and Turak, 1987, from memory; in water 0.6 % below the form of 1976.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> print(f"{plitt_cut_point_later(desilter, Q(190, 'L/min'), 0.05, Q(2.6, 'SG'), Q(1.0, 'SG')).to('um'):.2f~P}")
    19.83 µm
    """
    require_above_zero(viscosity=viscosity)
    difference = (solid_density - liquid_density).m_as("g/cm**3") / PLITT_LATER_DIFFERENCE
    thickness = (viscosity / PLITT_LATER_VISCOSITY).m_as("") ** 0.5
    return _plitt_cut_point(PLITT_LATER, cone, flow, solids_fraction, difference) * thickness


def _plitt_cut_point(
    constant: float,
    cone: Cone,
    flow: pint.Quantity,
    solids_fraction: pint.Quantity | float,
    difference: np.ndarray | float,
) -> pint.Quantity:
    require_above_zero(flow=flow)
    require(difference > 0, "a solid must be denser than the liquid to be separated by settling")
    _require_solids(solids_fraction)
    diameter, inlet, overflow, underflow, height = cone._centimetres()
    shape = diameter**0.46 * inlet**0.6 * overflow**1.21 / (underflow**0.71 * height**0.38)
    crowd = np.exp(0.063 * 100 * number(solids_fraction))
    return Q(constant * shape * crowd / (flow.m_as("L/min") ** 0.45 * difference**0.5), "um")


@quantities(returns="[pressure]", flow="[volumetric_flow_rate]", solids_fraction="[]")
def plitt_pressure(cone: Cone, flow: pint.Quantity, solids_fraction: pint.Quantity | float) -> pint.Quantity:
    """Pressure drop of a cone by Plitt, 1976.

    P = 1.88 * Q ** 1.78 * exp(0.0055 * phi) / (Dc ** 0.37 * Di ** 0.94 * h ** 0.28 * (Du ** 2 + Do ** 2) ** 0.87),
    with kPa, L/min, cm and phi the feed solids in percent by volume

    Parameters
    ----------
    cone : dimensions.
    flow : feed of one cone (gal/min or L/min); scalar or array.
    solids_fraction : volume fraction of all solids in the feed (percent or fraction); scalar or array.

    Returns
    -------
    Pressure drop, Pa.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a flow not above zero; solids outside 0 to 100 %.

    Valid range: as :func:`plitt_cut_point`.
    Source: [Plitt1976], from memory; the same in public code, seen restated.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> print(f"{plitt_pressure(desilter, Q(190, 'L/min'), 0.05).to('kPa'):.1f~P}")
    130.1 kPa
    """
    require_above_zero(flow=flow)
    _require_solids(solids_fraction)
    return Q(flow.m_as("L/min") ** 1.78 * _plitt_resistance(cone, solids_fraction), "kPa")


@quantities(returns="[volumetric_flow_rate]", pressure="[pressure]", solids_fraction="[]")
def plitt_flow(cone: Cone, pressure: pint.Quantity, solids_fraction: pint.Quantity | float) -> pint.Quantity:
    """Flow of a cone at a pressure drop: :func:`plitt_pressure` turned round.

    Parameters
    ----------
    cone : dimensions.
    pressure : pressure drop (psi or kPa); scalar or array.
    solids_fraction : volume fraction of all solids in the feed (percent or fraction); scalar or array.

    Returns
    -------
    Feed of one cone, m3/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a pressure not above zero; solids outside 0 to 100 %.

    Valid range: as :func:`plitt_cut_point`.
    Source: [Plitt1976], from memory.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> print(f"{plitt_flow(desilter, Q(130.1, 'kPa'), 0.05).to('L/min'):.0f~P}")
    190 l/min
    """
    require_above_zero(pressure=pressure)
    _require_solids(solids_fraction)
    return Q((pressure.m_as("kPa") / _plitt_resistance(cone, solids_fraction)) ** (1 / 1.78), "L/min")


def _plitt_resistance(cone: Cone, solids_fraction: pint.Quantity | float) -> np.ndarray | float:
    diameter, inlet, overflow, underflow, height = cone._centimetres()
    shape = diameter**0.37 * inlet**0.94 * height**0.28 * (underflow**2 + overflow**2) ** 0.87
    return 1.88 * np.exp(0.0055 * 100 * number(solids_fraction)) / shape


@quantities(returns="[]", pressure="[pressure]", slurry_density="[density]", solids_fraction="[]")
def plitt_flow_split(
    cone: Cone, pressure: pint.Quantity, slurry_density: pint.Quantity, solids_fraction: pint.Quantity | float
) -> pint.Quantity:
    """Volume of underflow for each volume of overflow, by Plitt, 1976.

    S = 1.9 * (Du / Do) ** 3.31 * h ** 0.54 * (Du ** 2 + Do ** 2) ** 0.36 * exp(0.0054 * phi)
        / (H ** 0.24 * Dc ** 1.11),
    with cm, H the pressure drop in m of the slurry and phi the feed solids in percent by volume

    Parameters
    ----------
    cone : dimensions.
    pressure : pressure drop (psi or kPa); scalar or array.
    slurry_density : of the feed (lb/gal, kg/m3 or SG); scalar or array.
    solids_fraction : volume fraction of all solids in the feed (percent or fraction); scalar or array.

    Returns
    -------
    Split S; the share of the feed in the underflow is S / (1 + S).

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; solids outside 0 to 100 %.

    Valid range: as :func:`plitt_cut_point`; the least certain of Plitt's equations.
    Source: [Plitt1976], from memory; the same in public code, seen restated.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> split = plitt_flow_split(desilter, Q(130.1, "kPa"), Q(1.08, "SG"), 0.05).magnitude
    >>> print(f"{split:.3f}, {split / (1 + split):.3f} of the feed")
    0.126, 0.112 of the feed
    """
    require_above_zero(pressure=pressure, slurry_density=slurry_density)
    _require_solids(solids_fraction)
    diameter, _, overflow, underflow, height = cone._centimetres()
    head = head_from_pressure(pressure, slurry_density).magnitude
    openings = (underflow / overflow) ** 3.31 * (underflow**2 + overflow**2) ** 0.36
    crowd = np.exp(0.0054 * 100 * number(solids_fraction))
    return Q(1.9 * openings * height**0.54 * crowd / (head**0.24 * diameter**1.11))


@quantities(returns="[]", flow="[volumetric_flow_rate]", to_underflow="[]")
def plitt_sharpness(cone: Cone, flow: pint.Quantity, to_underflow: pint.Quantity | float) -> pint.Quantity:
    """Sharpness of a cone's corrected curve by Plitt, 1976, for the law of Rosin and Rammler.

    m = 1.94 * exp(-1.58 * Rv) * (Dc ** 2 * h / Q) ** 0.15, with cm, L/min and Rv = S / (1 + S)

    Parameters
    ----------
    cone : dimensions.
    flow : feed of one cone (gal/min or L/min); scalar or array.
    to_underflow : Rv, share of the feed's volume that goes to the underflow (fraction or percent); scalar or array.

    Returns
    -------
    Sharpness m, a plain number.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a flow not above zero; a share outside 0 to 100 %.

    Valid range: as :func:`plitt_cut_point`.
    Source: [Plitt1976], from memory; the same in public code, seen restated.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> print(f"{plitt_sharpness(desilter, Q(190, 'L/min'), 0.1119).magnitude:.3f}")
    2.626
    """
    require_above_zero(flow=flow)
    share = np.asarray(number(to_underflow))
    require((share >= 0) & (share <= 1), "share to the underflow must lie between 0 and 100 %")
    diameter, _, _, _, height = cone._centimetres()
    return Q((1.94 * np.exp(-1.58 * share) * (diameter**2 * height / flow.m_as("L/min")) ** 0.15)[()])


@quantity_fields(
    cut_point="[length]",
    pressure="[pressure]",
    to_underflow="[]",
    sharpness="[]",
    solid_density="[density]",
    liquid_density="[density]",
)
@dataclass(frozen=True)
class ConePerformance:
    """What a correlation says of one cone.

    ``cut_point``: corrected, of a solid of ``solid_density`` in a liquid of ``liquid_density``. ``to_underflow``: share
    of the feed's volume that goes to the underflow. ``sharpness``: of the law of Rosin and Rammler.
    """

    cut_point: pint.Quantity
    pressure: pint.Quantity
    to_underflow: pint.Quantity
    sharpness: pint.Quantity
    solid_density: pint.Quantity
    liquid_density: pint.Quantity

    def curve(self) -> PartitionCurve:
        """Partition curve of the cone, the bypass taken to be the share of the feed that goes to the underflow."""
        return PartitionCurve(
            self.cut_point, self.solid_density, self.liquid_density, self.sharpness, bypass=self.to_underflow
        )


def plitt(
    cone: Cone,
    flow: pint.Quantity,
    solids_fraction: pint.Quantity | float,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
) -> ConePerformance:
    """Cut point, pressure drop, split and sharpness of a cone by Plitt, 1976, all of one feed.

    Parameters
    ----------
    cone, flow, solids_fraction, solid_density, liquid_density : as :func:`plitt_cut_point`; all solids of one density.

    Returns
    -------
    A :class:`ConePerformance`.

    Raises
    ------
    CalculationError : as :func:`plitt_cut_point`.

    Valid range: as :func:`plitt_cut_point`.
    Source: [Plitt1976], from memory.

    >>> desilter = Cone(Q(10.16, "cm"), Q(2.5, "cm"), Q(3.5, "cm"), Q(1.6, "cm"), Q(45, "cm"))
    >>> found = plitt(desilter, Q(190, "L/min"), 0.05, Q(2.6, "SG"), Q(1.0, "SG"))
    >>> print(f"{found.curve().actual_cut_point(Q(2.6, 'SG')).to('um'):.1f~P}")
    18.6 µm
    """
    cut_point = plitt_cut_point(cone, flow, solids_fraction, solid_density, liquid_density)
    pressure = plitt_pressure(cone, flow, solids_fraction)
    slurry_density = liquid_density + solids_fraction * (solid_density - liquid_density)
    split = plitt_flow_split(cone, pressure, slurry_density, solids_fraction)
    to_underflow = split / (1 + split)
    sharpness = plitt_sharpness(cone, flow, to_underflow)
    return ConePerformance(cut_point, pressure, to_underflow, sharpness, solid_density, liquid_density)


@dataclass(frozen=True)
class FamilyConstants:
    """Constants of the dimensionless correlations of a family of geometrically similar cones.

    Stk50 * Eu = cut * ln(1 / Rw) ** cut_split * exp(cut_crowd * Cv),
    Eu = drag * Re ** drag_power * exp(drag_crowd * Cv),
    Rw = split * (Du / Dc) ** split_opening * Eu ** split_drag. ``dilute_*``: at low solids and a split of its own.
    """

    cut: float
    cut_split: float
    cut_crowd: float
    drag: float
    drag_power: float
    drag_crowd: float
    split: float
    split_opening: float
    split_drag: float
    sharpness: float
    dilute_cut: float
    dilute_drag: float
    dilute_drag_power: float


class ConeFamily(enum.Enum):
    """A family of geometrically similar cones that the dimensionless correlations are for.

    Constants of the main correlations: [Castilho2000], Rietema's seen restated in public code, Bradley's from memory.
    That code puts in concentration by mass; that it is by volume is from memory.
    Sharpness: [Coelho2001], seen restated in public code. Dilute: [Svarovsky1984], from memory.
    """

    RIETEMA = FamilyConstants(0.0474, 0.742, 8.96, 371.5, 0.116, -2.12, 1218.0, 4.75, -0.30, 2.45, 0.0611, 316.0, 0.134)
    BRADLEY = FamilyConstants(0.055, 0.66, 12.0, 258.0, 0.37, 0.0, 1.21e6, 2.63, -1.12, 3.12, 0.1111, 446.5, 0.323)


@quantities(
    returns=("[]", "[]", "[velocity]"),
    flow="[volumetric_flow_rate]",
    diameter="[length]",
    solids_fraction="[]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def family_numbers(
    family: ConeFamily,
    flow: pint.Quantity,
    diameter: pint.Quantity,
    solids_fraction: pint.Quantity | float,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
) -> tuple[pint.Quantity, pint.Quantity, pint.Quantity]:
    """Reynolds and Euler number of a cone, and the velocity they are made with.

    v = 4 * flow / (pi * diameter ** 2); Re = liquid_density * v * diameter / viscosity; Eu by the family's correlation

    Parameters
    ----------
    family : Rietema's or Bradley's proportions.
    flow : feed of one cone (gal/min or L/min); scalar or array.
    diameter : of the cylinder (in or mm); scalar or array.
    solids_fraction : Cv, volume fraction of all solids in the feed (percent or fraction); scalar or array.
    liquid_density, viscosity : of the liquid; scalar or array.

    Returns
    -------
    Re, Eu, and the velocity v in m/s.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; solids outside 0 to 100 %.

    Valid range: as :func:`family_cone`.
    Source: [Castilho2000], Rietema's constants seen restated, Bradley's from memory.

    >>> feed = Q(1.0, "L/s"), Q(75, "mm"), 0.02, Q(1000, "kg/m**3"), Q(1, "mPa*s")
    >>> reynolds, euler, velocity = family_numbers(ConeFamily.RIETEMA, *feed)
    >>> print(f"Re {reynolds.magnitude:,.0f}, Eu {euler.magnitude:.1f}, {velocity:.3f~P}")
    Re 16,977, Eu 1102.1, 0.226 m/s
    """
    require_above_zero(flow=flow, diameter=diameter, liquid_density=liquid_density, viscosity=viscosity)
    _require_solids(solids_fraction)
    of = family.value
    velocity = 4 * flow / (math.pi * diameter**2)
    reynolds = (liquid_density * velocity * diameter / viscosity).m_as("")
    euler = of.drag * reynolds**of.drag_power * np.exp(of.drag_crowd * number(solids_fraction))
    return Q(reynolds), Q(euler), velocity


@quantities(returns="[]", opening="[]", euler="[]")
def family_water_split(
    family: ConeFamily, opening: pint.Quantity | float, euler: pint.Quantity | float
) -> pint.Quantity:
    """Share of the feed's liquid that goes to the underflow of a cone of a family.

    Rw = 1218 * (Du / Dc) ** 4.75 * Eu ** -0.30 (Rietema); 1.21e6 * (Du / Dc) ** 2.63 * Eu ** -1.12 (Bradley)

    Parameters
    ----------
    family : Rietema's or Bradley's proportions.
    opening : underflow over cone diameter, a plain number; scalar or array.
    euler : Euler number (see :func:`family_numbers`); scalar or array.

    Returns
    -------
    Share Rw of the liquid in the underflow.

    Raises
    ------
    CalculationError : a value with a unit or not above zero; an opening so wide that all liquid would go down.

    Valid range: 0 < Rw < 1, small openings.
    Source: [Castilho2000], Rietema's constants seen restated, Bradley's from memory.

    >>> print(f"{family_water_split(ConeFamily.RIETEMA, 0.215, 1102.1).magnitude:.3f}")
    0.100
    """
    require(np.asarray(number(opening)) > 0, "underflow over cone diameter must be above zero")
    require(np.asarray(number(euler)) > 0, "Euler number must be above zero")
    of = family.value
    split = of.split * number(opening) ** of.split_opening * number(euler) ** of.split_drag
    require(split < 1, "by this correlation all liquid would go to the underflow: choose a smaller apex")
    return Q(split)


@quantities(
    flow="[volumetric_flow_rate]",
    diameter="[length]",
    water_split="[]",
    solids_fraction="[]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def family_cone(
    family: ConeFamily,
    flow: pint.Quantity,
    diameter: pint.Quantity,
    water_split: pint.Quantity | float,
    solids_fraction: pint.Quantity | float,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
) -> ConePerformance:
    """Cut point and pressure drop of a cone of Rietema's or Bradley's proportions.

    Stk50 * Eu = 0.0474 * ln(1 / Rw) ** 0.742 * exp(8.96 * Cv) (Rietema); 0.055 * ln(1 / Rw) ** 0.66 * exp(12 * Cv)
    (Bradley), with Stk50 = (rho_s - rho_l) * v * d50c ** 2 / (18 * viscosity * Dc) and
    Eu = pressure / (rho_l * v ** 2 / 2)

    Parameters
    ----------
    family : Rietema's or Bradley's proportions.
    flow : feed of one cone (gal/min or L/min); scalar or array.
    diameter : of the cylinder (in or mm); scalar or array.
    water_split : Rw, share of the liquid that goes to the underflow (see :func:`family_water_split`); scalar or array.
    solids_fraction : Cv, volume fraction of all solids in the feed (percent or fraction); scalar or array.
    solid_density, liquid_density : of the solid that the cut point is for, and of the liquid; scalar or array.
    viscosity : of the liquid (mPa.s or cP); scalar or array.

    Returns
    -------
    A :class:`ConePerformance`; its ``to_underflow`` is the water split.

    Raises
    ------
    CalculationError : a value of the wrong dimension or not above zero; a split outside 0 to 1; a solid that is not
        denser than the liquid.

    Valid range: Newtonian liquids; from memory cones of 22 to 125 mm, Cv up to 10 %; warns above :data:`MOST_SOLIDS`.
    Source: [Castilho2000], Rietema's constants seen restated, Bradley's from memory. Its abstract (seen) says that of
        two cones of one size Bradley's cuts finer and Rietema's takes more.

    >>> feed = Q(1.0, "L/s"), Q(75, "mm"), 0.10, 0.02, Q(2650, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s")
    >>> for family in ConeFamily:
    ...     found = family_cone(family, *feed)
    ...     print(f"{family.name} {found.cut_point.to('um'):.2f~P} at {found.pressure.to('kPa'):.1f~P}")
    RIETEMA 18.58 µm at 28.2 kPa
    BRADLEY 6.80 µm at 242.8 kPa
    """
    of = family.value
    share = np.asarray(number(water_split))
    require((share > 0) & (share < 1), "water split must lie between 0 and 100 %")
    require_sinks(solid_density, liquid_density)
    _, euler, velocity = family_numbers(family, flow, diameter, solids_fraction, liquid_density, viscosity)
    product = of.cut * np.log(1 / share) ** of.cut_split * np.exp(of.cut_crowd * number(solids_fraction))
    drift = (solid_density - liquid_density) * velocity
    return ConePerformance(
        cut_point=(18 * viscosity * diameter * (product / euler) / drift) ** 0.5,
        pressure=euler * liquid_density * velocity**2 / 2,
        to_underflow=Q(share[()]),
        sharpness=Q(of.sharpness),
        solid_density=solid_density,
        liquid_density=liquid_density,
    )


@quantities(
    returns=("[length]", "[pressure]"),
    flow="[volumetric_flow_rate]",
    diameter="[length]",
    solid_density="[density]",
    liquid_density="[density]",
    viscosity="[viscosity]",
)
def family_cone_dilute(
    family: ConeFamily,
    flow: pint.Quantity,
    diameter: pint.Quantity,
    solid_density: pint.Quantity,
    liquid_density: pint.Quantity,
    viscosity: pint.Quantity,
) -> tuple[pint.Quantity, pint.Quantity]:
    """Cut point and pressure drop of a cone of a family in a very dilute feed, by the older two constants.

    Stk50 * Eu = 0.0611 and Eu = 316 * Re ** 0.134 (Rietema); 0.1111 and 446.5 * Re ** 0.323 (Bradley)

    Parameters
    ----------
    family, flow, diameter, solid_density, liquid_density, viscosity : as :func:`family_cone`.

    Returns
    -------
    Corrected cut point (m) and pressure drop (Pa).

    Raises
    ------
    CalculationError : as :func:`family_cone`.

    Valid range: feeds below 1 % solids by volume, small underflows.
    Source: [Svarovsky1984], from memory.

    >>> feed = Q(1.0, "L/s"), Q(75, "mm"), Q(2650, "kg/m**3"), Q(1000, "kg/m**3"), Q(1, "mPa*s")
    >>> cut_point, pressure = family_cone_dilute(ConeFamily.RIETEMA, *feed)
    >>> print(f"{cut_point.to('um'):.1f~P} at {pressure.to('kPa'):.1f~P}")
    13.8 µm at 29.9 kPa
    """
    of = family.value
    reynolds, _, velocity = family_numbers(family, flow, diameter, 0.0, liquid_density, viscosity)
    require_sinks(solid_density, liquid_density)
    euler = of.dilute_drag * reynolds**of.dilute_drag_power
    drift = (solid_density - liquid_density) * velocity
    cut_point = (18 * viscosity * diameter * (of.dilute_cut / euler) / drift) ** 0.5
    return cut_point, euler * liquid_density * velocity**2 / 2


@quantities(returns="[]", overflow_solids="[]")
def rope_limit_by_overflow(overflow_solids: pint.Quantity | float) -> pint.Quantity:
    """Most solids that a spray holds, from the solids in the overflow.

    limit = 0.4931 + 0.5385 * overflow_solids

    Parameters
    ----------
    overflow_solids : volume fraction of solids in the overflow (percent or fraction); scalar or array.

    Returns
    -------
    Volume fraction of solids in the underflow above which a cone ropes.

    Raises
    ------
    CalculationError : a value with a unit; a fraction outside 0 to 100 %.

    Valid range: mineral slurries in water; overflow below about 30 %.
    Source: criterion of the SPOC manual (1985), from memory.

    >>> print(f"{rope_limit_by_overflow(Q(5, 'percent')).to('percent'):.1f~P}")
    52.0 %
    """
    share = np.asarray(number(overflow_solids))
    require((share >= 0) & (share <= 1), "solids of the overflow must lie between 0 and 100 %")
    return Q((0.4931 + 0.5385 * share)[()])


@quantities(returns="[]", median_size="[length]")
def rope_limit_by_size(median_size: pint.Quantity) -> pint.Quantity:
    """Most solids that a spray holds, from the median size of the solids in it: fine grains rope earlier.

    limit = 0.623 * (1 - exp(-median_size / 60 um))

    Parameters
    ----------
    median_size : d50 of the solids in the underflow (um); scalar or array.

    Returns
    -------
    Volume fraction of solids in the underflow above which a cone ropes.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a size that is not above zero.

    Valid range: mineral slurries in water.
    Source: Plitt, Flintoff and Stuffco, 1987, from memory.

    >>> print(f"{rope_limit_by_size(Q(60, 'um')).to('percent'):.1f~P}")
    39.4 %
    """
    require_above_zero(median_size=median_size)
    return 0.623 * (1 - np.exp(-median_size.m_as("um") / 60.0))


class Discharge(enum.Enum):
    """How a cone discharges; the value says what it means."""

    SPRAY = "air core open, umbrella at the apex: the cone classifies"
    VERGE = "near the limit of spray: open the apex or cut the load"
    ROPE = "overloaded, air core closed: coarser cut, solids lost to the overflow, however dense the rope"


@quantities(underflow_solids="[]", limit="[]")
def classify_discharge(
    underflow_solids: pint.Quantity | float, limit: pint.Quantity | float = ROPE_LIMIT
) -> Discharge | np.ndarray:
    """Spray or rope, from the solids concentration of the underflow.

    spray up to 5 points below the limit, rope above the limit, on the verge between

    Parameters
    ----------
    underflow_solids : volume fraction of solids in the underflow (percent or fraction); scalar or array.
    limit : most solids in a spray: 50 % by default, or by :func:`rope_limit_by_overflow` or :func:`rope_limit_by_size`;
        scalar or array.

    Returns
    -------
    A :class:`Discharge`, or an array of them.

    Raises
    ------
    CalculationError : a value with a unit; a fraction outside 0 to 100 %.

    Valid range: a sign to look at the apex, no proof; what the eye sees there decides. A dense underflow is no merit.
    Source: what spray and rope mean: [ASME2005], seen, and from memory; limits as named above.

    >>> [found.name for found in classify_discharge(Q([35, 47, 55], "percent"))]
    ['SPRAY', 'VERGE', 'ROPE']
    """
    solids, most = np.asarray(number(underflow_solids)), np.asarray(number(limit))
    require((solids >= 0) & (solids <= 1), "solids of the underflow must lie between 0 and 100 %")
    require((most > 0) & (most < 1), "limit of spray must lie between 0 and 100 %")
    margin = np.round(most - solids, 9)
    index = (margin < ROPE_MARGIN).astype(int) + (margin < 0).astype(int)
    return np.array(list(Discharge), dtype=object)[index]


@quantities(returns="[]", underflow_density="[density]", liquid_density="[density]", solid_density="[density]")
def underflow_solids(
    underflow_density: pint.Quantity,
    liquid_density: pint.Quantity = WATER_FIELD,
    solid_density: pint.Quantity = LOW_GRAVITY_FIELD,
) -> pint.Quantity:
    """Volume fraction of solids in an underflow of one kind of solids, from its density.

    solids = (underflow_density - liquid_density) / (solid_density - liquid_density)

    Parameters
    ----------
    underflow_density : density of the underflow (lb/gal, kg/m3 or SG); scalar or array.
    liquid_density : of its liquid; 8.33 lb/gal by default, as [Lapeyrouse2002]; scalar or array.
    solid_density : of its solids; 21.7 lb/gal by default, as [Lapeyrouse2002]; scalar or array.

    Returns
    -------
    Volume fraction of solids.

    Raises
    ------
    CalculationError : a value of the wrong dimension; a density outside the valid range.

    Valid range: 0 < liquid_density <= underflow_density <= solid_density; unweighted mud, or one average density.
    Source: volume balance; [Lapeyrouse2002] p. 97, seen restated, as (MW - 8.33) / 13.37.

    >>> print(f"{underflow_solids(Q(16.0, 'lb/gal')).magnitude:.4f}")
    0.5737
    """
    require_above_zero(liquid_density=liquid_density)
    require(solid_density > liquid_density, "the solids must be denser than the liquid")
    require(
        (underflow_density >= liquid_density) & (underflow_density <= solid_density),
        "density of the underflow must lie between that of its liquid and that of its solids",
    )
    return (underflow_density - liquid_density) / (solid_density - liquid_density)


@quantity_fields(solids_fraction="[]", solids_rate="[mass]/[time]", liquid_rate="[volumetric_flow_rate]")
@dataclass(frozen=True)
class Underflow:
    """What one cone discharges: solids by volume, mass rate of solids, volume rate of liquid lost with them."""

    solids_fraction: pint.Quantity
    solids_rate: pint.Quantity
    liquid_rate: pint.Quantity


@quantities(
    underflow_density="[density]",
    volume="[volume]",
    time="[time]",
    liquid_density="[density]",
    solid_density="[density]",
)
def sampled_underflow(
    underflow_density: pint.Quantity,
    volume: pint.Quantity,
    time: pint.Quantity,
    liquid_density: pint.Quantity = WATER_FIELD,
    solid_density: pint.Quantity = LOW_GRAVITY_FIELD,
) -> Underflow:
    """Solids that one cone removes and liquid that it loses, from a timed sample of its underflow.

    solids rate = solids * solid_density * volume / time; liquid rate = (1 - solids) * volume / time

    Parameters
    ----------
    underflow_density : density of the sample (lb/gal, kg/m3 or SG); scalar or array.
    volume : of the sample (quarts or L); scalar or array.
    time : it took to fill (s); scalar or array.
    liquid_density, solid_density : as :func:`underflow_solids`: the defaults are the handbook's, which make its 19,530
        (900 * 21.7) and 900 (gal/h for a quart a second).

    Returns
    -------
    An :class:`Underflow`; rates in kg/s and m3/s.

    Raises
    ------
    CalculationError : as :func:`underflow_solids`; a negative volume; a time that is not above zero.

    Valid range: as :func:`underflow_solids`. Density alone does not say which of two cones removes more.
    Source: [Lapeyrouse2002] p. 97, seen restated: 19,530 * SF * V / T and 900 * (1 - SF) * V / T.

    >>> found = sampled_underflow(Q(16.0, "lb/gal"), Q(2, "quart"), Q(45, "s"))
    >>> print(f"{found.solids_rate.to('lb/h'):.0f~P}, {found.liquid_rate.to('gal/h'):.2f~P}")
    498 lb/h, 17.05 gal/h
    """
    require(volume.magnitude >= 0, "volume of the sample must not be negative")
    require_above_zero(time=time)
    solids = underflow_solids(underflow_density, liquid_density, solid_density)
    return Underflow(solids, solids * solid_density * volume / time, (1 - solids) * volume / time)


@quantities(returns="[]", feed="[density]", underflow="[density]", overflow="[density]")
def underflow_share(feed: pint.Quantity, underflow: pint.Quantity, overflow: pint.Quantity) -> pint.Quantity:
    """Share of the feed's volume that goes to the underflow, from the densities of the three streams.

    share = (feed - overflow) / (underflow - overflow)

    Parameters
    ----------
    feed, underflow, overflow : densities (lb/gal, kg/m3 or SG); scalar or array.

    Returns
    -------
    Share of the volume, 0 to 1.

    Raises
    ------
    CalculationError : a value of the wrong dimension; densities outside the valid range.

    Valid range: overflow <= feed <= underflow, overflow < underflow; a small share rests on a small difference and is
        uncertain.
    Source: mass and volume balance, derived.

    >>> print(f"{underflow_share(Q(9.2, 'lb/gal'), Q(12.0, 'lb/gal'), Q(9.1, 'lb/gal')).magnitude:.4f}")
    0.0345
    """
    require_above_zero(overflow=overflow)
    require(underflow.magnitude > overflow.magnitude, "the underflow must be heavier than the overflow")
    require(
        (feed.magnitude >= overflow.magnitude) & (feed.magnitude <= underflow.magnitude),
        "the feed must weigh no less than the overflow and no more than the underflow",
    )
    return (feed - overflow) / (underflow - overflow)
