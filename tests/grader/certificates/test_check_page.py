"""The page on which employers check certificates, in a real browser: what it calls genuine, and what it does not."""

from __future__ import annotations

import contextlib
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import FileChooser, Page, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from grader.certificates.certificates import (
    certify,
    check_page_file,
    folder_of,
    page_of,
    print_tag,
    revoke,
    revoked_folder,
    shown_of,
    square_text,
    write_check_page,
)
from grader.certificates.verify import verify_file
from grader.reports.competence import decide
from grader.reports.results import gather
from grader.signing.credentials import read_json, secured
from grader.signing.signing import from_multibase, public_file, signer_of
from grader.store.certificate_register import CertificateRegister
from grader.store.errors import GraderError
from grader.store.school import School, open_school
from tests.browsing import WINDOWS, Visitor
from tests.grader.certificates.test_certificates import WHEN
from tests.grader.cohorts import marked_cohort
from tests.grader.schools import KEY, make_school, right_answers, well_formed
from tests.grader.signing.test_signing import RFC_8032
from tests.sharing import a_few

#: Certificates of the invented school Marram, issued on 28 November 2026 by the programs of before that day's changes:
#: without a list of what was not shown, assessor, logo and QR code. The second has five of seven outcomes.
ISSUED_BEFORE = Path(__file__).parent / "issued_before"
STEM = "marram-0001_c001"

#: Browsers that lack something, as a script that takes it away before the page's own runs.
BROWSERS = {
    "knows Ed25519": "",
    "does not know Ed25519": "SubtleCrypto.prototype.importKey = () => Promise.reject(new Error('NotSupportedError'))",
    "has no Web Crypto": "Object.defineProperty(window, 'crypto', { value: {} })",
}


@pytest.fixture(scope="module")
def certified(tmp_path_factory) -> School:
    """Two candidates with certificates; the second shows everything but what the first exercise asks."""
    school = marked_cohort(
        tmp_path_factory.mktemp("cohort") / "school",
        candidates=2,
        twist=lambda number, variants, answers: {
            name: typed for name, typed in right_answers(variants).items() if not (number and name.startswith("1"))
        },
    )
    found = gather(school)
    certify(school, decide(school, found), found)
    return school


@pytest.fixture
def school(certified, tmp_path) -> School:
    shutil.copytree(certified.folder, tmp_path / "school")
    return open_school(tmp_path / "school")


def checked(visitor: Visitor, school: School, *files: Path, before: str = "") -> Page:
    """The page after these files were chosen on it."""
    visit = visitor(school.records)
    if before:
        visit.page.add_init_script(before)
    page = visit.open(check_page_file(school).name)
    page.set_input_files("#files", [str(file) for file in files])
    expect(page.locator("[data-file]")).to_have_count(len(files))
    return page


def verdict(page: Page) -> str:
    return page.locator(".verdict").inner_text()


def forged(school: School, folder: Path, how: str) -> Path:
    """A certificate with something wrong about it."""
    page, credential = (folder_of(school) / f"{STEM}.{kind}" for kind in ("html", "json"))
    data = json.loads(credential.read_text(encoding="utf-8"))
    path = folder / "shown.json"
    if how == "another name in the credential":
        data["credentialSubject"]["identifier"][0]["identityHash"] = "Somebody Else"
    elif how == "an outcome that was not shown":
        other = json.loads((folder_of(school) / "marram-0002_c002.json").read_text(encoding="utf-8"))
        data = other
        next(one for one in data["credentialSubject"]["result"] if one["status"] != "Completed")["status"] = "Completed"
    elif how == "another name on the page":
        path = folder / "shown.html"
        path.write_text(page.read_text(encoding="utf-8").replace(">Candidate No. 1<", ">Somebody Else<"), "utf-8")
        return path
    elif how == "signed with another key":
        other = make_school(folder / "other")
        proofless = {name: value for name, value in data.items() if name != "proof"}
        proofless["issuer"]["id"] = signer_of(other).public.did
        data = secured(proofless, signer_of(other), WHEN)
    elif how == "signed with another key in the school's name":
        other = make_school(folder / "other")
        proofless = {name: value for name, value in data.items() if name != "proof"}
        data = secured(proofless, signer_of(other), WHEN)
        data["proof"][0]["verificationMethod"] = signer_of(school).public.did + "#" + signer_of(school).public.multibase
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


FORGED = {
    "another name in the credential": "altered after it was signed",
    "an outcome that was not shown": "altered after it was signed",
    "another name on the page": "The page was altered",
    "signed with another key": "signed with another key",
    "signed with another key in the school's name": "altered after it was signed",
}


@pytest.mark.browser
@pytest.mark.parametrize("browser_that", a_few(BROWSERS, 1))
def test_genuine_files_are_called_so_in_any_browser(school, visitor, browser_that):
    files = sorted(folder_of(school).glob("*.*"))
    assert len(files) == 4
    page = checked(visitor, school, *files, before=BROWSERS[browser_that])
    assert page.locator(".verdict[data-genuine]").count() == 4
    expect(page.get_by_role("status")).to_have_text("4 of 4 files are genuine.")


@pytest.mark.browser
@pytest.mark.parametrize("browser_that", a_few(BROWSERS, 1))
@pytest.mark.parametrize("how", FORGED)
def test_forged_files_are_not(school, tmp_path, visitor, how, browser_that):
    """The page and the command agree about each."""
    path = forged(school, tmp_path, how)
    page = checked(visitor, school, path, before=BROWSERS[browser_that])
    assert FORGED[how] in verdict(page)
    assert page.locator("[data-genuine]").count() == 0
    assert "Somebody Else" not in page.inner_text("main")
    assert verify_file(path, str(public_file(school))).faults


@pytest.mark.browser
def test_what_was_signed_is_shown_and_what_was_not_shown_too(school, visitor):
    page = checked(visitor, school, folder_of(school) / "marram-0002_c002.html")
    signed = read_json((folder_of(school) / "marram-0002_c002.json").read_text(encoding="utf-8"))
    register = CertificateRegister(school)
    text = page.locator("[data-file]").inner_text()
    for said in ("Candidate No. 2", "marram-0002", register.issued["marram-0002"].code, "4 May 2026 to 5 May 2026",
                 signed["credentialSubject"]["achievement"]["name"], "Assessed and not shown"):  # fmt: skip
        assert said in text, said
    names = {one["id"]: one["name"] for one in signed["credentialSubject"]["achievement"]["resultDescription"]}
    after = text.partition("Assessed and not shown")[2].partition("How it was assessed")[0]
    not_shown = [one for one in signed["credentialSubject"]["result"] if one["status"] != "Completed"]
    assert not_shown and all(names[one["resultDescription"]] in after for one in not_shown)


@pytest.mark.browser
def test_revoked_certificate_is_told_by_the_page_written_after(school, visitor):
    file = folder_of(school) / f"{STEM}.html"
    assert "not revoked" in verdict(checked(visitor, school, file))
    revoke(school, "marram-0001", "somebody else sat")
    page = checked(visitor, school, revoked_folder(school) / f"{STEM}.html")
    assert "the school revoked it on" in verdict(page)
    assert "marram-0001" in page.locator("main > p").last.inner_text() + page.inner_text("main")
    assert "somebody else sat" not in check_page_file(school).read_text(encoding="utf-8")


@pytest.mark.browser
@pytest.mark.parametrize(("name", "data", "said"), a_few([
    ("scan.pdf", b"%PDF-1.4 a scan", "This is a PDF."),
    ("photo.jpg", b"\xff\xd8\xff\xe0 a photo", "This is a picture."),
    ("copy.docx", b"PK\x03\x04 a document", "This is a zip file or an office document."),
    ("empty.html", b"", "no certificate of a school"),
    ("page.html", b"<html>no certificate</html>", "no certificate of a school"),
    ("list.json", b'{"credentialSubject": [1]}', "no certificate of a school"),
], 2))  # fmt: skip
def test_file_of_another_kind_gets_the_line_that_fits(school, tmp_path, visitor, name, data, said):
    (tmp_path / name).write_bytes(data)
    assert said in verdict(checked(visitor, school, tmp_path / name))


@pytest.mark.browser
def test_words_of_a_certificate_are_text_on_the_page(school, tmp_path, visitor):
    """Also such as only the school itself could sign."""
    data = json.loads((folder_of(school) / f"{STEM}.json").read_text(encoding="utf-8"))
    del data["proof"]
    hostile = "<img src=x onerror=\"document.title='taken'\"><script>document.title='taken'</script>"
    data["credentialSubject"]["identifier"][0]["identityHash"] = hostile
    data["issuer"]["image"] = {"id": "https://example.com/logo.png", "type": "Image"}
    path = tmp_path / "hostile.json"
    path.write_text(json.dumps(secured(data, signer_of(school), WHEN)), encoding="utf-8")
    page = checked(visitor, school, path)
    assert verdict(page).startswith("Genuine") and hostile in page.inner_text("main")
    assert page.title() != "taken" and page.locator("main img, main script").count() == 0


@pytest.mark.parametrize("stem", ["marram-0001_c001", "marram-0003_c004"])
@pytest.mark.parametrize("kind", ["html", "json"])
def test_certificates_issued_before_still_verify(stem, kind):
    report = verify_file(ISSUED_BEFORE / f"{stem}.{kind}", str(ISSUED_BEFORE / "signing_public.pem"))
    assert not report.faults and "genuine" in report.good[0]


@pytest.mark.browser
@pytest.mark.parametrize("browser_that", a_few(BROWSERS, 1))
def test_certificates_issued_before_are_genuine_on_the_page(tmp_path, visitor, monkeypatch, browser_that):
    school = make_school(tmp_path / "school")
    (tmp_path / "signer").mkdir()

    class Before:
        from grader.signing.signing import read_public as _read

        public = _read(str(ISSUED_BEFORE / "signing_public.pem"))

    monkeypatch.setattr("grader.certificates.certificates.signer_of", lambda school: Before)
    write_check_page(school, CertificateRegister(school))
    files = sorted(file for file in ISSUED_BEFORE.iterdir() if file.suffix != ".pem")
    page = checked(visitor, school, *files, before=BROWSERS[browser_that])
    assert page.locator(".verdict[data-genuine]").count() == len(files) == 4
    assert "Assessed and shown: 5 of 7 outcomes" in page.inner_text("main")


@pytest.mark.browser
@pytest.mark.published
@pytest.mark.parametrize(("private", "public", "message", "signature"), RFC_8032.values(), ids=RFC_8032.keys())
def test_vendored_code_agrees_with_rfc_8032(school, visitor, private, public, message, signature):
    page = visitor(school.records).open(check_page_file(school).name)
    signed = """([signature, message, key]) => {
      const bytes = (hex) => Uint8Array.from(hex.match(/../g) ?? [], (pair) => parseInt(pair, 16));
      return noble.signed(bytes(signature), bytes(message), bytes(key));
    }"""
    assert page.evaluate(signed, [signature, message, public])
    assert not page.evaluate(signed, [signature, f"{message}00", public])
    assert not page.evaluate(signed, [signature[:-2] + "01", message, public])


@pytest.mark.slow
@pytest.mark.browser
@WINDOWS
def test_page_has_no_barrier_and_fits(school, visitor, width, colours):
    visit = visitor(school.records, width, color_scheme=colours)
    page = visit.open(check_page_file(school).name)
    page.set_input_files("#files", [str(folder_of(school) / f"{STEM}.html"), str(public_file(school))])
    expect(page.locator("[data-file]")).to_have_count(2)
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.fill("#square", square(school))
    page.get_by_role("button", name="Check the print").click()
    expect(page.get_by_role("status")).to_contain_text("The school signed")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def _chooser_by_enter(page: Page) -> FileChooser:
    """Press again where a busy machine's browser has lost the key."""
    for _ in range(5):
        with contextlib.suppress(PlaywrightTimeout), page.expect_file_chooser(timeout=5000) as chosen:
            page.keyboard.press("Enter")
            return chosen.value
    raise AssertionError("no key opens the chooser")


@pytest.mark.browser
def test_chooser_is_the_first_stop_of_the_keyboard(school, visitor):
    page = visitor(school.records).open(check_page_file(school).name)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "files"
    chosen = _chooser_by_enter(page)
    chosen.set_files(str(folder_of(school) / f"{STEM}.html"))
    expect(page.get_by_role("status")).to_contain_text("Genuine")


def test_page_holds_no_secret_and_nobody(school):
    text = check_page_file(school).read_text(encoding="utf-8")
    assert KEY not in text and "c001" not in text and "Candidate No." not in text
    assert signer_of(school).public.did in text
    well_formed(text)


def test_lost_page_is_written_again(school):
    check_page_file(school).unlink()
    found = gather(school)
    certify(school, decide(school, found), found)
    assert check_page_file(school).exists()
    with pytest.raises(GraderError, match="no certificate 'marram-0009'"):
        revoke(school, "marram-0009", "x")


def test_page_of_a_certificate_is_made_from_its_credential_alone(school):
    credential = read_json((folder_of(school) / f"{STEM}.json").read_text(encoding="utf-8"))
    assert page_of(credential, signer_of(school)).encode() == (folder_of(school) / f"{STEM}.html").read_bytes()


# Prints ---------------------------------------------------------------------------------------------------------------


def printed(visitor: Visitor, school: School, before: str = "", **typed: str) -> Page:
    """The page after this was copied or typed from a print."""
    visit = visitor(school.records)
    if before:
        visit.page.add_init_script(before)
    page = visit.open(check_page_file(school).name)
    for field, text in typed.items():
        page.fill(f"#{field}", text)
    page.get_by_role("button", name="Check the print").click()
    expect(page.get_by_role("status")).not_to_be_empty()
    return page


def square(school: School) -> str:
    credential = read_json((folder_of(school) / f"{STEM}.json").read_text(encoding="utf-8"))
    return square_text(shown_of(credential), signer_of(school))


@pytest.mark.browser
@pytest.mark.parametrize("browser_that", BROWSERS)
def test_square_of_a_print_shows_what_the_school_signed(school, visitor, browser_that):
    text = square(school).replace(" | ", " |\n ")  # as a telephone may break the lines
    page = printed(visitor, school, BROWSERS[browser_that], square=text)
    assert verdict(page).startswith("The school signed the words below")
    shown = page.locator("[data-file]").inner_text()
    assert "Candidate No. 1" in shown and "marram-0001" in shown and "outcomes shown" in shown


@pytest.mark.slow
@pytest.mark.browser
def test_square_with_another_word_or_signature_is_not_relied_on(school, tmp_path, visitor):
    text = square(school)
    other = signer_of(make_school(tmp_path / "other"))
    credential = read_json((folder_of(school) / f"{STEM}.json").read_text(encoding="utf-8"))
    for forged_text in (
        text.replace("Candidate No. 1", "Somebody Else"),
        text.replace(" outcomes shown", "0 outcomes shown"),
        text[:-5] + "zzzzz",
        square_text(shown_of(credential), other),
    ):
        assert forged_text != text
        page = printed(visitor, school, square=forged_text)
        assert verdict(page).startswith("Do not rely on this print.")
        assert page.locator("dl").count() == 0
    assert verdict(printed(visitor, school, square="hello")).startswith("This is not the text")
    older = verdict(printed(visitor, school, square="marram-0001 ABCDE-FGH23"))
    assert "type them below" in older


@pytest.mark.slow
@pytest.mark.browser
def test_number_code_and_name_are_known_together_alone(school, visitor):
    shown = shown_of(read_json((folder_of(school) / f"{STEM}.json").read_text(encoding="utf-8")))
    right = {"serial": " MARRAM-0001", "code": shown.code.lower().replace("-", " "), "name": "candidate no 1"}
    assert "the school issued a certificate with this number" in verdict(printed(visitor, school, **right))
    for wrong in ({"name": "Candidate No. 2"}, {"serial": "marram-0002"}, {"code": "ABCDE-FGH23"}):
        assert "issued no certificate with this" in verdict(printed(visitor, school, **(right | wrong)))
    page = printed(visitor, school, **(right | {"name": ""}))
    assert "all three" in page.get_by_role("status").inner_text()
    revoke(school, "marram-0001", "x")
    for typed in (right, {"square": square_of_revoked(school)}):
        assert "the school revoked it on" in verdict(printed(visitor, school, **typed))


def square_of_revoked(school: School) -> str:
    credential = read_json((revoked_folder(school) / f"{STEM}.json").read_text(encoding="utf-8"))
    return square_text(shown_of(credential), signer_of(school))


def test_square_holds_what_its_print_is_known_by_whatever_the_name(school):
    credential = read_json((folder_of(school) / f"{STEM}.json").read_text(encoding="utf-8"))
    shown = replace(shown_of(credential), name="Zoë | Núñez  Łukasz Żółć")
    words, signature = square_text(shown, signer_of(school)).rsplit(" | ", 1)
    assert words.count(" | ") == 6 and "Zoë / Núñez Łukasz Żółć" in words
    signed = b"pitside certificate print\n" + words.encode()
    assert signer_of(school).public.signed(from_multibase(signature), signed)
    tag = print_tag(shown.serial, shown.code, shown.name)
    assert tag == print_tag(shown.serial, shown.code, "zoe nuñez łukasz zołć")
    assert tag != print_tag(shown.serial, shown.code, "zoe nunez łukasz zoc")
