"""The Linux calls that Python 3.11 has no name for: namespaces, mounts, capabilities, Landlock.

Numbers are those of Linux's own headers (asm/unistd.h, linux/landlock.h).
Every function raises OSError with the call's name where the kernel refuses.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import platform
import stat
import struct
from collections.abc import Iterable

NEW_MOUNTS = 0x00020000
NEW_HOST_NAME = 0x04000000
NEW_IPC = 0x08000000
NEW_USERS = 0x10000000
NEW_PROCESSES = 0x20000000
NEW_NETWORK = 0x40000000

READ_ONLY, NO_SUID, NO_DEVICES, NO_PROGRAMS = 1, 2, 4, 8
BIND, RECURSIVE, PRIVATE = 4096, 16384, 1 << 18
DETACH = 2

_libc = ctypes.CDLL(None, use_errno=True)
_libc.syscall.restype = ctypes.c_long

MACHINE = platform.machine()


def _checked(name: str, result: int, path: str | None = None) -> int:
    if result == -1:
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}", path)
    return result


def syscall(name: str, number: int, *arguments) -> int:
    """A call by its number, for those that the C library has no function for."""
    longs = [ctypes.c_long(a) if isinstance(a, int) else a for a in arguments]
    return _checked(name, _libc.syscall(ctypes.c_long(number), *longs))


def unshare(flags: int) -> None:
    """Leave the namespaces named by ``flags`` for new ones."""
    _checked("unshare", _libc.unshare(ctypes.c_int(flags)))


def process_tree(table: int) -> int:
    """A descriptor of the process tree (pid namespace) of the calling process, for :func:`enter_process_tree`.

    table: a descriptor of the folder of processes; -1 where it cannot be seen, which asks for Linux 5.8.
    """
    if table < 0:
        return os.pidfd_open(os.getpid())
    return os.open("self/ns/pid", os.O_RDONLY | os.O_CLOEXEC, dir_fd=table)


def enter_process_tree(descriptor: int) -> None:
    """Have the children that are forked from now on live in this process tree."""
    _checked("setns", _libc.setns(ctypes.c_int(descriptor), ctypes.c_int(NEW_PROCESSES)))


def mount(source: str, target: str, kind: str, flags: int = 0, options: str = "") -> None:
    """mount(2)."""
    texts = [None if not text else os.fsencode(text) for text in (source, target, kind)]
    data = options.encode() if options else None
    _checked("mount", _libc.mount(*texts, ctypes.c_ulong(flags), data), target)


def make_read_only(path: str, recursive: bool = True, devices: bool = False) -> None:
    """Make the mount at ``path`` (and all below it) read-only, without set-user programs and device files."""

    class Attributes(ctypes.Structure):
        _fields_ = [(name, ctypes.c_uint64) for name in ("set", "clear", "propagation", "user_namespace")]

    at_current_folder, at_recursive, number = -100, 0x8000 if recursive else 0, 442
    attributes = Attributes(READ_ONLY | NO_SUID | (0 if devices else NO_DEVICES), 0, 0, 0)
    syscall(
        "mount_setattr", number, at_current_folder, ctypes.c_char_p(os.fsencode(path)), at_recursive,
        ctypes.byref(attributes), ctypes.sizeof(attributes),
    )  # fmt: skip


def enter_root(path: str) -> None:
    """Make ``path`` (a mount) the root of the file system and let the old root go."""
    os.chdir(path)
    number = {"x86_64": 155, "aarch64": 41}[MACHINE]
    syscall("pivot_root", number, ctypes.c_char_p(b"."), ctypes.c_char_p(b"."))
    _checked("umount2", _libc.umount2(b".", ctypes.c_int(DETACH)))
    os.chdir("/")


def _prctl(name: str, *arguments: int) -> int:
    return _checked(name, _libc.prctl(*[ctypes.c_ulong(a) for a in (*arguments, 0, 0, 0, 0)[:5]]))


def die_with_parent() -> None:
    """Be killed when the parent ends. To be called after any change of user, which clears it."""
    _prctl("PR_SET_PDEATHSIG", 1, 9)


def no_new_privileges() -> None:
    """Let no program started from here gain rights."""
    _prctl("PR_SET_NO_NEW_PRIVS", 38, 1)


def not_readable_by_peers(readable: bool = False) -> None:
    """Let no process of the same user read or trace this one, and the kernel write no image of its memory."""
    _prctl("PR_SET_DUMPABLE", 4, int(readable))


def drop_capabilities() -> None:
    """Give up every right of a superuser, for good."""
    for capability in range(64):
        try:
            _prctl("PR_CAPBSET_DROP", 24, capability)
        except OSError:  # beyond the last one that this kernel knows, or without the right to drop it
            continue
    with contextlib.suppress(OSError):
        _prctl("PR_CAP_AMBIENT_CLEAR_ALL", 47, 4)
    header = ctypes.create_string_buffer(struct.pack("<Ii", 0x20080522, 0))
    _checked("capset", _libc.capset(header, ctypes.create_string_buffer(24)))


# Landlock (linux/landlock.h): the rights by the version of the kernel's interface that brought them.
_RIGHTS_BY_VERSION = {1: (1 << 13) - 1, 2: 1 << 13, 3: 1 << 14, 5: 1 << 15}
_READ_FILE, _READ_FOLDER, _WRITE_FILE, _TRUNCATE = 1 << 2, 1 << 3, 1 << 1, 1 << 14
_MAKE = (1 << 5) | (1 << 4) | (1 << 7) | (1 << 8) | (1 << 10) | (1 << 12) | (1 << 13)  # folder, file, link, refer


def landlock_version() -> int:
    """The version of Landlock that the kernel offers; 0 where it offers none."""
    try:
        return syscall("landlock", 444, 0, 0, 1)
    except OSError:
        return 0


def landlock_rules(readable: Iterable[str], listable: Iterable[str]) -> int:
    """Rules by which a process may be restricted: a descriptor, to be added to with :func:`landlock_allow_all`.

    ``readable``: files at and below these paths may be read; ``listable``: names may be listed, files stay closed.
    Every other file is refused, as are TCP, signals and hidden sockets outward, and no file at all may be run as a
    program. Paths that are not there are left out.
    """
    version, handled = landlock_version(), _handled()
    network = 0b11 if version >= 4 else 0
    scope = 0b11 if version >= 6 else 0
    attributes = struct.pack("<QQQ", handled, network, scope)[: 8 if version < 4 else 16 if version < 6 else 24]
    rules = syscall("landlock_create_ruleset", 444, ctypes.c_char_p(attributes), len(attributes), 0)
    for paths, rights in ((readable, _READ_FILE | _READ_FOLDER), (listable, _READ_FOLDER)):
        for path in paths:
            _landlock_allow(rules, path, rights & handled)
    return rules


def landlock_allow_all(rules: int, path: str) -> None:
    """Let files at and below a path be made, read, written and removed."""
    _landlock_allow(rules, path, (_READ_FILE | _READ_FOLDER | _WRITE_FILE | _TRUNCATE | _MAKE) & _handled())


def landlock(rules: int) -> None:
    """Restrict the calling process, for good. ``no_new_privileges`` must have been called."""
    syscall("landlock_restrict_self", 446, rules, 0)


def _handled() -> int:
    version = landlock_version()
    return sum(rights for since, rights in _RIGHTS_BY_VERSION.items() if since <= version)


def _landlock_allow(ruleset: int, path: str, rights: int) -> None:
    try:
        place = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return
    try:
        if not stat.S_ISDIR(os.fstat(place).st_mode):
            rights &= _READ_FILE | _WRITE_FILE | _TRUNCATE
        rule = struct.pack("<Qi", rights, place)
        syscall("landlock_add_rule", 445, ruleset, 1, ctypes.c_char_p(rule), 0)
    finally:
        os.close(place)
