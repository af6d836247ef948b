"""What `pitside verify` finds: nothing in what is genuine, and each kind of forgery by its file and place."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from grader.certificates.certificates import certify, folder_of, page_of, revoke, revoked_folder
from grader.certificates.verify import Report, say_code, verify_file, verify_file_of, verify_school
from grader.cli import commands
from grader.marking.changes import change_mark
from grader.marking.records import record_file
from grader.reports.competence import decide
from grader.reports.results import gather, write_results
from grader.signing.credentials import secured
from grader.signing.signed_lists import sign_list, signature_file
from grader.signing.signing import Signer, private_file, public_file, signer_of
from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.part_marks import ChangeKind
from grader.store.register import Register
from grader.store.school import School, open_school
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import right_answers

WHEN = datetime(2026, 5, 9, 12, tzinfo=UTC)
SIGNED = "2026-05-09T12:00:00Z"
FIRST, SECOND = "marram-0001_c001", "marram-0002_c002"


@pytest.fixture(scope="module")
def certified(tmp_path_factory) -> School:
    """Three candidates who all have everything right, with results and certificates."""
    school = marked_cohort(
        tmp_path_factory.mktemp("cohort") / "school",
        candidates=3,
        twist=lambda number, variants, answers: dict(right_answers(variants)),
    )
    roster = school.folder / "roster.csv"
    roster.write_text(roster.read_text().replace("Candidate No. 2", "Нина Ветрова"), encoding="utf-8")
    school = open_school(school.folder)
    found = gather(school)
    certify(school, decide(school, found), found, register=CertificateRegister(school, now=lambda: WHEN))
    sign_list(write_results(school, found), signer_of(school), school.id, WHEN)
    return school


@pytest.fixture
def school(certified, tmp_path) -> School:
    shutil.copytree(certified.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


def page(school: School, stem: str = FIRST) -> Path:
    return folder_of(school) / f"{stem}.html"


def credential(school: School, stem: str = FIRST) -> Path:
    return folder_of(school) / f"{stem}.json"


def key(school: School) -> str:
    return str(public_file(school))


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def only_fault(report: Report) -> str:
    (fault,) = report.faults
    return fault


def stranger() -> Signer:
    return Signer(Ed25519PrivateKey.from_private_bytes(b"\x07" * 32))


# What is genuine ---------------------------------------------------------------------------------------------------


def test_genuine_school_has_no_fault_and_is_not_touched(school):
    before = {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()}
    report = verify_school(school)
    assert report.faults == ()
    assert [line.rpartition("/")[2] for line in report.good] == [
        "register.jsonl: 3 papers, every line as it was written",
        "log.jsonl: 3 lines, each as it was written; the marks are those that it tells of",
        f"results.csv: 4 lines, each as it was signed on {SIGNED}",
        "certificates.jsonl: 3 certificates, every line as it was written",
        "certificates: 6 files, each as it was signed",
    ]
    assert {path: path.read_bytes() for path in school.folder.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize("kind", [page, credential])
def test_genuine_certificate_is_checked_far_from_the_school(school, tmp_path, kind):
    copy = tmp_path / "my certificate.txt"
    shutil.copy(kind(school, SECOND), copy)
    pem = shutil.copy(key(school), tmp_path / "key.pem")
    did = signer_of(school).public.did
    shutil.rmtree(school.folder)
    for named in (str(pem), did):
        report = verify_file(copy, named)
        assert report.faults == ()
        says = "genuine: certificate marram-0002 of Нина Ветрова (c002), Marram school, issued on 9 May 2026"
        assert says in report.good[0]


def test_mail_that_changes_line_ends_does_no_harm(school):
    for path in (page(school), school.records / "results.csv"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
        assert verify_file(path, key(school)).faults == ()


def test_school_without_certificates_or_results_yet_is_whole(tmp_path):
    assert verify_school(marked_cohort(tmp_path / "school", candidates=1)).faults == ()


# Certificates: forged, altered, copied, revoked ---------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["html", "json"])
def test_certificate_signed_with_another_key_is_forged(school, kind):
    document = json.loads(credential(school).read_text(encoding="utf-8"))
    del document["proof"]
    forged = secured(document, stranger(), WHEN)
    path = folder_of(school) / f"{FIRST}.{kind}"
    path.write_text(page_of(forged, stranger()) if kind == "html" else json.dumps(forged), encoding="utf-8")
    says = f"{path}: certificate marram-0001 of c001 is forged: signed with another key ({stranger().public.did})"
    assert only_fault(verify_file(path, key(school))).startswith(says)
    assert only_fault(verify_school(school)).startswith(says)


def test_forged_certificate_that_claims_the_school_as_its_issuer_is_altered(school):
    """The forger keeps the school's key in the data, but cannot sign with it."""
    document = json.loads(credential(school).read_text(encoding="utf-8"))
    proof = document["proof"][0]
    forged = secured({name: value for name, value in document.items() if name != "proof"}, stranger(), WHEN)
    forged["proof"][0]["verificationMethod"] = proof["verificationMethod"]
    credential(school).write_text(json.dumps(forged), encoding="utf-8")
    assert "is altered after it was signed" in only_fault(verify_file(credential(school), key(school)))


ALTERED = {
    "name": ("Нина Ветрова", "Нина Петрова"),
    "serial": ("marram-0002", "marram-0009"),
    "outcome": ("Convert a mud weight", "Run a rig: convert a mud weight"),
    "date of issue": ("2026-05-09T12:00:00Z", "2027-05-09T12:00:00Z"),
    "how": ("at least 70 % overall", "at least 99 % overall"),
}


@pytest.mark.parametrize(("old", "new"), ALTERED.values(), ids=ALTERED)
def test_altered_credential_is_caught(school, old, new):
    path = credential(school, SECOND)
    edit(path, old, new)
    fault = only_fault(verify_file(path.rename(path.with_name("it.json")), key(school)))
    assert fault.startswith(f"{path.with_name('it.json')}: certificate marram-000")
    assert "is altered after it was signed" in fault


SHOWN = {
    "name": (">Нина Ветрова<", ">Нина Петрова<", 'name: the page says "Нина Петрова", which was not signed'),
    "serial": (">marram-0002<", ">marram-0009<", 'serial: the page says "marram-0009", which was not signed'),
    "outcome": ('field="outcome">Convert', 'field="outcome">Do not convert', 'outcome: the page says "Do not convert'),
    "date of issue": (">9 May 2026<", ">9 May 2027<", 'date of issue: the page says "9 May 2027"'),
}


@pytest.mark.parametrize(("old", "new", "says"), SHOWN.values(), ids=SHOWN)
def test_altered_page_is_caught_and_the_place_is_said(school, old, new, says):
    edit(page(school, SECOND), old, new)
    fault = only_fault(verify_file(page(school, SECOND), key(school)))
    assert fault.startswith(f"{page(school, SECOND)}: certificate marram-0002 of c002 is altered after it was signed; ")
    assert says in fault
    assert only_fault(verify_school(school)) == fault


def test_outcome_put_on_the_page_is_caught(school):
    edit(page(school), "</ul>", '<li data-field="outcome">Fly.</li></ul>')
    assert 'outcome: the page says "Fly.", which was not signed' in only_fault(verify_file(page(school), key(school)))


def test_anything_else_put_on_the_page_is_caught(school):
    edit(page(school), "</ul>", "</ul><p>With distinction</p>")
    assert "the page around it was altered" in only_fault(verify_file(page(school), key(school)))


@pytest.mark.parametrize("signature", ["", "z", "z11", "nonsense"])
def test_page_without_its_own_signature_is_caught(school, signature):
    text = page(school).read_text(encoding="utf-8")
    begin = text.index('name="page-signature" content="') + len('name="page-signature" content="')
    page(school).write_text(text[:begin] + signature + text[text.index('"', begin) :], encoding="utf-8")
    assert "the page around it was altered" in only_fault(verify_file(page(school), key(school)))


def test_value_that_some_programs_would_read_before_the_signed_one_is_caught(school):
    """Of a name that stands twice Python takes the latter, other programs the former."""
    genuine = '"licenseNumber": "marram-0001"'
    edit(credential(school), genuine, f'"licenseNumber": "marram-0009", {genuine}')
    assert "a name stands twice in it" in only_fault(verify_file(credential(school), key(school)))


@pytest.mark.parametrize("kind", ["html", "json"])
def test_certificate_copied_to_another_candidate_is_caught(school, kind):
    other = folder_of(school) / f"{SECOND}.{kind}"
    shutil.copy(folder_of(school) / f"{FIRST}.{kind}", other)
    says = f"{other}: copied: the file is named as marram-0002 of c002, but it is certificate marram-0001 of c001"
    assert only_fault(verify_file(other, key(school))) == says
    assert only_fault(verify_school(school)) == says


def test_copy_under_a_name_of_its_own_is_caught_in_the_school_folder(school):
    other = folder_of(school) / "Ingrid.html"
    shutil.copy(page(school), other)
    assert "a copy of certificate marram-0001 of c001, under another name" in only_fault(verify_school(school))


def test_revoked_certificate_is_told_of_where_it_turns_up(school):
    revoke(school, "marram-0001", "somebody else sat")
    report = verify_school(school)
    assert report.faults == ()
    assert any(line.startswith("certificate marram-0001 of c001: revoked on ") for line in report.good)
    copy = revoked_folder(school) / page(school).name
    says = "somebody else sat (see "
    assert says in only_fault(verify_file_of(copy, school))
    shutil.copy(copy, page(school))
    assert says in only_fault(verify_school(school))
    assert verify_file(copy, key(school)).good[-1].startswith("Whether it was revoked since, only the school can say")


def test_certificate_that_stands_is_confirmed_by_its_school(school):
    report = verify_file_of(page(school), school)
    assert report.faults == ()
    assert report.good[-1].endswith("certificates.jsonl: it was issued so, and stands")


def test_certificate_signed_with_the_schools_key_but_never_issued_is_caught(school):
    """Who has got hold of the signing key has not got into the register."""
    document = json.loads(credential(school).read_text(encoding="utf-8"))
    del document["proof"]
    for serial, says in (("marram-0007", "the register has no certificate"), ("marram-0002", "not what was issued as")):
        document["credentialSubject"]["licenseNumber"] = serial
        path = folder_of(school) / f"{serial}_c001.json"
        path.write_text(json.dumps(secured(document, signer_of(school), WHEN)), encoding="utf-8")
        assert says in only_fault(verify_school(school))
        assert says in only_fault(verify_file_of(path, school))
        path.unlink()


def test_missing_certificate_is_told_of(school):
    page(school).unlink()
    assert only_fault(verify_school(school)).startswith(f"{page(school)}: missing")


def test_school_that_has_forgotten_somebody_is_whole(school):
    assert command("forget", str(school.folder), "c001", "--reason", "asked for it", "--yes")[0] == 0
    assert not page(school).exists()
    status, says = command("verify", str(school.folder))
    assert status == 0 and "WRONG" not in says and "4 files, each as it was signed" in says


def test_results_and_certificate_of_before_an_appeal_are_told_of(school):
    (paper,) = [paper for paper in Register(school).papers.values() if paper.candidate == "c002"]
    change_mark(school, paper.id, "1a", 0, ChangeKind.APPEAL, "looked at again")
    results, certificate = verify_school(school).faults
    assert f"results.csv: line 3 (c002) is as it was signed on {SIGNED}, but not what the records say now" in results
    where = school.records / "certificates.jsonl"
    assert certificate.startswith(f"{where}: line 2: certificate marram-0002 of c002: the result has changed")


BROKEN = {
    "empty": b"",
    "no certificate": b"<!doctype html><p>Hello",
    "another object": b'{"a": 1}',
    "a list": b"[1]",
    "not JSON": b"{",
    "deep": b'{"a":' * 100_000,
    "a name twice": b'{"proof": [], "proof": []}',
    "not UTF-8": b"\xff\xfe{",
    "bytes": bytes(range(256)),
}


@pytest.mark.parametrize("data", BROKEN.values(), ids=BROKEN)
def test_what_is_no_certificate_is_said_to_be_none(school, tmp_path, data):
    for name in ("it.html", "it.json"):
        path = tmp_path / name
        path.write_bytes(data)
        assert only_fault(verify_file(path, key(school))).startswith(f"{path}: ")


def test_every_byte_of_a_credential_counts(school):
    """But for blanks between the parts of the JSON, which mean nothing: those are left alone."""
    whole = credential(school).read_bytes()
    path = school.folder / "it.json"
    for at in range(0, len(whole), 37):
        if whole[at : at + 1].isspace():
            continue
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert verify_file(path, key(school)).faults, whole[max(0, at - 20) : at + 20]


def test_every_byte_of_a_page_counts(school):
    whole = page(school).read_bytes()
    path = school.folder / "it.html"
    for at in range(0, len(whole), 101):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert verify_file(path, key(school)).faults, whole[max(0, at - 20) : at + 20]


# Registers, log, marks, results -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["register.jsonl", "records/log.jsonl", "records/certificates.jsonl"])
@pytest.mark.parametrize("line", [1, 3])
def test_altered_line_is_caught_by_its_number(school, name, line):
    path = school.folder / name
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[line - 1] = lines[line - 1].replace(f"c00{line}", "c009")
    path.write_text("".join(lines), encoding="utf-8")
    assert f"{path}: line {line} is not as it was written" in " ".join(verify_school(school).faults)


@pytest.mark.parametrize("name", ["register.jsonl", "records/log.jsonl", "records/certificates.jsonl"])
def test_register_or_log_that_was_cut_off_is_caught(school, name):
    path = school.folder / name
    path.write_text("".join(path.read_text(encoding="utf-8").splitlines(keepends=True)[:2]), encoding="utf-8")
    assert any("c003" in fault for fault in verify_school(school).faults)


def test_altered_marks_are_caught(school):
    (paper,) = [paper for paper in Register(school).papers.values() if paper.candidate == "c002"]
    path = record_file(school, paper.id)
    data = json.loads(path.read_text(encoding="utf-8"))
    data["exercises"][0]["items"][0]["marks"] = 0
    path.write_text(json.dumps(data), encoding="utf-8")
    assert any(fault.startswith(f"{path}: not the marks that ") for fault in verify_school(school).faults)


ROWS = {
    "a mark": (lambda lines: [*lines[:2], lines[2].replace("100", "99"), *lines[3:]], "line 3 (c002) is not as it was"),
    "a name": (lambda lines: [*lines[:3], lines[3].replace("No. 3", "No. 4")], "line 4 (c003) is not as it was signed"),
    "two swapped": (lambda lines: [lines[0], lines[2], lines[1], lines[3]], "was put in after it was signed"),
    "one put in": (lambda lines: [*lines, "c009,Somebody,,,,"], "line 5 (c009) was put in after it was signed"),
    "one taken out": (lambda lines: lines[:2] + lines[3:], "a line that was signed is missing behind line 2"),
    "nothing left": (lambda lines: [], "line 1 is not as it was signed"),
}


@pytest.mark.parametrize(("change", "says"), ROWS.values(), ids=ROWS)
def test_altered_results_are_caught_by_their_line(school, change, says):
    path = school.records / "results.csv"
    lines = change(path.read_text(encoding="utf-8").splitlines())
    path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
    for report in (verify_school(school), verify_file(path, key(school))):
        assert any(fault.startswith(f"{path}: ") and says in fault for fault in report.faults)


def test_results_are_not_taken_for_genuine_without_a_genuine_signature(school):
    path = school.records / "results.csv"
    file = signature_file(path)
    whole = file.read_text(encoding="utf-8")
    body = json.loads(whole)
    edits = {
        "altered after it was signed": json.dumps(body | {"lines": body["lines"][:-1]}),
        "damaged": whole[:100],
        "the signature of decisions.csv": None,
    }
    for says, text in edits.items():
        if text is None:
            other = path.with_name("decisions.csv")
            shutil.copy(path, other)
            text = sign_list(other, signer_of(school), school.id, WHEN).read_text(encoding="utf-8")
        file.write_text(text, encoding="utf-8")
        with pytest.raises(GraderError, match=says):
            verify_file(path, key(school))
    sign_list(path, stranger(), school.id, WHEN)
    with pytest.raises(GraderError, match="forged: signed with another key"):
        verify_file(path, key(school))
    file.unlink()
    assert "not signed" in only_fault(verify_school(school))


def test_results_written_anew_are_not_signed_by_the_old_signature(school):
    path = write_results(school, gather(school))
    assert not signature_file(path).exists()


# Keys and codes -----------------------------------------------------------------------------------------------------


def test_swapped_public_key_is_caught(school):
    public_file(school).write_bytes(stranger().public.pem)
    assert any("not the key of" in fault for fault in verify_school(school).faults)


def test_key_that_was_kept_elsewhere_is_held_against_the_folder(school):
    did = signer_of(school).public.did
    assert verify_school(school, did).faults == ()
    private_file(school).unlink()
    public_file(school).write_bytes(stranger().public.pem)
    assert all("not the key that was given" in fault for fault in verify_school(school, did).faults)


def test_folder_without_the_private_key_can_be_checked(school):
    private_file(school).unlink()
    assert verify_school(school).faults == ()


def test_check_code_read_out_says_whose_certificate_it_is(school):
    code = CertificateRegister(school).issued["marram-0002"].code
    for spoken in (code, code.lower(), code.replace("-", " ")):
        (says,) = say_code(school, spoken).good
        assert "certificate marram-0002 of c002 (Нина Ветрова), issued on 9 May 2026, stands" in says
    revoke(school, "marram-0002", "not the person")
    assert "revoked on" in only_fault(say_code(school, code))
    assert "no certificate has the check code" in only_fault(say_code(school, "AAAAA-AAAAA"))
    assert "no certificate has the check code" in only_fault(say_code(school, ""))


# The commands -------------------------------------------------------------------------------------------------------


def command(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(commands, list(words))
    return done.exit_code, done.output


def test_commands_say_what_they_found_by_their_status(school):
    folder, file = str(school.folder), page(school)
    assert command("verify", folder)[0] == 0
    assert command("verify", str(file), "--key", key(school))[0] == 0
    assert command("verify", str(file), "--school", folder)[0] == 0
    assert command("verify", folder, "--code", "AAAAA-AAAAA")[0] == 2
    status, says = command("verify", str(file))
    assert status == 2 and "say by which key" in says
    edit(file, "Candidate No. 1", "Candidate No. 9")
    status, says = command("verify", str(file), "--key", key(school))
    assert status == 2 and says.startswith(f"WRONG: {file}: certificate marram-0001 of c001 is altered")
    assert command("verify", folder)[0] == 2


def test_status_reaches_the_shell(school):
    edit(page(school), "Candidate No. 1", "Candidate No. 9")
    code = "from grader.cli import main; main()"
    done = subprocess.run([sys.executable, "-c", code, "verify", school.folder], capture_output=True, text=True)
    assert done.returncode == 2 and "WRONG: " in done.stdout and "Traceback" not in done.stderr


def test_results_command_signs_what_it_writes(school):
    signature_file(school.records / "results.csv").unlink()
    assert command("results", str(school.folder))[0] == 0
    assert verify_school(school).faults == ()


def test_certify_command_issues_revokes_and_refuses_half_a_request(school):
    folder = str(school.folder)
    status, says = command("certify", folder)
    assert status == 0 and "0 certificates issued, 3 stood before\n" in says and "No certificate:" not in says
    assert command("certify", folder, "--revoke", "marram-0001")[0] == 2
    assert command("certify", folder, "--reason", "x")[0] == 2
    assert command("certify", folder, "--revoke", "marram-0001", "--reason", "x", "--reissue")[0] == 2
    status, says = command("certify", folder, "--revoke", "marram-0001", "--reason", "sat by another")
    assert status == 0 and "marram-0001 of c001 is revoked: sat by another" in says
    status, says = command("certify", folder, "--candidate", "c001", "--reissue")
    assert status == 0 and "c001: marram-0004, check code " in says
    assert command("verify", folder)[0] == 0


def test_lost_signing_key_does_not_hold_up_results(school):
    private_file(school).unlink()
    for path in (school.records / "results.csv", signature_file(school.records / "results.csv")):
        path.unlink()
    code = "from grader.cli import main; main()"
    done = subprocess.run([sys.executable, "-c", code, "results", school.folder], capture_output=True, text=True)
    assert done.returncode == 2
    assert f"pitside: {private_file(school)}: missing, and " in done.stderr and "Traceback" not in done.stderr
    assert (school.records / "results.csv").exists() and (school.records / "results.html").exists()
    assert any("results.csv: not signed" in fault for fault in verify_school(school).faults)
