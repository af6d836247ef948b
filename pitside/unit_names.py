"""Read unit text as people type it, and spell units as the trade prints them.

The reader knows a closed list of unit words, joined by ``/`` and ``*`` and raised to at most the third power.
It never evaluates anything, so text from an unknown hand is safe to give it.
"""

from __future__ import annotations

import difflib
import functools
import re
import unicodedata
from collections.abc import Iterable

import pint

from pitside.errors import CalculationError
from pitside.units import ureg

#: Longest unit text that is looked at, in characters.
LONGEST = 40
#: Most unit words in one text ("kg/m3" has two).
MOST_WORDS = 4

#: Each unit word (Pint's name first, then the spellings people use). Spellings are read with their case first,
#: and without it where only one word then fits.
_WORDS: dict[str, tuple[str, ...]] = {
    "foot": ("ft", "foot", "feet", "'"),
    "inch": ("in", "inch", "inches", '"'),
    "meter": ("m", "meter", "meters", "metre", "metres"),
    "centimeter": ("cm",),
    "millimeter": ("mm",),
    "kilometer": ("km",),
    "micrometer": ("um", "μm", "micron", "microns", "micrometre", "micrometer"),
    "barrel": ("bbl", "bbls", "barrel", "barrels"),
    "gallon": ("gal", "gals", "gallon", "gallons"),
    "liter": ("L", "l", "liter", "liters", "litre", "litres", "ltr"),
    "milliliter": ("mL", "ml", "cc"),
    "pound": ("lb", "lbs", "lbm", "pound", "pounds"),
    "ounce": ("oz",),
    "sack": ("sack", "sacks", "sk", "sks", "sx"),
    "kilogram": ("kg", "kgs", "kilogram", "kilograms"),
    "gram": ("g", "gram", "grams"),
    "milligram": ("mg",),
    "metric_ton": ("t", "te", "tonne", "tonnes", "mt"),
    "short_ton": ("short ton", "short tons", "ton US"),
    "second": ("s", "sec", "second", "seconds"),
    "minute": ("min", "minute", "minutes"),
    "hour": ("h", "hr", "hrs", "hour", "hours"),
    "day": ("d", "day", "days"),
    "week": ("week", "weeks"),
    "year": ("year", "years", "yr"),
    "force_pound": ("lbf",),
    "newton": ("N", "newton"),
    "kilonewton": ("kN",),
    "pound_force_per_square_inch": ("psi", "lbf/in2"),
    "pascal": ("Pa", "pascal"),
    "kilopascal": ("kPa",),
    "megapascal": ("MPa",),
    # Its case is all that tells it from the one before: mPa·s is the usual metric name of a centipoise.
    "millipascal": ("mPa",),
    "bar": ("bar", "bars"),
    "centipoise": ("cP", "cp", "cps", "centipoise"),
    "millipascal * second": ("mPa.s", "mPas", "mPa s"),
    "pascal * second": ("Pa.s", "Pas", "Pa s"),
    "specific_gravity": ("SG", "s.g.", "sp.gr.", "specific gravity"),
    "percent": ("%", "percent", "vol%", "%vol", "wt%", "pct", "% v/v", "vol %", "volume %"),
    "part_per_million": ("ppm",),
    "horsepower": ("hp", "horsepower"),
    "watt": ("W",),
    "kilowatt": ("kW",),
    "megawatt": ("MW",),
    "kilowatt_hour": ("kWh",),
    "joule": ("J",),
    "kilojoule": ("kJ",),
    "megajoule": ("MJ",),
    "revolutions_per_minute": ("rpm", "rev/min"),
    # Pint takes a hertz for a radian a second; on a rig 25 Hz turn at 1500 rpm.
    "revolution / second": ("Hz", "hertz", "rev/s"),
    "degree": ("deg", "°"),
    "pound / gallon": ("ppg",),
    "pound / barrel": ("ppb",),
    "pound / foot ** 3": ("pcf",),
    "gallon / minute": ("gpm",),
    "barrel / minute": ("bpm",),
    "yield_stress_unit": ("lbf/100ft2", "lb/100ft2", "lbf/100 ft2", "lb/100 ft2"),
    "money": ("money", "currency", "units of currency"),
    "dimensionless": ("", "-", "none", "no unit", "fraction", "ratio"),
}

#: Spellings that count a power already.
_POWERS = {"cuft": "ft3", "cu ft": "ft3", "cf": "ft3", "sq ft": "ft2", "cu m": "m3", "cum": "m3"}

#: What the pages offer to pick from, by dimension: the trade's usual units, field and metric.
_USUAL: tuple[tuple[str, ...], ...] = (
    ("lb/gal", "kg/m3", "SG", "g/cm3", "lb/ft3", "lb/bbl"),
    ("bbl", "m3", "gal", "L", "ft3"),
    ("lb", "kg", "t", "sack"),
    ("psi", "kPa", "MPa", "bar"),
    ("psi/ft", "kPa/m"),
    ("ft", "m", "in", "mm", "um"),
    ("ft2", "m2", "in2"),
    ("bbl/ft", "m3/m", "gal/ft", "L/m", "ft3/ft"),
    ("gal/min", "bbl/min", "bbl/h", "L/min", "m3/h"),
    ("ft/min", "ft/s", "m/s", "mm/s", "m/min", "m/h", "ft/h"),
    ("lb/min", "lb/h", "kg/h", "t/h"),
    ("cP", "mPa.s", "Pa.s"),
    ("lbf/100ft2", "Pa"),
    ("s", "min", "h", "d"),
    ("hp", "kW"),
    ("rpm", "Hz"),
    ("money",),
    ("money/bbl", "money/m3"),
    ("%", "fraction"),
)


class UnknownUnit(CalculationError):
    """The text is no unit that we know; the message says what may have been meant."""


def _tables() -> tuple[dict[str, str], dict[str, str]]:
    exact = {spelling: name for name, spellings in _WORDS.items() for spelling in spellings}
    exact |= {name: name for name in _WORDS if name.isidentifier()}
    folded: dict[str, str] = {}
    clashes = set()
    for spelling, name in exact.items():
        key = spelling.casefold()
        if folded.setdefault(key, name) != name:
            clashes.add(key)
    return exact, {key: name for key, name in folded.items() if key not in clashes}


_EXACT, _FOLDED = _tables()
_WORD = re.compile(r"^(?P<word>.*?[^\d^*])(?:\^|\*\*)?(?P<power>[23])?$")


@functools.lru_cache(maxsize=2048)
def read_unit(text: str) -> pint.Unit:
    """The unit that a person's text names, such as ``lb/gal``, ``kg/m³``, ``ppg``, ``SG`` or ``lb/100 ft2``.

    Parameters: text, at most :data:`LONGEST` characters.
    Returns: a unit of this package's registry.
    Raises: :class:`UnknownUnit` with a suggestion where one is near.

    >>> read_unit("KG/M3") == read_unit("kg/m³")
    True
    >>> try:
    ...     read_unit("lb/bbbl")
    ... except UnknownUnit as error:
    ...     print(error)
    "lb/bbbl" is no unit we know. Did you mean lb/bbl?
    """
    if len(text) > LONGEST:
        raise UnknownUnit(f'"{text[:20]}..." is no unit we know: it is longer than {LONGEST} characters')
    plain = " ".join(unicodedata.normalize("NFKC", text).replace("·", "*").replace("⁄", "/").split())
    whole = _word(plain)
    if whole is not None:
        return whole
    # Pint prints "kilogram / meter ** 3", with spaces about the power.
    powers = re.sub(r"\s*(?:\*\*|\^)\s*", "^", plain)
    pieces = re.split(r"\s*([/*])\s*", re.sub(r"\s+per\s+", "/", powers))
    words, joints = pieces[0::2], ["*", *pieces[1::2]]
    if len(words) > MOST_WORDS:
        raise UnknownUnit(f'"{plain}" is no unit we know: it joins more than {MOST_WORDS} units')
    unit = ureg.dimensionless
    for joint, piece in zip(joints, words, strict=True):
        word = _word(piece) if piece else None
        if word is None:
            raise UnknownUnit(f'"{plain}" is no unit we know.{_suggestion(plain, piece)}')
        unit = unit / word if joint == "/" else unit * word
    return unit


def _word(text: str) -> pint.Unit | None:
    text = _POWERS.get(text.casefold(), text)
    for candidate, power in _splits(text):
        name = _EXACT.get(candidate) or _FOLDED.get(candidate.casefold())
        if name is not None:
            return ureg.Unit(f"({name}) ** {power}")
    return None


def _splits(text: str) -> list[tuple[str, int]]:
    found = _WORD.match(text)
    splits = [(text, 1)]
    if found and found["power"]:
        splits.append((found["word"].strip(), int(found["power"])))
    return splits


def _suggestion(whole: str, piece: str) -> str:
    near = piece and difflib.get_close_matches(piece.casefold(), list(_FOLDED), n=1, cutoff=0.6)
    return f" Did you mean {whole.replace(piece, near[0], 1)}?" if near else " Examples: lb/gal, kg/m3, bbl, m3, psi."


def spellings() -> dict[str, tuple[str, ...]]:
    """Every unit word that :func:`read_unit` knows: the spellings taken for it, the usual one first, by Pint's name.

    Spellings that count a power already ("cu ft") stand under the unit that they spell, written as a power ("ft3").
    Words may be joined by ``/`` and ``*`` and raised to the second or third power; those are not listed.

    >>> spellings()["pound / gallon"], spellings()["ft3"]
    (('ppg',), ('cuft', 'cu ft', 'cf'))
    """
    powers: dict[str, tuple[str, ...]] = {}
    for spelling, power in _POWERS.items():
        powers[power] = (*powers.get(power, ()), spelling)
    return _WORDS | powers


@functools.lru_cache(maxsize=1024)
def spelled(unit: str) -> str:
    """The unit as pages print it: ``kg/m3`` becomes ``kg/m³``, sacks stand in the plural, a fraction prints no unit.

    >>> spelled("kg/m3"), spelled("um"), spelled("lbf/100ft2"), spelled("sack/min"), spelled("money/sack")
    ('kg/m³', 'µm', 'lbf/100 ft²', 'sacks/min', 'money/sack')
    """
    text = re.sub(r"(?<=[a-z])([23])(?!\d)", lambda m: "²³"[int(m[1]) - 2], unit)
    text = re.sub(r"\bum\b", "µm", text)
    text = re.sub(r"(?<!/)\bsack\b", "sacks", text)
    return text.replace("/100ft", "/100 ft").replace("fraction", "")


@functools.lru_cache(maxsize=1024)
def spelled_as_read(text: str) -> str:
    """A unit that a person typed or picked, as pages print it: words of the trade stay (ppg), and so does what is none.

    A bare number has none, as in :func:`spelled`.

    >>> spelled_as_read("KG / m^3"), spelled_as_read("kilogram / meter ** 3"), spelled_as_read("ppg")
    ('kg/m³', 'kg/m³', 'ppg')
    >>> spelled_as_read("lb/bbbl"), spelled_as_read("m3"), spelled_as_read("fraction")
    ('lb/bbbl', 'm³', '')
    """
    try:
        unit = read_unit(text)
    except UnknownUnit:
        return text
    if unit == ureg.dimensionless:
        return ""
    is_word = not re.search(r"[/*^²³23]|\bper\b", text)
    usual = text if is_word else next((one for row in _USUAL for one in row if read_unit(one) == unit), text)
    return spelled(usual)


def usual_units(unit: str) -> tuple[str, ...]:
    """The trade's usual units of the same dimension as ``unit``, itself first if it is not among them."""
    dimension = read_unit(unit).dimensionality
    listed = next((row for row in _USUAL if read_unit(row[0]).dimensionality == dimension), ())
    return listed if unit in listed else (unit, *listed)


@functools.lru_cache(maxsize=1024)
def kind_of(unit: str | pint.Unit) -> str:
    """What a unit measures, in a word for messages: "a density", "a pressure"; its dimensions if it has no word.

    >>> kind_of("lb/gal"), kind_of("psi")
    ('a density or concentration', 'a pressure')
    """
    known = {
        "lb/gal": "a density or concentration",
        "bbl": "a volume",
        "lb": "a mass",
        "psi": "a pressure",
        "psi/ft": "a pressure gradient",
        "ft": "a length",
        "ft2": "an area (or a volume per length)",
        "gal/min": "a flow rate",
        "ft/min": "a velocity",
        "lb/min": "a mass rate",
        "cP": "a viscosity",
        "s": "a time",
        "hp": "a power",
        "Hz": "a speed of rotation or frequency",
        "lbf": "a force",
        "kWh": "an energy",
        "mm2/s": "a kinematic viscosity",
        "money": "a cost",
        "money/bbl": "a cost for a volume",
        "%": "a number without a unit, or a percentage",
    }
    parsed = read_unit(unit) if isinstance(unit, str) else unit
    for name, words in known.items():
        if read_unit(name).dimensionality == parsed.dimensionality:
            return words
    return f"a quantity of {parsed.dimensionality}"


def usual_kinds() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The trade's usual units to pick from, by what they measure: ("a pressure", ("psi", "kPa", ...)).

    >>> dict(usual_kinds())["a viscosity"]
    ('cP', 'mPa.s', 'Pa.s')
    """
    rows: dict[str, tuple[str, ...]] = {}
    for row in _USUAL:
        kind = kind_of(row[0])
        rows[kind] = rows.get(kind, ()) + row
    return tuple(rows.items())


def spellings_of(units: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Other spellings of units, and of the words that they are made of, by the spelling that is offered.

    Small letters are among them where :func:`read_unit` reads them so.
    """
    offered: dict[pint.Unit, str] = {}
    for unit in units:
        offered.setdefault(read_unit(unit), unit)
    whole = tuple(offered.items())
    for unit in units:
        for word in unit.split("/"):
            word = word.rstrip("23")
            if word and _reads(word):
                offered.setdefault(read_unit(word), word)
    found: dict[str, dict[str, None]] = {text: {text: None} for text in offered.values()}
    for name, known in spellings().items():
        first = next(filter(None, known))
        if read_unit(first) in offered:
            found[offered[read_unit(first)]] |= dict.fromkeys((name, *known) if "/" not in name else known)
    for parsed, text in whole:
        if "." in text and _reads(text.replace(".", "*"), parsed):
            found[text][text.replace(".", "*")] = None
    for text, each in found.items():
        if "/" not in text:
            small = dict.fromkeys(spelling.lower() for spelling in each)
            each |= {spelling: None for spelling in small if _reads(spelling, read_unit(text))}
    others = {text: tuple(other for other in each if other not in ("", text)) for text, each in found.items()}
    return {text: each for text, each in others.items() if each}


def _reads(text: str, unit: pint.Unit | None = None) -> bool:
    """Whether the text is a unit, and this one if one is named."""
    try:
        return read_unit(text) == unit or unit is None
    except UnknownUnit:
        return False


def everyday_kinds() -> tuple[str, ...]:
    """The kinds of quantity whose units a page offers beside the fitting ones, so that picking a unit takes thought.

    >>> everyday_kinds()[:2]
    ('a density or concentration', 'a volume')
    """
    return tuple(kind_of(unit) for unit in ("lb/gal", "bbl", "lb", "psi", "ft", "gal/min"))
