"""The school's logo: what is taken, what is refused in one line, and that a drawing runs nothing in a certificate."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import pytest
from PIL import Image

from grader.certificates.certificates import document_of, page_of, shown_of
from grader.certificates.logo import MOST_BYTES, MOST_PIXELS, logo_of
from grader.reports.competence import decide
from grader.reports.results import gather
from grader.signing.credentials import secured
from grader.signing.signing import signer_of
from grader.store.errors import GraderError
from grader.store.school import School, open_school
from tests.browsing import Visitor
from tests.grader.certificates.test_certificates import WHEN
from tests.grader.schools import make_school, well_formed

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">'
PLAIN = (
    HEAD
    + '<defs><path id="a" d="M0 0h9v9z"/></defs><use href="#a" fill="url(#b)" style="fill: url(&quot;#b&quot;)"/></svg>'
)
SPIES = """document.title = 'taken'; fetch('https://example.com/')"""


@pytest.fixture
def school(tmp_path) -> School:
    return make_school(tmp_path / "school")


def picture(kind: str, width: int = 40, height: int = 20) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (width, height), "#0b5a70").save(file, kind)
    return file.getvalue()


def put(school: School, name: str, data: bytes | str) -> School:
    (school.folder / name).write_bytes(data.encode() if isinstance(data, str) else data)
    return school


def certificate_page(school: School, folder: Path) -> str:
    """The page of a certificate for the first of the roster, whatever is decided."""
    signer = signer_of(school)
    decision = decide(school, gather(school))[0]
    credential = secured(document_of(school, decision, "marram-0001", WHEN, signer.public), signer, WHEN)
    page = page_of(credential, signer)
    (folder / "certificate.html").write_text(page, encoding="utf-8")
    return page


def test_school_without_a_logo_has_none(school):
    assert logo_of(school) == ""


@pytest.mark.parametrize(("name", "data"), [
    ("logo.svg", PLAIN), ("logo.png", picture("PNG")), ("logo.jpg", picture("JPEG")), ("logo.jpeg", picture("JPEG")),
])  # fmt: skip
def test_picture_stands_on_the_certificate_as_it_is(school, tmp_path, name, data):
    put(school, name, data)
    (image, _) = well_formed(certificate_page(school, tmp_path)).find_all("img")
    head, _, text = image["src"].partition(",")
    assert head.startswith("data:image/") and head.endswith(";base64")
    assert base64.b64decode(text) == (data.encode() if isinstance(data, str) else data)


@pytest.mark.parametrize(("name", "data", "says"), [
    ("logo.png", picture("PNG") + bytes(MOST_BYTES), "a logo may have 150 kB"),
    ("logo.png", picture("PNG", MOST_PIXELS + 1, 2), "pixels"),
    ("logo.jpg", picture("JPEG", 2, MOST_PIXELS + 1), "pixels"),
    ("logo.png", picture("JPEG"), "no PNG picture"),
    ("logo.jpg", picture("PNG"), "no JPEG picture"),
    ("logo.jpg", b"\xff\xd8\xff", "no JPEG picture"),
    ("logo.png", b"", "no PNG picture"),
    ("logo.svg", "<html/>", "no SVG drawing"),
    ("logo.svg", HEAD, "no SVG drawing, or one that is damaged"),
    ("logo.svg", b"\xff\xfe<svg/>", "no SVG drawing, or one that is damaged"),
    ("logo.svg", HEAD + f"<script>{SPIES}</script></svg>", "does something"),
    ("logo.svg", HEAD.replace(">", ' onload="alert(1)">') + "</svg>", "does something"),
    ("logo.svg", HEAD + '<a xlink:href="javascript:alert(1)"><path d="M0 0"/></a></svg>', "loads something"),
    ("logo.svg", HEAD + '<image href="https://example.com/a.png"/></svg>', "loads something"),
    ("logo.svg", HEAD + "<style>@import 'https://example.com/a.css';</style></svg>", "loads something"),
    ("logo.svg", HEAD + '<path style="fill:url( https://example.com/a)"/></svg>', "loads something"),
    ("logo.svg", HEAD + '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml">x</p></foreignObject></svg>', "does"),
    ("logo.svg", '<!DOCTYPE svg [<!ENTITY a "aaaa">]>' + HEAD + "&a;</svg>", "definitions of its own"),
    ("logo.svg", HEAD + "<g>" * 20_000 + "</g>" * 20_000 + "</svg>", None),
])  # fmt: skip
def test_what_is_no_plain_picture_is_refused_in_one_line(school, name, data, says):
    put(school, name, data)
    if says is None:  # deep, but plain: no more than that it ends is asked
        assert logo_of(school)
        return
    with pytest.raises(GraderError) as refused:
        logo_of(school)
    assert says in str(refused.value) and str(refused.value).startswith(f"{school.folder / name}: ")
    assert "\n" not in str(refused.value)


def test_folder_in_place_of_the_logo_is_refused(school):
    (school.folder / "logo.png").mkdir()
    with pytest.raises(GraderError, match="cannot be read"):
        logo_of(school)


@pytest.mark.browser
def test_drawing_that_runs_something_runs_nothing_in_the_page(school, tmp_path, visitor: Visitor, monkeypatch):
    """Also where the first look at the file had missed it; the visitor fails where a page asks for anything outside."""
    hostile = (
        HEAD.replace(">", f' onload="{SPIES}">')
        + f"<script>{SPIES}</script><image href='https://example.com/a'/></svg>"
    )
    logo = f"data:image/svg+xml;base64,{base64.b64encode(hostile.encode()).decode()}"
    monkeypatch.setattr("grader.certificates.certificates.logo_of", lambda school: logo)
    certificate_page(school, tmp_path)
    page = visitor(tmp_path).open("certificate.html")
    page.wait_for_timeout(300)
    assert page.locator("img.logo").evaluate("(image) => image.complete")
    assert page.title() != "taken"


def test_assessor_of_the_settings_stands_on_the_certificate(school, tmp_path):
    settings = school.folder / "school.toml"
    settings.write_text(settings.read_text().replace("units =", 'assessor = "Oona <b> Verrall"\nunits ='))
    page = well_formed(certificate_page(open_school(school.folder), tmp_path))
    assert page.find(attrs={"data-field": "assessor"}).text == "Oona <b> Verrall"


def test_school_without_an_assessor_has_a_line_to_sign(school, tmp_path):
    page = well_formed(certificate_page(school, tmp_path))
    assert page.find(attrs={"data-field": "assessor"}) is None
    assert "Assessor" in page.find(class_="hands").text
    signer = signer_of(school)
    decision = decide(school, gather(school))[0]
    assert shown_of(secured(document_of(school, decision, "x-1", WHEN, signer.public), signer, WHEN)).assessor == ""
