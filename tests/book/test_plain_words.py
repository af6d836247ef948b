"""Readers with little English: hard words are explained before they are used, and running stands before reckoning."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import lesson_words
import pytest

from exercises import LESSONS

BOOK = Path(__file__).parents[2] / "book"
MEANINGS = lesson_words.meanings((BOOK / "reference" / "glossary.md").read_text(encoding="utf-8"))
#: Lessons that teach sums beside the work at the pits.
WITH_SUMS = (
    "weighting",
    "cutting-back",
    "solids",
    "sizes",
    "settling",
    "oil-on-cuttings",
    "dilution",
    "active-system",
    "tanks-and-pumps",
    "packages",
    "barite-recovery",
    "dual-gradient",
)
SPAN = re.DOTALL | re.MULTILINE
each_lesson = pytest.mark.parametrize("lesson", LESSONS)
each_with_sums = pytest.mark.parametrize("lesson", WITH_SUMS)


def text(lesson: str) -> str:
    return (BOOK / "lessons" / f"{lesson}.md").read_text(encoding="utf-8")


def parts(lesson: str) -> dict[str, str]:
    """The sections of a lesson by their headings, in their order, without code."""
    prose = re.sub(r"^```\{code-cell\}.*?^```", "", text(lesson), flags=SPAN)
    return {part.partition("\n")[0]: part for part in re.split(r"^## ", prose, flags=re.MULTILINE)[1:]}


@each_lesson
def test_a_lesson_explains_its_hard_words_from_the_glossary_before_it_begins(lesson: str) -> None:
    [named] = re.findall(r"^```\{words\} (.+)$", text(lesson), re.MULTILINE)
    words = named.split("; ")
    assert len(words) >= 4
    assert set(words) <= set(MEANINGS)
    sections = list(parts(lesson).values())
    assert "{words}" in sections[1], "the table stands at the end of what you need first"
    later = " ".join(sections[2:]).casefold().replace("-", " ")
    parts_of = {word: [one.rstrip("s") for one in word.casefold().replace("-", " ").split()] for word in words}
    assert [word for word, each in parts_of.items() if not all(one in later for one in each)] == []


@each_lesson
def test_a_lesson_says_its_heart_in_five_plain_lines(lesson: str) -> None:
    [box] = re.findall(r"^:::\{admonition\} In short, for the pits\n:class: note\n(.*?)^:::", text(lesson), SPAN)
    lines = re.findall(r"^- (.+)$", box, re.MULTILINE)
    assert len(lines) == 5
    assert all(len(line.split()) <= 25 for line in lines)


def test_the_glossary_gives_every_word_one_meaning() -> None:
    assert len(MEANINGS) > 150
    assert MEANINGS["freeboard"].endswith(".")
    assert not any("Lesson:" in meaning or "\n" in meaning for meaning in MEANINGS.values())
    with pytest.raises(ValueError, match="explains cone twice"):
        lesson_words.meanings("```{glossary}\ncone\n  One thing.\n\ncone\n  Another.\n```\n")


@each_with_sums
def test_what_is_done_at_the_pits_stands_before_the_sums_and_holds_no_formula(lesson: str) -> None:
    names = list(parts(lesson))
    before = [part for name, part in parts(lesson).items() if names.index(name) < names.index("The sums, in words")]
    assert not any("$$" in part for part in before)
    assert sum(len(part.split()) for part in before[2:]) > 150, "the running part can stand alone"


@each_with_sums
def test_each_sum_is_said_in_words_before_it_is_a_formula(lesson: str) -> None:
    rows = [line for line in parts(lesson)["The sums, in words"].splitlines() if line.startswith("| ")]
    assert rows[0] == "| You want to know | In words | Take care |"
    assert len(rows) >= 2 + 5


@each_with_sums
def test_sums_are_worked_in_steps_beside_their_formulas(lesson: str) -> None:
    code = "\n".join(re.findall(r"^```\{code-cell\}.*?^```", text(lesson), SPAN))
    assert len(re.findall(r"^worked\($", code, re.MULTILINE)) >= 2, "beside the worked example at the end"


@pytest.mark.slow
def test_a_word_that_the_glossary_does_not_explain_is_named_in_one_line(tmp_path: Path) -> None:
    path = f"sys.path.insert(0, {str(BOOK / 'extensions')!r})"
    (tmp_path / "conf.py").write_text(f'import sys\n{path}\nextensions = ["myst_parser", "lesson_words"]\n')
    (tmp_path / "index.md").write_text("# Title\n\n```{words} freeboard; gubbins\n```\n")
    command = [sys.executable, "-m", "sphinx", "-q", "-W", str(tmp_path), str(tmp_path / "out")]
    result = subprocess.run(command, capture_output=True, text=True)
    assert result.returncode != 0
    [line] = [line for line in result.stderr.splitlines() if "gubbins" in line]
    assert "index.md:3: " in line or "index.md:3:words: " in line
    assert "the glossary does not explain gubbins" in line
    assert "Traceback" not in result.stderr
