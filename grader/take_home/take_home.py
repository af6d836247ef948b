"""What each candidate takes home: feedback, certificate, what to study, and fresh practice, as a zip and as PDF.

All of it is made of what the records hold already; nothing here gives a mark. Candidates with answers that wait for
marks get nothing yet, so that nobody takes half a result for a whole one.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from exercises import LESSONS
from exercises.model.variant import Variant
from grader.certificates.certificates import file_stem, folder_of
from grader.marking.record import MarkedExercise
from grader.pages.pages import filled
from grader.papers.practice_papers import (
    CASE,
    fresh_variants,
    keep_shown,
    practice_page,
    taken_numbers,
)
from grader.reports.results import Result, feedback_file
from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.files import write_bytes
from grader.store.percents import floored
from grader.store.school import Candidate, School
from grader.take_home.pdf import Printer

#: Sets of numbers to practise with, in each unit system.
SETS = 6


@dataclass(frozen=True)
class Parcel:
    """What one candidate takes home: the zip, and the PDF where pages can be printed."""

    candidate: str
    archive: Path
    document: Path | None


@dataclass(frozen=True)
class Parcels:
    """What was put together, and why nothing was for each other candidate."""

    made: tuple[Parcel, ...]
    left_out: tuple[str, ...]


def folder(school: School) -> Path:
    """Where the parcels lie."""
    return school.records / "take_home"


def put_together(
    school: School,
    results: Sequence[Result],
    named: Sequence[str],
    book: str,
    printer: Printer | None,
    progress: Callable[[int, int], None],
) -> Parcels:
    """Write a parcel for each candidate whose counting results are all final, or of those for each who is ``named``.

    ``book`` is the address at which the candidate finds the book, to link its pages; without it they are named alone.

    Raises: :class:`GraderError` where the results are not written, or an exercise has no numbers left to practise with.
    """
    wanted = {school.candidate(one).id for one in named}
    chosen = [candidate for candidate in school.roster if not named or candidate.id in wanted]
    of = {c.id: [r for r in results if r.candidate.id == c.id and r.counts and r.record] for c in chosen}
    left_out = [f"{c.id}: {why}" for c in chosen if (why := _why_not(school, of[c.id]))]
    ready = [candidate for candidate in chosen if not _why_not(school, of[candidate.id])]
    wrong = {candidate.id: dict(_went_wrong(of[candidate.id])) for candidate in ready}
    drawn = _practice(school, {variant.exercise.id for one in wrong.values() for variant, _ in one.values()})
    certificates = CertificateRegister(school, only_read=True)
    made = []
    for count, candidate in enumerate(ready, 1):
        files = _contents(school, candidate, of[candidate.id], wrong[candidate.id], drawn, certificates, book)
        path = folder(school) / f"{school.id}_{candidate.id}.zip"
        document = path.with_suffix(".pdf")
        if printer:
            write_bytes(document, printer.joined(files[name] for name in files if _is_printed(name)))
        else:
            # Of an earlier state, which the zip of now does not go with.
            document.unlink(missing_ok=True)
        write_bytes(path, _zipped({f"{candidate.id}/{name}": data for name, data in files.items()}))
        made.append(Parcel(candidate.id, path, document if printer else None))
        progress(count, len(ready))
    return Parcels(tuple(made), tuple(left_out))


def _why_not(school: School, results: Sequence[Result]) -> str:
    if not results:
        return "nothing of them is marked"
    waiting = [f"{r.sitting.id} part {', '.join(r.record.pending)}" for r in results if r.record and r.record.pending]
    if waiting:
        return f"words wait for marks ({'; '.join(waiting)}): pitside written {school.here}"
    if any(not feedback_file(school, one, is_draft=False).exists() for one in results):
        return f"the feedback is not written yet: pitside results {school.here}"
    return ""


def _went_wrong(results: Iterable[Result]) -> Iterable[tuple[str, tuple[Variant, MarkedExercise]]]:
    """The exercises of which marks were lost, each once, the one that cost the larger share of its marks first."""
    lost = [
        (marked.marks / marked.out_of, variant, marked)
        for result in results
        for _, variant, marked in result.exercises
        if marked.marks < marked.out_of
    ]
    for _, variant, marked in sorted(lost, key=lambda one: one[0]):
        yield variant.exercise.id, (variant, marked)


def _practice(school: School, names: set[str]) -> dict[str, dict[str, list[Variant]]]:
    """Fresh variants of these exercises, the same for everybody; kept as shown, so that no resit gets their numbers."""
    exercises = [school.bank[name] for name in school.bank if name in names and school.bank[name].level < CASE]
    taken = taken_numbers(school)
    drawn = {e.id: fresh_variants(e, SETS, taken, f"{school.id} to take home") for e in exercises}
    for sitting in school.sittings:
        if of_sitting := {name: drawn[name] for name in sitting.exercises if name in drawn}:
            keep_shown(school, sitting, of_sitting)
    return drawn


def _contents(
    school: School,
    candidate: Candidate,
    results: Sequence[Result],
    wrong: dict[str, tuple[Variant, MarkedExercise]],
    drawn: dict[str, dict[str, list[Variant]]],
    certificates: CertificateRegister,
    book: str,
) -> dict[str, bytes]:
    """The files of a parcel, by name; the page to begin with comes first."""
    feedback = {f"feedback_{one.paper.session}.html": one for one in results if one.paper}
    held = certificates.current(candidate.id)
    stem = folder_of(school) / file_stem(held.serial, held.candidate) if held else None
    own = [stem.with_name(f"{stem.name}.{kind}") for kind in ("html", "json")] if stem else []
    certificate = {f"certificate.{path.suffix[1:]}": path.read_bytes() for path in own if path.exists()}
    practice = {name: drawn[name] for name in wrong if name in drawn}
    page = practice_page(school.title, "what went wrong", practice, ()) if practice else ""
    practised = {"practice.html": page.encode()} if page else {}
    start = filled(
        "take_home/start.html",
        school=school,
        candidate=candidate,
        results=[(name, one, floored(one.percent)) for name, one in feedback.items()],
        certificate=held if certificate else None,
        lessons=_lessons(school, wrong, book),
        practice=bool(practice),
        tasks=any(one.sitting.observed for one in results),
        cases=[variant.exercise.title for name, (variant, _) in wrong.items() if name not in drawn],
    )
    pages = {name: feedback_file(school, one, is_draft=False).read_bytes() for name, one in feedback.items()}
    return {"start.html": start.encode(), **pages, **certificate, **practised}


@dataclass(frozen=True)
class Lesson:
    """A lesson to study again: where it stands in the book, and what of it went wrong."""

    title: str
    address: str
    exercises: tuple[str, ...]
    slips: tuple[str, ...]


def _lessons(school: School, wrong: dict[str, tuple[Variant, MarkedExercise]], book: str) -> list[Lesson]:
    found: dict[str, list[tuple[Variant, MarkedExercise]]] = {}
    for variant, marked in wrong.values():
        found.setdefault(variant.exercise.lesson, []).append((variant, marked))
    return [
        Lesson(
            LESSONS[lesson].title,
            f"{book.rstrip('/')}/lessons/{lesson}.html" if book else "",
            tuple(f"{v.exercise.title} ({m.marks:g} of {m.out_of:g} marks)" for v, m in each),
            tuple(dict.fromkeys(item.comment for _, m in each for item in m.items if item.slip and item.comment)),
        )
        for lesson, each in found.items()
    ]


def _is_printed(name: str) -> bool:
    """Practice is worked in the browser, and a credential is for programs."""
    return name.endswith(".html") and not name.startswith("practice")


def _zipped(files: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def address_of(book: str) -> str:
    """Where a candidate finds the book: a web address, or a folder beside the unpacked parcel.

    Raises: :class:`GraderError` for anything else, which a candidate's device does not have.
    """
    if book.startswith(("https://", "http://")):
        return book.rstrip("/")
    if not book or Path(book).is_absolute() or ".." in Path(book).parts or ":" in book:
        raise GraderError(
            f"{book}: not where a candidate finds the book; write a web address (https://...), or the name of the "
            "folder that lies beside the unpacked parcel, such as book"
        )
    return f"../{quote(Path(book).as_posix())}"
