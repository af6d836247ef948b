"""What a room says of a script, one claim at a time: what is taken, what is refused and in which words, what is cut."""

from __future__ import annotations

import base64
import json
import math

import pytest

from grader.running.checked_answers import (
    LARGEST_COUNT,
    Answer,
    Lines,
    checked_answer,
    checked_attachments,
    checked_outputs,
    clip,
    parsed,
    sound,
)

PNG = b"\x89PNG\r\n\x1a\n and more"  # signatures: W3C PNG, section 5.2; JPEG starts with SOI and a marker (ITU T.81)
JPEG = b"\xff\xd8\xff and more"
NO_ANSWER = "something that is no answer was written where answers go; it was not accepted"


def line(**fields: object) -> bytes:
    return json.dumps(fields).encode()


def in_base64(data: bytes) -> str:
    return base64.b64encode(data).decode()


# Lines ----------------------------------------------------------------------------------------------------------------


def test_lines_come_whole_however_they_are_cut():
    lines = Lines(longest=10, most=100)
    fed = [list(lines.feed(data)) for data in (b"on", b"e\ntwo\nth", b"", b"ree\n\n", b"four")]
    assert fed == [[], [b"one", b"two"], [], [b"three", b""], []]
    assert not lines.flooded


def test_a_line_as_long_as_allowed_is_taken_and_a_longer_one_is_empty():
    lines = Lines(longest=4, most=100)
    assert list(lines.feed(b"1234\n12345\n1\n")) == [b"1234", b"", b"1"]
    assert not lines.flooded


def test_a_line_without_an_end_floods_as_soon_as_it_is_too_long():
    lines = Lines(longest=4, most=100)
    assert list(lines.feed(b"1\n1234")) == [b"1"]
    assert not lines.flooded
    assert list(lines.feed(b"5")) == []
    assert lines.flooded
    assert list(lines.feed(b"\n6\n")) == []


def test_all_lines_together_are_bounded():
    lines = Lines(longest=4, most=6)
    assert list(lines.feed(b"12\n34\n")) == [b"12", b"34"]
    assert not lines.flooded
    assert list(lines.feed(b"\n")) == []
    assert lines.flooded


# JSON and text --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [b"", b"{", b"\xff", b"[" * 100_000, b'{"part": 1} 2'])
def test_what_is_no_json_is_nothing(text):
    assert parsed(text) is None


def test_a_whole_number_too_long_for_a_float_is_infinite():
    assert parsed(b"9" * 299) == int("9" * 299)
    assert parsed(b"9" * 300) == math.inf
    assert parsed(b'{"a": [1.5, 7]}') == {"a": [1.5, 7]}


def test_text_from_an_unknown_hand_is_short_and_harmless():
    assert clip("mud") == "mud"
    assert clip("m" * 40) == "m" * 40
    assert clip("m" * 41) == "m" * 40 + "..."
    assert clip("mud", 2) == "mu..."
    assert clip("a\x1b[2Jb\n\u202ec") == "a\ufffd[2Jb\ufffd\ufffdc"


def test_half_a_surrogate_pair_becomes_a_question_mark():
    assert sound("a\ud800b é") == "a?b é"


# Answers --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "answer"),
    [
        ({"part": "2a", "value": 412, "unit": "lb/bbl"}, Answer("2a", 412.0, "lb/bbl")),
        ({"part": "12b", "value": -0.5}, Answer("12b", -0.5, "")),
        ({"part": "1a.heron.mud-weight.x_1", "value": "light"}, Answer("1a.heron.mud-weight.x_1", "light", "")),
        ({"part": "1a", "value": None, "unit": "t"}, Answer("1a", None, "t")),
        ({"part": "1a", "value": "  two\n lines\u200b and  more "}, Answer("1a", "two lines and more", "")),
        ({"part": "1a", "value": 1, "unit": " lb\u200b / bbl\n"}, Answer("1a", 1.0, "lb / bbl")),
        ({"part": "1a", "value": "x" * 200}, Answer("1a", "x" * 200, "")),
        ({"part": "1a", "value": 1, "unit": "u" * 60}, Answer("1a", 1.0, "u" * 60)),
    ],
)
def test_answers_that_are_taken(fields, answer):
    taken = checked_answer(line(**fields))
    assert taken == answer
    assert not isinstance(answer.value, float) or type(taken.value) is float


def name_refused(shown: str) -> str:
    return f'{shown} is no name of a part: write it as on the paper, such as answer("2a", 412, "lb/bbl")'


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, NO_ANSWER),
        ({"part": "1a"}, NO_ANSWER),
        ({"part": "", "value": 1}, name_refused('""')),
        ({"part": "1A", "value": 1}, name_refused('"1A"')),
        ({"part": "123a", "value": 1}, name_refused('"123a"')),
        ({"part": "1a.b.c.d.e", "value": 1}, name_refused('"1a.b.c.d.e"')),
        ({"part": "1a." + "b" * 41, "value": 1}, name_refused('"1a.' + "b" * 37 + '..."')),
        ({"part": "1a\n", "value": 1}, name_refused('"1a\ufffd"')),
        ({"part": 1, "value": 1}, name_refused("what was given")),
        ({"value": 1}, name_refused("what was given")),
        ({"part": "1a", "unusable": "a complex number"},
         "1a: a complex number is not an answer: give a number or a text"),
        ({"part": "1a", "unusable": "x" * 61}, f"1a: {'x' * 60}... is not an answer: give a number or a text"),
        ({"part": "1a", "unusable": 7, "value": 1}, "1a: what was given is not an answer: give a number or a text"),
        ({"part": "1a", "value": True}, "1a: true or false is not an answer: give a number or a text"),
        ({"part": "1a", "value": math.inf}, "1a: the value is not a finite number"),
        ({"part": "1a", "value": math.nan}, "1a: the value is not a finite number"),
        ({"part": "1a", "value": "x" * 201}, "1a: the text is longer than 200 characters"),
        ({"part": "1a", "value": "a\x07"}, "1a: the text has characters that cannot be shown"),
        ({"part": "1a", "value": [1, 2]}, "1a: a list of values is not an answer: give one number or a text"),
        ({"part": "1a", "value": 1, "unit": None}, "1a: the unit is no text"),
        ({"part": "1a", "value": 1, "unit": "u" * 61}, "1a: the unit is longer than 60 characters"),
        ({"part": "1a", "value": 1, "unit": "\x1b[2J"}, "1a: the unit has characters that cannot be shown"),
    ],
)  # fmt: skip
def test_answers_that_are_refused_say_why(fields, words):
    assert checked_answer(line(**fields)) == words


@pytest.mark.parametrize("text", [b"", b"7", b"[]", b'"value"', b'["value"]', b"null"])
def test_what_is_no_object_is_no_answer(text):
    assert checked_answer(text) == NO_ANSWER


def test_a_number_too_large_for_a_float_is_refused():
    assert checked_answer(b'{"part": "1a", "value": ' + b"9" * 310 + b"}") == "1a: the value is not a finite number"


# Outputs --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("claimed", [None, 3, "text", {"output_type": "stream"}, [None, "text", {}], [["stream"]]])
def test_what_is_no_list_of_outputs_is_none(claimed):
    assert checked_outputs(claimed) == []


def test_streams_are_those_two_with_text():
    good = [{"output_type": "stream", "name": name, "text": "said"} for name in ("stdout", "stderr")]
    bad = [good[0] | {"name": "other"}, good[0] | {"text": ["said"]}, good[0] | {"output_type": "flow"}]
    assert checked_outputs([*bad, good[0] | {"more": 1}, good[1]]) == good
    assert checked_outputs([good[0] | {"text": "a\ud800"}])[0]["text"] == "a?"


def test_results_keep_their_count_within_bounds():
    def count(claimed: object) -> object:
        (output,) = checked_outputs([{"output_type": "execute_result", "execution_count": claimed, "data": {}}])
        assert output.keys() == {"output_type", "metadata", "data", "execution_count"}
        assert output["output_type"] == "execute_result"
        assert output["metadata"] == {}
        return output["execution_count"]

    assert [count(n) for n in (1, LARGEST_COUNT)] == [1, LARGEST_COUNT]
    assert [count(n) for n in (0, LARGEST_COUNT + 1, True, 1.0, "1", None)] == [None] * 6


def test_displays_keep_text_and_pictures_and_nothing_that_a_page_would_run():
    data = {
        "text/rtf": 3,
        "text/plain": "t\ud800",
        "text/latex": "$X^2$",
        "image/png": in_base64(PNG)[:4] + "\n" + in_base64(PNG)[4:],
        "image/jpeg": in_base64(JPEG),
        "text/html": "<b>",
        "image/svg+xml": "<svg/>",
        "text/markdown": "*",
        "application/javascript": "1",
    }
    assert checked_outputs([{"output_type": "display_data", "data": data, "metadata": {"a": 1}}]) == [
        {
            "output_type": "display_data",
            "metadata": {},
            "data": {
                "text/plain": "t?", "text/latex": "$X^2$", "image/png": in_base64(PNG), "image/jpeg": in_base64(JPEG),
            },
        }
    ]  # fmt: skip


@pytest.mark.parametrize(
    "data",
    [
        None, ["text/plain"], {"text/plain": 3}, {"text/latex": "a<b"}, {"text/latex": "a>b"}, {"text/latex": "a&b"},
        {"image/png": in_base64(b"GIF89a")}, {"image/png": "not in base64!"}, {"image/jpeg": in_base64(b"")},
        {"image/png": in_base64(PNG) + "\x01"}, {"image/gif": in_base64(b"GIF89a")},
    ],
)  # fmt: skip
def test_displays_of_other_things_are_empty(data):
    (output,) = checked_outputs([{"output_type": "display_data", "data": data}])
    assert output["data"] == {}


def test_errors_are_cut_and_cleaned():
    claimed = {"output_type": "error", "ename": "E" * 201, "evalue": "v" * 1001, "traceback": ["l\ud800", 3, *"x" * 99]}
    (output,) = checked_outputs([claimed])
    assert output == {
        "output_type": "error", "ename": "E" * 200 + "...", "evalue": "v" * 1000, "traceback": ["l?", *"x" * 59],
    }  # fmt: skip
    assert checked_outputs([{"output_type": "error", "traceback": "lines"}]) == [
        {"output_type": "error", "ename": "", "evalue": "", "traceback": []}
    ]
    (output,) = checked_outputs([{"output_type": "error", "ename": "N\x1b", "evalue": 3, "traceback": []}])
    assert (output["ename"], output["evalue"]) == ("N\ufffd", "3")


def test_what_follows_something_strange_is_still_shown():
    said = {"output_type": "stream", "name": "stdout", "text": "said"}
    assert checked_outputs([7, said, {"output_type": "x"}, said]) == [said, said]


# Attachments ----------------------------------------------------------------------------------------------------------


def test_attached_pictures_are_kept_by_name_and_kind():
    gif, webp = b"GIF89a", b"RIFF1234WEBP"
    claimed = {
        "a.png": {"image/png": in_base64(PNG), "image/gif": in_base64(gif)},
        "b": {"image/webp": [in_base64(webp)[:4], in_base64(webp)[4:]], "image/jpeg": in_base64(JPEG) + "\n"},
    }
    assert checked_attachments(claimed) == {
        "a.png": {"image/png": in_base64(PNG), "image/gif": in_base64(gif)},
        "b": {"image/webp": in_base64(webp), "image/jpeg": in_base64(JPEG)},
    }


def test_names_of_attachments_are_bounded():
    picture = {"image/png": in_base64(PNG)}
    assert checked_attachments({"n" * 201: picture}) == {}
    assert checked_attachments({"n" * 200: picture}) == {"n" * 200: picture}
    assert checked_attachments({"n\ud800": picture}) == {"n?": picture}


@pytest.mark.parametrize(
    "claimed",
    [
        None, [], "a", {"a": None}, {"a": ["image/png"]}, {"a": {"image/png": 3}}, {"a": {"image/png": [1]}},
        {"a": {"image/svg+xml": in_base64(b"<svg/>")}}, {"a": {"image/png": in_base64(b"MZ")}},
        {"a": {"image/png": "a"}},
    ],
)  # fmt: skip
def test_other_attachments_are_left_out(claimed):
    assert checked_attachments(claimed) == {}


def test_what_follows_a_strange_attachment_is_still_kept():
    picture = {"image/png": in_base64(PNG)}
    assert checked_attachments({"a": {"text/html": "<b>", **picture}, "b": 3, "c": picture}) == {
        "a": picture,
        "c": picture,
    }
