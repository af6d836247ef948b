"""The filter in the kernel (seccomp) that lets through the calls of :mod:`.calls` and refuses all others.

A program in the kernel's filter language (linux/filter.h, linux/bpf_common.h, linux/seccomp.h, linux/audit.h).
"""

from __future__ import annotations

import ctypes
import errno
import fcntl
import struct
import sys
from collections.abc import Iterator

from . import calls, kernel

_AUDIT = {"x86_64": 0xC000003E, "aarch64": 0xC00000B7}
_ALLOW, _ERROR, _TELL, _KILL = 0x7FFF0000, 0x00050000, 0x7FC00000, 0x80000000
_LOAD, _AND, _EQUAL, _RETURN = 0x20, 0x54, 0x15, 0x06
_NUMBER, _ARCHITECTURE, _ARGUMENTS = 0, 4, 16  # offsets in struct seccomp_data
_SECCOMP = {"x86_64": 317, "aarch64": 277}

_Step = tuple[int, int, int, int]


def possible() -> bool:
    """Whether this kernel and processor can refuse system calls by our list."""
    if kernel.MACHINE not in calls.PROCESSORS or struct.calcsize("P") != 8 or sys.byteorder != "little":
        return False
    try:  # SECCOMP_GET_ACTION_AVAIL
        kernel.syscall("seccomp", _SECCOMP[kernel.MACHINE], 2, 0, ctypes.byref(ctypes.c_uint32(_ERROR)))
    except OSError:
        return False
    return True


def put_up(own_pid: int, own_world: bool, tell: bool = False) -> int:
    """Refuse, for good, all calls but those of the list. ``kernel.no_new_privileges`` must have been called.

    tell: each refused call first goes to whoever reads the descriptor that comes back (see :func:`told`), and waits
    for the answer. Otherwise -1 comes back.
    """
    steps = _program(own_pid, own_world, tell)
    text = ctypes.create_string_buffer(b"".join(struct.pack("<HBBI", *step) for step in steps))
    described = ctypes.create_string_buffer(struct.pack("<HxxxxxxQ", len(steps), ctypes.addressof(text)))
    listener = 8 if tell else 0  # SECCOMP_FILTER_FLAG_NEW_LISTENER
    descriptor = kernel.syscall("seccomp", _SECCOMP[kernel.MACHINE], 1, listener, described)
    return descriptor if tell else -1


def _program(own_pid: int, own_world: bool, tell: bool) -> list[_Step]:
    numbers = calls.listed(kernel.MACHINE)
    rules = calls.narrowed(own_pid, own_world)
    steps: list[_Step] = [
        (_LOAD, 0, 0, _ARCHITECTURE), (_EQUAL, 1, 0, _AUDIT[kernel.MACHINE]), (_RETURN, 0, 0, _KILL),
        (_LOAD, 0, 0, _NUMBER),
    ]  # fmt: skip
    for name in numbers.keys() & rules.keys():
        verdict = _TELL if tell else _ERROR | rules[name].error
        inner = [step for only in rules[name].only for step in _demand(only, verdict)]
        inner.append((_RETURN, 0, 0, _ALLOW))
        steps += [(_EQUAL, 0, len(inner), numbers[name]), *inner]
    plain = [number for name, number in numbers.items() if name not in rules]
    steps += [(_EQUAL, len(plain) - place, 0, number) for place, number in enumerate(plain)]
    return [*steps, (_RETURN, 0, 0, _TELL if tell else _ERROR | errno.ENOSYS), (_RETURN, 0, 0, _ALLOW)]


def _demand(only: calls.Only, verdict: int) -> Iterator[_Step]:
    """Go on only where the argument is one of the values."""
    for half in (0, 4) if only.pointer else (0,):
        yield _LOAD, 0, 0, _ARGUMENTS + 8 * only.argument + half
        if only.mask != 0xFFFFFFFF:
            yield _AND, 0, 0, only.mask
        for place, value in enumerate(only.values):
            yield _EQUAL, len(only.values) - place, 0, value
        yield _RETURN, 0, 0, verdict


def told(descriptor: int, own_world: bool) -> str:
    """Take the next refused call from a filter that tells, refuse it as one that does not would; name and arguments."""
    notice = bytearray(80)
    try:
        fcntl.ioctl(descriptor, 0xC0502100, notice)  # SECCOMP_IOCTL_NOTIF_RECV
    except OSError as error:
        if error.errno == errno.ENOENT:
            return "(killed while it called)"
        raise
    ticket, number = struct.unpack_from("<Q", notice)[0], struct.unpack_from("<i", notice, 16)[0]
    arguments = struct.unpack_from("<6Q", notice, 32)
    names = {number: name for name, number in calls.listed(kernel.MACHINE).items()}
    name = names.get(number, f"call {number}")
    rule = calls.narrowed(0, own_world).get(name)
    reply = struct.pack("<QqiI", ticket, 0, -(rule.error if rule else errno.ENOSYS), 0)
    try:
        fcntl.ioctl(descriptor, 0xC0182101, reply)  # SECCOMP_IOCTL_NOTIF_SEND
    except OSError as error:
        if error.errno != errno.ENOENT:
            raise
    shown = [str(arguments[only.argument]) for only in rule.only if only.values] if rule else []
    return f"{name}({', '.join(shown)})" if shown else name


def taken_from(process: int, descriptor: int) -> int:
    """A descriptor of another process (by its pidfd), as one of the calling process."""
    return kernel.syscall("pidfd_getfd", 438, process, descriptor, 0)
