"""Solids-control calculations with units: quantities in, quantities out.

Modules, one physical idea each: ``density``, ``hydrostatics``, ``gradients`` (columns of several fluids), ``volumes``,
``materials``, ``weighting``, ``dilution``, ``blending`` (mixtures and plans); ``retort``, ``invert`` (muds with oil
outside), ``bentonite``, ``uncertainty`` (of a retort); ``particles``, ``settling``, ``settling_in_mud``; machines:
``screens``, ``shakers``, ``cuttings`` (what leaves with them, and drying), ``partition`` (curves), ``cyclones``,
``centrifuges``, ``scrolls`` (that carry their cake), ``separation`` (streams and networks), ``tanks``, ``pumps``; the
whole system: ``removal`` (of drilled solids, and dilution), ``circuit`` (the mud over time), ``hydraulics`` (up the
annulus), ``pits`` (their levels), ``gas`` (in the mud), ``dewatering`` (doses), ``noise`` (at work), ``power``,
``cost``. ``units`` holds the registry and ``unit_names`` reads and spells the trade's units. Nothing here reads files,
marks or plots.

Sources, by the key that docstrings use:

[Lapeyrouse2002]
    N. J. Lapeyrouse, Formulas and Calculations for Drilling, Production and Workover, 2nd ed., Gulf, 2002.
[ASME2005]
    Handbook text on drilling fluids processing; that it is the Drilling Fluids Processing Handbook (ASME, 2005) is
    inferred from the text.
[API13A]
    API Spec 13A, weighting materials; not seen, its limits as a test laboratory restates them, or from memory.
[API13B1]
    API RP 13B-1 (ISO 10414-1), field testing of water-based drilling fluids; from memory, clause unsure.
[AADE1999]
    Shale Shakers and Drilling Fluid Systems, Gulf, 1999, ISBN 0-88415-948-5; tables and pages named were seen.
[API13C]
    API RP 13C (ISO 13501), drilling fluids processing systems evaluation; not seen, definitions and some rows of its
    table seen restated, the rest from memory.
[API13D]
    API RP 13D, rheology and hydraulics; not seen, its equations for pipe and annulus seen restated on a public sheet of
    2002, the rest from memory.
[GuoLiu2011]
    B. Guo and G. Liu, Applied Drilling Circulation Systems, Gulf; pages named were seen, the year is from memory.
[Pumping2004]
    The Practical Pumping Handbook; p. 268 seen, its year is from memory.
[Beris1985]
    A. N. Beris, J. A. Tsamopoulos, R. C. Armstrong and R. A. Brown, Creeping motion of a sphere through a Bingham
    plastic, Journal of Fluid Mechanics 158, 1985; abstract seen, journal and year from memory.
[Woo]
    H. Woo, Drag characteristics of spheres in Bingham fluids, proceedings of the American Society of Civil Engineers;
    abstract seen, without its year.
[JCGM100]
    JCGM 100:2008, Guide to the expression of uncertainty in measurement; from memory.
[JCGM101]
    JCGM 101:2008, its supplement on Monte Carlo; from memory.
[EPA1674]
    EPA Method 1674, in EPA-821-R-11-004, December 2011; title seen, the rest from memory.
[CFR435]
    United States 40 CFR part 435, subpart A; definitions seen, its limits of base fluid on cuttings from memory.
[CFR1910.95]
    United States 29 CFR 1910.95, occupational noise exposure; from memory.
[NIOSH1998]
    Criteria for a recommended standard: occupational noise exposure, revised criteria 1998, NIOSH publication 98-126;
    from memory.
[RosinRammler1933]
    P. Rosin and E. Rammler, The laws governing the fineness of powdered coal, Journal of the Institute of Fuel 7
    29-36, 1933; from memory, title seen restated.
[Jeffreys1930]
    H. Jeffreys, The draining of a vertical plate, Proceedings of the Cambridge Philosophical Society 26, 1930;
    abstract seen, formula from memory.
[Benilov2008]
    E. S. Benilov and V. S. Zubkov, On the drag-out problem in liquid film theory, Journal of Fluid Mechanics 617
    283-299, 2008; abstract seen.
[Salim2012]
    R. L. Salim and D. Hampton, Laboratory measurements of capillary rise in fine sands and silts, Soil Science Society
    of America, annual meeting 2012; abstract seen.
[Ferguson2004]
    R. I. Ferguson and M. Church, Journal of Sedimentary Research 74(6) 933-937, 2004; seen restated.
[Schiller1933]
    L. Schiller and A. Naumann, drag of spheres, 1933; from memory.
[Richardson1954]
    J. F. Richardson and W. N. Zaki, sedimentation and fluidisation, 1954; from memory.
[Plitt1976]
    L. R. Plitt, A mathematical model of the hydrocyclone classifier, CIM Bulletin, December 1976; from memory, its
    equations for pressure, split and sharpness also seen restated in public code.
[LynchRao1975]
    A. J. Lynch and T. C. Rao, hydrocyclone classifiers, 11th International Mineral Processing Congress, 1975; from
    memory.
[Castilho2000]
    L. R. Castilho and R. A. Medronho, Minerals Engineering 13(2) 183-191, 2000; abstract seen, Rietema's constants
    seen restated in public code, Bradley's from memory.
[Coelho2001]
    M. A. Z. Coelho and R. A. Medronho, Chemical Engineering Journal 84 7-14, 2001; abstract seen, sharpness seen
    restated in public code.
[Svarovsky1984]
    L. Svarovsky, Hydrocyclones, 1984; from memory.
[Ambler1959]
    C. M. Ambler, Journal of Biochemical and Microbiological Technology and Engineering 1(2) 185-205, 1959; summary
    seen, equations from memory.
"""

from pitside.errors import CalculationError, ValidityWarning
from pitside.units import Q, Quantity, ureg

__all__ = ["CalculationError", "Q", "Quantity", "ValidityWarning", "ureg"]
