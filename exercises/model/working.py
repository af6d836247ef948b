"""Worked solutions: the sum as a person does it with a calculator, from the printed numbers.

A step's arithmetic is written as text, filled with the printed numbers and worked out from that very text.
What the page prints is therefore what the trainee's calculator shows, and the soundness tests hold it against
the answer that ``pitside`` gives: two ways to each answer.
"""

from __future__ import annotations

import ast
import functools
import math
import operator
import re
from collections.abc import Mapping
from dataclasses import dataclass

from exercises.model.numbers import By, Drawn, System, grouped, in_system, significant, with_unit
from exercises.model.text import fill, names_in

_OPERATORS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_FUNCTIONS = {"sqrt": math.sqrt, "exp": math.exp, "ln": math.log, "log10": math.log10, "ceil": math.ceil}


@dataclass(frozen=True)
class Step:
    """One line of a worked solution.

    ``say`` is the sentence before the sum; ``sum`` the arithmetic, with ``{names}`` of numbers, of earlier parts
    and of what earlier steps of the part gave; ``gives`` names the result and ``unit`` is its unit (left out: the
    part's own). Digits are significant digits.
    """

    say: str | By[str]
    sum: str | By[str]
    gives: str = "answer"
    unit: str | By[str] | None = None
    digits: int = 4


@dataclass(frozen=True)
class Line:
    """A step worked out: its sentence, the sum as printed, the result as printed and as a number.

    ``with_units`` is the sum with its unit behind each number that has one, as the lessons print it.
    """

    say: str
    sum: str
    with_units: str
    result: str
    value: Drawn


def work(
    steps: tuple[Step, ...], names: Mapping[str, Drawn | str], part_unit: str | By[str], system: System
) -> list[Line]:
    """Work the steps out from printed numbers; the last line's value is the worked answer in the part's unit."""
    known = dict(names)
    lines = []
    for step in steps:
        arithmetic = in_system(step.sum, system)
        unit = in_system(step.unit if step.unit is not None else part_unit, system)
        plain, printed, whole = _forms(arithmetic)
        worked = evaluate(fill(plain, known))
        digits = f"{worked:.0f}" if arithmetic.startswith("ceil(") else significant(worked, step.digits)
        value = Drawn(float(digits), unit, len(digits.partition(".")[2]))
        known[step.gives] = value
        result = with_unit(grouped(digits), unit)
        say = fill(in_system(step.say, system), known)
        lines.append(Line(say, _printed(fill(printed, known)), _printed(fill(whole, known)), result, value))
    return lines


@functools.lru_cache(maxsize=4096)
def names_of_steps(steps: tuple[Step, ...]) -> frozenset[str]:
    """The names that any of these steps asks for, in any unit system."""
    texts: list[str] = []
    for step in steps:
        for one in (step.say, step.sum):
            texts += (one.field, one.metric) if isinstance(one, By) else (one,)
    return frozenset(name for text in texts for name in names_in(text))


@functools.lru_cache(maxsize=4096)
def _forms(arithmetic: str) -> tuple[str, str, str]:
    """A sum with its numbers as a calculator takes them, as pages print them, and with their units."""
    names = re.compile(r"\{([\w.]+)\}")
    squared = re.compile(r"(?<![\w)])(\{[\w.]+\})(?=\*\*)")  # a unit stands inside the bracket that is squared
    plain, printed = (names.sub(rf"{{\1:{form}}}", arithmetic) for form in ("plain", "n"))
    return plain, printed, squared.sub(r"(\1)", arithmetic)


def evaluate(text: str) -> float:
    """The value of plain arithmetic: numbers, + - * / **, brackets, sqrt, exp, ln, log10, ceil, min of two and pi.

    >>> evaluate("0.052 * 12.0 * 10000")
    6240.0
    """
    return _value(ast.parse(text, mode="eval").body)


def _value(node: ast.expr) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _OPERATORS:
            return _OPERATORS[type(op)](_value(left), _value(right))
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand)
        case ast.Call(func=ast.Name(id=name), args=[argument]) if name in _FUNCTIONS:
            return float(_FUNCTIONS[name](_value(argument)))
        case ast.Call(func=ast.Name(id="min"), args=[one, other]):
            return min(_value(one), _value(other))
        case ast.Name(id="pi"):
            return math.pi
    raise ValueError(f"a worked solution cannot hold {ast.unparse(node)!r}")


#: A number below nought, with its unit if it has one, right after a sign of arithmetic.
_NEGATIVE_TERM = re.compile(r"(?<=[-+*/] )−[\d.][^ )]*")


def _printed(arithmetic: str) -> str:
    arithmetic = _NEGATIVE_TERM.sub(r"(\g<0>)", arithmetic)
    text = re.sub(r"\*\*([23])(?![\d.])", lambda power: "²³"[int(power[1]) - 2], arithmetic).replace("**", "^")
    for sign, print_sign in (("ceil(", "round up ("), ("sqrt(", "√("), ("*", "×"), ("-", "−"), ("pi", "π")):
        text = text.replace(sign, print_sign)
    return text
