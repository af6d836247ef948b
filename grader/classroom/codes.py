"""The codes on the slips: who has one is let in to one candidate's worksheet. Only digests of them are kept."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets

#: Digits and letters that are not taken for each other when they are read from paper: no I, L, O or U.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LETTERS = 16
GROUP = 4
#: What is read for what somebody typed in place of it.
_ALIKE = str.maketrans("OIL", "011")
_BETWEEN = re.compile(r"[\s\-‐-―._]+")


def new_code() -> str:
    """A code, in groups as a slip shows it: 80 bits that nobody can guess."""
    return grouped("".join(secrets.choice(ALPHABET) for _ in range(LETTERS)))


def grouped(letters: str) -> str:
    """Letters in groups, so that they can be read from paper and said aloud.

    >>> grouped("0123456789ABCDEF")
    '0123-4567-89AB-CDEF'
    """
    return "-".join(letters[at : at + GROUP] for at in range(0, len(letters), GROUP))


def plain(typed: str) -> str:
    """The letters of a code as it was typed, small or large, grouped or not; empty where it can be no code.

    >>> plain(" 0123 4567-89ab_cdef "), plain("O123-4567-89AB-CDEF"), plain("0123")
    ('0123456789ABCDEF', '0123456789ABCDEF', '')
    """
    letters = _BETWEEN.sub("", typed[:100]).upper().translate(_ALIKE)
    return letters if len(letters) == LETTERS and set(letters) <= set(ALPHABET) else ""


def digest_of(key: bytes, letters: str) -> str:
    """What is kept of a code: keyed with the school's key, so that a copy of the classroom's file opens nothing."""
    return hmac.new(key, f"classroom code|{letters}".encode(), hashlib.sha256).hexdigest()


def digest_of_cookie(cookie: str) -> str:
    """What is kept of a device's cookie, which is a long random number."""
    return hashlib.sha256(f"classroom cookie|{cookie}".encode()).hexdigest()


def page_token(key: bytes, paper: str) -> str:
    """What only the pages of one paper hold, and every change has to show."""
    return hmac.new(key, f"classroom page|{paper}".encode(), hashlib.sha256).hexdigest()
