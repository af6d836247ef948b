"""Take the answers of a script from its text, where that is all there is to it, so that nothing needs to be run.

A script is readable where each code cell holds nothing but comments, calls of ``answer`` with plain values, or the
given cell as it was printed. A plain value is a number, a text in quotes, ``None`` or the like, or a sum of numbers.
Whatever else stands in a cell, and whatever looks odd, has to be run: this module says so and does not guess.

Nothing is executed. A cell's characters and tokens are looked at one by one first, within bounds, so that Python's
parser meets short lines of few brackets alone; it makes a tree, of which each node that is not known is turned away.
What a call hands in and prints is worked out by the function that a run uses (:mod:`grader.untrusted.claim`), and
passes the same checks as what comes from a run (:class:`grader.running.run_result.Said`).
"""

from __future__ import annotations

import ast
import json
import re
import unicodedata
from collections.abc import Callable
from typing import Any

from grader.running.run_result import Ending, Limits, Run, Said, code_cells
from grader.untrusted.claim import Claim, claim_of

#: The last cell that papers print, behind the given cell that defines what it calls; marking it hands in, and prints,
#: nothing.
LAST_SOURCE = (
    "# Run this cell when you are done: it says what has no answer yet.\n"
    '# If it says "not defined": menu Run > Run All Cells\n'
    "unanswered()"
)
#: The same, and as it was printed before.
LAST_SOURCES = (LAST_SOURCE, "# Run this cell when you are done: it says what has no answer yet.\nunanswered()")

#: Most characters of a cell, and of all cells that are read; a paper's answers take some thousand.
LONGEST_CELL, LONGEST_ALL = 20_000, 200_000
#: Most tokens of a statement, most brackets that are open at a time, most signs in a row, longest number.
MOST_TOKENS, DEEPEST, MOST_SIGNS, LONGEST_NUMBER = 200, 8, 4, 60
#: Largest whole number that a sum may come to on its way, in bits; the largest float has 1,024.
MOST_BITS = 4096
#: Largest exponent of a power, either way.
LARGEST_EXPONENT = 100

#: All that may stand in a cell. Texts end on their line and have no escapes, so a line begins with what it seems to
#: begin with, also for IPython, which looks at lines before Python does.
_TOKEN = re.compile(
    r"""
      (?P<space> [ \t]+ | \#[^\n]* )
    | (?P<end> [\n;] )
    | (?P<text> "[^"\\\n]*" | '[^'\\\n]*' )
    | (?P<number> (?: [0-9][0-9_]* (?:\.[0-9_]*)? | \.[0-9][0-9_]* ) (?:[eE][+-]?[0-9]+)? (?![\w.]) )
    | (?P<name> (?: answer | None | True | False | part | value | unit ) (?!\w) )
    | (?P<blank> \.\.\. (?![\w.]) )
    | (?P<sign> [-+] )
    | (?P<open> \( )
    | (?P<close> \) )
    | (?P<other> [*/,=] )
    """,
    re.VERBOSE,
)
_NAMES = ("part", "value", "unit")


class _MustRunError(Exception):
    """There is something in a cell that is not read here."""


def read(notebook: dict[str, Any], given: str, limits: Limits) -> Run | None:
    """The run of a notebook as its text tells it, or None where it has to be run.

    ``given`` is the source of the given cell of this paper. The run is the one that a room would come back with.
    """
    cells, problem = code_cells(notebook)
    if problem:
        return Run({}, (), Ending.NOT_RUN, problem, notebook, (), 0.0)
    try:
        sources = [source for _, source in _of_bearable_length(cells, given)]
        began = sources.index(given) if given in sources else len(sources)
        claims = [
            [] if source == given or (source in LAST_SOURCES and at > began) else _claims(source)
            for at, source in enumerate(sources)
        ]
    except _MustRunError:
        return None
    if sum(map(len, claims)) > limits.answers or sum(map(_cost, claims)) > limits.output_bytes:
        return None
    said = Said(cells, limits)
    for number, ((index, _), made) in enumerate(zip(cells, claims, strict=True), 1):
        for claim in made:
            said.take_answer(claim.line.rstrip(b"\n"))
        text = "".join(f"{claim.shown}\n" for claim in made)
        outputs = [{"output_type": "stream", "name": "stdout", "text": text}] if text else []
        said.take_report(json.dumps({"started": index}).encode())
        said.take_report(json.dumps({"index": index, "count": number, "outputs": outputs, "error": None}).encode())
    said.take_report(b'{"finished": true}')
    said.finish(Ending.FINISHED, "its answers were read from its text")
    return said.told(notebook, 0.0)


def _of_bearable_length(cells: list[tuple[int, str]], given: str) -> list[tuple[int, str]]:
    lengths = [len(source) for _, source in cells if source != given]
    if sum(lengths) > LONGEST_ALL or max(lengths, default=0) > LONGEST_CELL:
        raise _MustRunError
    return cells


def _cost(claims: list[Claim]) -> int:
    """What the outputs of a cell take of the room that a run has for outputs: each text, and each line's end."""
    return sum(len(json.dumps(claim.shown)) + len(json.dumps("\n")) + 2 * 60 for claim in claims)


def _claims(source: str) -> list[Claim]:
    """What a cell hands in. Raises: :class:`_MustRunError`."""
    _look_at_tokens(source)
    try:
        tree = ast.parse(source)
    except (SyntaxError, ValueError, RecursionError, MemoryError, OverflowError):
        raise _MustRunError from None
    return [_claim(statement) for statement in tree.body]


def _look_at_tokens(source: str) -> None:
    """See that a cell holds nothing but tokens of answers, and no more of them than Python's parser bears well."""
    if any(not (sign.isprintable() or sign in "\n\t" or unicodedata.category(sign) == "Zs") for sign in source):
        raise _MustRunError  # such signs can end a line for one program and not for another
    if '"""' in source or "'''" in source:
        raise _MustRunError
    place = depth = tokens = signs = 0
    begins_line = True
    while place < len(source):
        found = _TOKEN.match(source, place)
        if found is None:
            raise _MustRunError
        kind, place = found.lastgroup, found.end()
        if kind == "space":
            if begins_line and not depth and source[place : place + 1] not in ("", "\n", "#") and found[0][0] != "#":
                raise _MustRunError  # indented: to say so, the parser would look for a file of the cell's name
            continue
        if kind == "end" and not depth:
            tokens = 0
        depth += (kind == "open") - (kind == "close")
        signs = signs + 1 if kind == "sign" else 0
        tokens += 1
        if (
            not 0 <= depth <= DEEPEST
            or tokens > MOST_TOKENS
            or signs > MOST_SIGNS
            or (kind == "number" and len(found[0]) > LONGEST_NUMBER)
            or (kind == "blank" and begins_line)  # IPython may take it for a prompt
        ):
            raise _MustRunError
        begins_line = found[0] == "\n"
    if depth:
        raise _MustRunError


def _claim(statement: ast.stmt) -> Claim:
    """What a call of ``answer`` hands in, if the statement is one."""
    match statement:
        case ast.Expr(ast.Call(ast.Name("answer"), arguments, keywords)):
            by_place = [_value(argument) for argument in arguments]
            by_name = {keyword.arg: _value(keyword.value) for keyword in keywords}
            clash = {name for name in by_name if name not in _NAMES[len(by_place) :]}
            if len(by_name) == len(keywords) and not clash and (by_place or "part" in by_name):
                return claim_of(*by_place, **{str(name): value for name, value in by_name.items()})
    raise _MustRunError


def _value(node: ast.expr) -> Any:
    """A plain value, or what a sum of numbers comes to."""
    if isinstance(node, ast.Constant) and not isinstance(node.value, bytes | complex):
        return node.value
    return _number(node)


def _number(node: ast.expr) -> int | float:
    match node:
        case ast.Constant(value) if type(value) is int or type(value) is float:
            return value
        case ast.UnaryOp(ast.USub(), of):
            return -_number(of)
        case ast.UnaryOp(ast.UAdd(), of):
            return _number(of)
        case ast.BinOp(left, operator, right) if type(operator) in _SUMS:
            try:
                number = _SUMS[type(operator)](_number(left), _number(right))
            except ArithmeticError:  # a run stops with an error there
                raise _MustRunError from None
            if type(number) is float or (type(number) is int and number.bit_length() <= MOST_BITS):
                return number
    raise _MustRunError


def _power(base: int | float, exponent: int | float) -> Any:
    if abs(exponent) > LARGEST_EXPONENT or (isinstance(base, int) and base.bit_length() * abs(exponent) > MOST_BITS):
        raise _MustRunError
    return base**exponent


_SUMS: dict[type[ast.operator], Callable[[Any, Any], Any]] = {
    ast.Add: lambda one, other: one + other,
    ast.Sub: lambda one, other: one - other,
    ast.Mult: lambda one, other: one * other,
    ast.Div: lambda one, other: one / other,
    ast.Pow: _power,
}
