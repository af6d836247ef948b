"""What the desk's rooms show, read from the school each time; nothing is written here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from exercises import LESSONS
from exercises.model.marking import Rounding
from exercises.plans import exercise_minutes
from exercises.tasks import TASKS
from grader.store.errors import GraderError
from grader.store.own_exercises import FOLDER
from grader.store.part_marks import Change
from grader.store.school import School, Sitting
from grader.store.settings import rule_of, settings_say_own
from grader.store.wording import counted

if TYPE_CHECKING:
    from grader.store.register import Paper

#: In the list of candidates, the whole school; no candidate's id has such a letter.
EVERYBODY = "*"

Values = Callable[[School, Mapping[str, str]], dict[str, Any]]


@dataclass(frozen=True)
class Shown:
    """A page of a room: its template, and what fills it, from the school and what stands behind the address."""

    room: str
    template: str
    values: Values


def _next(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.desk.next_steps import button_of
    from grader.reports.status import status

    found = status(school)
    return {
        "stands": found.stands,
        "several": any(stand.attempt > 1 for stand in found.stands),
        "refused": found.refused,
        "steps": [(step, button_of(step)) for step in found.steps],
    }


def _candidates(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.store.near_names import near_names
    from grader.store.rosters import table_of

    return {
        "table": table_of(school),
        "alike": list(near_names(school.roster, {one.id for one in school.roster})),
        "empty_lines": 4 if school.roster else 9,
    }


def _issued(school: School) -> dict[str, int]:
    """How many papers of each sitting were issued."""
    from grader.store.register import Register

    papers = Register(school, only_read=True).papers.values()
    return {one.id: sum(paper.sitting == one.id for paper in papers) for one in school.sittings}


def _sittings(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.papers.coverage import coverage, lines

    found = coverage(school)
    return {
        "lengths": {one.sitting: one for one in found.sittings},
        "issued": _issued(school),
        "coverage": list(lines(found)),
        "left_out": len(found.uncovered),
        "own": [school.exercise(name) for name in school.own_exercises],
        "own_allowed": settings_say_own(school),
        "own_folder": school.folder / FOLDER,
    }


def _one_sitting(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.papers.sample import sample_file

    name = asked.get("sitting", "")
    sitting: Sitting | None = school.sitting(name) if name else None
    is_tasks = sitting.observed if sitting else asked.get("kind") == "tasks"
    chosen = sitting.exercises if sitting else ()
    bank = {task.id: task.exercise for task in TASKS.values()} if is_tasks else school.bank
    of_task = {task.id: task.minutes for task in TASKS.values()}
    lessons = []
    for lesson in LESSONS.values():
        rows: list[dict[str, Any]] = [
            {
                "id": one.id,
                "title": one.title,
                "marks": one.marks,
                "minutes": of_task[one.id] if is_tasks else exercise_minutes(one),
                "outcomes": list(one.outcomes),
                "chosen": one.id in chosen,
            }
            for one in bank.values()
            if one.lesson == lesson.id
        ]
        if rows:
            lessons.append((lesson, rows, sum(row["chosen"] for row in rows)))
    return {
        "sitting": sitting,
        "is_tasks": is_tasks,
        "lessons": lessons,
        "issued": _issued(school).get(name, 0),
        "day": sitting.day if sitting else max(one.day for one in school.sittings),
        "weighed": weighed(school, name, is_tasks, chosen),
        "sample": _there(school, [("The sample that was written last", sample_file(school, sitting))])
        if sitting
        else [],
    }


def weighed(school: School, name: str, is_tasks: bool, chosen: Sequence[str]) -> dict[str, Any]:
    """What a sitting would be with these exercises, and the outcomes that no sitting would assess then."""
    from grader.papers.coverage import coverage

    known = TASKS if is_tasks else school.bank
    kept = tuple(one for one in dict.fromkeys(chosen) if one in known)
    others = tuple(one for one in school.sittings if one.id != name)
    planned = Sitting(name or "new", "", school.starts, kept, observed=is_tasks)
    found = coverage(replace(school, sittings=(*others, planned)))
    length = found.sittings[-1]
    what = counted(length.exercises, "task" if is_tasks else "exercise")
    return {
        "line": f"{what} chosen, {length.marks:g} marks, about {length.minutes} minutes",
        "left_out": [f"{lesson.title}: {outcome}" for lesson, outcome in found.uncovered],
        "says": left_out_in_words(len(found.uncovered)),
    }


def left_out_in_words(count: int) -> str:
    """How many outcomes of the lessons taught no sitting assesses."""
    if not count:
        return "Every outcome of the lessons taught is assessed by a sitting"
    return f"{counted(count, 'outcome')} of the lessons taught {'is' if count == 1 else 'are'} assessed by no sitting"


def _hand_out(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.pages.built_book import built_book
    from grader.papers.handing_out import list_file, sheets_file
    from grader.papers.packs import is_packed, pack_file
    from grader.papers.practice_papers import practice_file
    from grader.reports.roster_changes import corrections
    from grader.store.register import Register

    register = Register(school, only_read=True)
    watched = {one.id: one for one in school.sittings if one.observed}
    titles = {one.id: one.title for one in school.sittings}
    sessions: dict[str, dict[str, Any]] = {}
    for paper in register.papers.values():
        one = sessions.setdefault(
            paper.session,
            {
                "sitting": paper.sitting,
                "attempt": paper.attempt,
                "papers": 0,
                "files": [
                    (label, path.relative_to(school.folder).as_posix())
                    for label, path in (
                        ("all sheets, to print", sheets_file(school, paper.session)),
                        ("who gets what", list_file(school, paper.session)),
                        *_of_observers(school, watched, paper),
                    )
                    if path.exists()
                ],
                "packs": [],
                "observed": paper.sitting in watched,
                "title": titles.get(paper.sitting, paper.sitting),
            },
        )
        one["papers"] += 1
        if is_packed(school, paper) and pack_file(school, paper).exists():
            path = pack_file(school, paper).relative_to(school.folder).as_posix()
            one["packs"].append((paper.candidate, path))
    return {
        "sessions": sessions,
        "corrections": [str(one) for one in corrections(school, register)],
        "to_replace": any(one.to_replace for one in corrections(school, register)),
        "practice": [
            (one.title, practice_file(school, one).relative_to(school.folder).as_posix())
            for one in school.sittings
            if practice_file(school, one).exists()
        ],
        "book": built_book(),
    }


def _classroom(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from exercises.plans import minutes_of
    from grader.classroom.looking_on import seen, state
    from grader.classroom.room import is_open, room_of
    from grader.classroom.serving import addresses
    from grader.classroom.slips_file import slips_files
    from grader.store.register import Register

    papers = Register(school, only_read=True).papers.values()
    issued = {paper.session: (paper.sitting, paper.attempt) for paper in papers}
    sessions = []
    for session, (sitting_id, attempt) in issued.items():
        sitting = school.sitting(sitting_id)
        if sitting.observed:
            continue
        one: dict[str, Any] = {
            "session": session,
            "sitting": sitting,
            "attempt": attempt,
            "is_open": is_open(school, session),
            "minutes": minutes_of(school.exercise(name) for name in sitting.exercises),
            "slips": [
                (path.stem.partition("_")[2], path.relative_to(school.folder).as_posix())
                for path in slips_files(school, session)
                if path.suffix == ".html"
            ],
            "rows": [],
            "waits": 0,
        }
        if (room := room_of(school, session)) is not None:
            try:
                one["address"] = room.drafts.address(session)
                rows = seen(room)
                one["rows"] = [(each, state(each)) for each in rows]
                one["waits"] = sum(bool(each.begun) and each.hand_in is None for each in rows)
            finally:
                room.close()
        sessions.append(one)
    return {"sessions": sessions, "addresses": addresses()}


def _scripts(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.marking.aside import set_aside_files
    from grader.marking.records import read_record
    from grader.reports.status import status
    from grader.returned.scripts import read_scripts
    from grader.store.register import Register

    register = Register(school, only_read=True)
    back = {one.paper.id: one.file for one in read_scripts(school, register)[0]}
    rows = []
    for paper in register.papers.values():
        record = read_record(school, paper.id)
        file = back.get(paper.id, record.file if record else "")
        if record is None:
            marks = ""
        else:
            marks = f"{record.marks:g} of {record.out_of:g}" + (", words wait" if record.pending else "")
        rows.append({"paper": paper, "file": file, "marks": marks})
    found = status(school)
    # A folder that is not looked into, and the count of too many files, are no file.
    may_be_moved = {one.file for one in found.refused if (school.folder / one.file).is_file()}
    return {
        "rows": rows,
        "refused": found.refused,
        "may_be_moved": may_be_moved,
        "aside": set_aside_files(school),
        "unmarked": sum(stand.unmarked for stand in found.stands),
        "back": sum(bool(row["file"]) for row in rows),
        "marked": sum(bool(row["marks"]) for row in rows),
    }


def _there(school: School, pages: list[tuple[str, Path]]) -> list[tuple[str, str]]:
    return [(label, path.relative_to(school.folder).as_posix()) for label, path in pages if path.exists()]


def _attempt(number: int) -> str:
    return f", attempt {number}" if number > 1 else ""


def _named(sitting: Sitting, attempt: int) -> tuple[str, str, str]:
    """What the page and the two files of sheets of a sitting of tasks are called."""
    title = f"{sitting.title}{_attempt(attempt)}"
    return (
        f"The observers’ page of {title}",
        f"A sheet for each candidate to print, {title}",
        f"Copies with the steps, for observers alone, {title}",
    )


def _of_observers(school: School, watched: Mapping[str, Sitting], paper: Paper) -> list[tuple[str, Path]]:
    """The page and the sheets of the tasks in a paper, with what they are called; none of a paper of exercises."""
    from grader.observed.page import page_file
    from grader.observed.sheets import sheet_files

    sitting = watched.get(paper.sitting)
    if sitting is None:
        return []
    files = (page_file(school, sitting, paper.attempt), *sheet_files(school, sitting, paper.attempt))
    return list(zip(_named(sitting, paper.attempt), files, strict=True))


def _by_hand(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.marking.written_answers import page_file
    from grader.observed import page as observed
    from grader.observed.sheets import sheet_files
    from grader.returned import keyin
    from grader.store.register import Register

    register = Register(school, only_read=True)
    attempts = {
        one.id: sorted({1, *(paper.attempt for paper in register.papers.values() if paper.sitting == one.id)})
        for one in school.sittings
    }
    papers = [one for one in school.sittings if not one.observed]
    watched = [one for one in school.sittings if one.observed]
    return {
        "papers": papers,
        "watched": watched,
        "words": _there(school, [("The page on which words are marked", page_file(school))]),
        "keyins": _there(
            school,
            [
                (f"Key in the sheets of {one.title}{_attempt(number)}", keyin.page_file(school, one, number))
                for one in papers
                for number in attempts[one.id]
            ],
        ),
        "observes": _there(
            school,
            [
                shown
                for one in watched
                for number in attempts[one.id]
                for shown in zip(
                    _named(one, number),
                    (observed.page_file(school, one, number), *sheet_files(school, one, number)),
                    strict=True,
                )
            ],
        ),
    }


def _results(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.reports.results import feedback_file, gather

    found = gather(school, only_read=True)
    rows = []
    for one in found:
        path = feedback_file(school, one, not one.is_final)
        rows.append(
            {
                "result": one,
                "percent": f"{one.record.marks:g} of {one.record.out_of:g}" if one.record else "",
                "feedback": path.relative_to(school.folder).as_posix() if one.record and path.exists() else "",
            }
        )
    files = [("The results", school.records / "results.html"), ("As a workbook", school.records / "results.xlsx")]
    files += [(f"Debrief of {one.title}", school.records / f"debrief_{one.id}.html") for one in school.sittings]
    return {"rows": rows, "files": _there(school, files)}


def _paper(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.marking.changes import most_marks
    from grader.marking.explain import explain
    from grader.marking.trail import trail
    from grader.reports.results import gather

    wanted, part = asked.get("paper", ""), asked.get("part", "")
    result = next((one for one in gather(school, only_read=True) if one.paper and one.paper.id == wanted), None)
    if result is None or result.paper is None:
        raise GraderError(f"{wanted or 'nothing'}: no such paper; choose one in the room Results")
    most = most_marks(result.record) if result.record else {}
    changed = {name for name, _ in result.record.changes} if result.record else set()
    parts = [
        {"name": name, "marks": marks, "out_of": most.get(name), "changed": name in changed}
        for name, marks in (result.record.part_marks if result.record else {}).items()
    ]
    return {
        "result": result,
        "paper": result.paper,
        "parts_of_paper": parts,
        "changes": _changes(result.record.changes if result.record else ()),
        "part": part,
        "explained": explain(school, wanted, part) if part and result.record else [],
        "trail": trail(school, wanted),
    }


def _changes(changes: Sequence[tuple[str, Change]]) -> list[dict[str, Any]]:
    """The changes of a paper's marks, in order; the latest of each part can be put back."""
    latest = {part: number for number, (part, _) in enumerate(changes)}
    return [
        {
            "part": part,
            "marks": one.marks,
            "before": one.before,
            "kind": str(one.kind),
            "who": one.who,
            "why": one.why,
            "latest": latest[part] == number,
        }
        for number, (part, one) in enumerate(changes)
    ]


def _decisions(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.certificates.certificates import check_page_file, file_stem, folder_of
    from grader.reports.competence import rule_in_words
    from grader.store.certificate_register import CertificateRegister
    from grader.take_home.take_home import folder

    issued = list(CertificateRegister(school, only_read=True).issued.values())
    return {
        "rule": rule_in_words(school),
        "settings": rule_of(school),
        "roundings": list(Rounding),
        "absences": school.absences,
        "empty_lines": 2,
        "files": _there(
            school,
            [
                ("The decisions, to print and sign", school.records / "decisions.html"),
                ("The same as a workbook", school.records / "decisions.xlsx"),
                ("The page with which employers check certificates", check_page_file(school)),
            ],
        ),
        "certificates": [
            (
                one,
                [
                    (path.suffix[1:], path.relative_to(school.folder).as_posix())
                    for path in sorted(folder_of(school).glob(f"{file_stem(one.serial, one.candidate)}.*"))
                ],
            )
            for one in issued
        ],
        "parcels": [
            (path.name, path.relative_to(school.folder).as_posix())
            for path in sorted(folder(school).glob("*"))
            if path.suffix in (".zip", ".pdf")
        ],
    }


def _records(school: School, asked: Mapping[str, str]) -> dict[str, Any]:
    from grader.marking.trail import trail
    from grader.privacy.privacy import everybody, kept_lines, kept_until

    who = asked.get("candidate", "")
    whole = who == EVERYBODY
    return {
        "people": everybody(school),
        "who": who,
        "until": kept_until(school),
        "everybody": EVERYBODY,
        "kept": list(kept_lines(school, who)) if who and not whole else [],
        "trail": trail(school, "" if whole else who) if who else [],
    }


PAGES: Mapping[str, Shown] = {
    "": Shown("", "next.html", _next),
    "candidates": Shown("candidates", "candidates.html", _candidates),
    "sittings": Shown("sittings", "sittings.html", _sittings),
    "sitting": Shown("sittings", "sitting.html", _one_sitting),
    "hand-out": Shown("hand-out", "hand_out.html", _hand_out),
    "classroom": Shown("classroom", "classroom.html", _classroom),
    "scripts": Shown("scripts", "scripts.html", _scripts),
    "by-hand": Shown("by-hand", "by_hand.html", _by_hand),
    "results": Shown("results", "results.html", _results),
    "paper": Shown("results", "paper.html", _paper),
    "decisions": Shown("decisions", "decisions.html", _decisions),
    "records": Shown("records", "records.html", _records),
}
