"""What a returned script shows of where it comes from: facts for the assessor to look at, none of which is a verdict.

No fact touches the marks, which come from the registered numbers whatever the script says they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from exercises.model.variant import Variant
from grader.papers.notebook import TITLE_CELL, as_printed, paper_digest, question_cells
from grader.returned.scripts import Script
from grader.running.checked_answers import clip
from grader.store.register import Paper

#: Most cells that a fact names.
MOST_NAMED = 6
#: Longer than any printed cell, in characters.
LONGEST_PRINTED = 100_000


def for_assessor(script: Script, variants: tuple[Variant, ...], questions: list[tuple[str, str]]) -> Iterator[str]:
    """A line for each thing about a script that does not fit the paper that it answers.

    ``variants`` are those of its paper, and ``questions`` its :func:`question_cells`.

    A script without a digest was handed out before papers had one; of its cells nothing is said.
    """
    about = script.notebook["metadata"]["pitside"]
    if about.get("keyed_in") is True:
        yield "Keyed in from paper: the answers were typed by the assessor from the printed sheet."
    for one in about.get("observed", ()) if isinstance(about.get("observed"), list) else ():
        yield f"Observed at the machine: {clip(str(one), 300)}"
    if script.named:
        yield (
            f"The file name names {script.named}, but the script is {script.paper.candidate}'s: "
            "see that it came from whom it should."
        )
    worksheet = about.get("worksheet")
    other = worksheet.get("paper") if isinstance(worksheet, dict) else None
    if other is not None and other != script.paper.id:
        yield (
            f"What the worksheet kept in it is of paper {clip(str(other), 60)}, not of {script.paper.id}: "
            "see whose answers they are."
        )
    digest = about.get("digest")
    if digest is not None:
        cells, told = script.notebook["cells"], clip(str(digest), 64)
        said = list(_on_cells(script.paper, cells, told, questions))
        if said:
            # A pack that was handed out before a wording changed is as good as one of today.
            before = list(_on_cells(script.paper, cells, told, question_cells(variants, repeated=True)))
            said = min(said, before, key=len)
        yield from said


def _on_cells(
    paper: Paper, cells: list[dict[str, Any]], digest: str, questions: list[tuple[str, str]]
) -> Iterator[str]:
    # Of a longer cell only so much is looked at: none that is printed is so long.
    there = {as_printed(_source(cell)[: LONGEST_PRINTED + 1]) for cell in cells}
    changed = [name for name, source in questions if as_printed(source) not in there]
    title = _title(paper, cells)
    if title is None:
        changed.insert(0, TITLE_CELL)
    if changed:
        more = f" and {len(changed) - MOST_NAMED} more" if len(changed) > MOST_NAMED else ""
        yield (
            f"Printed cells are changed or gone: {', '.join(changed[:MOST_NAMED])}{more}. "
            "It was marked on the registered numbers."
        )
    # Which title was printed the school may have changed since; that it is the candidate's is seen above.
    if title is not None:
        expected = paper_digest([(TITLE_CELL, title), *questions])
        if digest != expected:
            yield (
                f"Its digest ({digest[:8] or 'empty'}) is not that of paper {paper.id} with the title that it has "
                f"({expected[:8]}): compare them with the digest on the sheet that was printed."
            )


def _title(paper: Paper, cells: list[dict[str, Any]]) -> str | None:
    """The source of the title cell, if there is one that names the paper; by its words where ids were lost."""
    naming = [cell for cell in cells if cell["cell_type"] == "markdown" and f"paper {paper.id}," in _source(cell)]
    named = [cell for cell in naming if cell.get("id") == TITLE_CELL]
    return _source((named or naming)[0])[:LONGEST_PRINTED] if naming else None


def _source(cell: dict[str, Any]) -> str:
    return cell["source"] if isinstance(cell["source"], str) else "".join(cell["source"])
