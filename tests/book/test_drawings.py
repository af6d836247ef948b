"""The drawings of the book: one look, something to read for who cannot see them, and letters that can be read."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import drawings
import pytest
from playwright.sync_api import Browser, Page

BOOK = Path(__file__).parents[2] / "book"
STYLE = (BOOK / "extensions" / "drawings" / "static" / "drawings.css").read_text(encoding="utf-8")
THEME = (BOOK / "theme" / "pitside" / "static" / "pitside.css").read_text(encoding="utf-8")
NAMES = drawings.names()
CLASSES = set(re.findall(r"\.drawing svg \.([a-z-]+)|\.pipe\.([a-z]+)", STYLE))
STYLED = {name for pair in CLASSES for name in pair if name} | {"line", "both"}
SHAPES = {"svg", "title", "desc", "g", "path", "circle", "ellipse", "rect", "line", "polyline", "polygon", "text"}
PLACES = {"class", "viewBox", "d", "transform", "points", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry"}
PLACES |= {"width", "height"}
SMALLEST_LETTERS = 10  # pixels on a screen of 360: with less, a reader has to zoom (common practice, no source)
WIDE_ON_A_PHONE = 360 - 2 * 16  # the screen less the margins of the page


def elements(name: str) -> Iterator[ElementTree.Element]:
    return drawings.read(name).iter()


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_says_what_it_shows(name: str) -> None:
    root = drawings.read(name)
    assert len(root[0].text or "") > 15
    assert len(root[1].text or "") > 150


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_has_its_look_from_the_style_sheet_alone(name: str) -> None:
    for element in elements(name):
        assert element.tag.removeprefix(drawings.SVG) in SHAPES, element.tag
        assert set(element.attrib) <= PLACES, element.attrib
        assert set(element.get("class", "").split()) <= STYLED, element.get("class")


@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_is_narrow_enough_for_its_smallest_letters(name: str) -> None:
    left, top, wide, _high = map(float, str(drawings.read(name).get("viewBox")).split())
    smallest = min(float(size) for size in re.findall(r"font-size: ([\d.]+)px", STYLE))
    assert (left, top) == (0, 0)
    assert smallest * WIDE_ON_A_PHONE / wide >= SMALLEST_LETTERS


def test_every_drawing_stands_on_a_page_and_no_page_asks_for_another() -> None:
    asked = re.compile(r"^```\{drawing\}\s+(\S+)", re.MULTILINE)
    used = {name for page in BOOK.rglob("*.md") for name in asked.findall(page.read_text(encoding="utf-8"))}
    assert used == set(NAMES)


def colours(block: str) -> dict[str, str]:
    return dict(re.findall(r"--(?:draw-)?([a-z]+): (#[0-9a-f]{3,6});", block))


def luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    whole = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    parts = [int(whole[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def blocks(style: str, selector: str) -> list[dict[str, str]]:
    return [colours(block) for block in re.findall(re.escape(selector) + r" \{([^}]*)\}", style)]


def test_words_can_be_read_on_whatever_they_stand_on() -> None:
    """Contrast of 4.5 to 1, WCAG 2.1, 1.4.3 (from memory)."""
    dark = ':root[data-theme="dark"]', ':root:not([data-theme="light"])'
    looks = {
        "light": (blocks(STYLE, ":root")[0], blocks(THEME, ":root")[0]["ink"]),
        "print": (blocks(STYLE, ":root")[1], "#000"),
        **{name: (blocks(STYLE, name)[0], blocks(THEME, name)[0]["ink"]) for name in dark},
    }
    assert looks[dark[0]][0] == looks[dark[1]][0]
    for look, (fills, ink) in looks.items():
        assert len(fills) >= 9
        for thing in fills.keys() - {"motion"}:
            lighter, darker = sorted((luminance(fills[thing]), luminance(ink)), reverse=True)
            assert (lighter + 0.05) / (darker + 0.05) >= 4.5, f"{look}: words on {thing}"


PAGE = """<!doctype html><title>Drawings</title><style>{style}</style>
<main style="padding: 0 16px">{drawings}</main>"""
MEASURE = """() => [...document.querySelectorAll("svg")].map((svg) => ({
  frame: svg.getBoundingClientRect().toJSON(),
  words: [...svg.querySelectorAll("text")].map((word) => ({
    text: word.textContent,
    size: parseFloat(getComputedStyle(word).fontSize) * svg.getScreenCTM().a,
    box: word.getBoundingClientRect().toJSON(),
  })),
}))"""


def overlap(one: dict[str, float], other: dict[str, float]) -> bool:
    """Whether letters of two lines touch; a line's box has room above and below its letters."""
    across = min(one["right"], other["right"]) - max(one["left"], other["left"])
    down = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
    return across > 0.5 and down > 0.3 * min(one["height"], other["height"])


@pytest.fixture(scope="module")
def phone(browser: Browser) -> Iterator[Page]:
    """One window for all drawings."""
    page = browser.new_page(viewport={"width": 360, "height": 740})
    yield page
    page.close()


@pytest.mark.browser
@pytest.mark.parametrize("name", NAMES)
def test_words_stay_in_the_drawing_and_off_each_other_on_a_phone(phone: Page, name: str) -> None:
    picture = f'<figure class="drawing">{drawings.inline(name, "d")}</figure>'
    phone.set_content(PAGE.format(style=THEME + STYLE, drawings=picture))
    [drawn] = phone.evaluate(MEASURE)
    frame, words = drawn["frame"], drawn["words"]
    assert words
    assert frame["width"] == pytest.approx(WIDE_ON_A_PHONE)
    for word in words:
        assert word["size"] >= SMALLEST_LETTERS, word
        assert frame["left"] - 1 <= word["box"]["left"] and word["box"]["right"] <= frame["right"] + 1, word
        assert frame["top"] - 1 <= word["box"]["top"] and word["box"]["bottom"] <= frame["bottom"] + 4, word
    touching = [(a["text"], b["text"]) for at, a in enumerate(words) for b in words[:at] if overlap(a["box"], b["box"])]
    assert touching == []


# The directive --------------------------------------------------------------------------------------------------------


def sphinx(folder: Path, text: str) -> subprocess.CompletedProcess[str]:
    path = f"sys.path.insert(0, {str(BOOK / 'extensions')!r})"
    (folder / "conf.py").write_text(f'import sys\n{path}\nextensions = ["myst_parser", "drawings"]\nnumfig = True\n')
    (folder / "index.md").write_text(f"# Title\n\n{text}\n")
    command = [sys.executable, "-m", "sphinx", "-q", "-W", "-n", str(folder), str(folder / "out")]
    return subprocess.run(command, capture_output=True, text=True)


def test_a_page_shows_a_drawing_with_number_caption_and_legend(tmp_path: Path) -> None:
    text = "See {numref}`fig-a`.\n\n```{drawing} shaker\n:name: fig-a\n\nA **shaker**.\n\n1. First\n2. Second\n```\n"
    result = sphinx(tmp_path, text)
    assert result.returncode == 0, result.stderr
    page: Any = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert '<figure class="drawing' in page
    assert 'aria-labelledby="drawing-0-shaker-title drawing-0-shaker-desc"' in page
    assert re.search(r'<title id="drawing-0-shaker-title">\s*A shaker', page)
    assert 'marker-end="url(#drawing-0-shaker-arrow)"' in page and 'id="drawing-0-shaker-arrow"' in page
    assert re.search(r"See .*Fig\. 1.*\.", page)
    assert "<strong>shaker</strong>" in page
    assert page.index("<figcaption") < page.index("Second") < page.index("</figcaption")
    assert (tmp_path / "out" / "_static" / "drawings.css").is_file()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("```{drawing} shakre\n\nA shaker.\n```", 'there is no drawing "shakre"; there are '),
        ("```{drawing} shaker\n```", '"shaker" begins with its caption'),
    ],
)
def test_a_drawing_that_cannot_be_shown_is_named_in_one_line(tmp_path: Path, text: str, said: str) -> None:
    result = sphinx(tmp_path, text)
    assert result.returncode != 0
    [line] = [line for line in result.stderr.splitlines() if said in line]
    assert "index.md:3:drawing: " in line or "index.md:3: " in line
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<svg", "is no SVG that can be read"),
        ('<svg xmlns="http://www.w3.org/2000/svg"><title>A</title></svg>', "its desc is missing or empty"),
        ('<svg xmlns="http://www.w3.org/2000/svg"><title> </title><desc>B</desc></svg>', "its title is missing"),
    ],
)
def test_a_file_that_is_no_drawing_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str, said: str
) -> None:
    monkeypatch.setattr(drawings, "DRAWINGS", tmp_path)
    (tmp_path / "odd.svg").write_text(text)
    with pytest.raises(drawings.DrawingError, match=said):
        drawings.read("odd")
