"""Pictures in a room: drawn once where that is enough, and the same to the last byte as IPython makes of them."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import matplotlib
import numpy as np
import pytest
from IPython.core import pylabtools
from matplotlib import pyplot as plt
from matplotlib.figure import Figure

from grader.running.runner import Runner
from grader.untrusted import plots
from tests.sharing import a_few

X = np.linspace(0.1, 12_000, 60)


@pytest.fixture(autouse=True)
def own_settings() -> Iterator[None]:
    before = plt.get_backend()
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        plt.switch_backend("agg")
        yield
        plt.close("all")
        plt.switch_backend(before)


def _depths() -> None:
    plt.plot(0.052 * 12.0 * X, X)
    plt.gca().invert_yaxis()
    plt.xlabel("psi")
    plt.ylabel("ft")


def _legend() -> None:
    for power in (1, 2, 3):
        plt.plot(X, X**power, label=f"$x^{power}$")
    plt.yscale("log")
    plt.legend(title="powers")
    plt.title("A long title that goes beyond both of the ends of the axes and of the whole figure as well, far out")


def _legend_outside() -> None:
    plt.plot(X, X, label="outside of the axes")
    plt.legend(loc="upper left", bbox_to_anchor=(1.05, 1))


def _bars() -> None:
    plt.bar(["hydrocyclone", "shaker", "centrifuge"], [4, 7, 2], yerr=1)
    plt.xticks(rotation=70)
    plt.grid(visible=True)


def _scatter() -> None:
    points = plt.scatter(X, np.sqrt(X), c=X)
    plt.colorbar(points, label="how deep")
    plt.xlim(-500, 20_000)


def _grid() -> None:
    fig, axes = plt.subplots(2, 2, sharex=True, sharey="row", figsize=(5, 4))
    for number, each in enumerate(axes.flat):
        each.semilogx(X, X**number)
        each.set_ylabel(f"$x^{number}$ / {number}")
    fig.suptitle("Four of them")
    fig.align_ylabels()


def _two_scales() -> None:
    fig, left = plt.subplots()
    left.plot(X, X)
    right = left.twinx()
    right.plot(X, X**2, "r--")
    right.set_ylabel("squares")
    fig.text(1.1, 0.5, "beside the figure")


def _words() -> None:
    plt.plot([1, 2], [3, 4])
    plt.text(2.5, 3.5, "far out on the right", fontsize=20)
    plt.axhline(3.5)
    plt.fill_between([1, 2], [3, 4], alpha=0.3)


def _picture() -> None:
    plt.imshow(np.arange(12).reshape(3, 4))
    plt.axis("off")


def _circle() -> None:
    plt.pie([1, 2, 3], labels=["sand", "silt", "clay and all that is finer"])


def _equal() -> None:
    plt.plot(np.cos(X), np.sin(X), "o")
    plt.axis("equal")
    plt.hist(X / 1e4, bins=5)


def _days() -> None:
    day = datetime.date(2026, 3, 1)
    plt.plot([day + datetime.timedelta(n) for n in range(40)], range(40))
    plt.gcf().autofmt_xdate()


def _tight() -> None:
    plt.plot(X, X)
    plt.tight_layout()


def _steps() -> None:
    plt.errorbar(X, X, 500, 300, capsize=3)
    plt.step(X, X)
    plt.ticklabel_format(style="sci", scilimits=(0, 0))
    plt.margins(0)


PLAIN = {"depths": _depths, "legend": _legend, "legend outside": _legend_outside, "bars": _bars, "grid": _grid,
         "two scales": _two_scales, "words": _words, "picture": _picture, "circle": _circle, "equal": _equal,
         "days": _days, "steps": _steps}  # fmt: skip


def _noted() -> None:
    plt.plot(X, X)
    plt.annotate("here", (1000, 1000), (20_000, 15_000), arrowprops={"arrowstyle": "->"})


def _constrained() -> None:
    plt.subplots(layout="constrained")
    plt.plot(X, X)


def _polar() -> None:
    plt.polar(X, X)


def _in_space() -> None:
    plt.figure().add_subplot(projection="3d").plot(X, X, X)


def _inset() -> None:
    plt.plot(X, X)
    plt.gca().inset_axes([0.9, 0.9, 0.4, 0.4]).plot(X, X)


def _table() -> None:
    plt.table([["1", "2"], ["3", "4"]], loc="bottom")


#: What is drawn twice as before, for where its parts stand shows when they are drawn.
OTHERS = {"scatter": _scatter, "tight": _tight, "noted": _noted, "constrained": _constrained, "polar": _polar,
          "in space": _in_space, "inset": _inset, "table": _table, "empty": lambda: plt.figure()}  # fmt: skip


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Each figure that is drawn, as often as it is."""
    found: list[Figure] = []
    draw = Figure.draw
    monkeypatch.setattr(Figure, "draw", lambda fig, renderer: found.append(fig) or draw(fig, renderer))
    return found


@pytest.mark.parametrize("kind", [*a_few(PLAIN, 4), *a_few(OTHERS, 4)])
def test_picture_is_the_same_to_the_last_byte(kind: str, drawn):
    make = (PLAIN | OTHERS)[kind]
    make()
    theirs = pylabtools.print_figure(plt.gcf())
    plt.close("all")
    drawn.clear()
    make()
    drawn.clear()
    ours = plots.print_figure(plt.gcf())
    assert ours == theirs
    if kind in PLAIN:
        assert len(ours) > 1500
        assert len(drawn) == 1


def test_picture_is_the_same_without_the_fonts_that_are_not_there():
    _legend()
    before = pylabtools.print_figure(plt.gcf())
    there = list(matplotlib.rcParams["font.sans-serif"])
    plt.close("all")
    plots.look_for_no_missing_fonts()
    left = matplotlib.rcParams["font.sans-serif"]
    assert "DejaVu Sans" in left
    assert len(left) < len(there)
    _legend()
    assert pylabtools.print_figure(plt.gcf()) == before


@pytest.mark.parametrize("first", ["", "%matplotlib inline\n", "%config InlineBackend.figure_format = 'png'\n"])
def test_figure_of_a_room_is_drawn_once(room: Runner, first):
    """The cell counts drawings, and shows its figure at its end as every cell does."""
    count = (
        "import matplotlib.pyplot as plt\nfrom matplotlib.figure import Figure\n"
        "times, draw = [], Figure.draw\n"
        "Figure.draw = lambda fig, renderer: times.append(1) or draw(fig, renderer)"
    )
    sources = [count, f"{first}plt.plot([1, 2, 4]);", "print(len(times))"]
    cells = [{"cell_type": "code", "id": f"c{n}", "metadata": {}, "outputs": [], "source": s}
             for n, s in enumerate(sources)]  # fmt: skip
    run = room.run({"cells": cells})
    assert run.cell_errors == ()
    outputs = [cell["outputs"] for cell in run.notebook["cells"]]
    assert "image/png" in outputs[1][0]["data"]
    assert outputs[2][0]["text"] == "1\n"
