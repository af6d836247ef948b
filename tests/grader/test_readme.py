"""What README.md names is there: commands, options of commands, targets of make, pictures."""

from __future__ import annotations

import re
from pathlib import Path

from PIL import Image

from grader.cli import commands

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
#: A command with what follows it, in a block or between backticks.
COMMANDS = re.findall(r"(?m)(?:^|`)pitside ([a-z][a-z-]*)([^`\n#]*)", README)
MOST_KILOBYTES = 80


def test_every_command_is_there_with_its_options():
    assert {"demo", "desk", "book", "issue", "mark"} <= {name for name, _ in COMMANDS}
    for name, rest in COMMANDS:
        has = {option for one in commands.commands[name].params for option in one.opts}
        assert set(re.findall(r"--[a-z][a-z-]*", rest)) <= has | {"--help"}, name


def test_every_target_of_make_is_there():
    named = set(re.findall(r"(?m)(?:^|`)make ([a-z-]+)", README))
    assert {"demo", "test", "wheel", "pictures"} <= named
    assert named <= set(re.findall(r"(?m)^([a-z-]+):", (ROOT / "Makefile").read_text(encoding="utf-8")))


def test_every_picture_is_there_and_small():
    named = re.findall(r"!\[[^]]{20,}\]\(([^)]+)\)", README)
    assert len(named) == 4
    for name in named:
        path = ROOT / name
        assert path.stat().st_size < MOST_KILOBYTES * 1000, name
        with Image.open(path) as picture:
            assert (picture.format, picture.mode) == ("PNG", "P")


def test_the_way_of_an_instructor_begins_with_the_wheel_and_the_desk():
    first, *_ = re.findall(r"```\n(.*?)```", README.split("## For the instructor")[1], re.DOTALL)
    begins = [" ".join(line.split()[:2]) for line in first.splitlines()]
    assert begins[:3] == ["pipx install", "pitside demo", "pitside desk"]
