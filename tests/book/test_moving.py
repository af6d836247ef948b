"""Figures whose lines move: what they hold is what ``pitside`` gives, and the reader moves them with any means."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest
from bs4 import BeautifulSoup, Tag
from playwright.sync_api import Locator, Page

from exercises.model import By
from pitside import Q
from pitside.centrifuges import Bowl, BowlCurve, g_force
from pitside.cyclones import ROPE_LIMIT
from pitside.materials import BARITE, LOW_GRAVITY
from pitside.partition import PartitionCurve
from pitside.removal import dilution_plan, drilled_solids
from pitside.screens import pool_length
from pitside.scrolls import cake_depth
from pitside.units import WATER_4C
from tests.browsing import Visitor

pytestmark = pytest.mark.slow

LESSONS = Path(__file__).parents[2] / "book" / "lessons"
MOST_DATA = 100_000


@pytest.fixture(scope="module")
def moving() -> Iterator[ModuleType]:
    specification = importlib.util.spec_from_file_location("moving", LESSONS / "moving.py")
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "moving", module)
        specification.loader.exec_module(module)
        yield module


# Reading a figure -----------------------------------------------------------------------------------------------------


def figures(book: Path) -> dict[str, Tag]:
    """Every moving figure of the book by its name."""
    found = {}
    for page in sorted((book / "lessons").glob("*.html")):
        for figure in BeautifulSoup(page.read_text(encoding="utf-8"), "html.parser").select("[data-moving]"):
            found[str(figure["id"])] = figure
    return found


def data_of(figure: Tag) -> dict[str, Any]:
    script = figure.select_one("script[data-settings]")
    assert script is not None
    return json.loads(script.text)


def setting(data: dict[str, Any], *printed: str) -> int:
    """The number of a setting by the positions' printed texts."""
    number = 0
    for positions, text in zip(data["positions"], printed, strict=True):
        number = number * len(positions) + [spaced(position) for position in positions].index(text)
    return number


def spaced(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", "")


def points(path: str) -> np.ndarray:
    return np.array([[float(number) for number in pair.split()] for pair in re.split("[ML]", path)[1:]])


def scale(figure: Tag, across: bool, log: bool) -> Callable[[np.ndarray], np.ndarray]:
    """From places in the picture to values, by the picture's own ticks and their labels."""
    texts = [text for text in figure.select("svg text") if re.fullmatch(r"[\d.]+", text.text)]
    anchored = [text for text in texts if ("middle" in str(text["style"])) == across]
    at = [float(text.find_previous("use")["x" if across else "y"]) for text in anchored]
    values = np.array([float(text.text) for text in anchored])
    assert len(values) >= 4
    slope, start = np.polyfit(at, np.log10(values) if log else values, 1)
    return lambda places: 10 ** (start + slope * places) if log else start + slope * places


def curve_in(figure: Tag, path: str) -> tuple[np.ndarray, np.ndarray]:
    """Sizes (um) and shares (%) of a path in a picture of a partition curve."""
    across, down = points(path).T
    return scale(figure, across=True, log=True)(across), scale(figure, across=False, log=False)(down)


def section_in(figure: Tag, path: str) -> tuple[np.ndarray, np.ndarray]:
    """Along and across a machine (both in the units of the axes), of a path in a picture of a section."""
    across, down = points(path).T
    return scale(figure, across=True, log=False)(across), scale(figure, across=False, log=False)(down)


# What the book's figures hold -----------------------------------------------------------------------------------------


def test_moving_figures_stand_in_their_lessons_and_are_small(book: Path) -> None:
    found = figures(book)
    assert found.keys() >= {"moving-pool", "moving-cone", "moving-bowl", "moving-decanter", "moving-dilution"}
    for name, figure in found.items():
        script = figure.select_one("script[data-settings]")
        assert script is not None
        assert len(script.text.encode()) < MOST_DATA, name
        frame = figure.find_parent("figure")
        assert frame is not None
        assert frame.figcaption is not None
        assert len(frame.figcaption.text) > 30
        assert len(figure.svg["aria-label"]) > 60


POOL_MUD = (Q(10.4, "lb/gal"), Q(20, "cP"))


@pytest.mark.parametrize(
    ("climb", "flow", "over"),
    [
        ("1°", "450 gal/min (102 m³/h)", True),
        ("4°", "400 gal/min (91 m³/h)", False),
        ("7°", "200 gal/min (45 m³/h)", False),
    ],
)
def test_the_deck_figure_draws_the_pool_for_its_flow(book: Path, climb: str, flow: str, over: bool) -> None:
    figure = figures(book)["moving-pool"]
    data = data_of(figure)
    at = setting(data, climb, flow)
    slope = Q(float(climb.removesuffix("°")), "deg")
    conductance = Q(1.5, "kilodarcy/mm") * 0.16  # panel B, and what cuttings leave of it
    length = pool_length(Q(float(flow.split()[0]), "gal/min"), conductance, Q(4, "ft"), slope, *POOL_MUD)
    along, height = section_in(figure, data["paths"][data["lines"]["pool"][at]])
    assert along[-1] == pytest.approx(min(length.m_as("ft"), 9), abs=0.02)
    assert height == pytest.approx(length.m_as("in") * np.tan(slope.m_as("rad")), abs=0.05)
    [told] = data["readouts"][at][0]
    assert ("runs off the end" in told) == over == (length > Q(9, "ft"))


@pytest.mark.parametrize(
    ("pond", "turns", "flooded"),
    [("1.2 in (30 mm)", 40, False), ("2.4 in (61 mm)", 10, False), ("3.2 in (81 mm)", 6, True)],
)
def test_the_decanter_figure_draws_cake_and_pond(book: Path, pond: str, turns: int, flooded: bool) -> None:
    figure = figures(book)["moving-decanter"]
    data = data_of(figure)
    at = setting(data, pond, f"{turns} rpm")
    velocity = Q(turns * 4, "in/min")  # a pitch of 4 in, turn by turn
    cake = Q(1.5, "t/h") / LOW_GRAVITY / 0.58
    _, radius = section_in(figure, data["paths"][data["lines"]["cake"][at]])
    assert 7 - radius[-1] == pytest.approx(cake_depth(cake, velocity, Q(14, "in")).m_as("in"), abs=0.05)
    assert 4 - radius[0] == pytest.approx(cake_depth(cake, velocity, Q(8, "in")).m_as("in"), abs=0.05)
    _, surface = section_in(figure, data["paths"][data["lines"]["pond"][at]])
    assert surface == pytest.approx(7 - float(pond.split()[0]), abs=0.05)
    names = [row.th.text for row in figure.select("[data-readout]")]
    assert ("mud runs out" in data["readouts"][at][names.index("Dry beach")][0]) == flooded


@pytest.mark.parametrize(
    ("cut", "bypass"), [("12 µm", "5 %"), ("25 µm", "12 %"), ("25 µm", "25 %"), ("35 µm", "5 %"), ("35 µm", "25 %")]
)
@pytest.mark.parametrize(("line", "density"), [("drilled", LOW_GRAVITY), ("barite", BARITE)])
def test_the_cone_figure_draws_the_partition_curve(book: Path, cut: str, bypass: str, line: str, density: Any) -> None:
    figure = figures(book)["moving-cone"]
    data = data_of(figure)
    at = setting(data, cut, bypass)
    curve = PartitionCurve(
        Q(float(cut.split()[0]), "um"), LOW_GRAVITY, WATER_4C, 2.0, Q(float(bypass.split()[0]), "percent")
    )
    sizes, shares = curve_in(figure, data["paths"][data["lines"][line][at]])
    assert len(sizes) > 10
    right = curve.to_underflow(Q(sizes, "um"), density).m_as("percent")
    # a path is rounded to 0.1 pt of some 280 pt for 100 %, and thinned by as much; the curve is steep in places
    assert shares == pytest.approx(right, abs=0.3)
    printed = f"{curve.actual_cut_point(density).m_as('um'):.1f} µm"
    assert printed in [spaced(texts[0]) for texts in data["readouts"][at]]


@pytest.mark.parametrize(
    ("speed", "feed"),
    [(1000, "10 gal/min (2.3 m³/h)"), (2200, "25 gal/min (5.7 m³/h)"), (3200, "35 gal/min (7.9 m³/h)")],
)
def test_the_bowl_figure_draws_the_bowls_curve(book: Path, speed: int, feed: str) -> None:
    figure = figures(book)["moving-bowl"]
    data = data_of(figure)
    at = setting(data, f"{speed} rpm", feed)
    diameter = Q(14, "in")
    bowl = Bowl(diameter * 2.4, diameter, diameter / 6)
    flow = Q(float(feed.split()[0]), "gal/min") * 1.5  # with half as much water
    curve = BowlCurve(bowl, Q(speed, "rpm"), flow, WATER_4C, Q(8, "cP"))
    sizes, shares = curve_in(figure, data["paths"][data["lines"]["barite"][at]])
    assert shares == pytest.approx(curve.to_underflow(Q(sizes, "um"), BARITE).m_as("percent"), abs=0.8)
    assert spaced(data["readouts"][at][0][0]) == f"{g_force(diameter, Q(speed, 'rpm')).magnitude:.0f}"


def test_streams_of_the_bowl_add_up_at_every_setting(book: Path) -> None:
    figure = figures(book)["moving-bowl"]
    data = data_of(figure)
    names = [row.th.text for row in figure.select("[data-readout]")]
    feeds = [float(spaced(feed).split()[0]) for feed in data["positions"][1]]
    for number, readouts in enumerate(data["readouts"]):
        said = {
            name: [float(spaced(text).split()[0]) for text in texts]
            for name, texts in zip(names, readouts, strict=True)
        }
        fed = feeds[number % len(feeds)]
        assert said["Underflow"][0] + said["Overflow"][0] == pytest.approx(1.5 * fed, abs=0.11)
        gallons, cubic_metres = said["Underflow"]
        assert Q(gallons, "gal/min").m_as("m**3/h") == pytest.approx(cubic_metres, abs=0.02)


@pytest.mark.parametrize(("removal", "dryness"), [(50, 20), (80, 35), (97, 60)])
def test_the_dilution_figure_tells_what_the_plan_gives(book: Path, removal: int, dryness: int) -> None:
    figure = figures(book)["moving-dilution"]
    data = data_of(figure)
    names = [row.th.text for row in figure.select("[data-readout]")]
    said = dict(zip(names, data["readouts"][setting(data, f"{removal} %", f"{dryness} %")], strict=True))
    rock = drilled_solids(Q(12.25, "in"), Q(4000, "ft"), Q(10, "percent"), Q(12, "percent"))
    plan = dilution_plan(rock, removal / 100, dryness / 100, 0.05)
    for name, right in {
        "Discard off the machines": plan.discard,
        "Clean mud for what stays": plan.clean_mud,
        "Leaves in all": plan.make_up,
    }.items():
        assert [spaced(text) for text in said[name]] == [
            f"{right.m_as('bbl'):.0f} bbl",
            f"{right.m_as('m**3'):.0f} m³",
        ]
    bill = plan.make_up.m_as("bbl") * (55 + 18)
    assert float(spaced(said["Bill"][0]).split()[0]) == pytest.approx(bill, abs=500)


def test_the_cone_ropes_where_its_underflow_holds_too_much(book: Path) -> None:
    figure = figures(book)["moving-cone"]
    names = [row.th.text for row in figure.select("[data-readout]")]
    told = [spaced(readouts[names.index("Solids in it")][0]) for readouts in data_of(figure)["readouts"]]
    for text in told:
        share = float(text.split()[0]) / 100
        if abs(share - ROPE_LIMIT) > 0.01:
            assert ("ropes" in text) == (share > ROPE_LIMIT), text
    assert {"ropes" in text for text in told} == {True, False}


def test_without_a_script_the_middle_and_a_table_of_all_positions_stand(book: Path) -> None:
    for name, figure in figures(book).items():
        data = data_of(figure)
        middle = 0
        for positions in data["positions"]:
            middle = middle * len(positions) + len(positions) // 2
        for line, places in data["lines"].items():
            [path] = figure.select(f"svg [data-line='{line}']")
            assert path["d"] == data["paths"][places[middle]], name
        shown = [[cell.text for cell in row.select("td")] for row in figure.select("[data-readout]")]
        assert shown == data["readouts"][middle], name
        assert figure.select_one("[data-controls]").has_attr("hidden")
        cells = [cell.text for cell in figure.select(".moving-all tbody td")]
        if len(data["positions"]) == 2:
            assert cells == [", ".join(readouts[data["said"][0]]) for readouts in data["readouts"]], name
        else:
            assert cells == [", ".join(readouts[at]) for readouts in data["readouts"] for at in data["said"]], name


# In the browser -------------------------------------------------------------------------------------------------------


def opened(book: Path, visitor: Visitor, lesson: str = "hydrocyclones", **options: Any) -> tuple[Page, Locator]:
    page = visitor(book, **options).open(f"lessons/{lesson}.html")
    return page, page.locator("[data-moving]").first


def drawn(figure: Locator, line: str) -> str:
    return figure.locator(f"[data-line='{line}']").get_attribute("d") or ""


@pytest.mark.browser
def test_the_keyboard_moves_the_figure(book: Path, visitor: Visitor) -> None:
    page, figure = opened(book, visitor)
    data = json.loads(figure.locator("script").text_content() or "")
    cut, bypass = figure.get_by_role("slider").all()
    positions = data["positions"]
    cut.focus()
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    bypass.focus()
    page.keyboard.press("End")
    at = 1 * len(positions[1]) + len(positions[1]) - 1
    for line, places in data["lines"].items():
        assert drawn(figure, line) == data["paths"][places[at]]
    assert cut.get_attribute("aria-valuetext") == positions[0][1]
    assert bypass.get_attribute("aria-valuetext") == positions[1][-1]
    rows = figure.locator("[data-readout]").all()
    assert [row.locator("td").all_text_contents() for row in rows] == data["readouts"][at]
    said = figure.locator("[data-said][role=status]")
    page.wait_for_function("box => box.textContent !== ''", arg=said.element_handle())
    assert all(text in (said.text_content() or "") for text in data["readouts"][at][data["said"][0]])
    assert positions[0][1] in figure.locator("[data-at]").inner_text()


@pytest.mark.browser
def test_a_finger_moves_the_figure_and_finds_the_controls(book: Path, visitor: Visitor) -> None:
    page, figure = opened(book, visitor, width=360, has_touch=True)
    before = drawn(figure, "drilled")
    slider = figure.get_by_role("slider").first
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    page.touchscreen.tap(box["x"] + box["width"] - 3, box["y"] + box["height"] / 2)
    assert drawn(figure, "drilled") != before
    assert slider.input_value() == slider.get_attribute("max")


@pytest.mark.browser
def test_without_a_script_there_are_no_controls(book: Path, visitor: Visitor) -> None:
    _, figure = opened(book, visitor, java_script_enabled=False)
    assert figure.locator("svg").is_visible()
    assert figure.locator("[data-readout]").first.is_visible()
    assert not figure.locator("input[type=range]").first.is_visible()
    figure.locator("summary").click()
    assert figure.locator(".moving-all tbody td").first.is_visible()


@pytest.mark.browser
def test_on_paper_the_table_stands_open_and_the_controls_are_gone(book: Path, visitor: Visitor) -> None:
    page, figure = opened(book, visitor)
    page.emulate_media(media="print")
    assert figure.locator("svg").is_visible()
    assert not figure.locator("input[type=range]").first.is_visible()
    table = figure.locator(".moving-all table")
    assert table.evaluate("table => table.checkVisibility({contentVisibilityAuto: true})")
    assert table.bounding_box() is not None


# The module -----------------------------------------------------------------------------------------------------------


def made(moving: ModuleType, name: str = "one", line: Any = None, **changed: Any) -> str:
    figure, axes = plt.subplots()
    [drawn_line] = axes.plot([], [], **(line or {}))
    axes.set_xlim(0, 10)
    axes.set_ylim(0, 100)
    x = np.linspace(0, 10, 50)

    def show(at: int) -> Any:
        shown = {"lines": {"curve": (x, x * (at + 1))}, "readouts": {"Rise": By(f"{at} ft", f"{at} m")}}
        return moving.Shown(**{**shown, **changed.get("shown", {})})

    given = {"table": ("Rise",), "alt": "a line", "controls": (moving.Control("Slope", ("a", "b", "<c>")),)}
    given.update({key: value for key, value in changed.items() if key != "shown"})
    return moving.moving(name, figure, {"curve": drawn_line}, show=show, **given).data


def test_names_in_pictures_are_apart_and_nothing_in_them_styles_the_page(moving: ModuleType) -> None:
    one, two = (BeautifulSoup(made(moving, name), "html.parser") for name in ("one", "two"))
    ids = [tag["id"] for soup in (one, two) for tag in soup.find_all(id=True)]
    assert len(ids) == len(set(ids)) > 4
    assert one.style is None
    used = set(re.findall(r"url\(#([^)]+)\)|href=\"#([^\"]+)\"", str(one)))
    assert {first or second for first, second in used} <= {tag["id"] for tag in one.find_all(id=True)}


def test_texts_are_text_and_straight_lines_keep_few_points(moving: ModuleType) -> None:
    soup = BeautifulSoup(made(moving), "html.parser")
    assert soup.select_one(".moving-ends").text.split() == ["a", "<c>"]
    data = data_of(soup)
    assert len(data["paths"]) == 3
    assert all(2 <= len(points(path)) <= 4 for path in data["paths"])


@pytest.mark.parametrize(
    "wrong",
    [
        {"shown": {"lines": {"other": ([0], [0])}}},
        {"table": ("Fall",)},
        {"controls": ()},
        {"line": {"marker": "o"}},
    ],
    ids=["line", "readout", "controls", "marker"],
)
def test_a_figure_that_cannot_move_stops_the_build(moving: ModuleType, wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"one:|markers"):
        made(moving, **wrong)
