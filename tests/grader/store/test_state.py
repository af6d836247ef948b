"""The state code, kept outside the folder, shows that the folder was put back; and stays right where nothing was."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from click.testing import CliRunner

from grader.certificates.certificates import certify, document_of, facts, folder_of, page_of, revoke, shown_of
from grader.certificates.verify import verify_file, verify_file_of, verify_school
from grader.cli import commands
from grader.marking.changes import change_mark
from grader.reports.competence import decide
from grader.reports.results import gather
from grader.signing.credentials import digest, secured
from grader.signing.signing import public_file, signer_of
from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.ledger import sealed
from grader.store.log import Log
from grader.store.part_marks import ChangeKind
from grader.store.register import Register, draw_paper
from grader.store.school import School, open_school
from grader.store.state import state_of
from tests.grader.cohorts import keep, marked_cohort
from tests.grader.cohorts import record_of as marked_with
from tests.grader.schools import paper_of, right_answers


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> School:
    return marked_cohort(
        tmp_path_factory.mktemp("state") / "school", 3, twist=lambda number, variants, given: right_answers(variants)
    )


@pytest.fixture
def school(made, tmp_path) -> School:
    shutil.copytree(made.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


def pitside(*words: object):
    done = CliRunner().invoke(commands, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit | GraderError), done.exception
    return done


def appeal(school: School, candidate: str = "c001", marks: float = 0) -> None:
    change_mark(school, paper_of(school, candidate).id, "1a", marks, ChangeKind.APPEAL, "looked at again")


def kept_elsewhere(school: School, folder: Path) -> Path:
    shutil.copytree(school.folder, folder)
    return folder


def put_back(school: School, folder: Path) -> School:
    """The school's folder as it was when the copy was made: log, records and all."""
    shutil.rmtree(school.folder)
    shutil.copytree(folder, school.folder)
    return open_school(school.folder)


def test_results_decisions_and_certificates_all_give_the_code_of_now(school):
    code = state_of(school).code
    for command in ("results", "decide"):
        assert f"State code: {code}. Keep it elsewhere" in pitside(command, school.folder).output
    for page in ("results.html", "decisions.html"):
        assert code in (school.records / page).read_text(encoding="utf-8")
    assert json.loads((school.records / "results.csv.sig").read_text())["state"] == code
    said = pitside("certify", school.folder).output
    after = state_of(school).code
    assert f"State code: {after}. Keep it elsewhere" in said
    assert after != code
    credential = json.loads((folder_of(school) / "marram-0001_c001.json").read_text(encoding="utf-8"))
    assert shown_of(credential).state == code
    page = BeautifulSoup((folder_of(school) / "marram-0001_c001.html").read_text(encoding="utf-8"), "html.parser")
    assert page.find(attrs={"data-field": "state code"}).text == code


def test_old_code_still_holds_after_all_that_honestly_follows(school):
    code = state_of(school).code
    pitside("results", school.folder)
    pitside("certify", school.folder)
    appeal(school)
    again = draw_paper(school, school.sittings[0], school.roster[1], 2, [paper_of(school, "c002")])
    Register(school).add([again])
    keep(school, marked_with(school, again, again.variants(), {}))
    revoke(school, "marram-0002", "sat by another")
    middle = state_of(school).code
    roster = school.folder / "roster.csv"
    roster.write_text(roster.read_text().replace("Candidate No. 1", "Ingrid Sølvberg"), encoding="utf-8")
    assert pitside("forget", school.folder, "c001", "--reason", "asked for it", "--yes").exit_code == 0
    now = open_school(school.folder)
    for one in (code, middle, state_of(now).code, code.lower(), code.replace("-", " - ")):
        assert state_of(now).fault(one) == ""
    done = pitside("verify", school.folder, "--state", middle)
    assert f"state code {middle}: the folder holds that state, and what came since" in done.output
    assert "state code" not in "\n".join(verify_school(now).faults)


ROLLED_BACK = {
    "log": ("has 3 lines, and had 4 then: it was put back or cut off", lambda school: None),
    "log, which went on": ("they were put back, and went on otherwise", lambda school: appeal(school, "c003")),
}


@pytest.mark.parametrize(("says", "then"), ROLLED_BACK.values(), ids=ROLLED_BACK)
def test_folder_that_was_put_back_holds_together_and_its_old_code_shows_it(school, tmp_path, says, then):
    before = kept_elsewhere(school, tmp_path / "before")
    appeal(school)
    code = re.search(r"State code: (\S+)\. ", pitside("results", school.folder).output)[1]
    assert verify_school(school, code=code).faults == ()
    school = put_back(school, before)
    then(school)
    assert verify_school(school).faults == (), "all of it is sealed and genuine"
    done = pitside("verify", school.folder, "--state", code)
    assert done.exit_code == 2
    assert f"WRONG: state code {code}: " in done.output and says in done.output
    assert "restore the folder from your backup" in done.output


def test_register_that_was_put_back_shows(school, tmp_path):
    before = kept_elsewhere(school, tmp_path / "before")
    Register(school).add([draw_paper(school, school.sittings[0], school.roster[0], 2, [paper_of(school, "c001")])])
    code = state_of(school).code
    (fault,) = verify_school(put_back(school, before), code=code).faults
    assert "register.jsonl has 3 lines, and had 4 then" in fault


def test_revocation_that_was_taken_out_shows(school, tmp_path):
    pitside("certify", school.folder)
    before = kept_elsewhere(school, tmp_path / "before")
    revoke(school, "marram-0001", "sat by another")
    code = state_of(school).code
    (fault,) = verify_school(put_back(school, before), code=code).faults
    assert "certificates.jsonl has 3 lines, and had 4 then" in fault


def test_certificate_that_was_handed_out_shows_that_the_folder_was_put_back(school, tmp_path):
    before = kept_elsewhere(school, tmp_path / "before")
    appeal(school, "c002")
    pitside("certify", school.folder)
    handed_out = shutil.copy(folder_of(school) / "marram-0001_c001.html", tmp_path / "mine.html")
    assert verify_file_of(handed_out, school).faults == ()
    private, public = (school.folder / "signing.key").read_bytes(), public_file(school).read_bytes()
    school = put_back(school, before)
    (school.folder / "signing.key").write_bytes(private)
    public_file(school).write_bytes(public)
    assert verify_school(school).faults == ()
    faults = verify_file_of(handed_out, school).faults
    assert any("log.jsonl has 3 lines, and had 4 then: it was put back or cut off" in fault for fault in faults)


def test_results_that_were_handed_out_show_that_the_folder_was_put_back(school, tmp_path):
    before = kept_elsewhere(school, tmp_path / "before")
    appeal(school)
    pitside("results", school.folder)
    for name in ("results.csv", "results.csv.sig"):
        shutil.copy(school.records / name, tmp_path / name)
    assert verify_file_of(tmp_path / "results.csv", school).faults == ()
    private, public = (school.folder / "signing.key").read_bytes(), public_file(school).read_bytes()
    school = put_back(school, before)
    (school.folder / "signing.key").write_bytes(private)
    public_file(school).write_bytes(public)
    (fault,) = verify_file_of(tmp_path / "results.csv", school).faults
    assert "log.jsonl has 3 lines, and had 4 then" in fault


def test_verify_checks_every_certificate_of_the_register_against_the_chain_by_itself(school, tmp_path):
    """Log and records are put back; the certificates, issued after the appeal, stay."""
    log, marks = (school.records / "log.jsonl").read_bytes(), kept_elsewhere(school, tmp_path / "before")
    appeal(school, "c002")
    pitside("results", school.folder)
    pitside("certify", school.folder)
    (school.records / "log.jsonl").write_bytes(log)
    shutil.rmtree(school.records / "marks")
    shutil.copytree(marks / "records" / "marks", school.records / "marks")
    faults = verify_school(school).faults
    assert any("results.csv: signed on" in fault and "and had 4 then" in fault for fault in faults)
    for number in (1, 3):
        where = f"line {number}: certificate marram-000{number} of c00{number} was issued with state code "
        assert any(where in fault and "and had 4 then" in fault for fault in faults)


def test_who_has_the_key_cannot_write_the_past_anew_unseen(school):
    """All seals right, made with the stolen key, but of other marks."""
    code = state_of(school).code
    path = school.records / "log.jsonl"
    seal, text = "log", ""
    for line in path.read_text(encoding="utf-8").splitlines():
        body = json.loads(line)
        del body["seal"]
        seal = sealed(school.key, seal, body | {"marks": 1})
        text += json.dumps(body | {"marks": 1, "seal": seal}) + "\n"
    path.write_text(text, encoding="utf-8")
    assert len(Log(school).lines) == 3
    assert "went on otherwise" in state_of(school).fault(code)


@pytest.mark.parametrize("code", ["x", "1-2-3", "3-3-0-ABCDE", "3-3-0-ABCD1-ABCDE", "-1-3-0-ABCDE-ABCDE", "9" * 5000])
def test_what_is_no_state_code_is_said_to_be_none(school, code):
    (fault,) = verify_school(school, code=code).faults
    assert "is no state code; copy it whole" in fault and len(fault) < 200


def test_state_of_another_school_is_not_this_ones(school, tmp_path):
    other = marked_cohort(tmp_path / "other", 3, seed=2)
    assert "went on otherwise" in state_of(other).fault(state_of(school).code)


def test_code_altered_on_a_certificate_is_caught(school):
    pitside("certify", school.folder)
    path = folder_of(school) / "marram-0001_c001.html"
    code = state_of(school).code
    text = path.read_text(encoding="utf-8")
    old = BeautifulSoup(text, "html.parser").find(attrs={"data-field": "state code"}).text
    path.write_text(text.replace(f'data-field="state code">{old}', f'data-field="state code">{code}'), encoding="utf-8")
    (fault,) = verify_file(path, str(public_file(school))).faults
    assert f'state code: the page says "{code}", which was not signed' in fault


def test_certificate_of_before_there_were_state_codes_stands_and_its_files_come_back_the_same(school):
    found = gather(school)
    decisions = decide(school, found)
    register, signer = CertificateRegister(school), signer_of(school)
    # As certify wrote it then: no code in the credential, on the page or in the register's line.
    when = register.now().replace(microsecond=0)
    credential = secured(document_of(school, decisions[0], "marram-0001", when, signer.public), signer, when)
    register.issue("marram-0001", "c001", digest(facts(school, decisions[0], found)), digest(credential),
                   signer.public.did, when)  # fmt: skip
    assert "state code" not in page_of(credential, signer)
    path = folder_of(school) / "marram-0001_c001.json"
    done = certify(school, decisions, found)
    assert (done.stood, json.loads(path.read_text(encoding="utf-8"))) == (1, credential)
    assert verify_school(school).faults == ()
    assert verify_file_of(path, school).faults == ()


def test_certificates_of_one_run_each_tell_of_the_state_before_them(school):
    found = gather(school)
    certify(school, decide(school, found), found)
    states = [one.state for one in CertificateRegister(school).issued.values()]
    assert [state.split("-")[2] for state in states] == ["0", "1", "2"]
    assert all(state_of(school).fault(state) == "" for state in states)
