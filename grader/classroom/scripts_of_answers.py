"""A script made of the answers that the school holds: to the byte the file that the candidate's page would save.

``papers/worksheet.js`` makes the same of what stands in the page. So a script that was handed in here reads, and is
marked, as one that came on a stick; a test holds the two together.
"""

from __future__ import annotations

import copy
import json
import math
import re
from collections.abc import Mapping
from typing import Any

from exercises.model.answers import UnreadableAnswer, read_number

#: An answer as the page has it: letters or words, or a number as it was typed with its unit.
Answer = str | Mapping[str, str]
#: How working is named among the answers.
WORKING = "working "
#: What a browser takes for blank at the ends of a text.
_BLANK = "\t\n\v\f\r \xa0\u1680\u2028\u2029\u202f\u205f\u3000\ufeff" + "".join(map(chr, range(0x2000, 0x200B)))


def empty_answers(data: Mapping[str, Any]) -> dict[str, Answer]:
    """Every field of a worksheet whose data are these, as it stands before anything is typed."""
    answers: dict[str, Answer] = {name: _empty(data["items"][name]) for part in data["parts"] for name in part["items"]}
    # As the template of the worksheet has it: where words or an order are asked there is no field for working.
    return answers | {
        f"{WORKING}{part['name']}": "" for part in data["parts"] if part["kind"] not in ("words", "order")
    }


def _empty(item: Mapping[str, Any]) -> Answer:
    return {"typed": "", "unit": item["unit"]} if item["kind"] == "number" else ""


def script_of(data: Mapping[str, Any], answers: Mapping[str, Answer]) -> bytes:
    """The script of a worksheet whose data are these. ``answers`` holds what was given, by the name of its field."""
    held = {**empty_answers(data), **answers}
    notebook = copy.deepcopy(json.loads(json.dumps(data["notebook"])))
    parts = {part["cell"]: part for part in data["parts"]}
    cells = []
    for cell in notebook["cells"]:
        cells.append(cell)
        part = parts.get(cell.get("id"))
        if part is None:
            continue
        if cell["cell_type"] == "markdown":
            if words := _lines(_text(held[part["items"][0]])).strip(_BLANK):
                cell["source"] = words
            continue
        cell["source"] = "\n".join(f"answer({_quoted(name)}, {_code(held[name])})" for name in part["items"])
        worked = _text(held.get(f"{WORKING}{part['name']}", ""))
        if worked.strip(_BLANK):
            source = f"Working for {part['name']}:\n\n{_fenced(worked)}"
            cells.append({"cell_type": "markdown", "id": f"working-{part['name']}", "metadata": {}, "source": source})
    notebook["cells"] = cells
    notebook["metadata"]["pitside"]["worksheet"] = {
        "format": 1,
        "paper": data["paper"],
        "answers": {name: held[name] for part in data["parts"] for name in part["items"]},
        "working": {name[len(WORKING) :]: held[name] for name in held if name.startswith(WORKING)},
    }
    return (json.dumps(notebook, ensure_ascii=False, indent=1) + "\n").encode()


def _text(answer: Answer) -> str:
    return answer if isinstance(answer, str) else ""


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _fenced(text: str) -> str:
    fence = "`" * (max(2, *(len(ticks) for ticks in re.findall("`+", text)), 2) + 1)
    return f"{fence}text\n{_lines(text).rstrip(_BLANK)}\n{fence}"


def _code(answer: Answer) -> str:
    if isinstance(answer, str):
        return _quoted(answer) if answer else "None"
    typed = answer["typed"].strip(_BLANK)
    if not typed:
        return "None"
    try:
        value = as_a_page_writes(read_number(answer["typed"]))
    except UnreadableAnswer:
        value = _quoted(typed)
    return f"{value}, {_quoted(answer['unit'])}"


def as_a_page_writes(number: float) -> str:
    """A number as a browser writes it, which differs from Python's way for large, small and whole ones.

    By the standard ECMA-262, Number::toString: digits without an exponent from 1e-6 to 1e21.

    >>> [as_a_page_writes(one) for one in (12.0, 0.1, 1e21, 123456789012345680000.0, 1e-6, 1.5e-7, -0.0, -2.5)]
    ['12', '0.1', '1e+21', '123456789012345680000', '0.000001', '1.5e-7', '0', '-2.5']
    """
    if number == 0:
        return "0"
    sign, number = ("-" if number < 0 else ""), math.fabs(number)
    mantissa, _, exponent = f"{number!r}".partition("e")
    whole, _, part = mantissa.partition(".")
    digits = whole + ("" if part == "0" else part)
    point = len(whole) + int(exponent or 0)
    point -= len(digits) - len(digits.lstrip("0"))
    digits = digits.lstrip("0").rstrip("0")
    count = len(digits)
    if count <= point <= 21:
        text = digits + "0" * (point - count)
    elif 0 < point <= 21:
        text = f"{digits[:point]}.{digits[point:]}"
    elif -6 < point <= 0:
        text = f"0.{'0' * -point}{digits}"
    else:
        power = f"e{'+' if point > 0 else '-'}{abs(point - 1)}"
        text = f"{digits[0]}{f'.{digits[1:]}' if count > 1 else ''}{power}"
    return sign + text
