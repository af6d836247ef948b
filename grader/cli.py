"""The command line: one command for each thing that an instructor or assessor does with a school folder."""

from __future__ import annotations

import io
import re
import shutil
import sys
import warnings
import webbrowser
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from textwrap import shorten
from urllib.parse import urlsplit

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from exercises import BANK, LESSONS, outcomes_of
from exercises.kinds import in_words, shares_by_kind
from exercises.model.review import review, summary
from grader.command_names import Commands, InSchool, SchoolFolder, holds_school, own_school, school_around
from grader.marking.explain import explain, marked_papers, part_lines
from grader.marking.marking import mark_school
from grader.marking.rooms import How
from grader.papers.issue import issue
from grader.reports.results import Result, feedback_file, gather, unplaced
from grader.reports.signed_results import sign_results, write_all
from grader.running.faults import FOLDER as FAULTS
from grader.running.faults import Fault, reported
from grader.running.runner import RunnerError, walls_here
from grader.store.errors import GraderError
from grader.store.files import only_one
from grader.store.school import School, Sitting, new_school, unchecked_bank, unread_columns
from grader.store.school import open_school as read_school
from grader.store.state import State, state_of
from grader.store.wording import counted, typed
from pitside.errors import ValidityWarning

#: Exit status when something is to be mended by the user.
TO_MEND = 2
#: Exit status when the fault is in pitside itself.
OWN_FAULT = 3

#: Where the demonstration makes its school if nobody says.
DEMO_FOLDER = "pitside-demo"

#: Pairs of candidates with nearly the same name that are told at once.
MOST_PAIRS = 8

#: What is said of a sheet of slips, before where it lies.
_SLIPS = "Slips to print and cut, the only place where the codes stand"

_FOLDER = click.Path(path_type=Path, file_okay=False)
_in_school = click.argument("folder", type=SchoolFolder(), default=own_school, metavar="[FOLDER]")
_FILE = click.Path(path_type=Path, dir_okay=False)
_PROGRESS = Console(stderr=True)


def main() -> None:
    """Run a command; a person never sees a traceback."""
    # Marking follows a candidate's own answers wherever they lead; the checks of the bank listen by themselves.
    warnings.simplefilter("ignore", ValidityWarning)
    at = _At()
    _say_what_can_be_said()
    try:
        _see_that_arguments_are_text()
        # What a command says by leaving with a status comes back as a value here.
        sys.exit(commands(standalone_mode=False, obj=at) or 0)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        sys.exit(TO_MEND)
    except click.ClickException as error:
        click.echo(f"pitside: {_in_a_line(error)}", err=True)
        sys.exit(TO_MEND)
    except (click.Abort, KeyboardInterrupt):
        click.echo("pitside: stopped; nothing is lost, run the same command again to go on", err=True)
        sys.exit(130)
    except (GraderError, RunnerError) as error:
        click.echo(f"pitside: {error}", err=True)
        sys.exit(TO_MEND)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        click.echo(f"pitside: {where}{error.strerror or error}", err=True)
        sys.exit(TO_MEND)
    except Exception as error:
        click.echo(
            f"pitside: a fault in pitside itself ({type(error).__name__}); what was recorded is safe. "
            f"{reported(Fault.of(error), at.school)}",
            err=True,
        )
        sys.exit(OWN_FAULT)


def _in_a_line(error: click.ClickException) -> str:
    """What was typed wrongly, and where it is told how to type it."""
    if isinstance(error, click.MissingParameter) and isinstance(error.param, click.Argument) and error.param.name:
        said = f"the {error.param.name.replace('whose', 'paper or candidate')} is missing"
    else:
        said = " ".join(error.format_message().split()).removesuffix(".")
    path = error.ctx.command_path if isinstance(error, click.UsageError) and error.ctx else ""
    return f"{said} (see: {path} --help)" if path else said


def _say_what_can_be_said() -> None:
    """A name in letters that a terminal or file cannot hold is shown with question marks; it stops no command."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _see_that_arguments_are_text() -> None:
    for argument in sys.argv[1:]:
        try:
            argument.encode()
        except UnicodeEncodeError:
            shown = argument.encode("ascii", "backslashreplace").decode()[:60]
            raise GraderError(
                f"{shown}: holds bytes that are no UTF-8 text, so nothing can be written with it; type it anew, or "
                "rename the file or folder"
            ) from None


@dataclass
class _At:
    """The school folder that a command is at work in, once it is known."""

    school: Path | None = None


def _as_called() -> str:
    """What to type for pitside here: its name where that is found, else the path by which it was called."""
    here = Path(sys.argv[0])
    return typed(here) if here.stem == "pitside" and not shutil.which("pitside") else "pitside"


def _part(text: str) -> str:
    """The name of a part, however people write it: 2b is 2(b) on the papers."""
    return re.sub(r"[()\s]", "", text).lower()


class _Day(click.ParamType[date]):
    """A day, with the year first."""

    name = "day"

    def convert(self, value: str | date, param: click.Parameter | None, ctx: click.Context | None) -> date:
        try:
            return value if isinstance(value, date) else date.fromisoformat(value.strip())
        except ValueError:
            self.fail(f"{value}: write the day with the year first, such as 2030-01-31", param, ctx)


class _Marks(click.ParamType[float]):
    """A number of marks, with a decimal point or comma."""

    name = "marks"

    def convert(self, value: str | float, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            return float(value.replace(",", ".") if isinstance(value, str) else value)
        except ValueError:
            self.fail(f"{value}: write a number, such as 2 or 1.5", param, ctx)


def _at_work_in(folder: Path) -> None:
    at = click.get_current_context().find_object(_At)
    if at:
        at.school = folder


def open_school(folder: Path) -> School:
    """The school, read and checked; says on the error stream whose programs were run with it."""
    _at_work_in(folder)
    school = read_school(folder)
    if school.own_exercises:
        count = len(school.own_exercises)
        click.echo(
            f"pitside: ran {folder / 'own_exercises'} ({count} own exercise{'s' if count > 1 else ''}): "
            "programs of whoever wrote them, which can do here what you can",
            err=True,
        )
    return school


def _downloaded(name: str) -> str:
    """A file that a page in the browser saved, as it is typed in a command: most browsers put it among downloads."""
    downloads = Path.home() / "Downloads"
    return typed(downloads / name) if downloads.is_dir() else name


@contextmanager
def _bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on the error stream; gives the function to call with (done, of how many)."""
    # How long one script takes says nothing of the next, which may be a loop, so no time that is left is foretold.
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=_PROGRESS, disable=not _PROGRESS.is_terminal) as progress:
        task = progress.add_task(label, total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)


@click.group(cls=Commands)
@click.version_option(package_name="pitside")
def commands() -> None:
    """Run a solids-control school: issue papers, mark the scripts that come back, write results and feedback.

    Most commands want the school's FOLDER first; inside of it leave it out. Every command can be run again at any
    time: it does only what is missing. `pitside COMMAND --help` tells of one command.
    """


commands.command_class = InSchool


@commands.command("status", short_help="Say how far each sitting is, and the next command.")
@_in_school
def status_command(folder: Path) -> None:
    """Say how far each sitting is (issued, returned, marked, debriefed, decided), and what to do next."""
    from grader.reports.status import lines, status

    school = open_school(folder)
    for line in lines(school, status(school)):
        click.echo(line)


@commands.command("desk", short_help="Do all of this in the browser, on this machine.")
@click.argument("folder", type=SchoolFolder(), required=False, default=None, metavar="[SCHOOL]")
@click.option("--no-browser", is_flag=True, help="Open no browser; say the address alone.")
def desk_command(folder: Path | None, no_browser: bool) -> None:
    """Open the desk: a page in the browser that does what the commands do. No other machine reaches it.

    Without a school, and outside of one, the desk makes a school or opens one that lies here.
    """
    from grader.desk.serving import open_browser, prepared  # brings along the server

    school: Path | None = folder if folder else school_around(Path())
    if folder and not folder.is_dir():
        raise GraderError(f"{folder}: no such folder; to make a school at the desk: pitside desk")
    if school and holds_school(school):
        _at_work_in(school)
        served = prepared(school, school.resolve().parent)
    else:
        served = prepared(None, school or Path())
    click.echo(f"The desk is open. If no browser shows it, open this address; it works once: {served.address}")
    click.echo("To close it: the button on its page, or Ctrl-C here. What it was at work on goes on the next time.")
    if not no_browser:
        open_browser(served)
        if sys.stdin.isatty():
            click.echo("To see it again after the browser was closed: press Enter here.")
            served.open_again(sys.stdin)
    served.run()


@commands.command("new", short_help="Make a school folder: settings, roster, secret key.")
@click.argument("folder", type=_FOLDER)
@click.option("--title", default="Solids-control school", show_default=True, help="The school's title.")
@click.option(
    "--starts",
    type=_Day(),
    default=None,
    metavar="YEAR-MONTH-DAY",
    help="First day, such as 2030-01-31 (today if not given).",
)
@click.option(
    "--days",
    type=click.Choice(["1", "3", "5"]),
    default=None,
    help="Choose lessons and papers for a refresher of one day, or a school of three or five days.",
)
def new(folder: Path, title: str, starts: date | None, days: str | None) -> None:
    """Make a new school folder."""
    new_school(folder, title, starts or date.today(), int(days) if days else None)
    click.echo(f"Made {folder}. Now write the candidates into {folder / 'roster.csv'} and choose the exercises in")
    click.echo(f"{folder / 'school.toml'}, then: pitside issue {typed(folder)}")
    if days:
        from grader.papers.coverage import coverage

        found = coverage(read_school(folder))
        for paper in found.sittings:
            what = f"{counted(paper.exercises, 'exercise')}, {paper.marks:g} marks, about {paper.minutes} minutes"
            click.echo(f"  {paper.sitting}: {what}")
        click.echo(
            f"  {len(found.taught)} lessons are taught; what the papers assess: pitside coverage {typed(folder)}"
        )
    click.echo("school.key is the school's secret: keep a copy in a safe place, give it to nobody.")


@commands.command("coverage", short_help="Say which outcomes of the lessons no paper assesses.")
@_in_school
def coverage_command(folder: Path) -> None:
    """Say which outcomes of the lessons taught the papers assess, and which are left out."""
    from grader.papers.coverage import coverage, lines

    for line in lines(coverage(open_school(folder))):
        click.echo(line)


@commands.command("exercises", short_help="List the exercises that a sitting can be made of.")
@click.option(
    "--outcomes", is_flag=True, help="List each lesson's outcomes instead, with the exercises that assess them."
)
@click.option("--school", type=SchoolFolder(), default=None, help="Also the own exercises of this school folder.")
def exercises(outcomes: bool, school: Path | None) -> None:
    """List the exercises that a sitting can be made of."""
    bank = open_school(school).bank if school else BANK
    for lesson in LESSONS.values():
        click.echo(lesson.title)
        if outcomes:
            for outcome in outcomes_of(lesson.id):
                assessed = [exercise.id for exercise in bank.values() if outcome in exercise.outcomes]
                click.echo(f"  {outcome}\n      {', '.join(assessed) or 'no exercise'}")
            continue
        for exercise in bank.values():
            if exercise.lesson == lesson.id:
                parts = f"{len(exercise.parts)} part{'s' if len(exercise.parts) > 1 else ''}"
                click.echo(f"  {exercise.id:24} {exercise.title} ({parts}, {exercise.marks:g} marks)")
    click.echo(f"{len(bank)} exercises; marks for {in_words(shares_by_kind(bank.values()))}")


@commands.command("check-exercise", short_help="Try an exercise over many draws: what is wrong in it?")
@click.argument("chosen", nargs=-1, metavar="[EXERCISE]...")
@click.option("--draws", default=50, type=click.IntRange(1, 10_000), help="Variants to try in each unit system.")
@click.option("--school", type=SchoolFolder(), default=None, help="Also the own exercises of this school folder.")
@click.option("--table", is_flag=True, help="Only what its numbers range over, and how often each option is right.")
def check_command(chosen: tuple[str, ...], draws: int, school: Path | None, table: bool) -> None:
    """Check an exercise: variants, answers, slips, tolerances, and what is wrong. Without a name: all, a line each."""
    bank = unchecked_bank(school) if school else BANK
    for name in chosen:
        if name not in bank:
            raise GraderError(f"there is no exercise {name}; `pitside exercises` lists them")
    wrong = 0
    for name in () if table else chosen:
        *lines, last = review(bank[name], draws)
        for line in [*lines, last]:
            click.echo(line)
        wrong += not last.startswith("Nothing")
    if table or not chosen:
        told_of = chosen or tuple(bank)
        for exercise in (bank[name] for name in told_of):
            found = summary(exercise, draws, table=table)
            sets = ", ".join(f"{count} ({system})" for system, count in found.sets.items())
            click.echo(f"{exercise.id:26} {1000 * found.seconds:5.0f} ms a draw; sets of numbers: {sets}")
            for told in (*found.ranges, *found.balances):
                click.echo(f"    {told}")
            for fault, times in found.faults.items():
                click.echo(f"    WRONG ({times} of {found.draws} draws): {fault}")
            wrong += bool(found.faults)
        for lesson in () if chosen else LESSONS:
            for outcome in sorted(set(outcomes_of(lesson)) - {o for e in bank.values() for o in e.outcomes}):
                click.echo(f"    WRONG: no exercise for an outcome of lesson {lesson}: {outcome}")
                wrong += 1
        count = f"{len(told_of)} exercise{'s' if len(told_of) > 1 else ''}"
        click.echo(f"{count}, {wrong or 'none'} with something wrong")
    if wrong:
        raise click.exceptions.Exit(TO_MEND)


@commands.command("issue", short_help="Draw the next sitting's numbers and write its packs.")
@_in_school
@click.option("--sitting", default=None, help="This sitting; the next in the order of days if not given.")
@click.option("--all", "everything", is_flag=True, help="All sittings at once; of a resit, all candidates.")
@click.option("--candidate", "named", multiple=True, metavar="ID", help="Only this candidate; may be given repeatedly.")
@click.option(
    "--attempt",
    default=None,
    type=click.IntRange(1, 99),
    help="2 for a resit with fresh numbers, 3 for the next; without --candidate or --all it lists who may need it.",
)
@click.option(
    "--replace",
    "lost",
    is_flag=True,
    help="Write packs again: of the candidates named, or of all whose roster line was corrected since. The paper stays "
    "the same, unless its units were corrected.",
)
@click.option("--reason", default="", help="Why it is written again; it goes into the log.")
def issue_command(
    folder: Path,
    sitting: str | None,
    everything: bool,
    named: tuple[str, ...],
    attempt: int | None,
    lost: bool,
    reason: str,
) -> None:
    """Draw everybody's numbers for the next sitting, and write the packs.

    A sitting's packs lie in packs/SITTING, a zip for each candidate, beside a page that prints all sheets and a page
    that lists who gets what. Run it again for the sitting after that.
    """
    from grader.papers.handing_out import list_file, sheets_file
    from grader.papers.issue import chosen_sittings, to_issue
    from grader.papers.packs import packs_of
    from grader.store.register import Register, attempt_suffix

    reason = " ".join(reason.split())
    if lost != bool(reason):
        whose = _candidates(named or (_some_id(folder),))
        raise click.UsageError(
            "to write packs again, say why, and whose: "
            f'pitside issue {typed(folder)} --replace {whose} --reason "stick lost"'
        )
    if everything and (lost or (sitting and (attempt or 1) == 1)):
        raise click.UsageError("--all issues every sitting; leave it out, or --sitting and --replace")
    if everything and named:
        raise click.UsageError("--all is for everybody; leave it out, or --candidate")
    if attempt and attempt > 1 and not sitting and not lost:
        ids = [one.id for one in open_school(folder).sittings]
        raise click.UsageError(
            f"to issue a resit, say of which sitting: --sitting {ids[0]}; there are: {', '.join(ids)}"
        )
    school = open_school(folder)
    if attempt and attempt > 1 and sitting and not (named or everything or lost):
        _say_who_may_resit(school, school.sitting(sitting), attempt)
        raise click.exceptions.Exit(TO_MEND)
    if attempt and attempt > 1 and sitting and everything:
        from grader.reports.resits import who_had

        named = who_had(school, Register(school, only_read=True), sitting, attempt - 1)
    if lost:
        _replace(school, (school.sitting(sitting),) if sitting else school.sittings, named, reason, attempt)
        return
    _say_of_roster(school)
    with only_one(folder), _bar("Packs") as progress:
        chosen = chosen_sittings(school, sitting, everything and not sitting, named)
        done = issue(school, chosen, progress, attempt or 1, named)
    session = chosen[0].id + attempt_suffix(attempt or 1)
    where = packs_of(school, session) if len(chosen) == 1 else school.packs
    drawn, packed = counted(done.drawn, "paper"), counted(done.packed, "pack")
    of = f"{session}: " if len(chosen) == 1 else ""
    click.echo(f"{of}{drawn} drawn, {packed} written, {done.already} there before: {where}")
    if len(chosen) == 1 and list_file(school, session).exists():
        click.echo(f"To print all sheets: {sheets_file(school, session)}; who gets what: {list_file(school, session)}")
    if named and not done.drawn and not done.packed:
        click.echo(
            f"Nothing was to be drawn. To write a lost pack again, the same paper: pitside issue {typed(folder)} "
            f'--sitting {chosen[0].id} --replace {_candidates(named)} --reason "stick lost"'
        )
    _say_corrections(school)
    if not named and not attempt and (rest := to_issue(school)):
        click.echo(f"Next sitting: {rest[0].id} ({rest[0].day}): pitside issue {typed(folder)}")


def _candidates(ids: Iterable[str]) -> str:
    """Candidates as they are named in a command."""
    return " ".join(f"--candidate {one}" for one in ids)


def _some_id(folder: Path) -> str:
    """An id that stands for any other in an example of a command."""
    return next((one.id for one in open_school(folder).roster), "aa-01")


def _say_who_may_resit(school: School, sitting: Sitting, attempt: int) -> None:
    """Say who may have to sit again, and how papers are drawn for them or for everybody."""
    from grader.reports.resits import who_may_resit

    found = who_may_resit(school, sitting, attempt)
    command = f"pitside issue {school.here} --sitting {sitting.id} --attempt {attempt}"
    if not found.attempt_before:
        raise GraderError(f"sitting {sitting.id}: attempt {attempt - 1} was issued to nobody; issue that first")
    click.echo(f"Nothing is drawn yet: say for whom attempt {attempt} at {sitting.id} is.")
    for one in found.may_need_it:
        click.echo(f"  {one.candidate}: {one.why}")
    if found.may_need_it:
        click.echo(f"For {'these' if len(found.may_need_it) > 1 else 'this one'}: {command} "
                   f"{_candidates(one.candidate for one in found.may_need_it)}")  # fmt: skip
    else:
        click.echo("  Nobody has a mark below the pass mark and no paper of it yet.")
    click.echo(f"For everybody who had attempt {attempt - 1} ({len(found.attempt_before)}): {command} --all")


def _say_of_roster(school: School) -> None:
    """Tell of columns that are not read, and of candidates without a paper yet who may be on the roster twice."""
    from grader.store.near_names import near_names
    from grader.store.register import Register

    issued = {paper.candidate for paper in Register(school, only_read=True).papers.values()}
    if unread := unread_columns(school.roster_file):
        click.echo(f"Look at {unread}")
    found = list(near_names(school.roster, {candidate.id for candidate in school.roster} - issued))
    for pair in found[:MOST_PAIRS]:
        click.echo(f"Look at the roster: {pair}. If it is one person, delete a line.")
    if len(found) > MOST_PAIRS:
        click.echo(f"Look at the roster: {len(found) - MOST_PAIRS} pairs more read nearly alike.")


def _replace(
    school: School, sittings: tuple[Sitting, ...], named: tuple[str, ...], reason: str, attempt: int | None
) -> None:
    from grader.reports.roster_changes import replace_papers

    with only_one(school.folder), _bar("Packs") as progress:
        for one in replace_papers(school, sittings, named, reason, attempt, progress):
            if one.drawn_anew:
                click.echo(f"Written again, a new paper in {one.drawn_anew} units: {one.pack}")
                click.echo(f"  take the earlier one back: paper {one.paper.replaces} does not count any more")
            else:
                click.echo(f"Written again, the same paper: {one.pack}")
            if one.kept_units:
                click.echo(f"  it stays in {one.kept_units} units, since a script of it came back")


def _say_corrections(school: School) -> None:
    """Tell of the roster's corrections since papers were issued, and what to do about each."""
    from grader.papers.handing_out import note_arrangements
    from grader.reports.roster_changes import corrections
    from grader.store.register import Register

    with only_one(school.folder):
        found = corrections(school, Register(school, only_read=True))
        # Nothing is to be done about these in the packs, so they are told once.
        note_arrangements(school)
    for one in found:
        click.echo(f"The roster was corrected since: {one}")
    if len({one.candidate for one in found if one.to_replace}) > 1:
        click.echo(f'All of these at once: pitside issue {typed(school.folder)} --replace --reason "roster corrected"')


@commands.command("classroom", short_help="Hand out and take in over a local network.")
@_in_school
@click.argument("sitting")
@click.option("--address", default="", help="The address of this machine to open it on; without it they are listed.")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=None, help="8420 if not given, or the next that is free."
)
@click.option("--minutes", type=float, default=None, help="The limit of time; arrangements add to it.")
@click.option("--attempt", type=click.IntRange(1, 99), default=1, help="Which attempt at the sitting; 1 if not given.")
@click.option("--tls", is_flag=True, help="Encrypt the connection with a certificate of your own; browsers warn of it.")
@click.option("--slips", is_flag=True, help="Write new slips for everybody; the codes of before open nothing more.")
@click.option("--slip-for", "lost", multiple=True, metavar="ID", help="Write a new slip for one candidate.")
@click.option(
    "--more-time", nargs=2, default=None, metavar="ID MINUTES", help="Give a candidate more minutes, and end."
)
@click.option("--hand-in-saved", is_flag=True, help="Hand in what is saved for those who did not, and end.")
def classroom(
    folder: Path,
    sitting: str,
    address: str,
    port: int | None,
    minutes: float | None,
    attempt: int,
    tls: bool,
    slips: bool,
    lost: tuple[str, ...],
    more_time: tuple[str, str] | None,
    hand_in_saved: bool,
) -> None:
    """Open the classroom: candidates open an address on their phone or laptop, give the code of their slip, work on
    their paper, and hand it in. It serves their pages alone, on the one address that you pick.
    """
    from grader.classroom.looking_on import Standing, news
    from grader.classroom.room import Room
    from grader.classroom.serving import addresses, picked, prepared
    from grader.classroom.slips import slips_of_open, unread_arrangements, write_slips
    from grader.store.register import attempt_suffix

    _at_work_in(folder)
    if more_time or hand_in_saved:
        room = Room(folder, sitting, attempt)
        if more_time:
            total = room.give_minutes(more_time[0], _minutes(more_time[1]))
            click.echo(f"{more_time[0]} has {total:g} minutes more than the limit and the arrangements give.")
        if hand_in_saved:
            done = room.hand_in_saved()
            click.echo(f"{counted(len(done), 'script')} handed in with what was saved: {', '.join(done) or 'nobody'}.")
        room.land()
        room.write_log()
        room.close()
        return
    if slips or lost:
        path = slips_of_open(open_school(folder), sitting + attempt_suffix(attempt), () if slips else lost)
        if path:
            click.echo(f"{_SLIPS}: {path}")
            return
    if not address:
        click.echo("Pick the address of this machine on which the classroom opens, and say it with --address:")
        for one in addresses():
            click.echo(f"  {one}")
        raise click.exceptions.Exit(TO_MEND)
    host = picked(address).host
    room = Room(folder, sitting, attempt, minutes)
    for line in unread_arrangements(room):
        click.echo(f"pitside: {line}", err=True)
    try:
        served = prepared(room, host, port, tls)
    except BaseException:
        room.close()
        raise
    stood: dict[str, Standing] = {}

    def at_opening(room: Room) -> None:
        if slips or lost or not room.drafts.has_codes(room.session):
            click.echo(f"{_SLIPS}: {write_slips(room, served.address, () if slips else lost)}")
        click.echo(f"The classroom of {room.session} is open at {served.address}; to close it: Ctrl-C here.")
        if tls:
            click.echo(f"The certificate's fingerprint (SHA-256), which a browser shows too: {served.fingerprint}")
        else:
            click.echo("The connection is not encrypted: use a network of the school's own, that no stranger is on.")

    def watching(room: Room) -> None:
        nonlocal stood
        told, stood = news(room, stood)
        for line in told:
            click.echo(line)

    served.run(watching, at_opening)
    click.echo(
        "The classroom is closed, and its slips are deleted. Open it again with the same words; codes still hold."
    )
    for line in served.left:
        click.echo(line)


def _minutes(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise GraderError(f"{text}: write a number of minutes, such as 10") from None


@commands.command("practice", short_help="Write practice papers with numbers nobody else has.")
@_in_school
@click.option("--sitting", default=None, help="Only this sitting; all of them if not given.")
@click.option(
    "--papers", type=click.IntRange(1, 100), default=12, show_default=True, help="How many, in each unit system."
)
def practice(folder: Path, sitting: str | None, papers: int) -> None:
    """Write practice papers with numbers that no candidate has: a page for each sitting, not handed in."""
    from grader.papers.practice_papers import write_practice  # brings along what makes pages

    school = open_school(folder)
    chosen = (school.sitting(sitting),) if sitting else school.sittings
    with only_one(folder), _bar("Practice") as progress:
        pages = write_practice(school, chosen, papers, progress)
    for one, page in zip(chosen, pages, strict=True):
        click.echo(f"{one.id}: {page.path}" if page.path.name else f"{one.id}: no page")
        if page.left_out:
            click.echo(f"  without the cases, which are worked in papers alone: {', '.join(page.left_out)}")
    click.echo("For everybody who sits; after a change of the roster, write them again before you hand them out.")


@commands.command("key-in", short_help="Type in answers from printed sheets, on a page.")
@_in_school
@click.option("--sitting", default=None, help="Only this sitting; all of them if not given.")
@click.option("--attempt", default=None, type=click.IntRange(1, 99), help="Which attempt; the first if not given.")
@click.option(
    "--take",
    "file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    default=None,
    metavar="FILE",
    help="Make scripts of the answers in this file, which the page saved.",
)
@click.option("--replace", is_flag=True, help="With --take: also in place of other answers that were taken before.")
def keyin_command(folder: Path, sitting: str | None, attempt: int | None, file: Path | None, replace: bool) -> None:
    """Write the page on which answers on printed sheets are keyed in; with --take, make scripts of them."""
    from grader.returned.keyin import named_in, saved_name, take, write_page  # brings along what makes pages

    if replace and not file:
        raise click.UsageError("--replace goes with --take and the file that the page saved")
    school = open_school(folder)
    with only_one(folder):
        if file:
            said, which = named_in(school, file)
            taken = take(school, school.sitting(sitting) if sitting else said, file, attempt or which, replace)
            for path in taken.written:
                click.echo(f"Wrote {path}")
            for path in taken.replaced:
                click.echo(f"Replaced {path}")
            for path in taken.already:
                click.echo(f"Was there, the same: {path}")
            click.echo(f"Next: pitside mark {typed(folder)}")
            return
        for one in (school.sitting(sitting),) if sitting else school.sittings:
            with _bar(f"Papers of {one.id}") as progress:
                path, candidates, there = write_page(school, one, attempt or 1, progress)
            click.echo(f"{one.id}: {counted(candidates, 'candidate')}, {there} with a script already. Open {path}")
            saved = saved_name(one, attempt or 1)
            click.echo(f"  it saves {saved}; then: pitside key-in {school.here} --take {_downloaded(saved)}")
    click.echo("The page holds names and, in its browser, answers: keep it on the assessor's computer.")


@commands.command("tasks", short_help="List the tasks to be watched at the machine.")
@click.option(
    "--table",
    "file",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    metavar="FILE",
    help="Write a page to print: outcome, critical steps, measured results, source and cautions of each task.",
)
def tasks_command(file: Path | None) -> None:
    """List the tasks that are watched at the machine, of which a sitting can be made: tasks = [...]."""
    from exercises.tasks import TASKS

    if file:
        from grader.observed.sheets import task_table
        from grader.store.files import write_text

        write_text(file, task_table())
        click.echo(f"Wrote {file}: open it in a browser and print it, sideways")
        return
    for lesson in dict.fromkeys(task.lesson for task in TASKS.values()):
        click.echo(LESSONS[lesson].title)
        for task in TASKS.values():
            if task.lesson == lesson:
                critical = f", {counted(len(task.critical), 'critical step')}" if task.critical else ""
                click.echo(f"  {task.id:22} {task.minutes:3} min {task.marks:5g} marks  {task.title}{critical}")


@commands.command("observe", short_help="Watch tasks at the machine, on a page.")
@_in_school
@click.option("--sitting", help="The sitting whose page is written; left out, that of every sitting with tasks.")
@click.option("--attempt", type=click.IntRange(1, 99), help="Write the page of this attempt.")
@click.option(
    "--take",
    "file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    default=None,
    metavar="FILE",
    help="Take back this file, which the page saved.",
)
@click.option("--replace", is_flag=True, help="Take what the same observer says otherwise than before.")
def observe_command(folder: Path, sitting: str | None, attempt: int | None, file: Path | None, replace: bool) -> None:
    """Write the page on which tasks are watched at the machine; with --take, take back what an observer saved."""
    from grader.marking.records import marked_before
    from grader.observed.page import saved_name, write_page  # brings along what makes pages
    from grader.observed.sheets import write_sheets
    from grader.observed.take import take

    if replace and not file:
        raise click.UsageError("--replace goes with --take and the file that the page saved")
    school = open_school(folder)
    with only_one(folder):
        if file:
            taken = take(school, file, replace)
            second = f", of which {taken.second} by a second observer" if taken.second else ""
            click.echo(f"Kept {counted(taken.kept, 'task')}{second}; {taken.already} were there already.")
            for path in taken.scripts.values():
                click.echo(f"Wrote {path}")
            if marked := marked_before(school, taken.scripts):
                several = len(marked) > 1
                click.echo(
                    f"{len(marked)} {'papers have' if several else 'paper has'} marks from before this file: they "
                    f"stand until the next pitside mark, which marks {'those' if several else 'that'} without --again"
                )
            click.echo(f"Next: pitside mark {typed(folder)}")
            return
        chosen = (school.sitting(sitting),) if sitting else tuple(one for one in school.sittings if one.observed)
        if not chosen:
            raise GraderError(f"{folder / 'school.toml'}: no sitting has tasks = [...]; see: pitside tasks")
        for one in chosen:
            path, candidates, seen = write_page(school, one, attempt or 1)
            told, steps = write_sheets(school, one, attempt or 1)
            click.echo(
                f"{one.id}: {counted(candidates, 'candidate')}, {counted(seen, 'task')} seen already. Open {path}"
            )
            saved = f"{saved_name(one, attempt or 1)}_….json"
            click.echo(f"  it saves {saved}; then: pitside observe {school.here} --take {saved}")
            click.echo(f"To print: for each candidate {told}; with the steps, for observers alone, {steps}")
    click.echo("The page holds names: keep it on the observers' devices, and clear it when its file was taken.")


@commands.command("written", short_help="Mark answers in words, without names, on a page.")
@_in_school
@click.option("--sitting", default=None, help="Only answers of this sitting; of all sittings if not given.")
@click.option(
    "--take",
    "file",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    default=None,
    metavar="FILE",
    help="Take the marks in this file, which the page saved.",
)
@click.option("--replace", is_flag=True, help="With --take: also in place of other marks that an answer has by hand.")
def written_command(folder: Path, sitting: str | None, file: Path | None, replace: bool) -> None:
    """Write the page on which written answers are marked; with --take, take the marks."""
    from grader.marking.written_answers import take, write_page  # brings along what makes pages

    if (replace and not file) or (file and sitting):
        raise click.UsageError(
            "--replace goes with --take and the file that the page saved, --sitting with the page alone"
        )
    school = open_school(folder)
    with only_one(folder):
        if file:
            taken = take(school, file, replace)
            told = [f"{counted(taken.new, 'answer')} of {taken.marker} taken"]
            told += [f"{taken.replaced} in place of other marks"] if taken.replaced else []
            told += [f"{taken.already} had these marks already"] if taken.already else []
            click.echo(", ".join(told))
            if taken.stale:
                are = "is one" if taken.stale == 1 else "are those"
                click.echo(
                    f"{counted(taken.stale, 'answer')} not taken: script or mark scheme {are} that was marked before; "
                    "write the page anew, and mark what it shows"
                )
            click.echo(f"Next: pitside results {typed(folder)}")
            return
        page = write_page(school, school.sitting(sitting) if sitting else None)
    for line in page.faults:
        click.echo(f"Left out: {line}")
    marked = f"; {page.marked} marked by hand before" if page.marked else ""
    click.echo(
        f"{counted(page.answers, 'written answer')} to {counted(page.questions, 'question')} "
        f"{'waits' if page.answers == 1 else 'wait'} for marks{marked}"
    )
    if page.answers:
        click.echo(f"Open {page.path}")
        click.echo(
            "It saves a file with the assessor's name in its name, and says the command that takes it: "
            f"pitside written {school.here} --take written_….json"
        )
        click.echo(
            "Several assessors can mark on copies of it. It holds candidates' words: keep it on their computers."
        )


@commands.command("mark", short_help="Mark the scripts that came back.")
@_in_school
@click.option("--workers", type=click.IntRange(1, 64), default=None, help="Scripts run at once (one a processor).")
@click.option(
    "--allow-missing-walls", is_flag=True, help="Run scripts even where this machine cannot isolate them fully."
)
@click.option(
    "--run-all", is_flag=True, help="Run also scripts that hold nothing but answers, which are read from their text."
)
@click.option("--again", is_flag=True, help="Mark also those that are marked; old and new marks go into the log.")
@click.option(
    "--new-scheme",
    is_flag=True,
    help="Mark papers whose exercise changed after they were issued by today's mark scheme, and mark again those that "
    "were marked by the old one; without it they are refused. Old and new go into the log.",
)
@click.option("--reason", default="", help="Why: with --again and with --new-scheme; it goes into the log.")
@click.option(
    "--dask",
    metavar="ADDRESS",
    default="",
    help="Run scripts on the workers of this Dask scheduler (tls://host:port). Scripts, their numbers and mark scheme "
    "travel there, and who reaches the scheduler can run programs on all its machines and this one: use only a "
    "cluster that is trusted and encrypted (Dask's TLS), never across a public network.",
)
def mark(
    folder: Path,
    workers: int | None,
    allow_missing_walls: bool,
    run_all: bool,
    again: bool,
    new_scheme: bool,
    reason: str,
    dask: str,
) -> None:
    """Mark the scripts that are not marked yet."""
    if dask and workers:
        raise click.UsageError("--workers counts rooms of this machine; with --dask each worker's threads are counted")
    if dask and not dask.startswith("tls://") and urlsplit(dask).hostname not in ("127.0.0.1", "::1", "localhost"):
        click.echo(f"pitside: {dask} is not encrypted: anyone on the way can read and change what is marked", err=True)
    reason = " ".join(reason.split())
    if new_scheme and not reason:
        raise click.UsageError('to mark by today\'s mark scheme, say why: --new-scheme --reason "..."')
    if (again or new_scheme) != bool(reason):
        raise click.UsageError(f'to mark again, say why: pitside mark {typed(folder)} --again --reason "..."')
    school = open_school(folder)
    with only_one(folder), _bar("Scripts") as progress:
        why_again, why_new = reason if again else "", reason if new_scheme else ""
        how = How(allow_missing_walls, workers, dask=dask, run_all=run_all)
        tally = mark_school(school, progress, how, again=why_again, new_scheme=why_new)
    if not tally.marked and not tally.already and not tally.refused and not tally.waiting:
        click.echo(f"No scripts: put the returned notebooks into {school.scripts}, then mark again")
        return
    marked = counted(tally.marked, "script")
    unmarked = len(tally.refused) + tally.waiting
    if tally.merged:
        click.echo(f"Hand marks of {counted(tally.merged, 'script')} merged")
    if tally.marked or not tally.merged:
        click.echo(f"{marked} marked, {tally.already} marked before, {unmarked} not marked")
    else:
        click.echo(f"No new script: {tally.already} marked before, {unmarked} not marked")
    if tally.accepted:
        click.echo(f"{counted(tally.accepted, 'paper')} marked by a newer mark scheme than at issue")
    if tally.other_rule:
        was = "false" if school.stop_and_look else "true"
        click.echo(
            f"{counted(tally.other_rule, 'paper')} issued with stop_and_look = {was} keep that rule; to mark them by "
            f'today\'s: pitside mark {typed(folder)} --new-scheme --reason "..."'
        )
    for refusal in tally.refused:
        click.echo(f"  {refusal.file}: {refusal.reason}")
    for note in tally.hand_notes:
        click.echo(f"  {note}")
    if tally.pending:
        wait = "has written answers that wait" if tally.pending == 1 else "have written answers that wait"
        click.echo(f"{counted(tally.pending, 'script')} {wait} for marks: pitside written {typed(folder)}")
    click.echo(f"Next: pitside results {typed(folder)}")
    if tally.faults:
        many = f"{len(tally.faults)} scripts were" if len(tally.faults) > 1 else "1 script was"
        click.echo(
            f"pitside: {many} not marked by a fault in pitside itself; all others are marked. Please send "
            f"{folder / FAULTS} to whoever looks after it; marking again tries them again",
            err=True,
        )
        raise click.exceptions.Exit(OWN_FAULT)
    if tally.waiting:
        wait = f"{tally.waiting} scripts hold" if tally.waiting > 1 else "1 script holds"
        click.echo(f"pitside: {wait} more than answers and must be run. {tally.missing_walls}", err=True)
        raise click.exceptions.Exit(2)


@commands.command("results", short_help="Write the results and each candidate's feedback.")
@_in_school
@click.option(
    "--unfinished",
    is_flag=True,
    help="Put feedback among what is handed out even where written answers still wait for marks.",
)
def results(folder: Path, unfinished: bool) -> None:
    """Write the results and the feedback."""
    school = open_school(folder)
    with only_one(folder), _bar("Feedback") as progress:
        written = write_all(school, progress, unfinished)
    found, table, index = written.found, written.table, written.index
    marked = sum(1 for result in found if result.record)
    click.echo(f"{marked} of {counted(len(found), 'paper')} with marks")
    for result in found:
        if result.record is None and result.remarks:
            click.echo(f"  {_whose(result)}: {result.remarks[0]}")
        for line in result.for_assessor if result.record else ():
            click.echo(f"  {_whose(result)}: {line}")
    for line in unplaced(school, found):
        click.echo(f"  {line}")
    pending = sum(1 for result in found if result.record and result.record.pending)
    if pending:
        wait = "has written answers that wait" if pending == 1 else "have written answers that wait"
        drafts = "" if unfinished else "; until then the feedback is a draft, in records/feedback/drafts"
        click.echo(f"{counted(pending, 'script')} {wait} for marks: pitside written {typed(folder)}{drafts}")
    _say_state(folder, written.state)
    click.echo(f"Open {index} (for a spreadsheet: {table} or {table.with_suffix('.xlsx').name})")


def _say_state(folder: Path, state: State) -> None:
    click.echo(f"State code: {state.code}. Keep it elsewhere: pitside verify {typed(folder)} --state {state.code}")


def _whose(result: Result) -> str:
    attempt = f", attempt {result.attempt}" if result.attempt > 1 else ""
    return f"{result.candidate.id}, {result.sitting.id}{attempt}"


@commands.command("debrief", short_help="Say what to teach again, who needs help, odd parts.")
@_in_school
@click.option("--sitting", default=None, help="Only this sitting; all of them if not given.")
@click.option("--names", is_flag=True, help="Show candidates' names beside their ids.")
@click.option("--book", type=_FOLDER, default=None, help="The built book's folder, to link the lessons to teach from.")
def report_command(folder: Path, sitting: str | None, names: bool, book: Path | None) -> None:
    """Write the debrief of a sitting: what to teach again tomorrow, who needs help, which parts to look at."""
    from grader.reports.debrief import write_debriefs

    if book and not (book / "index.html").is_file():
        raise GraderError(f"{book}: no book here (no index.html); copy it there with: pitside book --to {typed(book)}")
    school = open_school(folder)
    with only_one(folder):
        for one, study, path in write_debriefs(school, school.sitting(sitting) if sitting else None, names, book):
            if isinstance(study, GraderError):
                click.echo(f"{one.id}: {study}")
                continue
            if study.to_teach:
                first = study.to_teach[0]
                who = f"{len(first.candidates)} candidate{'s' if len(first.candidates) > 1 else ''}"
                click.echo(f"{one.id}: teach again first: {first.name} ({first.exercise.title}), {who}")
            for part in study.odd:
                click.echo(f"{one.id}: look at part {part.name}: {part.odd[0]}")
            click.echo(f"Open {path}")


@commands.command("parts", short_help="Say how each part did over several schools.")
@click.argument("folders", type=SchoolFolder(), nargs=-1, metavar="[SCHOOL_FOLDER]...")
@click.option(
    "--to", "page", type=click.Path(path_type=Path, dir_okay=False), default=None, metavar="FILE.html",
    help="Where to write the page, its tables beside it; if not given, among the records of the first school.",
)  # fmt: skip
def items_command(folders: tuple[Path, ...], page: Path | None) -> None:
    """Write how each part of the exercises did over the cohorts of several school folders, and how reliable papers are.

    A school folder is a cohort. Parts are put together by exercise, part and version.
    """
    folders = folders or (own_school(),)
    from grader.reports.items import item_report, write_items  # brings along what makes pages

    if page and page.suffix != ".html":
        raise click.UsageError(f"{page}: name a page that ends with .html; its tables are written beside it as .csv")
    if page and not page.parent.is_dir():
        raise GraderError(f"{page.parent}: no such folder; make it first")
    found = item_report(folders)
    written = page or folders[0] / "records" / "items.html"
    written, *tables = write_items(found, written)
    scripts = sum(len(cohort.scripts) for cohort in found.cohorts)
    cohorts = counted(len(found.cohorts), "cohort")
    click.echo(f"{counted(len(found.items), 'part')}, {counted(scripts, 'script')}, {cohorts}")
    for line in found.doubts:
        click.echo(f"  {line}")
    for item, why in found.odd[:10]:
        click.echo(f"look at {item.id.exercise} ({item.id.part}): {why}")
    click.echo(f"Open {written} (for a spreadsheet: {', '.join(str(table) for table in tables)}, or .xlsx)")


@commands.command("decide", short_help="Decide who is competent: a page to sign.")
@_in_school
@click.option("--names", is_flag=True, help="Show candidates' names beside their ids.")
def decide_command(folder: Path, names: bool) -> None:
    """Decide who has shown competence by the school's rule, and write the page that the assessor signs."""
    from grader.reports.competence import Verdict, decide_and_write, let_through, passed_with_nothing

    school = open_school(folder)
    with only_one(folder):
        decisions, page, state = decide_and_write(school, names)
    for verdict in Verdict:
        these = [one for one in decisions if one.verdict is verdict]
        click.echo(f"{len(these)} {verdict}")
        for one in these:
            if one.waits:
                click.echo(f"  {one.candidate.id}: {'; '.join(one.waits)}")
    if let := let_through(school):
        click.echo(
            f"LOOK AT THIS: {folder / 'school.toml'}: by its rule a candidate can be competent without a mark in "
            f"{'this outcome' if len(let) == 1 else f'any one of {len(let)} outcomes'}:"
        )
        for outcome in let:
            click.echo(f"  {outcome}")
        for candidate, outcomes in passed_with_nothing(decisions).items():
            click.echo(f"  {candidate} is, with nothing in: {' '.join(outcomes)}")
        click.echo("  to ask for every outcome: [marking] every_outcome = true, with an outcome_percent above 0")
    _say_state(folder, state)
    click.echo(f"Open, print and sign {page}")
    if any(one.verdict is Verdict.COMPETENT for one in decisions):
        click.echo(f"Next: pitside certify {typed(folder)}")


@commands.command("certify", short_help="Issue, replace or revoke certificates.")
@_in_school
@click.option("--candidate", "named", multiple=True, metavar="ID", help="Only this candidate; may be given repeatedly.")
@click.option("--reissue", is_flag=True, help="Replace certificates whose result has changed since they were issued.")
@click.option("--revoke", "serial", default="", metavar="SERIAL", help="Revoke this certificate instead.")
@click.option("--reason", default="", help="Why it is revoked; it goes on record.")
def certify_command(folder: Path, named: tuple[str, ...], reissue: bool, serial: str, reason: str) -> None:
    """Issue a certificate to everybody who has shown competence and has none yet."""
    from grader.certificates.certificates import certify, check_page_file, folder_of, revoke
    from grader.reports.competence import Verdict, decide

    if bool(serial) != bool(reason.strip()) or (serial and (named or reissue)):
        raise click.UsageError(
            f"to revoke a certificate, say which and why: pitside certify {typed(folder)} --revoke {serial} "
            '--reason "..."'
            if serial
            else "to revoke a certificate, say which: --revoke and the number that stands on it"
        )
    school = open_school(folder)
    with only_one(folder):
        if serial:
            one = revoke(school, serial, reason)
            click.echo(f"{one.serial} of {one.candidate} is revoked: {one.revoked}")
            click.echo(f"{check_page_file(school)} says so too now: give it anew to those who check certificates")
            return
        found = gather(school)
        decisions = decide(school, found)
        done = certify(school, decisions, found, named, reissue)
        state = state_of(school)
    many = "certificate" if len(done.issued) == 1 else "certificates"
    click.echo(f"{len(done.issued)} {many} issued, {done.stood} stood before")
    others = [verdict for verdict in Verdict if verdict is not Verdict.COMPETENT]
    none = [f"{count} {one}" for one in others if (count := sum(each.verdict is one for each in decisions))]
    if none:
        click.echo(f"No certificate: {', '.join(none)}")
    for one in done.issued:
        click.echo(f"  {one.candidate}: {one.serial}, check code {one.code}")
    for line in done.notices:
        click.echo(f"  {line}")
    if done.issued or done.stood:
        click.echo(f"Print the pages in {folder_of(school)}, and hand out the files themselves too. Employers check")
        click.echo(
            f"files and prints, offline in a browser, with {check_page_file(school)}: send it to them, or put it on"
        )
        click.echo("your website. signing.key is secret as school.key is: back both up.")
    _say_state(folder, state)


@commands.command("take-home", short_help="Put together what each candidate is sent: zip and PDF.")
@_in_school
@click.option("--candidate", "named", multiple=True, metavar="ID", help="Only this candidate; may be given repeatedly.")
@click.option(
    "--book",
    default="",
    metavar="ADDRESS",
    help="Where candidates find the book, to link its pages: a web address, or its folder's name beside what they "
    "unpack.",
)
@click.option("--without-pdf", is_flag=True, help="Write zips alone.")
def take_home_command(folder: Path, named: tuple[str, ...], book: str, without_pdf: bool) -> None:
    """Put together what each candidate takes home: feedback, certificate, what to study, fresh practice.

    A zip for each, and what can be read of it as one PDF. Candidates whose words wait for marks get nothing yet.
    """
    from grader.take_home.pdf import printer
    from grader.take_home.take_home import address_of, put_together
    from grader.take_home.take_home import folder as parcels

    address = address_of(book) if book else ""
    school = open_school(folder)
    with only_one(folder), ExitStack() as opened:
        found = gather(school)
        prints, why_not = (None, "") if without_pdf else opened.enter_context(printer())
        done = put_together(school, found, named, address, prints, opened.enter_context(_bar("Candidates")))
    if why_not:
        click.echo(f"No PDF: {why_not}. The zips hold the same pages.")
    documents = f" and {counted(sum(one.document is not None for one in done.made), 'PDF')}" if prints else ""
    click.echo(f"{counted(len(done.made), 'zip')}{documents}: {parcels(school)}")
    for line in done.left_out:
        click.echo(f"  nothing for {line}")
    marked = {result.sitting.id for result in found if result.record}
    if done.made and (unmarked := [sitting.id for sitting in school.sittings if sitting.id not in marked]):
        click.echo(f"LOOK AT THIS: no script of {', '.join(unmarked)} is marked yet, so they tell nothing of it.")
    if done.made:
        click.echo("Each is for one candidate alone.")


@commands.command("verify", short_help="Find what was altered, forged, copied or revoked.")
@click.argument("target", type=click.Path(path_type=Path, exists=True), default=own_school, metavar="[FOLDER_OR_FILE]")
@click.option("--key", default="", metavar="PUBLIC", help="The school's public key: its file, or did:key:... itself.")
@click.option("--school", "of", type=SchoolFolder(), default=None, help="For a file: also ask this school's register.")
@click.option("--code", default="", help="For a folder: say whose certificate has this check code.")
@click.option("--state", default="", help="For a folder: say whether it still holds the state of this state code.")
def verify_command(target: Path, key: str, of: Path | None, code: str, state: str) -> None:
    """Check a school folder, or one certificate or results.csv, for what was forged, altered, copied or revoked."""
    from grader.certificates.verify import say_code, verify_file, verify_file_of, verify_school

    if target.is_dir():
        target = school_around(target) or target
        if of:
            raise click.UsageError(
                f"--school goes with one file, and {target} is a folder: pitside verify {typed(target)}"
            )
        school = open_school(target)
        report = say_code(school, code) if code else verify_school(school, key, state)
    elif state:
        where = typed(school_around(target.parent) or target.parent)
        raise click.UsageError(f"--state goes with the school's folder: pitside verify {where} --state {state}")
    elif of:
        report = verify_file_of(target, open_school(of), key)
    elif key and not code:
        report = verify_file(target, key)
    else:
        around = school_around(target.parent)
        by = f"--school {typed(around)}" if around else "--key signing_public.pem"
        also = "" if around else ", or --school and the school's folder if you have it"
        raise click.UsageError(f"say by which key: pitside verify {typed(target)} {by}{also}")
    for line in report.good:
        click.echo(line)
    for line in report.remarks:
        click.echo(f"LOOK AT THIS: {line}")
    for line in report.faults:
        click.echo(f"WRONG: {line}")
    if report.faults:
        raise click.exceptions.Exit(TO_MEND)


@commands.command("moderate", short_help="Have a sample marked a second time, blind.")
@_in_school
@click.option("--sitting", default="", help="The sitting to moderate, where there are several.")
@click.option("--size", default=None, type=click.IntRange(1, 1000), help="Scripts in the sample (a tenth, at least 6).")
@click.option("--seed", default=None, type=click.IntRange(0), help="For the part that is drawn at random (1).")
@click.option("--take", "taken", default=None, type=_FILE, help="Take the second marker's table; compare both.")
@click.option("--decide", "decided", default=None, type=_FILE, help="Change marks as this table decides, with reasons.")
def moderate(
    folder: Path, sitting: str, size: int | None, seed: int | None, taken: Path | None, decided: Path | None
) -> None:
    """Draw a sample for a second, blind marking; take the second marks; change marks with a reason."""
    from grader.reports import moderation, observers

    if taken and decided:
        raise click.UsageError("take the second marks first, look at the report, then decide")
    school = open_school(folder)
    if not sitting and len(school.sittings) > 1:
        raise click.UsageError(
            f"say which sitting: --sitting {school.sittings[0].id}; there are: "
            f"{', '.join(s.id for s in school.sittings)}"
        )
    one = school.sitting(sitting or school.sittings[0].id)
    sitting = one.id
    if one.observed and (taken or size or seed is not None):
        raise click.UsageError(
            f"{sitting} was watched, not written: nothing is drawn; a second observer's file goes in by "
            f"pitside observe {school.here} --take observed_{sitting}_….json"
        )
    with only_one(folder):
        found = gather(school)
        if decided:
            changed = (observers if one.observed else moderation).settle(school, one, decided, found)
            are = "is" if len(changed) == 1 else "are"
            click.echo(f"{counted(len(changed), 'decision')} {are} on record; next: pitside results {typed(folder)}")
            return
        if one.observed:
            page, table, twice, apart = observers.write_report(school, one, found)
            click.echo(
                f"{counted(twice, 'task')} seen by two observers, who differ on {counted(apart, 'part')}. Open {page}"
            )
            if apart:
                click.echo(
                    f"Decide in {table}, each with a reason; then: "
                    f"pitside moderate {typed(folder)} --sitting {sitting} --decide {table}"
                )
            return
        if taken:
            sample = moderation.take_marks(school, one, taken, found)
            page, table = moderation.write_agreement(school, one, sample, found)
            click.echo(f"{len(sample.second)} second marks are in. Open {page}; to change marks, fill in {table}")
            return
        sample = moderation.sample_of(school, one, found, size, seed)
        page, table = moderation.write_sheet(school, one, sample, found)
        look = moderation.write_look(school, one, sample, found)
    click.echo(f"{counted(len(sample.drawn), 'script')}, for you alone (the second marker sees the numbers only):")
    for drawn in sample.drawn:
        click.echo(f"  {drawn.sample}  {drawn.paper}  {drawn.why}")
    click.echo(f"What the mark scheme marked of them by itself, to look at: {look}")
    if table.exists():
        click.echo(f"Give the second marker {page} and {table};")
        click.echo(f"then: pitside moderate {school.here} --sitting {sitting} --take {typed(table)}")
    else:
        click.echo("No part of this sitting is in words, so nothing is marked twice; pitside explain tells the rest.")


@commands.command("explain", short_help="Say why a part got its mark.")
@_in_school
@click.argument("candidate")
@click.argument("part", required=False)
@click.option("--sitting", default="", help="The sitting, where the candidate has marked papers of several.")
@click.option("--attempt", default=None, type=click.IntRange(1, 99), help="The attempt, where several are marked.")
def explain_command(folder: Path, candidate: str, part: str | None, sitting: str, attempt: int | None) -> None:
    """Say how a part got its mark: pitside explain FOLDER aa-01 2b. Without a part: the marks of all of them."""
    school = open_school(folder)
    for line in explain(school, candidate, _part(part), sitting, attempt or 0) if part else ():
        click.echo(line)
    if not part:
        for paper, record in marked_papers(school, candidate, sitting, attempt or 0):
            click.echo(f"paper {paper.id}: {record.marks:g} of {record.out_of:g} marks")
            for name, rules, marks, most in part_lines(record):
                click.echo(f"  {name:4} {'...' if marks is None else f'{marks:g}':>4} of {most:<4g} {rules}")
        click.echo(f"Why one of them: pitside explain {typed(folder)} {candidate} 2b")


@commands.command("trail", short_help="Tell all that happened to a paper.")
@_in_school
@click.argument("whose", metavar="[PAPER_OR_CANDIDATE]", default="")
def trail_command(folder: Path, whose: str) -> None:
    """Tell all that happened to a paper: issued, marked, changed, by whom, when and why. Without a name: to all."""
    from grader.marking.trail import trail

    for line in trail(open_school(folder), whose):
        click.echo(line)


@commands.command("change", short_help="Change a part's marks, with a reason.")
@_in_school
@click.argument("whose", metavar="PAPER_OR_CANDIDATE")
@click.argument("part")
@click.argument("marks", type=_Marks())
@click.option("--kind", required=True, type=click.Choice(["appeal", "moderation", "correction"]), help="What for.")
@click.option("--reason", required=True, help="Why; the candidate reads it on the feedback page, and it is logged.")
@click.option("--sitting", default="", help="The sitting, where the candidate has marked papers of several.")
@click.option("--attempt", default=None, type=click.IntRange(1, 99), help="The attempt, where several are marked.")
def change(
    folder: Path, whose: str, part: str, marks: float, kind: str, reason: str, sitting: str, attempt: int | None
) -> None:
    """Change a part's marks after marking; old and new stay on record: pitside change FOLDER aa-01 2b 3."""
    from grader.marking.changes import change_mark
    from grader.marking.explain import marked_paper
    from grader.store.part_marks import ChangeKind

    school = open_school(folder)
    with only_one(folder):
        part = _part(part)
        paper, _ = marked_paper(school, whose, part, sitting, attempt or 0)
        record = change_mark(school, paper.id, part, marks, ChangeKind(kind), reason)
    latest = next(one for name, one in reversed(record.changes) if name == part)
    click.echo(f"{paper.candidate}, {paper.sitting}, part {part}: {latest.before:g} before, {latest.marks:g} now")
    click.echo(f"The paper has {record.marks:g} of {record.out_of:g} marks. Next: pitside results {typed(folder)}")


@commands.command("kept", short_help="Say what is held about a candidate, and where.")
@_in_school
@click.argument("candidate", required=False)
def kept(folder: Path, candidate: str | None) -> None:
    """Say what is held about a candidate, and where; or without one, about everybody."""
    from grader.privacy.privacy import kept_lines

    for line in kept_lines(open_school(folder), candidate):
        click.echo(line)


@commands.command("export", short_help="Write all that is held about a candidate into a zip.")
@_in_school
@click.argument("candidate")
@click.option("--to", type=click.Path(path_type=Path, dir_okay=False), default=None, help="The zip to write.")
def export(folder: Path, candidate: str, to: Path | None) -> None:
    """Write a zip of everything that is held about a candidate, to be given to them."""
    from grader.privacy.export import write_export

    school = open_school(folder)
    with only_one(folder):
        path = write_export(school, candidate, to)
    click.echo(f"Wrote {path}: it holds what is known of one person, so hand it to nobody else.")


@commands.command("forget", short_help="List what is held about a candidate; ask; delete it.")
@_in_school
@click.argument("candidate", required=False)
@click.option("--reason", default="", help="Why; it goes into the log. Write no name into it.")
@click.option("--expired", is_flag=True, help="Everybody, if the time of [privacy] keep_months is over.")
@click.option("--yes", is_flag=True, help="Delete without asking.")
def forget(folder: Path, candidate: str | None, reason: str, expired: bool, yes: bool) -> None:
    """List what is held about a candidate, ask, and delete it: pitside forget FOLDER aa-01 --reason "asked for it"."""
    from grader.privacy.privacy import everybody, kept_until

    if expired == bool(candidate or reason):
        raise click.UsageError(
            f"say whom to forget and why: pitside forget {typed(folder)} {candidate or _some_id(folder)} "
            f'--reason "..."; or: pitside forget {typed(folder)} --expired'
        )
    if candidate:
        _forget(folder, [candidate], reason, yes)
        return
    school = open_school(folder)
    until = kept_until(school)
    if until is None:
        raise GraderError(
            f"{folder / 'school.toml'}: says not how long anything is kept; put keep_months = 24, or as many months "
            "as your rules have, under [privacy]"
        )
    months = counted(school.keep_months or 0, "month")
    if date.today() < until:
        click.echo(f"Nothing is deleted: it is kept until {until} ({months} after the last sitting)")
        return
    _forget(folder, everybody(school), f"kept for {months}, until {until}", yes)


def _forget(folder: Path, candidates: Iterable[str], reason: str, yes: bool) -> None:
    from grader.privacy.privacy import forget_and_sign, to_be_forgotten

    school, candidates = open_school(folder), tuple(candidates)
    found = to_be_forgotten(school, candidates)
    for line in found:
        click.echo(line)
    if found and not yes and not click.confirm("Delete all this? It cannot be undone"):
        click.echo("Nothing was deleted.")
        raise click.exceptions.Exit(1)
    with only_one(folder):
        done = forget_and_sign(school, candidates, reason, lambda: read_school(folder))
    for one in done:
        if one.is_nothing:
            click.echo(f"{one.candidate}: nothing is held but the id, in the register and the log")
            continue
        gone = f"{counted(one.files, 'file')}, {counted(one.rows, 'line')}"
        click.echo(f"{one.candidate}: deleted {gone}; the id stays in register and log")
        if one.reports:
            click.echo(f"  reports that are gone, and what makes them again: {', '.join(map(_made_by, one.reports))}")
        for file in one.left:
            click.echo(f"  {file}: not pitside's, and holds the name: look at it yourself")
    click.echo("Copies elsewhere are not touched: backups, and what was handed out or sent.")


def _made_by(report: str) -> str:
    """A report with the command that makes it."""
    begins = {"keyin": "key-in", "written": "written", "observe": "observe", "decisions": "decide", "items": "parts",
              "debrief": "debrief", "moderation": "moderate", "results": "results"}  # fmt: skip
    command = begins.get(re.split(r"[_.]", report)[0])
    return f"{report} (pitside {command})" if command else report


@commands.command("book", short_help="Open the book of lessons, or copy it to a stick.")
@click.option("--to", type=_FOLDER, default=None, help="Copy it to this folder, such as one on a stick.")
@click.option("--no-browser", is_flag=True, help="Open no browser; say where it lies alone.")
def book_command(to: Path | None, no_browser: bool) -> None:
    """Open the book that came with this installation, or copy it: trainees open its index.html, without a network."""
    from grader.pages.built_book import copy_book, the_book

    if to:
        click.echo(f"The book is copied. Its first page: {copy_book(to).resolve()}")
        return
    page = the_book()
    click.echo(f"The book: {page}")
    if not no_browser:
        webbrowser.open(page.as_uri())


@commands.command("demo", short_help="Make a whole invented school to look at.")
@click.argument("folder", type=_FOLDER, default=DEMO_FOLDER)
@click.option(
    "--book", type=click.Path(path_type=Path), default=None, help="The built book's first page, if not the one here."
)
def demo(folder: Path, book: Path | None) -> None:
    """Make a whole invented school in FOLDER (pitside-demo here), from papers to marks. Again, it is made anew."""
    from grader.demo import yard
    from grader.demo.demo import SITTING, at_the_desk, open_pack, report, sit_the_paper  # with what makes notebooks
    from grader.marking.written_answers import page_file as written_page
    from grader.observed.sheets import sheet_files
    from grader.pages.built_book import FIRST_PAGE, built_book
    from grader.papers.handing_out import list_file, sheets_file
    from grader.papers.packs import pack_file, pack_names
    from grader.returned.keyin import page_file

    if book is None and (came_along := built_book()):
        book = came_along / FIRST_PAGE
    _at_work_in(folder)
    with ExitStack() as bars:
        # The demonstration's scripts are our own, so it also runs where a machine cannot wall them in fully.
        school, tally = sit_the_paper(folder, True, lambda label: bars.enter_context(_bar(label)))
        school, watched = yard.in_the_yard(school, bars.enter_context(_bar("Tasks watched")))
        found, index = report(school, bars.enter_context(_bar("Writing feedback")))
        sign_results(school, school.records / "results.csv", state_of(school))
        debriefed, decided, certificate = at_the_desk(school, found, book.parent if book else None)
    missing, called = walls_here().missing, _as_called()
    click.echo(f"{school.title}: everything in it is invented.")
    candidates, refused = counted(len(school.roster), "candidate"), counted(len(tally.refused), "file")
    click.echo(f"{candidates}, {counted(tally.marked, 'script')} marked, {refused} refused:")
    for result in (one for one in found if one.sitting.id == SITTING):
        line = f"{result.record.marks:5g} of {result.record.out_of:g} marks" if result.record else result.status
        remark = f"  {shorten(result.remarks[0], 110, placeholder=' ...')}" if result.remarks else ""
        click.echo(f"  {result.candidate.id}  {line:<18}{remark}")
    if missing:
        click.echo(f"Walls that this machine cannot put around a script: {'; '.join(missing)}")
    example = next(result for result in found if result.record and result.record.marks < result.record.out_of)
    click.echo("Open in a browser:")
    if book:
        click.echo(f"  the book      {book.resolve()}")
    click.echo(f"  the results   {index.resolve()}")
    click.echo(f"  a feedback    {feedback_file(school, example, not example.is_final).resolve()}")
    assert example.paper is not None
    pack, names = open_pack(school, example.paper).resolve(), pack_names(school, example.paper)
    click.echo(f"  a pack        {pack} (unpacked from {pack_file(school, example.paper).resolve()})")
    click.echo(f"    a page to work in       {pack / names.worksheet}")
    click.echo(f"    a sheet to print        {pack / names.sheet}")
    click.echo(f"  all sheets    {sheets_file(school, example.paper.session).resolve()}")
    click.echo(f"  who gets what {list_file(school, example.paper.session).resolve()}")
    click.echo(f"  to mark words {written_page(school).resolve()}")
    click.echo(f"  to key in a printed sheet {page_file(school, example.sitting).resolve()}")
    click.echo(f"  the debrief   {debriefed.resolve()}")
    click.echo(f"  the decisions {decided.resolve()}")
    click.echo(f"  a certificate {certificate.resolve()}")
    in_yard = school.sitting(yard.SITTING)
    told, steps = sheet_files(school, in_yard)
    click.echo(f"Tasks at the machine, watched at two stations (sitting {in_yard.id}):")
    click.echo(f"  to observe    {watched.resolve()}")
    click.echo(f"  to print      {told.resolve()}, and for observers alone {steps.resolve()}")
    missed = next(one for one in found if (one.sitting.id, one.candidate.id) == (yard.SITTING, yard.MISSES))
    click.echo(f"  a critical step missed      {feedback_file(school, missed, is_draft=False).resolve()}")
    click.echo(f"  a second attempt            {called} trail {typed(folder)} {yard.MISSES_AT_FIRST}")
    click.echo(f"  two observers who differ    {called} moderate {typed(folder)} --sitting {yard.SITTING}")
    click.echo(f"What comes next in this school: {called} status {typed(folder)}")
    click.echo(f"All of it in the browser, as an instructor goes: {called} desk {typed(folder)}")
