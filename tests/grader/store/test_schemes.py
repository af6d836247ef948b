"""What mark schemes are today, kept beside the register: used where it is true, and of no use to who would forge it."""

import dataclasses
import json
import pickle
import shutil
import threading
from pathlib import Path

import numpy as np
import pytest

import exercises
import pitside
from exercises import BANK
from exercises.model import System
from exercises.model.answers import Given
from exercises.model.drawing import draw
from exercises.model.marking import Rule
from exercises.model.marking import mark as mark_answers
from exercises.model.parts import Numeric, relative
from exercises.model.variant import Variant
from grader.papers.issue import issue
from grader.reports.results import gather
from grader.store import schemes
from grader.store.errors import GraderError
from grader.store.files import only_one
from grader.store.register import Register
from grader.store.schemes import FILE, Schemes, fingerprint
from tests.grader.cohorts import EXERCISES, marked_cohort
from tests.grader.schools import CHAINED, EVERY_KIND, make_school, paper_of


@pytest.fixture(autouse=True)
def programs_at_rest(monkeypatch):
    """As where the programs were installed long before the command is given."""
    monkeypatch.setattr(schemes, "_READ_SINCE", float("inf"))


@pytest.fixture
def school(tmp_path):
    return marked_cohort(tmp_path / "school", candidates=3)


@pytest.fixture
def worked_out(monkeypatch):
    """The exercises whose scheme was worked out, one name for each time."""
    names: list[str] = []
    whole = Variant.scheme_digest.func

    def told(variant):
        names.append(variant.exercise.id)
        return whole(variant)

    slow = type(Variant.scheme_digest)(told)
    slow.__set_name__(Variant, "scheme_digest")
    monkeypatch.setattr(Variant, "scheme_digest", slow)
    return names


def test_a_scheme_is_worked_out_by_the_first_command_alone(school, worked_out):
    first = gather(school)
    assert sorted(worked_out) == sorted(EXERCISES * 3)
    worked_out.clear()
    assert gather(school) == first
    assert not worked_out


def test_papers_that_were_just_issued_are_known(tmp_path, worked_out):
    school = make_school(tmp_path, exercises=EVERY_KIND)
    issue(school, school.sittings, lambda done, total: None)
    issued = len(worked_out)
    assert issued == len(EVERY_KIND) * len(school.roster)
    for paper in Register(school).papers.values():
        paper.variants()
    assert len(worked_out) == issued


def test_who_only_reads_a_school_writes_nothing(school):
    gather(school, only_read=True)
    assert not (school.folder / FILE).exists()


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize("name", BANK)
def test_what_is_kept_of_a_variant_is_what_is_worked_out(name, system):
    variant = draw(BANK[name], np.random.default_rng(3), system)
    kept = Variant(variant.exercise, variant.system, variant.numbers)
    solved, held_against = (json.loads(json.dumps(data)) for data in (variant.solved, variant.held_against))
    kept.take_solved(solved, lambda: held_against)
    assert {key: repr(answer) for key, answer in kept.key.items()} == {k: repr(a) for k, a in variant.key.items()}
    numbers = [item for item in variant.exercise.items if isinstance(item, Numeric)]
    assert [values_of(kept, item) for item in numbers] == [values_of(variant, item) for item in numbers]
    assert kept.scheme_digest == variant.scheme_digest


def values_of(variant: Variant, item: Numeric) -> tuple:
    """What an answer is held against on the key, to the last digit."""
    right = {name: repr(value) for name, value in variant.right_values(item, variant.key).items()}
    return right, [(slip, repr(value)) for slip, value in variant.slip_values(item, variant.key)]


def test_answers_on_the_key_are_marked_without_working_anything_out_again(school, monkeypatch):
    gather(school)
    worked_out = []
    slow = Variant._quantity
    monkeypatch.setattr(
        Variant, "_quantity", lambda self, item, solve, n: worked_out.append(item) or slow(self, item, solve, n)
    )
    for paper in Register(school).papers.values():
        for variant in paper.variants():
            given = {
                item.key: Given(*variant.given_answer(item, variant.key[item.key])) for item in variant.exercise.items
            }
            assert all(
                mark.marks == mark.out_of for mark in mark_answers(variant, given) if mark.rule is not Rule.PENDING
            )
    assert not worked_out


# Stale ----------------------------------------------------------------------------------------------------------------


def test_a_changed_tolerance_is_refused_though_the_old_scheme_is_known(school, monkeypatch):
    gather(school)
    part, *others = BANK[CHAINED].parts
    wider = dataclasses.replace(part, tolerance=relative(0.2, because="a change in a test"))
    monkeypatch.setitem(BANK, CHAINED, dataclasses.replace(BANK[CHAINED], parts=(wider, *others)))
    with pytest.raises(GraderError, match=f"the mark scheme of {CHAINED} has changed since it was issued"):
        paper_of(school, "c001").variants()


def copied_programs(folder: Path) -> Path:
    for package in (pitside, exercises):
        source = Path(package.__file__).parent
        shutil.copytree(source, folder / source.name, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.mark.parametrize("changed", ["pitside/weighting.py", "exercises/bank/weighting/weight_up_growing.py"])
def test_the_programs_have_another_fingerprint_when_a_line_of_them_changes(tmp_path, changed):
    top = copied_programs(tmp_path)
    assert fingerprint(top=top) == fingerprint()
    file = top / changed
    file.write_text(file.read_text(encoding="utf-8").replace("0.0", "0.1", 1) + "\n# another\n", encoding="utf-8")
    assert fingerprint(top=top) != fingerprint()


def test_a_new_version_of_a_library_or_of_python_makes_another_fingerprint(monkeypatch):
    seen = {fingerprint()}
    version = schemes.metadata.version
    for name in schemes.LIBRARIES:
        with monkeypatch.context() as patch:
            patch.setattr(schemes.metadata, "version", lambda one, n=name: version(one) + ("1" if one == n else ""))
            seen.add(fingerprint())
    with monkeypatch.context() as patch:
        patch.setattr(schemes.platform, "python_version", lambda: "3.99.0")
        seen.add(fingerprint())
    assert len(seen) == 2 + len(schemes.LIBRARIES)


def test_the_fingerprint_counts_every_library_that_exercises_are_worked_out_with():
    imported = set()
    for package in (pitside, exercises):
        for path in Path(package.__file__).parent.rglob("*.py"):
            for line in path.read_text(encoding="utf-8").splitlines():
                words = line.split()
                if words[:1] in (["import"], ["from"]):
                    imported.add(words[1].partition(".")[0])
    homes = schemes.metadata.packages_distributions()
    libraries = {homes[name][0].lower() for name in imported if name in homes} - {"pitside"}
    assert libraries == set(schemes.LIBRARIES)


def test_what_other_programs_kept_is_not_used(school, worked_out, monkeypatch):
    gather(school)
    worked_out.clear()
    monkeypatch.setattr(schemes, "fingerprint", lambda: "f" * 64)
    gather(school)
    assert len(worked_out) == 3 * len(EXERCISES)
    assert (school.folder / FILE).read_text().startswith(f"schemes-3 {'f' * 64}\n")


def test_programs_that_changed_after_they_were_read_keep_and_take_nothing(school, worked_out, monkeypatch):
    """A long run goes on with the programs that it read, while an update lies on the disk already."""
    gather(school)
    worked_out.clear()
    kept = (school.folder / FILE).read_bytes()
    newest = max(path.stat().st_mtime for path in Path(pitside.__file__).parent.rglob("*.py"))
    monkeypatch.setattr(schemes, "_READ_SINCE", newest)
    gather(school)
    assert len(worked_out) == 3 * len(EXERCISES)
    assert (school.folder / FILE).read_bytes() == kept


def test_own_exercises_are_worked_out_each_time(school, worked_out):
    known = Schemes(school)
    variant = draw(BANK[CHAINED], np.random.default_rng(1), System.FIELD)
    own = dataclasses.replace(variant, exercise=dataclasses.replace(BANK[CHAINED], id="one-of-ours"))
    for _ in range(2):
        known.digest(dataclasses.replace(own))
    assert worked_out == ["one-of-ours"] * 2


# Forged, damaged, shared ----------------------------------------------------------------------------------------------


def forged_digest(text: str, digest: str) -> str:
    """The file with this digest for each scheme, as who has not the school key would write it."""
    first, *lines, seal = text.splitlines()
    return "\n".join([first, *(" ".join([n, digest, s]) for n, _, s in (one.split(" ", 2) for one in lines)), seal, ""])


HARMS = {
    "a digest changed": lambda text: forged_digest(text, "0" * 64),
    "an answer changed": lambda text: text.replace("[", "[1", 1),
    "cut off in a line": lambda text: text[: len(text) // 2],
    "cut off at a line": lambda text: "\n".join(text.splitlines()[:3]) + "\n",
    "a line taken out": lambda text: "\n".join(text.splitlines()[:1] + text.splitlines()[2:]) + "\n",
    "empty": lambda text: "",
    "of another kind": lambda text: "\udcff\n" * 3,
}


@pytest.mark.parametrize("harm", HARMS)
def test_a_file_that_is_not_as_it_was_written_is_not_used(school, worked_out, harm):
    before = gather(school)
    worked_out.clear()
    file = school.folder / FILE
    kept = file.read_text(encoding="utf-8")
    file.write_bytes(HARMS[harm](kept).encode(errors="surrogateescape"))
    assert gather(school) == before
    assert len(worked_out) == 3 * len(EXERCISES)
    assert sorted(file.read_text(encoding="utf-8").splitlines()[1:-1]) == sorted(kept.splitlines()[1:-1])


def test_who_writes_the_old_digest_beside_a_changed_scheme_gets_no_paper_marked(school, monkeypatch):
    """What was issued stands in the register; a forged "it is the same today" would pass the change off as none."""
    paper = paper_of(school, "c001")
    entry = paper.entries[EXERCISES.index(CHAINED)]
    part, *others = BANK[CHAINED].parts
    wider = dataclasses.replace(part, tolerance=relative(0.2, because="a change in a test"))
    changed = dataclasses.replace(BANK[CHAINED], parts=(wider, *others))
    monkeypatch.setitem(BANK, CHAINED, changed)
    monkeypatch.setitem(schemes._AS_READ, CHAINED, changed)  # as in a process that has read the changed exercise
    gather(school)
    file = school.folder / FILE
    assert entry.scheme not in file.read_text(encoding="utf-8")
    file.write_text(forged_digest(file.read_text(encoding="utf-8"), entry.scheme), encoding="utf-8")
    with pytest.raises(GraderError, match=f"the mark scheme of {CHAINED} has changed"):
        paper_of(school, "c001").variants()


def test_a_file_sealed_by_another_school_is_not_used(tmp_path, worked_out):
    one = marked_cohort(tmp_path / "one", candidates=2, seed=1)
    other = marked_cohort(tmp_path / "other", candidates=2, seed=2)
    gather(one)
    shutil.copy(one.folder / FILE, other.folder / FILE)
    worked_out.clear()
    gather(other)
    assert len(worked_out) == 2 * len(EXERCISES)


def test_a_folder_or_a_lack_of_rights_in_its_place_hinders_nothing(school):
    (school.folder / FILE).mkdir()
    assert len(gather(school)) == 3


def test_what_two_commands_work_out_at_once_is_all_there_in_the_end(school, worked_out):
    papers = list(Register(school).papers.values())
    apart = [Schemes(school) for _ in papers]
    for known, paper in zip(apart, papers, strict=True):
        dataclasses.replace(paper, schemes=known).variants()
    with only_one(school.folder):
        for known in apart:
            known.keep()
    worked_out.clear()
    gather(school)
    assert not worked_out


def test_a_file_is_whole_whenever_it_is_read_while_commands_write_it(school, worked_out):
    papers = list(Register(school).papers.values())

    def one_command():
        for _ in range(10):
            known = Schemes(school)
            known.digest(draw(BANK[CHAINED], np.random.default_rng(threading.get_ident() % 1000), System.FIELD))
            known._is_new = True
            known.keep()

    gather(school)
    threads = [threading.Thread(target=one_command) for _ in range(4)]
    for thread in threads:
        thread.start()
    while any(thread.is_alive() for thread in threads):
        worked_out.clear()
        for paper in papers:
            dataclasses.replace(paper, schemes=Schemes(school)).variants()
        assert set(worked_out) <= {CHAINED}
    for thread in threads:
        thread.join()


def test_neither_key_nor_answers_go_to_another_machine(school):
    register = Register(school)
    gather(school)
    paper = register.paper_of("day1", "c001")
    paper.variants()
    sent = pickle.dumps(paper)
    assert school.key not in sent
    assert school.key.hex().encode() not in sent
    assert pickle.loads(sent).schemes.path is None
    assert [v.scheme_digest for v in pickle.loads(sent).variants()] == [entry.scheme for entry in paper.entries]


def test_the_file_names_nobody_and_is_the_owners_alone(school):
    gather(school)
    file = school.folder / FILE
    assert not any(candidate.id in file.read_text(encoding="utf-8") for candidate in school.roster)
    assert file.stat().st_mode & 0o077 == 0
