"""The Linux calls that Python 3.11 has no name for: namespaces, mounts, capabilities, Landlock, seccomp.

Numbers are those of Linux's own headers (asm/unistd.h, linux/landlock.h, linux/seccomp.h, linux/audit.h).
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


def _syscall(name: str, number: int, *arguments) -> int:
    longs = [ctypes.c_long(a) if isinstance(a, int) else a for a in arguments]
    return _checked(name, _libc.syscall(ctypes.c_long(number), *longs))


def unshare(flags: int) -> None:
    """Leave the namespaces named by ``flags`` for new ones."""
    _checked("unshare", _libc.unshare(ctypes.c_int(flags)))


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
    _syscall(
        "mount_setattr", number, at_current_folder, ctypes.c_char_p(os.fsencode(path)), at_recursive,
        ctypes.byref(attributes), ctypes.sizeof(attributes),
    )  # fmt: skip


def enter_root(path: str) -> None:
    """Make ``path`` (a mount) the root of the file system and let the old root go."""
    os.chdir(path)
    number = {"x86_64": 155, "aarch64": 41}[MACHINE]
    _syscall("pivot_root", number, ctypes.c_char_p(b"."), ctypes.c_char_p(b"."))
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


def not_readable_by_peers() -> None:
    """Let no process of the same user read or trace this one."""
    _prctl("PR_SET_DUMPABLE", 4, 0)


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
        return _syscall("landlock", 444, 0, 0, 1)
    except OSError:
        return 0


def landlock(readable: Iterable[str], listable: Iterable[str], writable: Iterable[str]) -> None:
    """Refuse every file but those at and below the given paths; refuse TCP, signals and hidden sockets outward.

    ``readable``: files may be read; ``listable``: names may be listed, files stay closed; ``writable``: files may
    be made, read, written and removed. No file at all may be run as a program. Paths that are not there are left
    out. ``no_new_privileges`` must have been called.
    """
    version = landlock_version()
    handled = sum(rights for since, rights in _RIGHTS_BY_VERSION.items() if since <= version)
    network = 0b11 if version >= 4 else 0
    scope = 0b11 if version >= 6 else 0
    attributes = struct.pack("<QQQ", handled, network, scope)[: 8 if version < 4 else 16 if version < 6 else 24]
    ruleset = _syscall("landlock_create_ruleset", 444, ctypes.c_char_p(attributes), len(attributes), 0)
    try:
        for paths, rights in (
            (readable, _READ_FILE | _READ_FOLDER),
            (listable, _READ_FOLDER),
            (writable, _READ_FILE | _READ_FOLDER | _WRITE_FILE | _TRUNCATE | _MAKE),
        ):
            for path in paths:
                _landlock_allow(ruleset, path, rights & handled)
        _syscall("landlock_restrict_self", 446, ruleset, 0)
    finally:
        os.close(ruleset)


def _landlock_allow(ruleset: int, path: str, rights: int) -> None:
    try:
        place = os.open(path, os.O_PATH | os.O_CLOEXEC)
    except OSError:
        return
    try:
        if not stat.S_ISDIR(os.fstat(place).st_mode):
            rights &= _READ_FILE | _WRITE_FILE | _TRUNCATE
        rule = struct.pack("<Qi", rights, place)
        _syscall("landlock_add_rule", 445, ruleset, 1, ctypes.c_char_p(rule), 0)
    finally:
        os.close(place)


# seccomp: one program in the kernel's filter language (linux/filter.h, linux/bpf_common.h) that names what is
# refused. A list of what is allowed would be tighter and would break with the next numpy or C library.
_NAMES = "x86_64", "aarch64"
_AUDIT = {"x86_64": 0xC000003E, "aarch64": 0xC00000B7}
_REFUSED: dict[str, tuple[int | None, int | None]] = {
    # network, also the kinds of socket that a network namespace does not hold back
    "socket": (41, 198), "connect": (42, 203), "bind": (49, 200), "listen": (50, 201), "accept": (43, 202),
    "accept4": (288, 242), "io_uring_setup": (425, 425), "io_uring_enter": (426, 426),
    "io_uring_register": (427, 427),
    # other programs and processes
    "execve": (59, 221), "execveat": (322, 281), "fork": (57, None), "vfork": (58, None),
    "ptrace": (101, 117), "kcmp": (312, 272), "process_vm_readv": (310, 270), "process_vm_writev": (311, 271),
    "pidfd_open": (434, 434), "pidfd_getfd": (438, 438), "process_madvise": (440, 440),
    "process_mrelease": (448, 448), "setpriority": (141, 140), "sched_setaffinity": (203, 122),
    "sched_setscheduler": (144, 119), "sched_setparam": (142, 118), "sched_setattr": (314, 274),
    "ioprio_set": (251, 30), "migrate_pages": (256, 238), "move_pages": (279, 239), "perf_event_open": (298, 241),
    # namespaces and mounts
    "unshare": (272, 97), "setns": (308, 268), "mount": (165, 40), "umount2": (166, 39), "pivot_root": (155, 41),
    "move_mount": (429, 429), "fsopen": (430, 430), "fsconfig": (431, 431), "fsmount": (432, 432),
    "fspick": (433, 433), "open_tree": (428, 428), "mount_setattr": (442, 442), "chroot": (161, 51),
    "open_by_handle_at": (304, 265), "name_to_handle_at": (303, 264),
    # the kernel itself
    "bpf": (321, 280), "userfaultfd": (323, 282), "keyctl": (250, 219), "add_key": (248, 217),
    "request_key": (249, 218), "init_module": (175, 105), "finit_module": (313, 273), "delete_module": (176, 106),
    "kexec_load": (246, 104), "kexec_file_load": (320, 294), "reboot": (169, 142), "swapon": (167, 224),
    "swapoff": (168, 225), "acct": (163, 89), "quotactl": (179, 60), "quotactl_fd": (443, 443),
    "settimeofday": (164, 170), "clock_settime": (227, 112), "clock_adjtime": (305, 266), "adjtimex": (159, 171),
    "sethostname": (170, 161), "setdomainname": (171, 162), "iopl": (172, None), "ioperm": (173, None),
    "syslog": (103, 116), "modify_ldt": (154, None), "vhangup": (153, 58), "personality": (135, 92),
    "lookup_dcookie": (212, 18), "nfsservctl": (180, 42), "uselib": (134, None), "ustat": (136, None),
    "sysfs": (139, None), "_sysctl": (156, None), "fanotify_init": (300, 262), "seccomp": (317, 277),
    # memory and disk that no rlimit counts
    "memfd_create": (319, 279), "memfd_secret": (447, 447), "shmget": (29, 194), "shmat": (30, 196),
    "shmctl": (31, 195), "msgget": (68, 186), "msgsnd": (69, 189), "semget": (64, 190), "semop": (65, 193),
    "semtimedop": (220, 192), "mq_open": (240, 180), "mq_unlink": (241, 181), "mq_notify": (244, 184),
    "remap_file_pages": (216, 234), "io_setup": (206, 0),
}  # fmt: skip
# What Landlock leaves open: the owner, mode, times and labels of any file that can be named.
_REFUSED_ON_SHARED_FILES: dict[str, tuple[int | None, int | None]] = {
    "chmod": (90, None), "fchmod": (91, 52), "fchmodat": (268, 53), "fchmodat2": (452, 452), "chown": (92, None),
    "fchown": (93, 55), "lchown": (94, None), "fchownat": (260, 54), "utime": (132, None), "utimes": (235, None),
    "utimensat": (280, 88), "futimesat": (261, None), "setxattr": (188, 5), "lsetxattr": (189, 6),
    "fsetxattr": (190, 7), "setxattrat": (463, 463), "removexattr": (197, 14), "lremovexattr": (198, 15),
    "fremovexattr": (199, 16), "inotify_add_watch": (254, 27),
}  # fmt: skip
_CLONE, _CLONE3, _FCNTL, _IOCTL, _PRLIMIT = (56, 220), (435, 435), (72, 25), (16, 29), (302, 261)
_SOCKETPAIR, _SOCKET_KIND, _STREAM = (53, 199), 0xF, 1
_PRCTL, _SET_DEATH_SIGNAL = (157, 167), 1
_SIGNALS = {
    "kill": (62, 129), "tkill": (200, 130), "tgkill": (234, 131), "rt_sigqueueinfo": (129, 138),
    "rt_tgsigqueueinfo": (297, 240), "pidfd_send_signal": (424, 424),
}  # fmt: skip
_CLONE_THREAD = 0x00010000
_SIGNAL_OWNER_FCNTL = (8, 10, 15)  # F_SETOWN, F_SETSIG, F_SETOWN_EX: signals to others by way of a file
_REFUSED_IOCTL = (0x8901, 0x8902, 0x5412, 0x541C)  # FIOSETOWN, SIOCSPGRP, TIOCSTI, TIOCLINUX

_ALLOW, _REFUSE, _NO_SUCH_CALL, _KILL = 0x7FFF0000, 0x00050000 | 1, 0x00050000 | 38, 0x80000000
_LOAD, _AND, _EQUAL, _AT_LEAST, _ANY_BIT, _RETURN = 0x20, 0x54, 0x15, 0x35, 0x45, 0x06
_NUMBER, _ARCHITECTURE, _FIRST, _SECOND = 0, 4, 16, 24  # offsets in struct seccomp_data, low halves


def seccomp_possible() -> bool:
    """Whether this kernel and processor can refuse system calls by our list."""
    if MACHINE not in _NAMES or struct.calcsize("P") != 8:
        return False
    try:
        _syscall("seccomp", _REFUSED["seccomp"][_NAMES.index(MACHINE)] or 0, 2, 0,
                 ctypes.byref(ctypes.c_uint32(_REFUSE & 0xFFFF0000)))  # fmt: skip
    except OSError:
        return False
    return True


def refuse_calls(own_pid: int, shared_files: bool) -> None:
    """Refuse for good, with "Operation not permitted", the calls that a notebook has no use for.

    No socket, no new process (threads are allowed), no program, no namespace or mount, no signal but to
    ``own_pid``. ``shared_files``: also no change of owner, mode or times, for where other files can be named.
    ``no_new_privileges`` must have been called.
    """
    column = _NAMES.index(MACHINE)
    steps: list[tuple[int, int, int, int]] = []

    def refuse_if(test: int, operand: int, verdict: int = _REFUSE) -> None:
        steps.extend([(test, 0, 1, operand), (_RETURN, 0, 0, verdict)])

    def about(call: tuple[int | None, int | None], *inner: tuple[int, int, int, int]) -> None:
        """The ``inner`` steps, run only for ``call``; they end in a return."""
        steps.append((_EQUAL, 0, len(inner), call[column] or 0))
        steps.extend(inner)

    steps.append((_LOAD, 0, 0, _ARCHITECTURE))
    steps.extend([(_EQUAL, 1, 0, _AUDIT[MACHINE]), (_RETURN, 0, 0, _KILL)])
    steps.append((_LOAD, 0, 0, _NUMBER))
    refuse_if(_AT_LEAST, 0x40000000)  # the x32 names of the same calls
    for numbers in (*_REFUSED.values(), *(_REFUSED_ON_SHARED_FILES.values() if shared_files else ())):
        number = numbers[column]
        if number is not None:
            refuse_if(_EQUAL, number)
    about(_CLONE3, (_RETURN, 0, 0, _NO_SUCH_CALL))  # its flags are out of sight; the C library falls back to clone
    about(_CLONE, (_LOAD, 0, 0, _FIRST), (_ANY_BIT, 1, 0, _CLONE_THREAD), (_RETURN, 0, 0, _REFUSE),
          (_RETURN, 0, 0, _ALLOW))  # fmt: skip
    # A pair of datagram sockets could send to any address by name; a pair of streams cannot. asyncio uses streams.
    about(_SOCKETPAIR, (_LOAD, 0, 0, _SECOND), (_AND, 0, 0, _SOCKET_KIND), (_EQUAL, 1, 0, _STREAM),
          (_RETURN, 0, 0, _REFUSE), (_RETURN, 0, 0, _ALLOW))  # fmt: skip
    about(_PRCTL, (_LOAD, 0, 0, _FIRST), (_EQUAL, 0, 1, _SET_DEATH_SIGNAL), (_RETURN, 0, 0, _REFUSE),
          (_RETURN, 0, 0, _ALLOW))  # fmt: skip
    about(_PRLIMIT, (_LOAD, 0, 0, _FIRST), (_EQUAL, 1, 0, 0), (_RETURN, 0, 0, _REFUSE), (_RETURN, 0, 0, _ALLOW))
    for call in ("kill", "tgkill", "rt_sigqueueinfo", "rt_tgsigqueueinfo"):
        about(_SIGNALS[call], (_LOAD, 0, 0, _FIRST), (_EQUAL, 1, 0, own_pid), (_RETURN, 0, 0, _REFUSE),
              (_RETURN, 0, 0, _ALLOW))  # fmt: skip
    for call in ("tkill", "pidfd_send_signal"):
        about(_SIGNALS[call], (_RETURN, 0, 0, _REFUSE))
    for refused, call_numbers in ((_SIGNAL_OWNER_FCNTL, _FCNTL), (_REFUSED_IOCTL, _IOCTL)):
        tests = [step for value in refused for step in ((_EQUAL, 0, 1, value), (_RETURN, 0, 0, _REFUSE))]
        about(call_numbers, (_LOAD, 0, 0, _SECOND), *tests, (_RETURN, 0, 0, _ALLOW))
    steps.append((_RETURN, 0, 0, _ALLOW))

    program = ctypes.create_string_buffer(b"".join(struct.pack("<HBBI", *step) for step in steps))

    class Program(ctypes.Structure):
        _fields_ = [("length", ctypes.c_ushort), ("steps", ctypes.c_void_p)]

    described = Program(len(steps), ctypes.addressof(program))
    _checked("seccomp", _libc.prctl(ctypes.c_ulong(22), ctypes.c_ulong(2), ctypes.byref(described), 0, 0))
