"""Files are written whole or not at all, and one command at a time works in a school folder."""

from __future__ import annotations

import errno
import json
import os
import signal
import stat

import pytest

from grader.store.errors import GraderError
from grader.store.files import only_one, write_bytes, write_json, write_text


def test_file_is_written_with_its_folders_text_and_mode(tmp_path):
    path = tmp_path / "a" / "b" / "c.txt"
    write_text(path, "grün 李\n")
    assert path.read_bytes() == "grün 李\n".encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    write_bytes(path, b"key", mode=0o600)
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (b"key", 0o600)
    assert [found.name for found in path.parent.iterdir()] == ["c.txt"]


def test_same_data_is_the_same_json(tmp_path):
    write_json(tmp_path / "one.json", {"b": "ü", "a": [1.5, None]})
    write_json(tmp_path / "two.json", {"a": [1.5, None], "b": "ü"})
    assert (tmp_path / "one.json").read_bytes() == (tmp_path / "two.json").read_bytes()
    assert json.loads((tmp_path / "one.json").read_text()) == {"a": [1.5, None], "b": "ü"}


def _full_disk(descriptor: int) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_full_disk_leaves_the_old_file_and_no_other(tmp_path, monkeypatch):
    path = tmp_path / "results.csv"
    write_text(path, "old")
    monkeypatch.setattr(os, "fsync", _full_disk)
    with pytest.raises(OSError, match="No space left"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert [found.name for found in tmp_path.iterdir()] == ["results.csv"]


def test_killed_write_leaves_the_old_file_and_the_next_write_leaves_nothing_else(tmp_path):
    path = tmp_path / "results.csv"
    write_text(path, "old")
    child = os.fork()
    if child == 0:
        try:
            os.fsync = lambda descriptor: os.kill(os.getpid(), signal.SIGKILL)
            write_text(path, "new")
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)
    assert path.read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 2
    write_text(path, "newer")
    assert path.read_text() == "newer"
    assert [found.name for found in tmp_path.iterdir()] == ["results.csv"]


def test_part_that_somebody_made_a_link_is_not_followed(tmp_path):
    (tmp_path / "precious.txt").write_text("mine")
    (tmp_path / ".results.csv.part").symlink_to(tmp_path / "precious.txt")
    write_text(tmp_path / "results.csv", "new")
    assert (tmp_path / "precious.txt").read_text() == "mine"
    assert not (tmp_path / "results.csv").is_symlink()


def test_one_command_at_a_time(tmp_path):
    at_work = pytest.raises(GraderError, match="another pitside command is at work here; wait for it to end")
    with only_one(tmp_path), at_work, only_one(tmp_path):
        raise AssertionError("two at a time")
    with only_one(tmp_path):
        pass


def test_folder_of_a_killed_command_is_free(tmp_path):
    child = os.fork()
    if child == 0:
        try:
            with only_one(tmp_path):
                os.kill(os.getpid(), signal.SIGKILL)
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    with only_one(tmp_path):
        pass
