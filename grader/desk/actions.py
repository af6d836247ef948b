"""The desk's buttons: each does what a command does, by the same functions.

Nothing is decided here. An action reads its form, calls what the command calls, and says what came of it; the caller
holds the school's folder meanwhile.
"""

from __future__ import annotations

import webbrowser
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from grader.desk.jobs import Progress, Said
from grader.desk.said import GIVEN, Given
from grader.desk.what_counts import (
    allow_own,
    ask_absences,
    ask_rule,
    bring_back,
    decided_otherwise,
    forbid_own,
    put_absences,
    put_rule,
    sample,
    set_aside,
    try_own,
)
from grader.store.errors import GraderError
from grader.store.plain_letters import id_of
from grader.store.rosters import Table, checked_file, checked_table, differences, put_file, put_table, table_of
from grader.store.school import School, Sitting, new_school, open_school
from grader.store.settings import Planned, put_settings, settings_text, with_sitting, with_value, without_sitting
from grader.store.wording import counted

if TYPE_CHECKING:
    from grader.classroom.room import Room

#: Lines of one kind that are shown; of more it says how many there are.
MOST_LINES = 60


@dataclass(frozen=True)
class Action:
    """A button: what its work is called, in which room it lies, and what it does.

    ``asks`` gives lines to be read before it is done; where there are none it is done at once. ``makes`` stands in
    place of ``does`` where there is no school yet, and gives the folder of the new one.
    """

    title: str
    room: str
    does: Callable[[School, Given, Progress], Said] = lambda school, given, progress: Said()
    asks: Callable[[School, Given], list[str]] | None = None
    makes: Callable[[Path, Given], tuple[Path, Said]] | None = None
    #: In place of ``does`` where the school cannot be opened before it is done.
    mends: Callable[[Path, Given], Said] | None = None
    #: The page that comes after it, where that is another than the room.
    then: Callable[[Given], str] | None = None


def _file(school: School, label: str, path: Path) -> tuple[str, str]:
    return label, path.relative_to(school.folder).as_posix()


def _cut(lines: Iterable[str]) -> list[str]:
    lines = list(lines)
    more = len(lines) - MOST_LINES
    return lines if more <= 0 else [*lines[:MOST_LINES], f"and {more} more"]


def _sitting(school: School, given: Given) -> Sitting | None:
    return school.sitting(name) if (name := given.text("sitting")) else None


def _day(text: str, what: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise GraderError(f"{what}: {text!r} is no day; write it as 2026-05-04") from None


# A school, its candidates and sittings -------------------------------------------------------------------------------


def _make(around: Path, given: Given) -> tuple[Path, Said]:
    title = given.text("title")
    if not title:
        raise GraderError("give the school a title")
    starts = _day(given.text("starts"), "first day") if given.text("starts") else date.today()
    folder = around / (id_of(title) or "school")
    days = given.whole("days", "days", 1, 5)
    new_school(folder, title, starts, days)
    said = [f"Made the school in the folder {folder}."]
    said += ["Its papers are chosen by the plan: see and change them in the room Sittings, before you issue any."]
    said += ["The file school.key in it is the school's secret: keep a copy in a safe place, give it to nobody."]
    return folder, Said.of(*said)


def _table(school: School, given: Given) -> Table:
    columns = table_of(school).columns
    cells = [given.many(f"column-{at}") for at in range(len(columns))]
    if len({len(column) for column in cells}) != 1:
        raise GraderError("the list came in pieces; open the page again and change it there")
    return Table(columns, tuple(zip(*cells, strict=True)))


def _ask_list(school: School, given: Given) -> list[str]:
    return _cut(differences(school.roster, checked_table(school, _table(school, given)))) or ["nothing changes"]


def _put_list(school: School, given: Given, progress: Progress) -> Said:
    table = _table(school, given)
    candidates = checked_table(school, table)
    put_table(school, table)
    return Said.of(f"The roster has {counted(len(candidates), 'candidate')} now.")


def _ask_import(school: School, given: Given) -> list[str]:
    name, path = given.named_file("roster")
    candidates = checked_file(school, path, name)
    changes = differences(school.roster, candidates)
    if not changes:
        return [f"{name} says what the roster says already: {counted(len(candidates), 'candidate')}"]
    return [f"{name}: {counted(len(candidates), 'candidate')} in place of {len(school.roster)}", *_cut(changes)]


def _import(school: School, given: Given, progress: Progress) -> Said:
    name, path = given.named_file("roster")
    candidates = checked_file(school, path, name)
    put_file(school, path)
    return Said.of(f"The roster has {counted(len(candidates), 'candidate')} now, from {name}.")


def _put_sitting(school: School, given: Given, progress: Progress) -> Said:
    planned = _planned(school, given)
    text = with_sitting(settings_text(school), planned, school.bank)
    before = next((one for one in school.sittings if one.id == planned.id), None)
    if before and _is_issued(school, before) and (lines := _weight_change(before, planned.weight)):
        from grader.store.log import RULE_CHANGED, Log

        open_school(school.folder, text)
        Log(school).write(RULE_CHANGED, rule=lines, why=given.text("reason"))
    put_settings(school, text)
    what = counted(len(planned.exercises), "task" if planned.observed else "exercise")
    return Said.of(f"{planned.title} ({planned.id}) has {what}.")


def _planned(school: School, given: Given) -> Planned:
    """The sitting that a form asks for. Raises: :class:`GraderError` where it cannot be."""
    chosen, kind = given.many("exercise"), given.text("kind")
    title = given.text("title")
    if not title:
        raise GraderError("give the sitting a title")
    name = given.text("sitting") or id_of(title)
    before = next((one for one in school.sittings if one.id == name), None)
    if before and not given.text("sitting"):
        raise GraderError(f"there is a sitting {name} already; give this one another title")
    if not chosen:
        raise GraderError(f"choose at least one {'task' if kind == 'tasks' else 'exercise'} for {title}")
    # Those that were there keep their order.
    order = {one: at for at, one in enumerate(before.exercises)} if before else {}
    exercises = tuple(sorted(chosen, key=lambda one: order.get(one, len(order))))
    return Planned(name, title, _day(given.text("day"), "day"), given.number("weight", "weight"), exercises,
                      observed=kind == "tasks")  # fmt: skip


def _ask_drop(school: School, given: Given) -> list[str]:
    sitting = school.sitting(given.text("sitting"))
    if _is_issued(school, sitting):
        raise GraderError(f"papers of {sitting.id} were issued, so it stays")
    if len(school.sittings) == 1:
        raise GraderError("a school needs a sitting; make another one first")
    return [f"{sitting.title} ({sitting.id}) is taken out of the settings"]


def _ask_sitting(school: School, given: Given) -> list[str]:
    """What another weight would change, where papers were issued; else nothing has to be asked."""
    before = next((one for one in school.sittings if one.id == given.text("sitting")), None)
    if before is None or not _is_issued(school, before):
        return []
    weight = given.number("weight", "weight")
    if weight == before.weight:
        return []
    if not given.text("reason"):
        raise GraderError(f"papers of {before.id} were issued: say why its weight changes; it goes into the log")
    text = with_sitting(settings_text(school), _planned(school, given), school.bank)
    return [*_weight_change(before, weight), *decided_otherwise(school, open_school(school.folder, text))]


def _weight_change(before: Sitting, weight: float) -> list[str]:
    return [f"the weight of {before.title}: {before.weight:g} becomes {weight:g}"] if weight != before.weight else []


def _is_issued(school: School, sitting: Sitting) -> bool:
    from grader.store.register import Register

    return any(paper.sitting == sitting.id for paper in Register(school, only_read=True).papers.values())


def _drop_sitting(school: School, given: Given, progress: Progress) -> Said:
    _ask_drop(school, given)
    put_settings(school, without_sitting(settings_text(school), given.text("sitting")))
    return Said.of(f"{given.text('sitting')} is no sitting of the school any more.")


def _put_school(school: School, given: Given, progress: Progress) -> Said:
    text = settings_text(school)
    title = given.text("title")
    if title and title != school.title:
        text = with_value(text, "school", "title", title)
    if (assessor := given.text("assessor")) != school.assessor:
        text = with_value(text, "school", "assessor", assessor or None)
    if (months := given.whole("keep_months", "months", 0, 1200)) != school.keep_months:
        text = with_value(text, "privacy", "keep_months", months)
    put_settings(school, text)
    return Said.of("The school's settings are kept.")


# Hand out -------------------------------------------------------------------------------------------------------------


def _issue(school: School, given: Given, progress: Progress) -> Said:
    from grader.papers.handing_out import list_file, note_arrangements, sheets_file
    from grader.papers.issue import chosen_sittings, issue
    from grader.reports.roster_changes import corrections
    from grader.store.near_names import near_names
    from grader.store.register import Register, attempt_suffix

    named = tuple(one for one in given.many("candidate") if one)
    attempt = given.whole("attempt", "attempt") or 1
    issued = {paper.candidate for paper in Register(school, only_read=True).papers.values()}
    alike = list(near_names(school.roster, {one.id for one in school.roster} - issued))
    chosen = chosen_sittings(school, given.text("sitting") or None, named=named)
    done = issue(school, chosen, progress, attempt, named)
    corrected = corrections(school, Register(school, only_read=True))
    note_arrangements(school)
    sessions = [one.id + attempt_suffix(attempt) for one in chosen]
    files = [_file(school, f"All sheets of {one}, to print", sheets_file(school, one)) for one in sessions]
    files += [_file(school, f"Who gets what in {one}", list_file(school, one)) for one in sessions]
    return Said.of(
        f"{', '.join(sessions)}: {counted(done.drawn, 'paper')} drawn, {counted(done.packed, 'pack')} written, "
        f"{done.already} there before.",
        files=[one for one in files if (school.folder / one[1]).exists()],
        look=_cut(
            [f"{pair}. If it is one person, delete a line of the roster." for pair in alike]
            + [f"The roster was corrected since: {one}" for one in corrected]
        ),
    )


def _replace(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports.roster_changes import replace_papers

    reason = given.text("reason")
    if not reason:
        raise GraderError("say why the pack is written again; it goes into the log")
    named = tuple(one for one in given.many("candidate") if one)
    sitting = _sitting(school, given)
    done = replace_papers(
        school, (sitting,) if sitting else school.sittings, named, reason, given.whole("attempt", "attempt"), progress
    )
    look = [
        f"{one.paper.candidate}: a new paper in {one.drawn_anew} units; take the earlier one back, it does not count"
        for one in done
        if one.drawn_anew
    ]
    look += [
        f"{one.paper.candidate} stays in {one.kept_units} units, since a script of it came back"
        for one in done
        if one.kept_units
    ]
    return Said.of(
        f"{counted(len(done), 'pack')} written again.",
        files=[_file(school, f"Pack of {one.paper.candidate}", one.pack) for one in done[:MOST_LINES]],
        look=look,
    )


def _practice(school: School, given: Given, progress: Progress) -> Said:
    from grader.papers.practice_papers import write_practice

    sitting = _sitting(school, given)
    chosen = (sitting,) if sitting else tuple(one for one in school.sittings if not one.observed)
    pages = write_practice(school, chosen, given.whole("papers", "papers", 1, 100) or 12, progress)
    written = [(one, page) for one, page in zip(chosen, pages, strict=True) if page.path.name]
    return Said.of(
        "For everybody who sits; after a change of the roster write them again before you hand them out.",
        files=[_file(school, f"Practice papers of {one.title}", page.path) for one, page in written],
    )


def _open_book(school: School, given: Given, progress: Progress) -> Said:
    from grader.pages.built_book import the_book

    page = the_book()
    webbrowser.open(page.as_uri())
    return Said.of(f"The book opens in a window of its own. If it does not, open {page}")


def _copy_book(school: School, given: Given, progress: Progress) -> Said:
    from grader.pages.built_book import copy_book

    if not given.text("to"):
        raise GraderError("name the folder first that the book is to be copied to")
    # A name alone lies beside the school, not wherever the desk was started.
    return Said.of(f"The book is copied. Its first page: {copy_book(school.folder.parent / given.text('to'))}")


# The classroom --------------------------------------------------------------------------------------------------------


def _session(school: School, given: Given) -> tuple[str, int]:
    from grader.store.register import sitting_and_attempt

    sitting, attempt = sitting_and_attempt(given.text("session"))
    school.sitting(sitting)
    return sitting, attempt


def _open_classroom(school: School, given: Given, progress: Progress) -> Said:
    from grader.classroom.running import begin
    from grader.classroom.slips import unread_arrangements, write_slips

    sitting, attempt = _session(school, given)
    minutes = given.number("minutes", "minutes") if given.text("minutes") else None
    served = begin(school.folder, sitting, attempt, given.text("address"), minutes, given.is_on("tls"))
    room = served.room
    files = []
    if given.is_on("slips") or not room.drafts.has_codes(room.session):
        files = [_file(school, "The slips, to print and cut", write_slips(room, served.address))]
    return Said.of(
        f"The classroom of {room.session} is open at {served.address}, while the desk is open.",
        "The connection is encrypted; browsers warn of the school's certificate, and the slips tell its fingerprint."
        if served.fingerprint
        else "The connection is not encrypted: use a network of the school's own, that no stranger is on.",
        files=files,
        look=_cut(unread_arrangements(room)),
    )


def _in_classroom(school: School, given: Given, work: Callable[[Room], Said]) -> Said:
    from grader.classroom.room import Room

    room = Room(school.folder, *_session(school, given))
    try:
        said = work(room)
        room.write_log(is_held=True)
        return said
    finally:
        room.close()


def _close_classroom(school: School, given: Given, progress: Progress) -> Said:
    from grader.classroom.left_over import left_over
    from grader.classroom.running import closed

    def work(room: Room) -> Said:
        room.drafts.ask_to_stop(room.session)
        if not closed(room):
            raise GraderError("the classroom does not close yet; look again in a minute")
        room.write_log(is_held=True)
        left = left_over(school, room.drafts, (paper for _, paper in room.candidates))
        return Said.of("The classroom is closed. What was saved is kept, and its slips are deleted.", look=_cut(left))

    return _in_classroom(school, given, work)


def _new_slip(school: School, given: Given, progress: Progress) -> Said:
    from grader.classroom.slips import slips_of_open
    from grader.store.register import attempt_suffix

    sitting, attempt = _session(school, given)
    path = slips_of_open(school, sitting + attempt_suffix(attempt), given.many("candidate"))
    if path is None:
        raise GraderError("the classroom of this sitting is not open; open it first")
    return Said.of("The code of before opens nothing any more.", files=[_file(school, "The new slip, to print", path)])


def _more_time(school: School, given: Given, progress: Progress) -> Said:
    def work(room: Room) -> Said:
        total = room.give_minutes(given.text("candidate"), given.number("minutes", "minutes"))
        return Said.of(f"{given.text('candidate')} has {total:g} minutes more by now.")

    return _in_classroom(school, given, work)


def _ask_hand_in(school: School, given: Given) -> list[str]:
    return ["what is saved is handed in for all who began and did not do it; they cannot change it after that"]


def _hand_in_saved(school: School, given: Given, progress: Progress) -> Said:
    def work(room: Room) -> Said:
        done = room.hand_in_saved()
        return Said.of(f"{counted(len(done), 'script')} handed in with what was saved: {', '.join(done) or 'nobody'}.")

    return _in_classroom(school, given, work)


# Take in and mark -----------------------------------------------------------------------------------------------------


def _take_in(school: School, given: Given, progress: Progress) -> Said:
    from grader.returned.taking_in import take_in

    sent = [*given.files.get("scripts", ()), *given.files.get("folder", ())]
    if not sent:
        raise GraderError("choose the files that came back first, or drop them on the page")
    done = take_in(school, sent)
    return Said.of(
        f"{counted(len(done.new), 'file')} taken in." if done.new else "No new file.",
        f"{counted(len(done.there), 'file')} lay there before, the same." if done.there else "",
        look=_cut(f"Not taken: {one}" for one in done.left_out),
    )


def _mark(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.marking import mark_school
    from grader.marking.rooms import How

    again, new_scheme, reason = given.is_on("again"), given.is_on("new_scheme"), given.text("reason")
    if (again or new_scheme) and not reason:
        raise GraderError("to mark again, say why; it goes into the log")
    tally = mark_school(
        school,
        progress,
        How(given.is_on("allow_missing_walls")),
        again=reason if again else "",
        new_scheme=reason if new_scheme else "",
    )
    lines = [f"{counted(tally.marked, 'script')} marked, {tally.already} marked before."]
    lines += [f"Hand marks of {counted(tally.merged, 'script')} merged."] if tally.merged else []
    lines += [f"{counted(tally.pending, 'script')} with answers in words that wait for marks."] if tally.pending else []
    look = [f"{one.file}: {one.reason}" for one in tally.refused]
    look += list(tally.hand_notes)
    if tally.waiting:
        look.append(f"{counted(tally.waiting, 'script')} must be run and cannot be here. {tally.missing_walls}")
    if tally.other_rule:
        look.append(
            f"{counted(tally.other_rule, 'paper')} keep the rule for impossible answers that they were issued with"
        )
    return Said.of(*lines, look=_cut(look))


def _ask_mark_again(school: School, given: Given) -> list[str]:
    if not given.text("reason"):
        raise GraderError("to mark again, say why; it goes into the log")
    which = "by today's mark scheme, papers whose exercise changed" if given.is_on("new_scheme") else "all scripts"
    return [f"marked again: {which}", "marks can change; old and new go into the log"]


# Marked by people -----------------------------------------------------------------------------------------------------


def _write_words(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.written_answers import write_page

    page = write_page(school, _sitting(school, given))
    waits = "waits" if page.answers == 1 else "wait"
    return Said.of(
        f"{counted(page.answers, 'answer')} in words to {counted(page.questions, 'question')} {waits} for marks; "
        f"{page.marked} marked by hand before.",
        files=[_file(school, "The page on which words are marked", page.path)] if page.answers else (),
        look=[f"Left out: {line}" for line in page.faults],
    )


def _take_words(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.written_answers import take

    taken = take(school, _as_named(given), given.is_on("replace"))
    stale = f"{counted(taken.stale, 'answer')} not taken, since script or mark scheme changed: write the page anew"
    return Said.of(
        f"{counted(taken.new, 'answer')} of {taken.marker} taken, {taken.replaced} in place of other marks, "
        f"{taken.already} had these marks already.",
        look=[stale] if taken.stale else (),
    )


def _ask_replace(school: School, given: Given) -> list[str]:
    """A file that may replace what was taken before is asked about; any other is taken at once."""
    if not given.is_on("replace"):
        return []
    name, _ = given.named_file("file")
    return [
        f"{name} replaces what was taken before, where it says otherwise; the log keeps the marks that stood",
        "to undo it, take the earlier file once more with the box ticked",
    ]


def _as_named(given: Given) -> Path:
    """The one file that was given, under a name by which its sender knows it in what is said of it."""
    from grader.returned.taking_in import plain_name

    name, path = given.named_file("file")
    named = path.with_name(f"{GIVEN}{path.name}") / plain_name(name)
    if not named.exists():
        named.parent.mkdir(exist_ok=True)
        path.replace(named)
    return named


def _write_keyin(school: School, given: Given, progress: Progress) -> Said:
    from grader.returned.keyin import write_page

    sitting = _sitting(school, given)
    lines, files = [], []
    for one in (sitting,) if sitting else [one for one in school.sittings if not one.observed]:
        path, candidates, there = write_page(school, one, given.whole("attempt", "attempt") or 1, progress)
        lines.append(f"{one.id}: {counted(candidates, 'candidate')}, {there} with a script already.")
        files.append(_file(school, f"Key in the sheets of {one.title}", path))
    return Said.of(*lines, files=files)


def _take_keyin(school: School, given: Given, progress: Progress) -> Said:
    from grader.returned.keyin import named_in, take

    file = _as_named(given)
    sitting, attempt = named_in(school, file)
    taken = take(school, sitting, file, attempt, given.is_on("replace"))
    return Said.of(
        f"{counted(len(taken.written), 'script')} written, {len(taken.replaced)} replaced, "
        f"{len(taken.already)} were there, the same."
    )


def _write_observe(school: School, given: Given, progress: Progress) -> Said:
    from grader.observed.page import write_page
    from grader.observed.sheets import write_sheets

    sitting = _sitting(school, given)
    chosen = (sitting,) if sitting else tuple(one for one in school.sittings if one.observed)
    if not chosen:
        raise GraderError("no sitting has tasks; make one in the room Sittings")
    lines, files = [], []
    for one in chosen:
        attempt = given.whole("attempt", "attempt") or 1
        path, candidates, seen = write_page(school, one, attempt)
        told, steps = write_sheets(school, one, attempt)
        lines.append(f"{one.id}: {counted(candidates, 'candidate')}, {counted(seen, 'task')} seen already.")
        files += [
            _file(school, f"The observers' page of {one.title}", path),
            _file(school, f"A sheet for each candidate to print, {one.title}", told),
            _file(school, f"Copies with the steps, for observers alone, {one.title}", steps),
        ]
    return Said.of(*lines, files=files)


def _take_observe(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.records import marked_before
    from grader.observed.take import take

    taken = take(school, _as_named(given), given.is_on("replace"))
    marked = len(marked_before(school, taken.scripts))
    return Said.of(
        f"{counted(taken.kept, 'task')} kept, {taken.second} of them by a second observer; {taken.already} were there.",
        f"{counted(marked, 'paper')} marked before: mark once more, or the old marks stand." if marked else "",
    )


def _moderate(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports import moderation, observers
    from grader.reports.results import gather

    one = school.sitting(given.text("sitting"))
    found = gather(school)
    if one.observed:
        report, decide_in, twice, apart = observers.write_report(school, one, found)
        return Said.of(
            f"{counted(twice, 'task')} seen by two observers, who differ on {counted(apart, 'part')}.",
            files=[
                _file(school, "How far both observers agree", report),
                _file(school, "The table to decide with, where they differ", decide_in),
            ],
        )
    sample = moderation.sample_of(school, one, found, given.whole("size", "size", 1, 1000))
    page, table = moderation.write_sheet(school, one, sample, found)
    look = moderation.write_look(school, one, sample, found)
    files = [_file(school, "What the mark scheme marked of them, for you alone", look)]
    if table.exists():
        files += [
            _file(school, "The second marker's page", page),
            _file(school, "The second marker's table, to be filled in", table),
        ]
    else:
        files = files[:1]
    told = "" if table.exists() else "No part of this sitting is in words, so nothing is marked twice."
    return Said.of(f"{counted(len(sample.drawn), 'script')} drawn.", told, files=files)


def _take_second(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports import moderation
    from grader.reports.results import gather

    one = school.sitting(given.text("sitting"))
    found = gather(school)
    sample = moderation.take_marks(school, one, _as_named(given), found)
    page, table = moderation.write_agreement(school, one, sample, found)
    return Said.of(
        f"{counted(len(sample.second), 'second mark')} taken.",
        files=[
            _file(school, "How far both markers agree", page),
            _file(school, "The table to decide with, where marks differ", table),
        ],
    )


def _settle(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports import moderation, observers
    from grader.reports.results import gather

    one = school.sitting(given.text("sitting"))
    changed = (observers if one.observed else moderation).settle(school, one, _as_named(given), gather(school))
    return Said.of(f"{counted(len(changed), 'decision')} on record. Write the results anew.")


# Results --------------------------------------------------------------------------------------------------------------


def _results(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports.results import unplaced
    from grader.reports.signed_results import write_all

    written = write_all(school, progress, given.is_on("unfinished"))
    found = written.found
    pending = sum(1 for one in found if one.record and one.record.pending)
    drafts = f"{counted(pending, 'script')} with answers in words that wait for marks; their feedback is a draft."
    return Said.of(
        f"{sum(1 for one in found if one.record)} of {counted(len(found), 'paper')} with marks.",
        drafts if pending and not given.is_on("unfinished") else "",
        f"State code: {written.state.code}. Keep it outside the school's folder; it shows later whether anything was "
        "put back.",
        files=[
            _file(school, "The results", written.index),
            _file(school, "The same as a workbook", written.table.with_suffix(".xlsx")),
        ],
        look=_cut(unplaced(school, found)),
    )


def _debrief(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports.debrief import write_debriefs

    lines, files, look = [], [], []
    for one, study, path in write_debriefs(school, _sitting(school, given), given.is_on("names"), None):
        if isinstance(study, GraderError):
            look.append(f"{one.id}: {study}")
            continue
        assert path
        if study.to_teach:
            first = study.to_teach[0]
            who = counted(len(first.candidates), "candidate")
            lines.append(f"{one.id}: teach again first: {first.name} ({first.exercise.title}), {who}.")
        files.append(_file(school, f"Debrief of {one.title}", path))
    return Said.of(*lines, files=files, look=look)


def _change(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.changes import change_mark
    from grader.store.part_marks import ChangeKind

    part, reason = given.text("part"), given.text("reason")
    marks = given.number("marks", "marks")
    try:
        kind = ChangeKind(given.text("kind"))
    except ValueError:
        raise GraderError("say what the change is for: an appeal, moderation or a correction") from None
    record = change_mark(school, given.text("paper"), part, marks, kind, reason)
    latest = next(one for name, one in reversed(record.changes) if name == part)
    return Said.of(
        f"Part {part}: {latest.before:g} before, {latest.marks:g} now; the paper has {record.marks:g} of "
        f"{record.out_of:g} marks. Write the results anew when you are done."
    )


def _sitting_page(given: Given) -> str:
    return f"sitting?{urlencode({'sitting': given.text('sitting')})}"


def _paper_of(given: Given) -> str:
    return f"paper?{urlencode({'paper': given.text('paper'), 'part': given.text('part')})}"


# Decisions ------------------------------------------------------------------------------------------------------------


def _decide(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports.competence import Verdict, decide_and_write, let_through, passed_with_nothing

    decisions, page, state = decide_and_write(school, given.is_on("names"))
    counts = [(sum(one.verdict is verdict for one in decisions), verdict) for verdict in Verdict]
    look = [f"{one.candidate.id} waits: {'; '.join(one.waits)}" for one in decisions if one.waits]
    if let := let_through(school):
        look.append(
            f"By the school's rule a candidate can be competent without a mark in {counted(len(let), 'outcome')}: "
            + "; ".join(let)
        )
        look += [f"{who} is, with nothing in: {' '.join(what)}" for who, what in passed_with_nothing(decisions).items()]
    return Said.of(
        ", ".join(f"{count} {verdict}" for count, verdict in counts) + ".",
        f"State code: {state.code}.",
        files=[_file(school, "The decisions, to print and sign", page)],
        look=_cut(look),
    )


def _certify(school: School, given: Given, progress: Progress) -> Said:
    from grader.certificates.certificates import certify, check_page_file, file_stem, folder_of
    from grader.reports.competence import decide
    from grader.reports.results import gather

    named = tuple(one for one in given.many("candidate") if one)
    found = gather(school)
    done = certify(school, decide(school, found), found, named, given.is_on("reissue"))
    files = [
        _file(
            school,
            f"Certificate of {one.candidate}",
            folder_of(school) / f"{file_stem(one.serial, one.candidate)}.html",
        )
        for one in done.issued[:MOST_LINES]
    ]
    if check_page_file(school).exists():
        files.append(_file(school, "The page with which employers check certificates", check_page_file(school)))
    return Said.of(
        f"{counted(len(done.issued), 'certificate')} issued, {done.stood} stood before, "
        f"{done.not_competent} not competent.",
        "The file signing.key is secret as school.key is: keep a copy of both in a safe place.",
        files=files,
        look=_cut(done.notices),
    )


def _ask_revoke(school: School, given: Given) -> list[str]:
    if not given.text("reason"):
        raise GraderError("say why the certificate is revoked; it goes on record")
    return [f"certificate {given.text('serial')} is revoked, for good: {given.text('reason')}"]


def _revoke(school: School, given: Given, progress: Progress) -> Said:
    from grader.certificates.certificates import check_page_file, revoke

    one = revoke(school, given.text("serial"), given.text("reason"))
    return Said.of(
        f"{one.serial} of {one.candidate} is revoked: {one.revoked}",
        files=[_file(school, "The checking page says so too now: give it anew to employers", check_page_file(school))],
    )


def _take_home(school: School, given: Given, progress: Progress) -> Said:
    from grader.reports.results import gather
    from grader.take_home.pdf import printer
    from grader.take_home.take_home import address_of, put_together

    book = given.text("book")
    named = tuple(one for one in given.many("candidate") if one)
    with ExitStack() as opened:
        found = gather(school)
        prints, why_not = opened.enter_context(printer())
        done = put_together(school, found, named, address_of(book) if book else "", prints, progress)
    return Said.of(
        f"{counted(len(done.made), 'zip')} made; each is for one candidate alone.",
        f"No PDF: {why_not}. The zips hold the same pages." if why_not else "",
        look=_cut(f"Nothing for {line}" for line in done.left_out),
    )


# Records --------------------------------------------------------------------------------------------------------------


def _verify(school: School, given: Given, progress: Progress) -> Said:
    from grader.certificates.verify import say_code, verify_school

    code = given.text("code")
    report = say_code(school, code) if code else verify_school(school, "", given.text("state"))
    return Said.of(
        *report.good,
        look=[*(f"Wrong: {line}" for line in report.faults), *report.remarks],
        wrong=bool(report.faults),
    )


def _verify_file(school: School, given: Given, progress: Progress) -> Said:
    from grader.certificates.verify import verify_file_of

    report = verify_file_of(_as_named(given), school)
    return Said.of(
        *report.good,
        look=[*(f"Wrong: {line}" for line in report.faults), *report.remarks],
        wrong=bool(report.faults),
    )


def _export(school: School, given: Given, progress: Progress) -> Said:
    from grader.privacy.export import write_export

    path = write_export(school, given.text("candidate"))
    return Said.of(
        "It holds what is known of one person, so hand it to nobody else.",
        files=[_file(school, f"All that is held about {given.text('candidate')}", path)],
    )


def _about(given: Given) -> str:
    return f"records?{urlencode({'candidate': given.text('candidate')})}"


def _ask_forget(school: School, given: Given) -> list[str]:
    from grader.privacy.privacy import to_be_forgotten

    if not given.text("reason"):
        raise GraderError("say why somebody is forgotten; it goes into the log, so write no name into it")
    who = given.text("candidate")
    lines = to_be_forgotten(school, [who])
    return [*lines, "It cannot be undone."] if lines else [f"{who}: nothing is held but the id"]


def _forget(school: School, given: Given, progress: Progress) -> Said:
    from grader.privacy.privacy import forget_and_sign

    done = forget_and_sign(school, [given.text("candidate")], given.text("reason"), lambda: open_school(school.folder))
    look = [f"{file}: not pitside's, and holds the name: look at it yourself" for one in done for file in one.left]
    look += [f"To be made again: {', '.join(one.reports)}" for one in done if one.reports]
    return Said.of(
        *(f"{one.candidate}: deleted {counted(one.files, 'file')}, {counted(one.rows, 'line')}." for one in done),
        "Copies elsewhere are not touched: backups, and what was handed out or sent.",
        look=look,
    )


ACTIONS: Mapping[str, Action] = {
    "make": Action("Make a school", "", makes=_make),
    "list": Action("Change the roster", "candidates", _put_list, _ask_list),
    "import": Action("Take a roster from a file", "candidates", _import, _ask_import),
    "sitting": Action("Keep a sitting", "sittings", _put_sitting, _ask_sitting),
    "drop-sitting": Action("Take a sitting out", "sittings", _drop_sitting, _ask_drop),
    "school": Action("Keep the settings", "sittings", _put_school),
    "sample": Action("See a sample", "sittings", sample, then=_sitting_page),
    "allow-own": Action("Let own exercises run", "sittings", mends=allow_own),
    "forbid-own": Action("Let no own exercises run", "sittings", forbid_own),
    "try-own": Action("Try the own exercises", "sittings", try_own),
    "issue": Action("Issue papers", "hand-out", _issue),
    "replace": Action("Write packs again", "hand-out", _replace),
    "practice": Action("Write practice papers", "hand-out", _practice),
    "open-book": Action("Open the book", "hand-out", _open_book),
    "copy-book": Action("Copy the book", "hand-out", _copy_book),
    "open-classroom": Action("Open the classroom", "classroom", _open_classroom),
    "close-classroom": Action("Close the classroom", "classroom", _close_classroom),
    "new-slip": Action("Write a new slip", "classroom", _new_slip),
    "more-time": Action("Give more time", "classroom", _more_time),
    "hand-in-saved": Action("Hand in what is saved", "classroom", _hand_in_saved, _ask_hand_in),
    "take-in": Action("Take in what came back", "scripts", _take_in),
    "mark": Action("Mark", "scripts", _mark),
    "mark-again": Action("Mark again", "scripts", _mark, _ask_mark_again),
    "aside": Action("Set a file aside", "scripts", set_aside),
    "bring-back": Action("Bring a file back", "scripts", bring_back),
    "words": Action("Write the page for words", "by-hand", _write_words),
    "take-words": Action("Take marks of words", "by-hand", _take_words, _ask_replace),
    "keyin": Action("Write the page for printed sheets", "by-hand", _write_keyin),
    "take-keyin": Action("Take keyed-in sheets", "by-hand", _take_keyin, _ask_replace),
    "observe": Action("Write the observers' page", "by-hand", _write_observe),
    "take-observe": Action("Take what observers saw", "by-hand", _take_observe, _ask_replace),
    "moderate": Action("Draw a sample for a second marking", "by-hand", _moderate),
    "take-second": Action("Take second marks", "by-hand", _take_second),
    "settle": Action("Change marks as decided", "by-hand", _settle),
    "results": Action("Write results and feedback", "results", _results),
    "debrief": Action("Write the debrief", "results", _debrief),
    "change": Action("Change marks", "results", _change, then=_paper_of),
    "rule": Action("Change the pass rule", "decisions", put_rule, ask_rule),
    "absences": Action("Change who was away", "decisions", put_absences, ask_absences),
    "decide": Action("Decide who is competent", "decisions", _decide),
    "certify": Action("Issue certificates", "decisions", _certify),
    "revoke": Action("Revoke a certificate", "decisions", _revoke, _ask_revoke),
    "take-home": Action("Put together what candidates take home", "decisions", _take_home),
    "verify": Action("Verify the school", "records", _verify),
    "verify-file": Action("Verify a file", "records", _verify_file),
    "export": Action("Write all that is held about a candidate", "records", _export, then=_about),
    "forget": Action("Delete what is held about a candidate", "records", _forget, _ask_forget),
}
