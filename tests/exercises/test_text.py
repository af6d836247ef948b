"""Texts of exercises as Markdown: what is read by short ways comes out as the whole text read by the library."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from exercises import BANK
from exercises.model import System
from exercises.model import text as texts
from exercises.model.practice import worked_text
from exercises.model.text import html, inline_html
from tests.exercises.draws import draw_of

LIBRARY = MarkdownIt("commonmark", {"html": False, "typographer": False}).enable("table")

#: What means something in Markdown or in HTML, what could be taken for it, and what is neither.
PIECES = (
    "a", "Ж", "1", "12", " ", "  ", "    ", ".", "\n", "\n\n", "\n\n\n", "\t", "\r", "\x0b", "\u2028", "*", "**", "_",
    "-", "--", "---", "+", "#", ">", "|", ":", "[", "]", "(", ")", "`", "```", "~~~", "=", "===", "<", "&", "&amp;",
    '"', "'", "\\", "!", "%", "−", "×", "²", "\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}", "1. ", "2) ", "- ",
    "**b**", "a | b\n--- | ---\n1 | 2", "[a]: b", "http://x.example", "5 psi",
    "&#49;", "\ue000", "1)", "<1>", "](1", "[1]",
)  # fmt: skip


@given(st.lists(st.sampled_from(PIECES), max_size=10).map("".join))
@example("12. a")
@example("a\n\n1. b\n\n2. c")
@example("[a]\n\n[a]: b")
@example("a\n```\nb\n\nc\n```")
@example("\N{NO-BREAK SPACE}a")
@example("**12** a\n1\ue000")
@example("a **b** &#49;")
@example("a\n> - 1. **b**")
@example("a\r1. a")
@example("a | b\n--- | ---\n1 | 2 | 3\n4 | 5")
def test_any_text_comes_out_as_the_library_reads_it_whole(markdown):
    assert html(markdown) == LIBRARY.render(markdown).strip()
    assert inline_html(markdown) == LIBRARY.renderInline(markdown)


@pytest.mark.parametrize("name", BANK)
def test_texts_of_exercises_come_out_as_the_library_reads_them_whole(name):
    for system in System:
        variant = draw_of(name, system, 0)
        every = [variant.text(variant.exercise.setting)]
        for part in variant.exercise.parts:
            every += [variant.text(part.ask), worked_text(variant, part)]
        for markdown in every:
            assert html(markdown) == LIBRARY.render(markdown).strip()


def test_one_question_is_read_once_for_all_candidates(monkeypatch):
    read = []
    whole = texts._MARKDOWN.render
    monkeypatch.setattr(texts._MARKDOWN, "render", lambda markdown: read.append(markdown) or whole(markdown))
    for number in range(50):
        html(f"Which of *these* is asked once here?\n\nThe pump makes {number} strokes a minute.")
    assert read == ["Which of *these* is asked once here?"]


def test_a_text_with_other_numbers_is_not_read_again(monkeypatch):
    read = []
    whole = texts._MARKDOWN.render
    monkeypatch.setattr(texts._MARKDOWN, "render", lambda markdown: read.append(markdown) or whole(markdown))
    pages = [
        html(f"The pump of *this* test makes **{number}** strokes in {number / 7:.2f} min.") for number in range(50)
    ]
    assert len(read) == 1
    assert pages[35] == "<p>The pump of <em>this</em> test makes <strong>35</strong> strokes in 5.00 min.</p>"
