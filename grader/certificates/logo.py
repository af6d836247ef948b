"""The school's logo for certificates: a picture of its own in the school folder, looked at before it goes anywhere."""

from __future__ import annotations

import base64
import re
from xml.etree import ElementTree

from grader.store.errors import GraderError
from grader.store.files import read_bytes
from grader.store.school import School

#: Kinds of pictures, by the end of their files' names; the first that is there counts.
KINDS = {"svg": "image/svg+xml", "png": "image/png", "jpg": "image/jpeg", "jpeg": "image/jpeg"}
#: A logo stands in each certificate, twice, as text.
MOST_BYTES = 150_000
#: Pixels of a side; larger pictures take a browser's memory for nothing.
MOST_PIXELS = 4000
#: Elements of a drawing that run or load something, or hold a page in the picture.
_ACTING = {"script", "foreignobject", "iframe", "handler", "animate", "set", "animatetransform", "animatemotion"}
_LOADS = re.compile(r"url\((?!\s*['\"]?#)|@import|javascript:", re.IGNORECASE)


def logo_of(school: School) -> str:
    """The logo as a data URI, to stand in a page; empty where the school has none.

    A drawing (SVG) must hold neither programs nor anything that is loaded from elsewhere; pages show it as a picture,
    in which browsers run and load nothing anyway.

    Raises: :class:`GraderError` if the file is too large, or not the picture that its name says.
    """
    path = next((path for kind in KINDS if (path := school.folder / f"logo.{kind}").exists()), None)
    if path is None:
        return ""
    try:
        data = read_bytes(path)
    except OSError as error:
        raise GraderError(f"{path}: cannot be read ({error.strerror}); put the picture there again") from None
    if len(data) > MOST_BYTES:
        raise GraderError(f"{path}: {len(data) // 1000} kB; a logo may have {MOST_BYTES // 1000} kB: save it smaller")
    kind = KINDS[path.suffix[1:]]
    fault = {"image/svg+xml": _drawing_fault, "image/png": _png_fault, "image/jpeg": _jpeg_fault}[kind](data)
    if fault:
        raise GraderError(f"{path}: {fault}; save the logo anew, as PNG where that does not help")
    return f"data:{kind};base64,{base64.b64encode(data).decode()}"


def _png_fault(data: bytes) -> str:
    if not data.startswith(b"\x89PNG\r\n\x1a\n") or data[12:16] != b"IHDR":
        return "no PNG picture"
    return _size_fault(int.from_bytes(data[16:20]), int.from_bytes(data[20:24]))


def _jpeg_fault(data: bytes) -> str:
    """Goes from segment to segment until the one that gives the size (ITU-T T.81, B.1.1.4 and B.2.2; from memory)."""
    at = 2
    while data.startswith(b"\xff\xd8\xff") and at + 9 <= len(data) and data[at] == 0xFF:
        marker, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4])
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            return _size_fault(int.from_bytes(data[at + 7 : at + 9]), int.from_bytes(data[at + 5 : at + 7]))
        at += 2 + length
    return "no JPEG picture"


def _size_fault(width: int, height: int) -> str:
    if not width or not height:
        return "a picture of no size"
    if max(width, height) > MOST_PIXELS:
        return f"{width} x {height} pixels; a side may have {MOST_PIXELS}"
    return ""


def _drawing_fault(data: bytes) -> str:
    if b"<!ENTITY" in data or re.search(rb"<!DOCTYPE[^>]*\[", data):
        return "a drawing with definitions of its own (<!ENTITY>), which certificates do not take"
    try:
        root = ElementTree.fromstring(data.decode("utf-8-sig"))
    except (ElementTree.ParseError, ValueError, RecursionError):
        return "no SVG drawing, or one that is damaged"
    if _plain(root.tag) != "svg":
        return "no SVG drawing"
    for element in root.iter():
        name = _plain(element.tag)
        if name in _ACTING:
            return f"a drawing that does something (<{name}>)"
        texts = [element.text or "" if name == "style" else "", *element.attrib.values()]
        if any(_LOADS.search(text) for text in texts):
            return f"a drawing that loads something from elsewhere (<{name}>)"
        for attribute, value in element.attrib.items():
            if _plain(attribute).startswith("on"):
                return f"a drawing that does something ({_plain(attribute)}=)"
            if _plain(attribute) == "href" and not value.startswith(("#", "data:image/png", "data:image/jpeg")):
                return f"a drawing that loads something from elsewhere (<{name}>)"
    return ""


def _plain(name: object) -> str:
    """The name without its namespace; comments and the like have none."""
    return name.rpartition("}")[2].lower() if isinstance(name, str) else ""
