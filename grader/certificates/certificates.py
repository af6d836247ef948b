"""Certificates of competence: a page to print, and a credential that anybody can check, for each who has shown it.

The credential follows the data model of Open Badges 3.0 (1EdTech) and with it Verifiable Credentials 2.0 (W3C). The
page is made from the credential alone and carries it, so what is printed is what is signed.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from html.parser import HTMLParser
from pathlib import Path

import segno

from exercises import LESSONS
from grader.certificates.logo import logo_of
from grader.pages.pages import filled, script_data, text_of
from grader.reports.competence import Decision, OutcomeShown, Verdict, Way, in_words, rule_in_words
from grader.reports.results import Result
from grader.signing.credentials import Json, digest, read_json, secured, stamp
from grader.signing.signing import PublicKey, Signer, from_multibase, multibase, signer_of
from grader.store.certificate_register import CHECK_PAGE, CertificateRegister, Issued, check_code
from grader.store.files import write_text
from grader.store.log import Log
from grader.store.register import Register
from grader.store.school import School, Sitting
from grader.store.state import State

#: Both contexts are named by Open Badges 3.0, section "Verification"; they stand in each credential in this order.
CONTEXTS = ["https://www.w3.org/ns/credentials/v2", "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json"]
#: How an outcome that was assessed stands in the credential, by the words of Open Badges 3.0 for a status.
SHOWN, NOT_SHOWN = "Completed", "Failed"
#: Before what is signed of a page, so that no signature of anything else passes for a page's.
_PAGE_MARK = b"pitside certificate page\n"
#: The same before what is signed of a print.
_PRINT_MARK = b"pitside certificate print\n"
#: How a certificate says that an outcome was assessed, in the order of its lists; empty where it does not say.
WAYS = ("", *Way, in_words(tuple(Way)))
#: What the evidence is called that gives the state code of the school's books.
_STATE = "State code of the school's register and log"
_SIGNATURE = re.compile(rb'(<meta name="page-signature" content=")([^"]*)(">)')
_CREDENTIAL = re.compile(r'<script type="application/json" id="credential">(.*?)</script>', re.DOTALL)


@dataclass(frozen=True)
class Assessed:
    """The outcomes of a certificate that were assessed in one way; ``way`` is empty where it does not say which."""

    way: str
    shown: tuple[str, ...]
    not_shown: tuple[str, ...]


@dataclass(frozen=True)
class Shown:
    """What a certificate says, read from its credential."""

    serial: str
    candidate: str
    name: str
    school: str
    title: str
    starts: date
    ends: date
    issued: datetime
    outcomes: tuple[str, ...]
    assessed: int
    #: What was assessed and not shown; older certificates do not list it.
    not_shown: tuple[str, ...]
    how: tuple[str, ...]
    issuer: str
    signature: str
    code: str
    #: The state of the school's books that it was issued on; none on certificates of before there were state codes.
    state: str = ""
    assessor: str = ""
    #: The school's logo as a data URI.
    logo: str = ""

    @property
    def lists(self) -> tuple[Assessed, ...]:
        """The outcomes by how they were assessed; one list where the certificate does not tell."""
        groups: dict[str, tuple[list[str], list[str]]] = {}
        for names, at in ((self.outcomes, 0), (self.not_shown, 1)):
            for name in names:
                way, outcome = _way_of(name)
                groups.setdefault(way, ([], []))[at].append(outcome)
        return tuple(Assessed(way, tuple(groups[way][0]), tuple(groups[way][1])) for way in WAYS if way in groups)


@dataclass(frozen=True)
class Certified:
    """What a run of certifying did: certificates issued now, those that stood, and lines to read about others."""

    issued: tuple[Issued, ...]
    stood: int
    notices: tuple[str, ...]
    not_competent: int


def folder_of(school: School) -> Path:
    return school.records / "certificates"


def revoked_folder(school: School) -> Path:
    return folder_of(school) / "revoked"


def file_stem(serial: str, candidate: str) -> str:
    """How a certificate's files are named; no id holds an underscore."""
    return f"{serial}_{candidate}"


def certify(
    school: School,
    decisions: Sequence[Decision],
    results: Sequence[Result],
    named: Iterable[str] = (),
    reissue: bool = False,
    register: CertificateRegister | None = None,
) -> Certified:
    """Issue a certificate to everybody who is competent and holds none; ``named`` are the ids of the only ones meant.

    A certificate whose result is no longer the one that it was issued on is told of, and with ``reissue`` revoked and
    replaced by a new one. After one that was revoked, a named candidate gets another with ``reissue`` alone. Files
    that are missing of one that stands are written again. The caller holds the school.

    Raises: :class:`GraderError` if a named candidate is not on the roster, or a key is missing or damaged.
    """
    wanted = {school.candidate(one).id for one in named}
    register = register or CertificateRegister(school)
    put_away(school, register)
    signer = signer_of(school)
    log = Log(school, only_read=True)
    state = State(school, Register(school, only_read=True), log, register)
    issued: list[Issued] = []
    notices: list[str] = []
    stood = not_competent = 0
    for decision in decisions:
        candidate = decision.candidate.id
        if wanted and candidate not in wanted:
            continue
        held = register.current(candidate)
        is_competent = decision.verdict is Verdict.COMPETENT
        not_competent += not is_competent
        if not is_competent and (held or wanted):
            notices.append(_not_competent(school, decision, held))
        if not is_competent:
            continue
        certified = digest(facts(school, decision, results))
        if held and (fault := _fault_of(school, held, certified, decision, signer)):
            if not reissue:
                again = f"pitside certify {school.here} --candidate {candidate} --reissue"
                notices.append(f"{candidate}: {fault} since {held.serial} was issued; to replace it: {again}")
                continue
            register.revoke(held.serial, f"replaced by {register.next_serial}: {fault}")
            put_away(school, register)
            held = None
        elif not held and (latest := register.latest(candidate)) and not (reissue and candidate in wanted):
            again = f"pitside certify {school.here} --candidate {candidate} --reissue"
            notices.append(f"{candidate}: {latest.serial} was revoked ({latest.revoked}); to issue another: {again}")
            continue
        if held:
            stood += 1
        else:
            if not issued:
                log.ledger.tell_of_clock(register.now())
            issued.append(_issue(school, decision, certified, register, signer, state.code))
    if register.issued:
        write_check_page(school, register)
    return Certified(tuple(issued), stood, tuple(notices), not_competent)


def _not_competent(school: School, decision: Decision, held: Issued | None) -> str:
    candidate = decision.candidate.id
    if held is None:
        return f"{candidate}: no certificate: {decision.verdict}: {'; '.join(decision.why)}"
    if decision.verdict is Verdict.PENDING:
        return (
            f"{candidate}: holds {held.serial}, which stands while the decision is pending: {'; '.join(decision.why)}"
        )
    revoke = f'pitside certify {school.here} --revoke {held.serial} --reason "..."'
    return f"{candidate}: holds {held.serial}, and is {decision.verdict} by the marks that count now; {revoke}"


def _fault_of(school: School, held: Issued, certified: str, decision: Decision, signer: Signer) -> str:
    """Why a certificate that a competent candidate holds cannot stand; empty if it can, then its files are there."""
    if held.certified != certified:
        return "the result has changed"
    if held.key != signer.public.did:
        return "the school signs with another key"
    stem = file_stem(held.serial, held.candidate)
    if all((folder_of(school) / f"{stem}.{kind}").exists() for kind in ("html", "json")):
        return ""
    document = document_of(school, decision, held.serial, held.when, signer.public, held.state)
    credential = secured(document, signer, held.when)
    if digest(credential) != held.credential:
        return "its files are missing and the wording has changed"
    _write(school, credential, signer)
    return ""


def _issue(
    school: School, decision: Decision, certified: str, register: CertificateRegister, signer: Signer, state: str
) -> Issued:
    serial, when = register.next_serial, register.now().replace(microsecond=0)
    credential = secured(document_of(school, decision, serial, when, signer.public, state), signer, when)
    # First the line: of a run that is killed here, the next writes the files that are missing.
    register.issue(serial, decision.candidate.id, certified, digest(credential), signer.public.did, when, state)
    _write(school, credential, signer)
    return register.issued[serial]


def revoke(school: School, serial: str, reason: str, register: CertificateRegister | None = None) -> Issued:
    """Revoke a certificate and put its files away. Raises: :class:`GraderError` if there is none such, or no reason."""
    register = register or CertificateRegister(school)
    revoked = register.revoke(serial, reason)
    put_away(school, register)
    write_check_page(school, register)
    return revoked


def put_away(school: School, register: CertificateRegister) -> None:
    """Move the files of revoked certificates out of the folder from which certificates are handed out."""
    for one in register.issued.values():
        for kind in ("html", "json") if one.revoked else ():
            file = folder_of(school) / f"{file_stem(one.serial, one.candidate)}.{kind}"
            if file.exists():
                revoked_folder(school).mkdir(exist_ok=True)
                file.replace(revoked_folder(school) / file.name)


def facts(school: School, decision: Decision, results: Sequence[Result]) -> Json:
    """The result that a certificate stands on: each mark, the outcomes, and what is written on the certificate."""
    mine = [r for r in results if r.candidate.id == decision.candidate.id and r.counts and r.record]
    return {
        "candidate": decision.candidate.id,
        "name": decision.candidate.name,
        "school": [school.id, school.title, school.starts.isoformat()],
        "sittings": [[sitting.id, sitting.title, sitting.day.isoformat()] for sitting in school.sittings],
        "rule": list(rule_in_words(school)),
        "verdict": str(decision.verdict),
        "percent": "" if decision.percent is None else repr(decision.percent),
        "outcomes": [[one.outcome, repr(one.share), one.shown] for one in decision.outcomes],
        "marks": {
            result.paper.id: {part: repr(marks) for part, marks in result.record.part_marks.items()}
            for result in mine
            if result.paper and result.record
        },
    }


def document_of(
    school: School, decision: Decision, serial: str, when: datetime, public: PublicKey, state: str = ""
) -> Json:
    """The credential before it is signed; ``state`` is the state code of the books on which it is issued."""
    issuer: Json = {"id": public.did, "type": ["Profile"], "name": school.title}
    if logo := logo_of(school):
        issuer["image"] = {"id": logo, "type": "Image"}
    days = sorted(sitting.day for sitting in school.sittings)
    described = {one.outcome: _urn(f"{public.did}/{school.id}/{one.outcome}") for one in decision.outcomes}
    return {
        "@context": CONTEXTS,
        "id": _urn(f"{public.did}/{serial}"),
        "type": ["VerifiableCredential", "OpenBadgeCredential"],
        "name": f"{school.title}: certificate of competence",
        "issuer": issuer,
        "validFrom": stamp(when),
        "credentialSubject": {
            "type": ["AchievementSubject"],
            "identifier": [_identity("name", decision.candidate.name), _identity("systemId", decision.candidate.id)],
            "licenseNumber": serial,
            "activityStartDate": stamp(_midnight(min(school.starts, days[0]))),
            "activityEndDate": stamp(_midnight(max(school.starts, days[-1]))),
            "achievement": {
                "id": _urn(f"{public.did}/{school.id}"),
                "type": ["Achievement"],
                "achievementType": "Certificate",
                "name": _title(decision),
                "description": _description(school),
                "criteria": {"narrative": "\n\n".join(_how(school))},
                "resultDescription": [
                    {
                        "id": described[one.outcome],
                        "type": ["ResultDescription"],
                        "name": _named(school, one),
                        "resultType": "Status",
                    }
                    for one in decision.outcomes
                ],
            },
            "result": [
                {
                    "type": ["Result"],
                    "resultDescription": described[one.outcome],
                    "status": SHOWN if one.shown else NOT_SHOWN,
                }
                for one in decision.outcomes
            ],
            **({"source": _assessor(school, public)} if school.assessor else {}),
        },
        **({"evidence": [{"type": ["Evidence"], "name": _STATE, "narrative": state}]} if state else {}),
    }


def _title(decision: Decision) -> str:
    """What was assessed, by the titles of its lessons."""
    lessons = dict.fromkeys(one.lesson for one in decision.outcomes)
    subjects = [LESSONS[lesson].title if lesson in LESSONS else "subjects of the school's own" for lesson in lessons]
    return f"Solids control: {'; '.join(subjects)}"


def _assessor(school: School, public: PublicKey) -> Json:
    return {"id": _urn(f"{public.did}/assessor/{school.assessor}"), "type": ["Profile"], "name": school.assessor}


def _description(school: School) -> str:
    ways = [way for way in Way if any(Way.of(sitting) is way for sitting in school.sittings)]
    how = {Way.PAPER: "in papers with numbers of their own", Way.MACHINE: "at the machine, watched by an observer"}
    where = " and ".join(how[way] for way in ways)
    return f"Has worked the tasks of solids control on a drilling rig, {where}, to the standard of the school."


def _named(school: School, one: OutcomeShown) -> str:
    """An outcome as the credential names it: with how it was assessed, where the school has watched any task."""
    if not any(sitting.observed for sitting in school.sittings):
        return one.outcome
    return f"{in_words(one.ways).capitalize()}: {one.outcome}"


def _way_of(name: str) -> tuple[str, str]:
    """How an outcome was assessed by its name in a credential, and the outcome alone."""
    for way in WAYS[1:]:
        if name.startswith(f"{way.capitalize()}: "):
            return way, name.partition(": ")[2]
    return "", name


def _how(school: School) -> tuple[str, ...]:
    by = {way: [sitting for sitting in school.sittings if Way.of(sitting) is way] for way in Way}
    lines = []
    if papers := by[Way.PAPER]:
        many = f"{len(papers)} papers" if len(papers) > 1 else "one paper"
        lines.append(f"Assessed by {many}, each candidate with numbers of their own: {_days(papers)}.")
    if watched := by[Way.MACHINE]:
        lines.append(
            f"Watched at the machine, step by step, by observers whose names stand in the school's records: "
            f"{_days(watched)}."
        )
    return (*lines, *rule_in_words(school))


def _days(sittings: Sequence[Sitting]) -> str:
    return "; ".join(f"{sitting.title} ({day(sitting.day)})" for sitting in sittings)


def _identity(kind: str, text: str) -> Json:
    return {"type": "IdentityObject", "hashed": False, "identityHash": text, "identityType": kind}


def _urn(name: str) -> str:
    return f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, name)}"


def _midnight(one: date) -> datetime:
    return datetime.combine(one, time(), UTC)


def day(one: date) -> str:
    """A day with its month in letters, which no two countries read differently."""
    return f"{one.day} {one:%B %Y}"


# The page -------------------------------------------------------------------------------------------------------------


def shown_of(credential: Json) -> Shown:
    """What a credential says. Raises: ValueError if it is not one of a school's certificates."""
    try:
        return _shown(credential)
    except (KeyError, TypeError, AttributeError, ValueError, StopIteration, RecursionError):
        raise ValueError("not a certificate of a school") from None


def _shown(credential: Json) -> Shown:
    subject = credential["credentialSubject"]
    who = {one["identityType"]: str(one["identityHash"]) for one in subject["identifier"]}
    achievement = subject["achievement"]
    names = {one["id"]: str(one["name"]) for one in achievement["resultDescription"]}
    (proof,) = credential["proof"]
    return Shown(
        serial=str(subject["licenseNumber"]),
        candidate=who["systemId"],
        name=who["name"],
        school=str(credential["issuer"]["name"]),
        title=str(achievement["name"]),
        starts=datetime.fromisoformat(subject["activityStartDate"]).date(),
        ends=datetime.fromisoformat(subject["activityEndDate"]).date(),
        issued=datetime.fromisoformat(credential["validFrom"]),
        outcomes=tuple(names[one["resultDescription"]] for one in subject["result"] if one["status"] == SHOWN),
        assessed=len(names),
        not_shown=tuple(names[one["resultDescription"]] for one in subject["result"] if one["status"] != SHOWN),
        how=tuple(str(achievement["criteria"]["narrative"]).split("\n\n")),
        issuer=str(credential["issuer"]["id"]),
        signature=str(proof["proofValue"]),
        code=check_code(digest(credential)),
        state=next((str(one["narrative"]) for one in credential.get("evidence", ()) if one["name"] == _STATE), ""),
        assessor=str(subject["source"]["name"]) if "source" in subject else "",
        logo=str(credential["issuer"]["image"]["id"]) if "image" in credential["issuer"] else "",
    )


def page_of(credential: Json, signer: Signer) -> str:
    """The certificate's page, signed as a whole."""
    shown = shown_of(credential)
    data = script_data(credential)
    code = segno.make(square_text(shown, signer), error="m", micro=False)
    page = filled(
        "certificates/certificate.html",
        one=shown,
        day=day,
        data=data,
        qr=code.svg_data_uri(border=4, light="#fff", omitsize=True),
        length=len(shown.name),
    )
    signature = multibase(signer.sign(_signed_bytes(page.encode())))
    return page.replace('name="page-signature" content=""', f'name="page-signature" content="{signature}"', 1)


def square_text(shown: Shown, signer: Signer) -> str:
    """What the square on the paper holds: what the paper says in short, and the school's signature of these words.

    So a print can be checked where nobody has the file. It begins with number and check code, which the school is told.
    """
    told = (
        shown.serial,
        shown.code,
        unicodedata.normalize("NFC", " ".join(shown.name.replace("|", "/").split())),
        shown.candidate,
        f"{shown.starts} to {shown.ends}",
        f"{len(shown.outcomes)} of {shown.assessed} outcomes shown",
        f"issued {shown.issued:%Y-%m-%d}",
    )
    words = " | ".join(told)
    return f"{words} | {multibase(signer.sign(_PRINT_MARK + words.encode()))}"


def print_tag(serial: str, code: str, name: str) -> str:
    """By what the check page knows a print: a digest, which tells nobody a name who has not the check code too."""
    plain = "".join(
        letter
        for letter in unicodedata.normalize("NFKD", name).lower()
        if unicodedata.category(letter)[0] in ("L", "N")
    )
    return hashlib.sha256(f"{serial}|{code}|{plain}".encode()).hexdigest()


def _prints(school: School, register: CertificateRegister) -> dict[str, str]:
    """The day on which each certificate was issued whose file is there, by the tag of its print."""
    days = {}
    for one in register.issued.values():
        stem = file_stem(one.serial, one.candidate)
        for folder in (folder_of(school), revoked_folder(school)):
            try:
                shown = shown_of(read_json((folder / f"{stem}.json").read_text(encoding="utf-8")))
            except (OSError, ValueError):
                continue  # put elsewhere, or forgotten
            if shown.code == one.code:
                days[print_tag(one.serial, one.code, shown.name)] = day(one.when)
    return dict(sorted(days.items()))


def _signed_bytes(page: bytes) -> bytes:
    """What the page's own signature is of: the page without that signature, lines ended as they were written."""
    return _PAGE_MARK + _SIGNATURE.sub(rb"\1\3", page.replace(b"\r\n", b"\n"), count=1)


def page_is_signed(page: bytes, public: PublicKey) -> bool:
    found = _SIGNATURE.search(page)
    try:
        return bool(found) and public.signed(from_multibase(found[2].decode()), _signed_bytes(page)) if found else False
    except ValueError:
        return False


def credential_in(page: str) -> Json:
    """The credential that a page carries. Raises: ValueError if it carries none."""
    found = _CREDENTIAL.search(page)
    if not found:
        raise ValueError("carries no credential")
    return read_json(found[1])


def _field(name: str, way: str) -> str:
    """What a list of outcomes is called in ``data-field``."""
    return f"{name} {way}".rstrip()


class _Fields(HTMLParser):
    """Gathers the text of the elements that say in ``data-field`` what they are."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, list[str]] = {}
        self._field, self._depth = "", 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self._field:
            self._depth += 1
        elif name := dict(attrs).get("data-field"):
            self._field, self._depth = name, 1
            self.found.setdefault(name, []).append("")

    def handle_endtag(self, tag: str) -> None:
        if self._field:
            self._depth -= 1
            self._field = self._field if self._depth else ""

    def handle_data(self, data: str) -> None:
        if self._field:
            self.found[self._field][-1] += data


def differences(page: str, shown: Shown) -> list[str]:
    """Where what the page shows is not what its credential says, in words."""
    fields = _Fields()
    fields.feed(page)
    expected = {
        "name": [shown.name],
        "candidate": [shown.candidate],
        "school": [shown.school],
        "title": [shown.title],
        "serial": [shown.serial],
        "code": [shown.code],
        "first day": [day(shown.starts)],
        "last day": [day(shown.ends)],
        "date of issue": [day(shown.issued)],
        **{_field("outcome", way): [] for way in WAYS},
        **{_field("not shown", way): [] for way in WAYS},
        **{_field("outcome", one.way): list(one.shown) for one in shown.lists},
        **{_field("not shown", one.way): list(one.not_shown) for one in shown.lists},
        "assessor": [shown.assessor] if shown.assessor else [],
        "how it was assessed": list(shown.how),
        "issuer": [shown.issuer],
        "signature": [shown.signature],
        "state code": [shown.state] if shown.state else [],
    }
    found = []
    for name, texts in expected.items():
        there = [" ".join(text.split()) for text in fields.found.get(name, [])]
        signed = [" ".join(text.split()) for text in texts]
        found += [f'{name}: the page says "{text}", which was not signed' for text in there if text not in signed]
        found += [f'{name}: signed was "{text}", which the page does not say' for text in signed if text not in there]
    return found


def check_page_file(school: School) -> Path:
    return school.records / CHECK_PAGE


def write_check_page(school: School, register: CertificateRegister) -> Path:
    """Write the page on which anybody checks this school's certificates in a browser, offline; gives its path.

    It holds the public key, which certificates were revoked up to now, by their numbers, and by what it knows the
    prints of those that were issued.
    """
    made = register.now()
    did = signer_of(school).public.did
    revoked = [one for one in register.issued.values() if one.revoked and one.revoked_on]
    about = {
        "did": did,
        "made": day(made),
        "revoked": [{"serial": one.serial, "on": day(one.revoked_on)} for one in revoked if one.revoked_on],
        "prints": _prints(school, register),
    }
    page = filled(
        "certificates/check.html",
        school=school,
        style=text_of("pages/worksheet.css", "certificates/check.css"),
        noble=text_of("certificates/noble.js"),
        script=text_of("certificates/check.js"),
        data=script_data(about),
        did=did,
        made=made,
        revoked=revoked,
        day=day,
    )
    write_text(check_page_file(school), page)
    return check_page_file(school)


def _write(school: School, credential: Json, signer: Signer) -> None:
    shown = shown_of(credential)
    stem = folder_of(school) / file_stem(shown.serial, shown.candidate)
    write_text(stem.with_name(f"{stem.name}.json"), json.dumps(credential, ensure_ascii=False, indent=1) + "\n")
    write_text(stem.with_name(f"{stem.name}.html"), page_of(credential, signer))
