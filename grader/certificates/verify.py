"""Check what a school has on record, and what it has handed out, for what is forged, altered, copied or revoked."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property, partial
from pathlib import Path
from tempfile import TemporaryDirectory

from grader.certificates.certificates import (
    Shown,
    credential_in,
    day,
    differences,
    facts,
    file_stem,
    folder_of,
    page_is_signed,
    shown_of,
)
from grader.marking.books import Books, read_books
from grader.observed.observations import Observations
from grader.reports.competence import Verdict, decide
from grader.reports.moderation import sample_faults
from grader.reports.results import Result, gather, write_results
from grader.signing.credentials import Json, NotGenuine, check, digest, read_json
from grader.signing.signed_lists import check_list, first_difference
from grader.signing.signing import PublicKey, private_file, public_file, read_public, signer_of
from grader.store.certificate_register import CertificateRegister, Issued
from grader.store.errors import GraderError
from grader.store.log import FORGOTTEN, Log
from grader.store.register import Register
from grader.store.school import School
from grader.store.state import State, state_of
from grader.store.wording import counted

#: Larger files are none of ours, and would take long to read.
MOST_BYTES = 20_000_000
#: How certificates are named; a file of another name may be called whatever its holder likes.
_NAMED = re.compile(r"^(?P<serial>[a-z0-9-]+-\d{4,})_(?P<candidate>[a-z0-9-]+)\.(?:html|json)$")


@dataclass(frozen=True)
class Report:
    """What was found: lines about what holds, and lines about what does not, each naming file and place.

    ``remarks`` are lines to look at, which are no fault by themselves.
    """

    good: tuple[str, ...]
    faults: tuple[str, ...]
    remarks: tuple[str, ...] = ()


class _Found:
    """What is found on the way through a school, and its books and state, which are read once."""

    def __init__(self, school: School, key: str, now: datetime) -> None:
        self.school, self.key, self.now = school, key, now
        self.good: list[str] = []
        self.remarks: list[str] = []

    @cached_property
    def books(self) -> Books:
        return read_books(self.school)

    @cached_property
    def results(self) -> list[Result]:
        return gather(self.school, self.books, only_read=True)

    @cached_property
    def certificates(self) -> CertificateRegister:
        return CertificateRegister(self.school, only_read=True)

    @cached_property
    def state(self) -> State:
        return State(self.school, self.books.register, self.books.log, self.certificates)


def verify_school(school: School, key: str = "", code: str = "", now: datetime | None = None) -> Report:
    """Check the register, the log, results.csv and every certificate of a school; changes nothing.

    ``key`` names the public key to check against, where the one in the folder is not to be trusted. ``code`` is a
    state code that was kept elsewhere: whether the folder still holds that state. ``now`` is what the clock says, where
    that is not asked.
    """
    found = _Found(school, key, now or datetime.now(UTC))
    faults: list[str] = []
    checks: list[Callable[[_Found], Iterator[str]]] = [_register, _log, _results, _certificates]
    if code:
        checks.append(partial(_kept_code, code=code))
    for one in checks:
        try:
            faults += one(found)
        except GraderError as error:
            faults.append(str(error))
    return Report(tuple(found.good), tuple(dict.fromkeys(faults)), tuple(found.remarks))


def _register(found: _Found) -> Iterator[str]:
    school = found.school
    papers = Register(school, only_read=True).papers
    if not papers:
        yield f"{school.register_file}: missing or empty; restore it from your backup if papers were issued"
        return
    found.good.append(f"{school.register_file}: {counted(len(papers), 'paper')}, every line as it was written")


def _log(found: _Found) -> Iterator[str]:
    log, faults = found.books.log, found.books.faults
    yield from (fault.says for fault in faults)
    for sitting in found.school.sittings:
        yield from sample_faults(found.school, log, sitting.id)
    if not faults:
        found.good.append(
            f"{log.path}: {counted(len(log.lines), 'line')}, each as it was written; the marks are those that it "
            "tells of"
        )
    found.remarks += log.ledger.clock_faults(found.now)
    seen = Observations(found.school, only_read=True)
    if seen.all:
        found.good.append(f"{seen.ledger.path}: {counted(len(seen.all), 'observation')}, every line as it was written")


def _kept_code(found: _Found, code: str) -> Iterator[str]:
    fault = found.state.fault(code)
    if fault:
        yield f"state code {code}: {fault}; restore the folder from your backup"
    else:
        found.good.append(f"state code {code}: the folder holds that state, and what came since")


def _forgotten(log: Log) -> set[str]:
    """The ids of those whose data was deleted, certificates and all."""
    return {line["candidate"] for line in log.lines if line["what"] == FORGOTTEN}


def _results(found: _Found) -> Iterator[str]:
    school = found.school
    path = school.records / "results.csv"
    if not path.exists():
        return
    checked = check_list(path, _public_of(school, found.key))
    yield from checked.faults
    if checked.faults:
        return
    if fault := found.state.fault(checked.state) if checked.state else "":
        yield f"{path}: signed on {checked.signed} with state code {checked.state}: {fault}"
    with TemporaryDirectory() as folder:
        # An older table with its own signature is genuine too, but not what the records say now.
        now = write_results(replace(school, folder=Path(folder)), found.results)
        line = first_difference(path, now)
    if line:
        says = (
            f"{path}: {line} is as it was signed on {checked.signed}, but not what the records say now; "
            f"write it anew: pitside results {school.here}"
        )
        if _by_other_schemes(found):  # each line of whom it is says so now
            found.remarks.append(says)
        else:
            yield says
    else:
        found.good.append(f"{path}: {counted(checked.lines, 'line')}, each as it was signed on {checked.signed}")


def _public_of(school: School, key: str) -> PublicKey:
    """The key that signatures are to be by. Raises: :class:`GraderError` if it is not there, or not the given one."""
    if private_file(school).exists() and public_file(school).exists():
        found = signer_of(school).public
    else:
        found = read_public(str(public_file(school)))
    if key and read_public(key) != found:
        raise GraderError(f"{public_file(school)}: not the key that was given ({key}); one of the two is forged or old")
    return found


def _certificates(found: _Found) -> Iterator[str]:
    school, register = found.school, found.certificates
    folder = folder_of(school)
    files = sorted(path for path in folder.glob("*") if path.is_file() and not path.name.startswith("."))
    if not register.issued and not files:
        return
    if register.issued:
        count = len(register.issued)
        found.good.append(f"{register.path}: {count} certificate{'s' * (count > 1)}, every line as it was written")
    found.remarks += register.ledger.clock_faults(found.now)
    public = _public_of(school, found.key)
    faults: list[str] = []
    for path in files:
        faults += _certificate_file(path, public, register)
    forgotten = _forgotten(found.books.log)
    held = [one for one in register.issued.values() if not one.revoked and one.candidate not in forgotten]
    for one in held:
        for kind in ("html", "json"):
            path = folder / f"{file_stem(one.serial, one.candidate)}.{kind}"
            if not path.exists():
                faults.append(f"{path}: missing; write it again with: pitside certify {school.here}")
    for one in register.issued.values():
        if one.state and (fault := found.state.fault(one.state)):
            faults.append(
                f"{register.path}: line {one.line}: certificate {one.serial} of {one.candidate} was issued with state "
                f"code {one.state}: {fault}"
            )
    faults += _changed(found, held)
    yield from faults
    if not faults:
        found.good.append(f"{folder}: {counted(len(files), 'file')}, each as it was signed")
    revoked = [one for one in register.issued.values() if one.revoked]
    found.good += [f"certificate {one.serial} of {one.candidate}: {_revoked(one)}" for one in revoked]


def _certificate_file(path: Path, public: PublicKey, register: CertificateRegister) -> Iterator[str]:
    """What is wrong with a certificate in its place in the school folder."""
    try:
        credential, shown = _genuine(path, public)
        _well_named(path, shown)
    except GraderError as error:
        yield str(error)
        return
    if not _NAMED.match(path.name):
        yield f"{path}: a copy of certificate {shown.serial} of {shown.candidate}, under another name; remove it"
    entered = register.issued.get(shown.serial)
    if fault := _against_register(credential, shown, entered) or _revoked(entered):
        yield f"{path}: certificate {shown.serial} of {shown.candidate}: {fault} (see {register.path})"


def _against_register(credential: Json, shown: Shown, entered: Issued | None) -> str:
    if entered is None:
        return f"signed by the school, but the register has no certificate {shown.serial}"
    if (entered.candidate, entered.credential) != (shown.candidate, digest(credential)):
        return f"signed by the school, but not what was issued as {entered.serial} to {entered.candidate}"
    return ""


def _changed(found: _Found, held: list[Issued]) -> Iterator[str]:
    """Certificates that stand although the result is no longer the one that they were issued on."""
    if not held:
        return
    school = found.school
    decisions = {decision.candidate.id: decision for decision in decide(school, found.results)}
    by_other_schemes = _by_other_schemes(found)
    not_tried: list[str] = []
    for one in held:
        decision = decisions.get(one.candidate)
        where = f"{found.certificates.path}: line {one.line}: certificate {one.serial} of {one.candidate}"
        mend = f"if that is right: pitside certify {school.here}, which says how to replace or revoke it"
        if decision is None:
            yield f"{where}: the candidate is not on the roster any more; {mend}"
        elif decision.verdict is Verdict.PENDING and one.candidate in by_other_schemes:
            not_tried.append(one.candidate)
        elif decision.verdict is not Verdict.COMPETENT:
            yield f"{where}: by the marks that count now the candidate is {decision.verdict}; {mend}"
        elif digest(facts(school, decision, found.results)) != one.certified:
            yield f"{where}: the result has changed since it was issued; {mend}"
    if not_tried:
        found.remarks.append(
            f"{found.certificates.path}: certificates of {', '.join(not_tried)}: genuine, but not held against the "
            "rule again, since an exercise of a paper has changed since then: verify with the exercises of that day"
        )


def _by_other_schemes(found: _Found) -> set[str]:
    """Candidates whose marks stand, by mark schemes that are no longer those of the exercises."""
    return {result.candidate.id for result in found.results if result.record and not result.variants}


# One file, anywhere ---------------------------------------------------------------------------------------------------


def verify_file(path: Path, key: str) -> Report:
    """Check a certificate's page, its credential or results.csv against the school's public key, without the school.

    Raises: :class:`GraderError` where the key cannot be read, or the file is none of these.
    """
    public = read_public(key)
    if path.suffix.lower() == ".csv":
        checked = check_list(path, public)
        good = f"{path}: genuine: {counted(checked.lines, 'line')}, each as it was signed on {checked.signed}"
        return Report(() if checked.faults else (good,), checked.faults)
    try:
        _, shown = _genuine(path, public)
        _well_named(path, shown)
    except GraderError as error:
        return Report((), (str(error),))
    good = (
        f"{path}: genuine: certificate {shown.serial} of {shown.name} ({shown.candidate}), {shown.school}, "
        f"issued on {day(shown.issued)}, check code {shown.code}"
    )
    return Report((good, "Whether it was revoked since, only the school can say, by its number."), ())


def verify_file_of(path: Path, school: School, key: str = "") -> Report:
    """Like :func:`verify_file`, by whoever has the school's folder: also whether it was issued so, and still stands.

    And whether the folder still holds the state that the file's state code tells of, or was put back since.
    """
    public = _public_of(school, key)
    report = verify_file(path, public.did)
    if report.faults:
        return report
    state = state_of(school)
    if path.suffix.lower() == ".csv":
        code, about = check_list(path, public).state, str(path)
        faults: list[str] = []
        good: tuple[str, ...] = report.good
    else:
        register = CertificateRegister(school, only_read=True)
        credential, shown = _genuine(path, public)
        entered = register.issued.get(shown.serial)
        code, about = shown.state, f"{path}: certificate {shown.serial} of {shown.candidate}"
        fault = _against_register(credential, shown, entered) or _revoked(entered)
        faults = [f"{about}: {fault} (see {register.path})"] if fault else []
        good = (report.good[0], f"{register.path}: it was issued so, and stands")
    if code and (fault := state.fault(code)):
        faults.append(f"{about}: signed with state code {code}: {fault}; restore the folder from your backup")
    return Report((), tuple(faults)) if faults else Report(good, ())


def _revoked(entered: Issued | None) -> str:
    if entered is None or not entered.revoked or not entered.revoked_on:
        return ""
    return f"revoked on {day(entered.revoked_on)}: {entered.revoked}"


def _genuine(path: Path, public: PublicKey) -> tuple[Json, Shown]:
    """A certificate's credential and what it says. Raises: :class:`GraderError` saying what is wrong with the file."""
    data = _read(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise GraderError(f"{path}: not text in UTF-8, so no certificate as it was issued; get it again") from None
    is_page = not text.lstrip().startswith("{")
    try:
        credential = credential_in(text) if is_page else read_json(text)
        shown = shown_of(credential)
    except ValueError as error:
        raise GraderError(f"{path}: no certificate of a school, or a damaged one ({error}); get it again") from None
    differing = differences(text, shown) if is_page else []
    about = f"{path}: certificate {shown.serial} of {shown.candidate}"
    try:
        check(credential, public)
    except NotGenuine as error:
        raise GraderError("; ".join([f"{about} is {error}", *differing])) from None
    if is_page and differing:
        raise GraderError(f"{about} is altered after it was signed; {'; '.join(differing)}")
    if is_page and not page_is_signed(data, public):
        raise GraderError(
            f"{about}: the data in it is genuine, but the page around it was altered, or saved anew by a browser; "
            "check the file as it was issued"
        )
    return credential, shown


def _well_named(path: Path, shown: Shown) -> None:
    named = _NAMED.match(path.name)
    if named and (named["serial"], named["candidate"]) != (shown.serial, shown.candidate):
        raise GraderError(
            f"{path}: copied: the file is named as {named['serial']} of {named['candidate']}, "
            f"but it is certificate {shown.serial} of {shown.candidate}"
        )


def _read(path: Path) -> bytes:
    if path.stat().st_size > MOST_BYTES:
        raise GraderError(f"{path}: too large for a certificate; name its page (.html) or its credential (.json)")
    return path.read_bytes()


def say_code(school: School, code: str) -> Report:
    """Whose certificate has this check code, and whether it stands."""
    register = CertificateRegister(school, only_read=True)
    one = register.of_code(code)
    if one is None:
        return Report((), (f"{register.path}: no certificate has the check code {code}; read it again from the paper",))
    names = {candidate.id: candidate.name for candidate in school.roster}
    about = f"check code {one.code}: certificate {one.serial} of {one.candidate}"
    about += f" ({names[one.candidate]})" if one.candidate in names else ""
    if one.revoked and one.revoked_on:
        return Report((), (f"{about}: revoked on {day(one.revoked_on)}: {one.revoked}",))
    return Report((f"{about}, issued on {day(one.when)}, stands",), ())
