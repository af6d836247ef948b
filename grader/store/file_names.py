"""Names that no system allows for a file, so that a school's folder can be carried to any."""

from __future__ import annotations

import re

#: Windows keeps these for devices, whatever follows behind a point.
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def names_a_device(name: str) -> bool:
    """Whether a file of this name cannot be had on Windows, as it stands for a device there.

    >>> names_a_device("aux"), names_a_device("NUL.ipynb"), names_a_device("aux-1"), names_a_device("console")
    (True, True, False, False)
    """
    return bool(_DEVICES.fullmatch(name))
