"""Texts in the plain letters of English, to make ids of titles and to tell names that are nearly the same."""

from __future__ import annotations

import re
import unicodedata

from grader.store.file_names import names_a_device

#: Letters that are no plain letter with a mark.
_OTHER = str.maketrans(
    {
        "ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ħ": "h", "ı": "i",
        "ŧ": "t", "ŋ": "n", "ə": "e", "ɵ": "o",
    }
)  # fmt: skip


def plain_letters(text: str) -> str:
    """Small letters without marks; letters of other scripts stay as they are.

    >>> plain_letters("Zëta Süd, Ærø, Łódź")
    'zeta sud, aero, lodz'
    """
    apart = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(letter for letter in apart if not unicodedata.combining(letter))
    return unicodedata.normalize("NFC", bare.translate(_OTHER))


def id_of(title: str, most: int = 32) -> str:
    """An id made of a title; empty where the title holds no letter or digit of English.

    >>> id_of("Zëta Süd: week 11")
    'zeta-sud-week-11'
    """
    found = re.sub(r"[^a-z0-9]+", "-", plain_letters(title)).strip("-")[:most].strip("-")
    return f"{found}-1" if names_a_device(found) else found
