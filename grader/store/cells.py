"""Cells of tables for spreadsheets: no text of one acts as a formula there."""

from __future__ import annotations

import re
import unicodedata

#: With these begins a formula; the wide ones of East Asian keyboards as well.
FORMULA_SIGNS = "=+-@\uff1d\uff0b\uff0d\uff20\u2212"
#: Where a program that splits cells at semicolons, tabs or line ends would begin another cell with a formula.
_INNER = re.compile(rf"([;\t\r\n]\s*)(?=[{re.escape(FORMULA_SIGNS)}])")
#: What turns the direction of the text behind it; a name needs none of them in any script.
TURNS = re.compile("[\u202a-\u202e\u2066-\u2069]")


def harmless(cell: str) -> str:
    """A cell that a spreadsheet will not take for a formula."""
    begins = next((letter for letter in cell if not _is_blank(letter)), "")
    formula = (begins and begins in FORMULA_SIGNS) or cell[:1] in ("\t", "\r", "\n")
    return ("'" if formula else "") + _INNER.sub(r"\1'", cell)


def _is_blank(letter: str) -> bool:
    """Blanks, control characters and signs that are not seen."""
    return letter.isspace() or unicodedata.category(letter) in ("Cc", "Cf")
