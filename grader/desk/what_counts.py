"""Buttons that change what counts: the pass rule, who was away, which file of two, and a school's own exercises."""

from __future__ import annotations

from pathlib import Path

from grader.desk.jobs import Progress, Said
from grader.desk.said import Given
from grader.store import absences
from grader.store.errors import GraderError
from grader.store.school import School, open_school
from grader.store.settings import Setting, put_settings, rule_differences, settings_text, with_rule, with_value
from grader.store.wording import counted

#: Lines of who is decided otherwise that are shown before the pass rule changes.
MOST_SHOWN = 40


# The pass rule --------------------------------------------------------------------------------------------------------


def _wanted(given: Given) -> dict[str, Setting]:
    """The pass rule that a form asks for. Raises: :class:`GraderError` where a number is none."""
    percents = {name: given.number(name, what) for name, what in (
        ("pass_percent", "pass mark"), ("sitting_percent", "percent of each sitting"),
        ("outcome_percent", "percent of an outcome"),
    )}  # fmt: skip
    switches = {name: given.text(name) == "yes" for name in ("every_outcome", "must_pass", "stop_and_look")}
    return {**percents, **switches, "resit": given.text("resit"), "rounding": given.text("rounding")}


def ask_rule(school: School, given: Given) -> list[str]:
    wanted = _wanted(given)
    lines = rule_differences(school, wanted)
    if not lines:
        raise GraderError("the pass rule is so already; nothing changes")
    if not given.text("reason"):
        raise GraderError("say why the pass rule changes; it goes into the log")
    changed = open_school(school.folder, with_rule(settings_text(school), school, wanted))
    if changed.rounding is not school.rounding:
        lines.append("scripts that are marked already keep their marks until they are marked again")
    return [*lines, *decided_otherwise(school, changed)]


def decided_otherwise(school: School, changed: School) -> list[str]:
    """Who would be decided otherwise by the changed rule."""
    from grader.reports.competence import decide
    from grader.reports.results import gather
    from grader.store.certificate_register import CertificateRegister

    found = gather(school, only_read=True)
    if not any(one.record for one in found):
        return []
    before = {one.candidate.id: one.verdict for one in decide(school, found)}
    after = decide(changed, gather(changed, only_read=True))
    lines = [
        f"{one.candidate.id}: {before[one.candidate.id]} becomes {one.verdict}"
        for one in after
        if before[one.candidate.id] is not one.verdict
    ]
    lines = lines or ["nobody is decided otherwise"]
    if issued := len(CertificateRegister(school, only_read=True).issued):
        lines.append(f"{counted(issued, 'certificate')} issued by the rule of before: decide and issue anew after it")
    more = len(lines) - MOST_SHOWN
    return lines if more <= 0 else [*lines[:MOST_SHOWN], f"and {more} more"]


def put_rule(school: School, given: Given, progress: Progress) -> Said:
    from grader.store.log import RULE_CHANGED, Log

    wanted = _wanted(given)
    lines = rule_differences(school, wanted)
    text = with_rule(settings_text(school), school, wanted)
    open_school(school.folder, text)
    Log(school).write(RULE_CHANGED, rule=lines, why=given.text("reason"))
    put_settings(school, text)
    return Said.of(*lines, "Decide again, so that the decisions follow it.")


# Absences -------------------------------------------------------------------------------------------------------------


def _lines(given: Given) -> list[absences.Line]:
    columns = [given.many(f"away-{name}") for name in ("candidate", "sitting", "reason")]
    if len({len(column) for column in columns}) != 1:
        raise GraderError("the list came in pieces; open the page again and change it there")
    # A line without a reason is one that somebody emptied, or never filled in.
    return [(who, what, " ".join(why.split())) for who, what, why in zip(*columns, strict=True) if who or why.strip()]


def ask_absences(school: School, given: Given) -> list[str]:
    changes = absences.differences(school.absences, absences.checked_absences(school, _lines(given)))
    return changes or ["nothing changes"]


def put_absences(school: School, given: Given, progress: Progress) -> Said:
    found = absences.checked_absences(school, _lines(given))
    absences.put_absences(school, _lines(given))
    return Said.of(f"{counted(len(found), 'absence')} on the list now. Decide again, so that the decisions name them.")


# Files that came back -------------------------------------------------------------------------------------------------


def _path(given: Given) -> str:
    """The file's path letter by letter: a name may hold two spaces side by side."""
    return next(iter(given.many("path")), "")


def set_aside(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.aside import set_aside as aside

    file = _path(given)
    where = aside(school, file, given.text("reason"))
    return Said.of(f"{file} lies aside now, as {where}. You can bring it back below. Mark what came back, if it waits.")


def bring_back(school: School, given: Given, progress: Progress) -> Said:
    from grader.marking.aside import bring_back as back

    return Said.of(f"{back(school, _path(given), given.text('reason'))} is among the scripts again.")


# Own exercises --------------------------------------------------------------------------------------------------------


def allow_own(folder: Path, given: Given) -> Said:
    """Let a school's own exercises run; the school cannot be opened while they lie there and may not."""
    from grader.store.files import read_text, write_text

    if not given.is_on("trust"):
        raise GraderError("tick that you trust whoever wrote them: they are programs that run with all your rights")
    path = folder / "school.toml"
    text = with_value(read_text(path), "school", "own_exercises", True)
    school = open_school(folder, text)
    write_text(path, text)
    names = ", ".join(school.own_exercises)
    return Said.of(
        f"Own exercises may run now: {names}." if names else "Own exercises may run now; there are none yet."
    )


def forbid_own(school: School, given: Given, progress: Progress) -> Said:
    if school.own_exercises:
        raise GraderError(
            f"{', '.join(school.own_exercises)}: move these modules out of {school.folder / 'own_exercises'} first"
        )
    put_settings(school, with_value(settings_text(school), "school", "own_exercises", None))
    return Said.of("Own exercises may not run any more.")


def try_own(school: School, given: Given, progress: Progress) -> Said:
    from grader.store.own_exercises import DRAWS_BEFORE_ISSUE, check_own

    own = [school.exercise(name) for name in school.own_exercises]
    if not own:
        raise GraderError(f"there is no own exercise; put its module into {school.folder / 'own_exercises'}")
    for number, one in enumerate(own):
        progress(number, len(own))
        check_own([one])
    return Said.of(
        f"{counted(len(own), 'own exercise')} sound in {DRAWS_BEFORE_ISSUE} draws of each unit system: "
        f"{', '.join(one.id for one in own)}."
    )


# A sample -------------------------------------------------------------------------------------------------------------


def sample(school: School, given: Given, progress: Progress) -> Said:
    from grader.observed.sheets import write_sample as write_tasks
    from grader.papers.sample import write_sample

    sitting = school.sitting(given.text("sitting"))
    path = (write_tasks if sitting.observed else write_sample)(school, sitting)
    what = "What observers have of it" if sitting.observed else "The paper as candidates get it, with numbers of nobody"
    return Said.of(
        "It is a sample: it counts nowhere, and is not to be handed out.",
        files=[(what, path.relative_to(school.folder).as_posix())],
    )
