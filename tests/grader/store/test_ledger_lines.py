"""A ledger by itself, line by line: seals, states, rewriting, times. Schools and their files: see test_ledger.py."""

from __future__ import annotations

import hashlib
import hmac
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from grader.store import ledger as ledgers
from grader.store.errors import GraderError
from grader.store.ledger import TAKEN_OUT, Ledger, sealed

KEY = b"a key of the school"
NOON = datetime(2026, 5, 9, 12, tzinfo=UTC)


def opened(path: Path, **options: Any) -> tuple[Ledger, list[tuple[dict, str]]]:
    kept: list[tuple[dict, str]] = []
    return Ledger(path, KEY, "the test", "begin", lambda *line: kept.append(line), **options), kept


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "folder" / "lines.jsonl"


def written(path: Path, *lines: dict) -> Ledger:
    ledger, _ = opened(path)
    ledger.append(list(lines))
    return ledger


def seal_of(before: str, text: str) -> str:
    """HMAC with SHA-256 (RFC 2104, FIPS 180-4) over the seal before and the line's JSON with sorted names."""
    return hmac.new(KEY, (before + text).encode(), hashlib.sha256).hexdigest()


def state_of(*texts: str) -> str:
    state = hashlib.sha256(b"begin").hexdigest()
    for text in texts:
        state = hashlib.sha256((state + text).encode()).hexdigest()
    return state


# Seals ----------------------------------------------------------------------------------------------------------------


def test_each_line_is_sealed_over_itself_and_the_seal_before(path):
    ledger = written(path, {"b": 1, "a": "é"}, {"c": [1.5, None]})
    first = seal_of("begin", '{"a": "é", "b": 1}')
    second = seal_of(first, '{"c": [1.5, null]}')
    assert path.read_text(encoding="utf-8") == (
        f'{{"b": 1, "a": "é", "seal": "{first}"}}\n{{"c": [1.5, null], "seal": "{second}"}}\n'
    )
    assert ledger.seal == second
    assert sealed(KEY, first, {"c": [1.5, None]}) == second


def test_names_are_sorted_where_that_is_asked_for(path):
    ledger, _ = opened(path, sort_names=True)
    ledger.append([{"t": 1, "b": 2}])
    assert list(json.loads(path.read_text())) == ["b", "seal", "t"]


def test_what_was_appended_is_kept_at_once_and_read_again(path):
    ledger, kept = opened(path)
    ledger.append([{"a": (1, 2)}])
    ledger.append([{"b": 2}])
    assert kept == [({"a": [1, 2]}, kept[0][1]), ({"b": 2}, ledger.seal)]
    again, found = opened(path)
    assert found == kept
    assert (len(ledger), len(again)) == (2, 2)
    assert again.seal == ledger.seal
    again.append([{"c": 3}])
    assert [body for body, _ in opened(path)[1]] == [{"a": [1, 2]}, {"b": 2}, {"c": 3}]


def test_a_ledger_that_is_not_there_is_empty(path):
    ledger, kept = opened(path)
    assert (len(ledger), ledger.seal, kept, ledger.latest) == (0, "begin", [], None)
    assert not path.parent.exists()


ALTERED = "is not as it was written, or a line before it is missing; restore the test from your backup"
DAMAGED = "is damaged; restore the test from your backup"


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (lambda a, b, c: [a, c], f"line 2 {ALTERED}"),
        (lambda a, b, c: [b, c], f"line 1 {ALTERED}"),
        (lambda a, b, c: [a, c, b], f"line 2 {ALTERED}"),
        (lambda a, b, c: [a, b.replace("2", "3", 1), c], f"line 2 {ALTERED}"),
        (lambda a, b, c: [a, b, c, c], f"line 4 {ALTERED}"),
        (lambda a, b, c: [a, '{"b": 2}', c], f"line 2 {DAMAGED}"),
        (lambda a, b, c: [a, "", b], f"line 2 {DAMAGED}"),
        (lambda a, b, c: ["[1]", a], f"line 1 {DAMAGED}"),
        (lambda a, b, c: ["[" * 100_000, a], f"line 1 {DAMAGED}"),
        (lambda a, b, c: [a, b, json.dumps({**json.loads(c), "seal": "é"})], f"line 3 {ALTERED}"),
        (lambda a, b, c: [a, b, json.dumps({**json.loads(c), "seal": None})], f"line 3 {ALTERED}"),
        (lambda a, b, c: [a, b, json.dumps({**json.loads(c), "seal": "\ud800"})], f"line 3 {ALTERED}"),
    ],
)
def test_a_line_taken_out_moved_altered_or_put_in_is_named(path, lines, says):
    written(path, {"a": 1}, {"b": 2}, {"c": 3})
    spoiled = "\n".join(lines(*path.read_text().splitlines())) + "\n"
    path.write_text(spoiled)
    with pytest.raises(GraderError) as caught:
        opened(path)
    assert str(caught.value) == f"{path}: {says}"
    assert path.read_text() == spoiled


def test_a_last_line_without_its_end_is_named_by_its_number_too(path):
    written(path, {"a": 1}, {"b": 2}, {"c": 3})
    path.write_text(path.read_text().replace('"c"', '"d"').rstrip("\n"))
    with pytest.raises(GraderError, match="line 3 is not as it was written"):
        opened(path)


def test_another_key_or_another_beginning_opens_nothing(path):
    written(path, {"a": 1})
    for key, begin in ((b"other", "begin"), (KEY, "other")):
        with pytest.raises(GraderError, match="line 1 is not as it was written"):
            Ledger(path, key, "the test", begin, lambda *_: None)


def test_a_line_that_its_keeper_cannot_take_is_damaged(path):
    def refuse(body: dict, seal: str) -> None:
        raise KeyError("paper")

    written(path, {"a": 1})
    with pytest.raises(GraderError, match="line 1 is damaged; restore the test from your backup"):
        Ledger(path, KEY, "the test", "begin", refuse)


# The end of the file --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("end", [b"", b"\r", b" \t\0"])
@pytest.mark.parametrize("only_read", [False, True])
def test_a_whole_last_line_counts_without_its_end(path, end, only_read):
    written(path, {"a": "}]{["}, {"b": [1]})
    whole = path.read_bytes()
    path.write_bytes(whole[:-1] + end)
    assert len(opened(path, only_read=only_read)[0]) == 2
    assert path.read_bytes() == (whole[:-1] + end if only_read else whole)


@pytest.mark.parametrize("only_read", [False, True])
def test_half_a_line_does_not_count_and_is_cut_off_by_who_may_write(path, only_read):
    written(path, {"a": 1}, {"b": [1, {"c": "}}]]"}]})
    whole = path.read_bytes()
    first = whole.index(b"\n") + 1
    for cut in range(first + 1, len(whole) - 1):
        path.write_bytes(whole[:cut])
        assert len(opened(path, only_read=only_read)[0]) == 1
        assert path.read_bytes() == whole[: cut if only_read else first]


@pytest.mark.parametrize("only_read", [False, True])
def test_blanks_after_the_last_line_are_cut_off(path, only_read):
    written(path, {"a": 1})
    whole = path.read_bytes()
    path.write_bytes(whole + b" \0")
    assert len(opened(path, only_read=only_read)[0]) == 1
    assert path.read_bytes() == (whole + b" \0" if only_read else whole)


def test_appending_that_fails_leaves_all_as_it_was(path, monkeypatch):
    ledger = written(path, {"a": 1})
    before, seal = path.read_bytes(), ledger.seal

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(ledgers.os, "fsync", full)
        with pytest.raises(OSError, match="No space left"):
            ledger.append([{"b": 2}])
    assert path.read_bytes() == before
    assert (len(ledger), ledger.seal) == (1, seal)


# States and forgetting ------------------------------------------------------------------------------------------------


def test_states_are_chained_over_what_of_each_line_stays(path):
    ledger = written(
        path, {"n": 1}, {"n": 2, "why": "w", "file": "f", "reason": "r", "comment": "c", "note": "n"},
        {"n": 3, "hand": {"1a": [2, "well said"]}}, {"n": 4, "hand": "typed"},
    )  # fmt: skip
    texts = ['{"n": 1}', '{"n": 2}', '{"hand": {"1a": 2}, "n": 3}', '{"n": 4}']
    assert [ledger.state(number) for number in range(5)] == [state_of(*texts[:number]) for number in range(5)]
    with pytest.raises(IndexError):
        ledger.state(5)


def test_forgetting_changes_seals_from_there_on_and_no_state(path):
    ledger = written(path, {"n": 1, "why": "a"}, {"n": 2, "why": "é"}, {"n": 3})
    first, *_ = path.read_text(encoding="utf-8").splitlines()
    ledger.rewrite(lambda body: {**body, "why": TAKEN_OUT} if body["n"] == 2 else body)
    again, kept = opened(path)
    assert [body for body, _ in kept] == [{"n": 1, "why": "a"}, {"n": 2, "why": TAKEN_OUT}, {"n": 3}]
    assert path.read_text(encoding="utf-8").splitlines()[0] == first
    assert again.seal != ledger.seal
    assert [again.state(number) for number in range(4)] == [ledger.state(number) for number in range(4)]


def test_changed_text_is_written_as_it_is(path):
    ledger = written(path, {"n": 1})
    ledger.rewrite(lambda body: {**body, "why": "é"})
    assert '"why": "é"' in path.read_text(encoding="utf-8")
    assert opened(path)[1][0][0] == {"n": 1, "why": "é"}


def test_nothing_is_written_where_nothing_is_forgotten(path, monkeypatch):
    def never(*_: object) -> None:
        raise AssertionError("written")

    monkeypatch.setattr(ledgers, "write_text", never)
    ledger, _ = opened(path)
    ledger.rewrite(lambda body: {})
    written(path, {"b": 2, "a": 1}).rewrite(lambda body: body)


# The clock ------------------------------------------------------------------------------------------------------------


def at(*minutes: float, **more: Any) -> list[dict]:
    return [{"when": (NOON + timedelta(minutes=m)).isoformat(), **more} for m in minutes]


def faults(path: Path, *minutes: float, now: float = 0) -> list[str]:
    ledger, _ = opened(path)
    ledger.append(at(*minutes))
    return [
        line.removeprefix(f"{path}: ").removesuffix(": the clock was wrong, or somebody set it")
        for line in ledger.clock_faults(NOON + timedelta(minutes=now))
    ]


def test_the_latest_time_is_told_whatever_the_order_and_the_zone(path):
    ledger = written(path, {"n": 1}, *at(3), {"when": "2026-05-09T14:05:00+02:00"}, {"when": "2026-05-09T12:04:00"})
    assert ledger.latest == NOON + timedelta(minutes=5)


def test_a_clock_that_went_back_by_more_than_is_usual_is_told(path):
    assert faults(path, 0, -10, -10.1, 1) == [
        "line 3 was written on 2026-05-09 11:49 UTC by the machine's clock, though line 1, before, was written on "
        "2026-05-09 12:00 UTC"
    ]


def test_lines_in_a_row_are_told_as_one_and_others_apart(path):
    back = "though line 1, before, was written on 2026-05-09 12:00 UTC"
    assert faults(path, 0, -60, -55, -50, 0, -40) == [
        f"lines 2 to 4 were written on 2026-05-09 11:00 UTC by the machine's clock, {back}",
        f"line 6 was written on 2026-05-09 11:20 UTC by the machine's clock, {back}",
    ]


def test_the_line_before_is_the_latest_one(path):
    assert faults(path, 0, 20, 15, -60) == [
        "line 4 was written on 2026-05-09 11:00 UTC by the machine's clock, though line 2, before, was written on "
        "2026-05-09 12:20 UTC"
    ]


def test_more_than_a_day_ahead_is_told_and_a_day_is_not(path):
    day = 24 * 60
    assert faults(path, 0, day + 1, day) == [
        "line 2 was written on 2026-05-10 12:01 UTC by the machine's clock, though now it is 2026-05-09 12:00 UTC"
    ]


def test_two_kinds_of_fault_in_a_row_are_told_apart(path):
    day = 24 * 60
    assert [line[:6] for line in faults(path, 0, 2 * day, -60)] == ["line 2", "line 3"]


def test_a_clock_behind_is_told_once_when_a_line_is_written(path, capsys):
    ledger = written(path, *at(0))
    ledger.append([{"n": 1}])
    ledger.append(at(-10))
    assert capsys.readouterr().err == ""
    ledger.append(at(5, -11))
    assert capsys.readouterr().err == (
        "pitside: this machine's clock says 2026-05-09 11:49 UTC, and the test has a line of 2026-05-09 12:00 UTC: "
        "mend the clock\n"
    )
    ledger.append(at(-30))
    assert capsys.readouterr().err == ""


def test_whether_the_clock_is_behind_is_told_back(path, capsys):
    ledger, _ = opened(path)
    assert not ledger.tell_of_clock(NOON)
    ledger.append(at(0))
    assert not ledger.tell_of_clock(NOON - timedelta(minutes=10))
    assert ledger.tell_of_clock(NOON - timedelta(minutes=11))
    assert capsys.readouterr().out == ""
