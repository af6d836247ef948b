"""One list of symbols for the whole book: every letter of the lessons' mathematics stands on it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from exercises import LESSONS

BOOK = Path(__file__).parents[2] / "book"
#: What stands in formulas and is no symbol: functions, constants, layout.
NO_SYMBOL = set(
    re.findall(
        r"\w+",
        """frac tfrac sqrt left right quad qquad times approx pm pi ln log exp max min sin cos lceil rceil cdot circ
        begin end aligned gathered text mathrm sum prod int infty big Big bigl bigr bigm dots dot bar underbrace
        overbrace to le ge leq geq neq ll gg propto sim Rightarrow Longrightarrow
        Longleftrightarrow partial displaystyle""",
    )
)
GREEK = re.compile(r"\\([a-zA-Z]+)")


def mathematics(text: str) -> list[str]:
    """What stands between dollars, code left out."""
    prose = re.sub(r"^```\{code-cell\}.*?^```", "", text, flags=re.DOTALL | re.MULTILINE)
    found = re.findall(r"\$\$(.*?)\$\$", prose, re.DOTALL)
    return found + re.findall(r"(?<!\$)\$([^$]+?)\$(?!\$)", re.sub(r"\$\$.*?\$\$", "", prose, flags=re.DOTALL))


def letters(formula: str) -> set[str]:
    """The letters of a formula, without what stands at their foot."""
    formula = re.sub(r"\\(text|mathrm|begin|end)\s*\{[^}]*\}", " ", formula)
    formula = re.sub(r"\\\\\[[\w.]+\]", " ", formula)  # room between two lines
    formula = re.sub(r"_\s*(\{[^{}]*\}|\\[a-zA-Z]+|\w)", " ", formula)
    greek = set(GREEK.findall(formula)) - NO_SYMBOL
    latin = set(re.findall(r"[A-Za-z]+", GREEK.sub(" ", formula)))
    changes = {word for word in latin if re.fullmatch("d[a-z]", word)}  # as in dc/dt
    return {f"\\{name}" for name in greek} | latin - changes


def rows() -> dict[str, tuple[str, str]]:
    """Each symbol of the list with its meaning and its second use."""
    found = {}
    for line in (BOOK / "reference" / "symbols.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("| $"):
            signs, means, second = (cell.strip() for cell in line.strip("|").split("|"))
            for sign in re.findall(r"\$([^$]+)\$", signs):
                found[sign] = (means, second)
    return found


@pytest.mark.parametrize("lesson", LESSONS)
def test_every_letter_of_a_lessons_formulas_stands_on_the_list(lesson: str) -> None:
    used = {
        letter
        for formula in mathematics((BOOK / "lessons" / f"{lesson}.md").read_text(encoding="utf-8"))
        for letter in letters(formula)
    }
    assert used - set(rows()) == set()


@pytest.mark.parametrize("letter", ["c", "f", "k"])
def test_a_letter_that_was_used_for_much_has_one_meaning(letter: str) -> None:
    _, second = rows()[letter]
    assert second == ""


def test_no_symbol_of_the_list_is_idle() -> None:
    used = {
        letter
        for lesson in LESSONS
        for formula in mathematics((BOOK / "lessons" / f"{lesson}.md").read_text(encoding="utf-8"))
        for letter in letters(formula)
    }
    assert set(rows()) - used == set()


def test_letters_are_found_without_their_foot() -> None:
    assert letters(r"V_{\text{clean}} = \frac{V_s}{c} \ln Re_2") == {"V", "c", "Re"}
    assert mathematics("a $x_1$ and\n\n$$\ny\n$$\n") == ["\ny\n", "x_1"]
