"""What a formula of the course is: told as mathematics, typed into a calculator, and held against ``pitside``."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pint
from IPython.display import HTML, Markdown
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from exercises.model import By, Numbers, Step, System
from exercises.model.numbers import Drawn, in_system
from exercises.model.working import Line, work
from pitside.unit_names import spelled

#: Templates of pages: HTML is escaped, Markdown is not.
TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent),
    autoescape=lambda name: name is not None and ".html." in name,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


@dataclass(frozen=True)
class Given:
    """A number that goes into a formula: its sign, what it is, and an example with its unit."""

    sign: str
    means: str
    example: By[Drawn]

    def printed_unit(self, system: System) -> str:
        """The unit that the number must have, as pages print it; empty where it has none."""
        return spelled(self.example.of(system).unit)


def given(sign: str, means: str, field: str, metric: str = "") -> Given:
    """A number from the text of its example, ``"12.0 lb/gal"``; metric left out, it is the same in both systems."""
    return Given(sign, means, By(_read(field), _read(metric or field)))


def _read(text: str) -> Drawn:
    number, _, unit = text.partition(" ")
    return Drawn(float(number), unit or "fraction", len(number.partition(".")[2]))


@dataclass(frozen=True)
class Formula:
    """A formula of a lesson.

    ``mathematics`` is TeX and holds for any consistent units. ``sum`` is what a person types, with ``{signs}`` of
    numbers in the units that their examples have; it gives ``unit``. ``compute`` is the calculation of ``pitside`` that
    it stands for, from the same numbers; the two differ by less than the share ``within``. ``source`` is a key of the
    bibliography, or empty; ``standing`` says what was seen of it, or where else the formula comes from.
    """

    lesson: str
    name: str
    mathematics: str
    sign: str
    means: str
    unit: By[str]
    sum: str | By[str]
    given: tuple[Given, ...]
    compute: Callable[[Numbers], pint.Quantity]
    source: str
    standing: str
    within: float = 0.001
    note: str = ""

    def numbers(self, system: System) -> Numbers:
        """The example's numbers."""
        return Numbers({one.sign: one.example.of(system) for one in self.given})

    def worked(self, system: System, digits: int = 4) -> Line:
        """The example worked out from what a person types."""
        steps = (Step("", self.sum, "answer", self.unit, digits),)
        return work(steps, self.numbers(system), "", system)[0]

    def off(self, system: System) -> float:
        """The share by which what is typed differs from what ``pitside`` computes."""
        right = self.compute(self.numbers(system))
        typed = self.worked(system, digits=12).value.quantity
        return abs(float(((typed - right) / right).m_as("")))

    def typed(self, system: System) -> str:
        """What a person types, with signs for the numbers."""
        text = re.sub(r"\{(\w+)\}", r"\1", in_system(self.sum, system))
        text = re.sub(r"\*\*([23])(?![\d.])", lambda power: "²³"[int(power[1]) - 2], text).replace("**", "^")
        for sign, printed in (("ceil(", "round up ("), ("*", "×"), ("-", "−"), ("pi", "π")):
            text = text.replace(sign, printed)
        return text

    @property
    def alike(self) -> bool:
        """Whether people type the same in both unit systems."""
        return not isinstance(self.sum, By)

    def printed_unit(self, system: System) -> str:
        """The unit of what comes out, as pages print it; empty where it has none."""
        return spelled(self.unit.of(system))


def tex(sign: str) -> str:
    """A sign in TeX: its first letter, the rest below the line."""
    return f"{sign[0]}_{{\\mathrm{{{sign[1:]}}}}}" if len(sign) > 1 else sign


def check(formulas: tuple[Formula, ...]) -> None:
    """Hold what is typed against what ``pitside`` computes.

    Raises: ValueError naming the first formula that lies further off than it says, which stops the build.
    """
    for formula in formulas:
        for system in System:
            off = formula.off(system)
            if not off <= formula.within:
                raise ValueError(
                    f"formula sheet, {formula.name}, {system} units: what is typed is {off:.2%} off, "
                    f"more than {formula.within:.2%}"
                )


def entries(formulas: tuple[Formula, ...]) -> Markdown:
    """The formulas for a page, once they have been checked."""
    check(formulas)
    return Markdown(TEMPLATES.get_template("formulas.md.jinja").render(formulas=formulas, System=System, tex=tex))


def card(formulas: dict[str, tuple[Formula, ...]]) -> HTML:
    """The formulas for a sheet of paper, by the titles of their lessons, once they have been checked."""
    for some in formulas.values():
        check(some)
    return HTML(TEMPLATES.get_template("card.html.jinja").render(lessons=formulas, System=System))
