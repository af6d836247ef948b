"""The lessons are written for readers whose English is a second language: short sentences, plain words.

Bounds. The standard for simplified technical English, ASD-STE100, allows 25 words in a sentence that describes and 20
in one that instructs (from memory): no sentence of a lesson is longer than 25 words, and the mean of a lesson stays at
15 or below. For the words textstat's Flesch-Kincaid grade stands, as years of school: at most 7, about the reading
age of 12 that public guidance on plain language asks for (common practice, no source). Grades fall with short
sentences, so the longest words of the trade still fit under it. A table's cells, formulas and code are not counted.
"""

from __future__ import annotations

import pytest
import textstat

from exercises import LESSONS
from tests.book.prose import LESSONS as PAGES
from tests.book.prose import sentences, words

LONGEST_SENTENCE, MEAN_SENTENCE, GRADE = 25, 15, 7.0


def grade(said: list[str]) -> float:
    """Textstat's grade; each sentence gets a point at its end, so that an item of a list counts as one."""
    return float(textstat.flesch_kincaid_grade(" ".join(f"{one.rstrip(' .:;,!?')}." for one in said)))


@pytest.fixture(params=LESSONS)
def lesson(request: pytest.FixtureRequest) -> list[str]:
    said = sentences((PAGES / f"{request.param}.md").read_text(encoding="utf-8"))
    assert len(said) > 50
    return said


def test_no_sentence_of_a_lesson_is_too_long(lesson: list[str]) -> None:
    assert [one for one in lesson if len(words(one)) > LONGEST_SENTENCE] == []


def test_the_sentences_of_a_lesson_are_short_on_the_whole(lesson: list[str]) -> None:
    assert sum(len(words(one)) for one in lesson) / len(lesson) <= MEAN_SENTENCE


def test_a_lesson_reads_at_a_low_grade(lesson: list[str]) -> None:
    assert grade(lesson) <= GRADE


def test_the_grade_can_tell_plain_words_from_hard_ones() -> None:
    plain = ["The mud runs over the screen.", "The rock falls off at the end.", "Look at the pool each hour."]
    hard = [
        "Optimisation of operational parameters necessitates comprehensive evaluation of particulate distributions."
    ]
    assert grade(plain) < 3 < GRADE < 15 < grade(hard)


def test_sentences_are_found_where_they_stand() -> None:
    page = """---
title: x
---
# A heading is none

First one, with {glue:text}`a_field`. Second one $x = 1$
over two lines!

:::{admonition} Caution
:class: caution
Stop here. Look.
:::

| a | b |
| --- | --- |
| not counted | at all |

- an item;
- another item {footcite:p}`key`

```{code-cell} ipython3
print("no sentence")
```
"""
    assert sentences(page) == [
        "First one, with 12.",
        "Second one x over two lines!",
        "Stop here.",
        "Look.",
        "an item;",
        "another item",
    ]
