"""Packs hold nothing secret: every file, and all that is packed into one, is searched over the whole bank.

That papers are made without any help of their mark schemes is shown in test_papers.py; here their bytes are looked at.
"""

from __future__ import annotations

import base64
import functools
import html
import json
import re
import struct
import zipfile
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pytest
from bs4 import BeautifulSoup

from exercises import BANK
from exercises.model import Choice, Chosen, Numeric, Order, System, Table, Written
from exercises.model.exercise import Exercise
from exercises.model.numbers import in_system, significant
from exercises.model.text import html as as_html
from exercises.model.variant import Variant
from grader.store.register import Paper
from grader.store.school import School
from tests.grader.schools import KEY, opened_pack, paper_of
from tests.sharing import a_few

#: Packed data within a text: in a data: URL, a notebook's attachment or a string of a script.
PACKED = re.compile(rb"[A-Za-z0-9+/]{120,}={0,2}")
#: What of an SVG is where its lines go. An answer read off a curve is in there as it is for the eye.
LINES = re.compile(rb"""\s(?:d|[xy][12]?|width|height|transform|viewBox|points|style|id|href)=("[^"]*"|'[^']*')""")


def unpacked(name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    """A file, and whatever is packed into it, to any depth: zips, base64, the chunks of pictures."""
    if data.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(BytesIO(data)) as archive:
            yield f"{name} (names)", "\n".join(archive.namelist()).encode() + archive.comment
            for inner in archive.infolist():
                assert not inner.extra
                assert not inner.comment
                yield from unpacked(f"{name}/{inner.filename}", archive.read(inner))
        return
    if data.startswith(b"\x89PNG"):
        at = 8
        while at < len(data):
            length, kind = struct.unpack(">I4s", data[at : at + 8])
            assert kind in (b"IHDR", b"pHYs", b"IDAT", b"IEND"), f"{name}: a picture with more than its dots, {kind!r}"
            at += length + 12
        assert at == len(data)
        yield name, data
        return
    if b"<svg" in data[:2000] and b"</html>" not in data:
        data = LINES.sub(b"", data)
    yield name, PACKED.sub(b"", data)
    for number, found in enumerate(PACKED.findall(data)):
        yield from unpacked(f"{name}#{number}", base64.b64decode(found + b"=" * (-len(found) % 4)))


def ways_to_read(data: bytes) -> str:
    """A file's text as it stands, with its escapes resolved, without its tags, and the strings of the data in it."""
    text = data.decode("utf-8", errors="replace")
    read = [text, html.unescape(text)]
    if text.lstrip().startswith("{"):
        read += strings(json.loads(text))
    elif "<html" in text:
        page = BeautifulSoup(text, "html.parser")
        read.append(page.get_text())
        for script in page.find_all("script", type="application/json"):
            read += strings(json.loads(script.string))
    return "\n".join(read)


def strings(value: Any) -> list[str]:
    """All names and texts in JSON, also without the tags that they hold."""
    match value:
        case str():
            return [value, BeautifulSoup(value, "html.parser").get_text()] if "<" in value else [html.unescape(value)]
        case dict():
            return [text for name, each in value.items() for text in (name, *strings(each))]
        case list():
            return [text for each in value for text in strings(each)]
        case _:
            return [repr(value)]


def letters(text: str) -> str:
    """Only letters and digits, so that markup, quotes and line breaks hide nothing."""
    return re.sub(r"[\W_]+", "", text).casefold()


@pytest.fixture(scope="module")
def packs(whole_bank) -> dict[str, dict[str, bytes]]:
    """For each candidate all files and what is packed into them, by where it is."""
    return {
        candidate.id: {
            where: data
            for path in sorted(opened_pack(whole_bank, candidate.id).iterdir())
            for where, data in unpacked(path.name, path.read_bytes())
        }
        | {
            where: data
            for path in sorted(whole_bank.packs.glob(f"*/{candidate.id}.zip"))
            for where, data in unpacked(path.name, path.read_bytes())
        }
        for candidate in whole_bank.roster
    }


@pytest.fixture(scope="module")
def texts(packs) -> dict[str, str]:
    """All that can be read in a candidate's pack; what stands in it twice is read once."""
    return {one: "\n".join(map(ways_to_read, dict.fromkeys(found.values()))) for one, found in packs.items()}


@pytest.fixture(scope="module")
def as_letters(texts) -> dict[str, str]:
    return {candidate: letters(text) for candidate, text in texts.items()}


def papers(school: School) -> list[Paper]:
    return [paper_of(school, candidate.id) for candidate in school.roster]


# The search finds what it looks for -----------------------------------------------------------------------------------


def test_search_reaches_into_everything(packs, texts):
    for candidate, found in packs.items():
        stem = f"marram_day1_{candidate}"
        for file in (f"{stem}.ipynb", f"{stem}_worksheet.html", f"{stem}_sheet.html", f"{stem}_how-to.html"):
            assert found[f"{candidate}.zip/{candidate}/{file}"] == found[file]
        pictures = [where for where, data in found.items() if data.startswith(b"\x89PNG")]
        drawings = [where for where, data in found.items() if data.lstrip().startswith(b"<?xml")]
        with_chart = sum(exercise.chart is not None for exercise in BANK.values())
        # In the notebook, and in the notebook that the worksheet holds; and each of these again in the zip.
        assert len(pictures) == 4 * with_chart
        # In the worksheet and on the sheet.
        assert len(drawings) == 4 * with_chart
        text = letters(texts[candidate])
        for exercise in BANK.values():
            assert letters(exercise.title) in text


SECRET = "the answer is 42.4242 bbl, since the volume is doubled"


@pytest.mark.parametrize(
    "hidden",
    [
        pytest.param(SECRET, id="plain"),
        pytest.param(f"<html><p>{SECRET.replace('is', '<b>is</b>')}</p>", id="among tags"),
        pytest.param(f"<html><p>{SECRET.replace('a', '&#97;')}</p>", id="escaped"),
        pytest.param(json.dumps({"a": [{"b": SECRET}]}).replace("s", "\\u0073"), id="escaped in JSON"),
        pytest.param(
            '<html><script type="application/json">{"x":"\\u003cb>' + SECRET + '"}</script>', id="in a script"
        ),
        pytest.param(base64.b64encode((SECRET * 4).encode()).decode(), id="in base64"),
        pytest.param(
            '<img src="data:image/svg+xml;base64,'
            + base64.b64encode(f"<svg>{' ' * 99}<!-- {SECRET} --></svg>".encode()).decode()
            + '">',
            id="in SVG",
        ),
    ],
)
def test_search_finds_a_text_however_it_is_packed(hidden):
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a/b.html", hidden)
    found = "\n".join(ways_to_read(data) for _, data in unpacked("x.zip", packed.getvalue()))
    assert letters(SECRET) in letters(found)


# The mark scheme ------------------------------------------------------------------------------------------------------


def scheme_texts(exercise: Exercise, system: System) -> Iterator[str]:
    """What the mark scheme and the worked solution of an exercise say."""
    for item in exercise.items:
        match item:
            case Numeric():
                yield item.tolerance.because
                for slip in item.slips:
                    yield from (slip.name, in_system(slip.advice, system))
                for convention in item.conventions:
                    yield convention.name
                for step in item.working:
                    yield from (in_system(step.say, system), in_system(step.sum, system))
            case Chosen():
                yield in_system(item.reason, system)
                for limit in item.limits:
                    yield from (limit.name, in_system(limit.advice, system))
            case Choice():
                yield in_system(item.reason, system)
                for option in item.options:
                    yield in_system(option.advice, system)
            case Order():
                yield in_system(item.reason, system)
                for rule in item.rules:
                    yield rule.advice
            case Written():
                yield item.model
                for point in item.points:
                    yield point.text


@functools.cache
def pieces(text: str) -> set[str]:
    """The pieces of a text between the numbers that a variant puts in, as it stands and as a page shows it."""
    found = set()
    for piece in re.split(r"\{[^{}]*\}", text):
        shown = html.unescape(re.sub(r"<[^<>]*>", "", as_html(piece)))  # all that stands in tags is ours
        found |= {letters(piece), letters(shown)}
    # A shorter one such as "a whole number" is no sentence that tells anything.
    return {piece for piece in found if len(piece) >= 18}


@pytest.fixture(scope="module")
def asked() -> list[str]:
    """The texts of the bank's questions, whose words a worked solution may use again."""
    texts = []
    for exercise in BANK.values():
        for system in System:
            texts += [in_system(exercise.setting, system), *(in_system(part.ask, system) for part in exercise.parts)]
            for part in exercise.parts:
                if isinstance(part, Numeric):
                    texts += [in_system(method.ask, system) for method in part.method]
                if isinstance(part, Choice):
                    texts += [in_system(option.text, system) for option in part.options]
                if isinstance(part, Order):
                    texts += part.steps.values()
                if isinstance(part, Table):
                    texts += [in_system(row.title, system) for row in part.rows]
                    texts += [column.title for column in part.columns]
    return [letters(text) for text in dict.fromkeys(texts)]


@pytest.mark.parametrize("exercise", a_few(BANK, 40))
def test_pack_says_nothing_that_the_mark_scheme_or_the_solution_says(whole_bank, as_letters, asked, exercise):
    """Tolerances' reasons, slips and advice, conventions, limits, reasons, points, model answers and workings."""
    tried = 0
    for paper in papers(whole_bank):
        text = as_letters[paper.candidate]
        for said in scheme_texts(BANK[exercise], paper.system):
            for piece in pieces(said):
                if not any(piece in question for question in asked):
                    tried += 1
                    assert piece not in text, said
    assert tried > 2


@pytest.mark.parametrize("at", [0, 1])
def test_pack_holds_no_model_answer(whole_bank, texts, at):
    """To six digits, in the units of the paper and in base units, which nobody would print by chance."""
    paper = papers(whole_bank)[at]
    each = {candidate: six_digits(text) for candidate, text in texts.items()}
    # What stands in everybody's paper, such as the units' factors, tells of nobody's answers.
    printed = each[paper.candidate] - set.intersection(*each.values())
    tried = 0
    for number, variant in enumerate(paper.variants(), 1):
        for item in variant.exercise.items:
            if isinstance(item, Numeric):
                for value in _answers(variant, item):
                    digits = significant(abs(value), 6).replace(".", "").replace(",", "").lstrip("0")
                    if re.fullmatch(r"\d{6}", digits) and digits[-2:] != "00":
                        tried += 1
                        assert digits not in printed, (number, item.key, value)
    assert tried > 200


def six_digits(text: str) -> set[str]:
    """The first six digits of each number in a text that has as many."""
    numbers = set(re.findall(r"\d+\.?\d*", text))
    return {number.replace(".", "").lstrip("0")[:6] for number in numbers if len(number) >= 6}


def _answers(variant: Variant, item: Numeric) -> tuple[float, ...]:
    answer = variant.key[item.key]
    return float(answer.magnitude), float(answer.to_base_units().magnitude)


# The school's secrets, and others' data -------------------------------------------------------------------------------


def test_pack_holds_no_key_no_seal_no_digest_of_a_scheme_and_no_path(whole_bank, packs, texts):
    key = whole_bank.key
    lines = [json.loads(line) for line in whole_bank.register_file.read_text(encoding="utf-8").splitlines()]
    secrets = [KEY, KEY[:16], key.hex()]
    secrets += [base64.b64encode(key).decode()[:-1], base64.urlsafe_b64encode(key).decode()[:-1]]
    secrets += [line["seal"] for line in lines]
    secrets += [digest for paper in papers(whole_bank) for digest in (paper.scheme, *(e.scheme for e in paper.entries))]
    secrets += [secret[:8] for secret in secrets[5:]]
    secrets += [str(whole_bank.folder), "school.key", "register.jsonl", "roster.csv", "school.toml"]
    assert len(lines) == 2
    assert len(secrets) > 4 * len(BANK)
    for candidate, found in packs.items():
        for where, data in found.items():
            assert key not in data, where
            assert key[::-1] not in data, where
        text = texts[candidate].casefold()
        for secret in secrets:
            assert secret.casefold() not in text, secret


def test_pack_holds_no_other_candidates_id_name_or_paper(whole_bank, packs, texts):
    for candidate in whole_bank.roster:
        text = texts[candidate.id] + "\n".join(packs[candidate.id])
        assert candidate.name in text
        assert paper_of(whole_bank, candidate.id).id in text
        for other in whole_bank.roster:
            if other is not candidate:
                paper = paper_of(whole_bank, other.id)
                for theirs in (other.id, other.name, paper.id, paper.id.rpartition("-")[2]):
                    assert theirs not in text
                    assert theirs.encode() not in b"".join(packs[candidate.id].values())


def test_pack_holds_nobodys_employer_or_crew(whole_bank, texts):
    """Not even the candidate's own: it is the school's business. The operator of the lessons is named in questions."""
    for candidate in whole_bank.roster:
        for theirs in {other.crew for other in whole_bank.roster}:
            assert theirs
            assert theirs not in texts[candidate.id].replace(candidate.name, "")
