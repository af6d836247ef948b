"""The system calls that a script may make. Every other one is refused, those of kernels to come among them.

The list was learned from honest scripts. To learn it again, after a library or the C library has gone up a version:
``python -m pytest tests/grader/untrusted/test_calls.py`` runs them with each refused call told
(``Runner(tell_refused=True)``) and names what is neither in here nor known to be done without.

The numbers are those of Linux's headers, asm/unistd_64.h for x86-64 and asm-generic/unistd.h for aarch64, which has
no number for the older ones. A test holds them against the headers.
"""

from __future__ import annotations

import errno
from dataclasses import dataclass

#: The processors whose numbers are known, in the order in which they stand below.
PROCESSORS = "x86_64", "aarch64"

_Numbers = dict[str, tuple[int | None, int | None]]

_MEMORY: _Numbers = {  # within the limit of address space
    "brk": (12, 214), "mmap": (9, 222), "munmap": (11, 215), "mprotect": (10, 226), "mremap": (25, 216),
    "madvise": (28, 233), "msync": (26, 227),
}  # fmt: skip
_FILES: _Numbers = {  # opened where Landlock and the mounts let them be opened
    "open": (2, None), "openat": (257, 56), "close": (3, 57), "close_range": (436, 436), "read": (0, 63),
    "write": (1, 64), "readv": (19, 65), "writev": (20, 66), "pread64": (17, 67), "pwrite64": (18, 68),
    "lseek": (8, 62), "ftruncate": (77, 46), "truncate": (76, 45), "fsync": (74, 82), "fdatasync": (75, 83),
    "dup": (32, 23), "dup2": (33, None), "dup3": (292, 24), "fcntl": (72, 25), "ioctl": (16, 29),
}  # fmt: skip
_FOLDERS: _Numbers = {  # Python's imports look at them all the time
    "stat": (4, None), "lstat": (6, None), "fstat": (5, 80), "newfstatat": (262, 79), "statx": (332, 291),
    "access": (21, None), "faccessat": (269, 48), "faccessat2": (439, 439), "getdents64": (217, 61),
    "getcwd": (79, 17), "chdir": (80, 49), "fchdir": (81, 50), "mkdir": (83, None), "mkdirat": (258, 34),
    "rmdir": (84, None), "unlinkat": (263, 35), "symlink": (88, None), "symlinkat": (266, 36), "link": (86, None),
    "linkat": (265, 37), "umask": (95, 166),
}  # fmt: skip
_WAITING: _Numbers = {  # asyncio, which a cell that awaits runs in, wakes itself through a pair of sockets
    "poll": (7, None), "ppoll": (271, 73), "select": (23, None), "pselect6": (270, 72), "epoll_create1": (291, 20),
    "epoll_ctl": (233, 21), "epoll_wait": (232, None), "epoll_pwait": (281, 22), "pipe": (22, None),
    "pipe2": (293, 59), "socketpair": (53, 199), "getsockname": (51, 204),
    "sendto": (44, 206), "recvfrom": (45, 207),
}  # fmt: skip
_THREADS: _Numbers = {
    "clone": (56, 220), "futex": (202, 98), "set_robust_list": (273, 99), "rseq": (334, 293), "exit": (60, 93),
    "exit_group": (231, 94), "sched_yield": (24, 124), "sched_getaffinity": (204, 123), "getcpu": (309, 168),
}  # fmt: skip
_SIGNALS: _Numbers = {  # to itself; the clock of a cell is one of them
    "rt_sigaction": (13, 134), "rt_sigprocmask": (14, 135), "rt_sigreturn": (15, 139), "rt_sigpending": (127, 136),
    "rt_sigtimedwait": (128, 137), "rt_sigsuspend": (130, 133), "sigaltstack": (131, 132), "kill": (62, 129),
    "tgkill": (234, 131), "setitimer": (38, 103), "getitimer": (36, 102), "alarm": (37, None), "pause": (34, None),
    "restart_syscall": (219, 128),
}  # fmt: skip
_TIME: _Numbers = {
    "clock_gettime": (228, 113), "clock_getres": (229, 114), "clock_nanosleep": (230, 115), "nanosleep": (35, 101),
    "gettimeofday": (96, 169), "time": (201, None), "times": (100, 153), "getrusage": (98, 165),
}  # fmt: skip
_ABOUT_ITSELF: _Numbers = {
    "getpid": (39, 172), "gettid": (186, 178), "getppid": (110, 173), "getuid": (102, 174), "geteuid": (107, 175),
    "getgid": (104, 176), "getegid": (108, 177), "getresuid": (118, 148), "getresgid": (120, 150),
    "getgroups": (115, 158), "getpgrp": (111, None), "getpgid": (121, 155), "getsid": (124, 156), "uname": (63, 160),
    "sysinfo": (99, 179), "getrlimit": (97, 163), "setrlimit": (160, 164), "prlimit64": (302, 261),
    "prctl": (157, 167), "getrandom": (318, 278),
}  # fmt: skip
# Harmless on files of its own alone. Where other files can be named, Landlock leaves their mode, times and the target
# of a link open; and a file that is removed but held open fills the disk where nobody sees it.
_IN_ITS_OWN_WORLD: _Numbers = {
    "unlink": (87, None), "rename": (82, None), "renameat": (264, 38), "renameat2": (316, 276),
    "readlink": (89, None), "readlinkat": (267, 78), "chmod": (90, None), "fchmod": (91, 52), "fchmodat": (268, 53),
    "utimensat": (280, 88),
}  # fmt: skip
_NEVER: _Numbers = {  # in the list for the error that they get: shutil.copy2 goes on at no other
    "listxattr": (194, 11), "llistxattr": (195, 12), "flistxattr": (196, 13),
}  # fmt: skip
_ALL = {
    **_MEMORY, **_FILES, **_FOLDERS, **_WAITING, **_THREADS, **_SIGNALS, **_TIME, **_ABOUT_ITSELF,
    **_IN_ITS_OWN_WORLD, **_NEVER,
}  # fmt: skip


@dataclass(frozen=True)
class Only:
    """An argument of a call, counted from 0, and the values that it may have in the bits of ``mask``.

    ``pointer``: all 64 bits are looked at, not the lower half.
    """

    argument: int
    values: tuple[int, ...]
    mask: int = 0xFFFFFFFF
    pointer: bool = False


@dataclass(frozen=True)
class Narrowed:
    """What the arguments of a call must be, and the error that it gets otherwise."""

    only: tuple[Only, ...]
    error: int = errno.EPERM


_THREAD_FLAGS = 0x003D0F00  # what the C library starts a thread with (linux/sched.h)
_DETACHED = 0x00400000  # set by some, ignored by the kernel
_UNNAMED_FILE = 0o20000000  # __O_TMPFILE
_LOCKED_PAGES, _HUGE_PAGES = 0x2000, 0x40000  # MAP_LOCKED, MAP_HUGETLB
_REMOVE_FOLDER = 0x200  # AT_REMOVEDIR
_NO_ADDRESS = Only(4, (0,), pointer=True)
_NOTHING = Only(0, ())


def narrowed(own_pid: int, own_world: bool) -> dict[str, Narrowed]:
    """The calls of the list that may be made with some arguments only, for a process of this number.

    ``own_world``: no files but the script's own can be named.
    """
    unnamed = Only(1, (0,), _UNNAMED_FILE)
    rules = {
        # Threads, no processes. clone3 keeps its flags out of sight, so it is left out; C libraries then take clone.
        "clone": Narrowed((Only(0, (_THREAD_FLAGS,), 0xFFFFFFFF & ~_DETACHED),)),
        "kill": Narrowed((Only(0, (own_pid,)),)),
        "tgkill": Narrowed((Only(0, (own_pid,)),)),
        "prlimit64": Narrowed((Only(0, (0,)),)),
        # Streams between Unix sockets: one of datagrams could send to any address by name.
        "socketpair": Narrowed((Only(0, (1,)), Only(1, (1,), 0xF))),
        "sendto": Narrowed((_NO_ADDRESS,)),
        "prctl": Narrowed((Only(0, (15, 16)),), errno.EINVAL),  # set and get the name of a thread
        # No huge pages, which could be pinned at 2 MB for a byte. NumPy asks for them and does without.
        "mmap": Narrowed((Only(3, (0,), _LOCKED_PAGES | _HUGE_PAGES),)),
        "madvise": Narrowed((Only(2, (0, 1, 2, 3, 4, 8, 15)),), errno.EINVAL),
        "open": Narrowed((unnamed,), errno.EOPNOTSUPP),
        "openat": Narrowed((Only(2, (0,), _UNNAMED_FILE),), errno.EOPNOTSUPP),
        # Duplicates and flags; no larger pipes, no locks (the kernel keeps any number), no signals by way of a file.
        "fcntl": Narrowed((Only(1, (0, 1, 2, 3, 4, 1030)),), errno.EINVAL),
        # Is it a terminal and how large, how much is there to read, set non-blocking, close on exec.
        "ioctl": Narrowed((Only(1, (0x5401, 0x802C542A, 0x5413, 0x541B, 0x5421, 0x5450, 0x5451)),), errno.ENOTTY),
    }
    rules |= {name: Narrowed((_NOTHING,), errno.EOPNOTSUPP) for name in _NEVER}
    if not own_world:
        rules |= {name: Narrowed((_NOTHING,)) for name in _IN_ITS_OWN_WORLD}
        rules["unlinkat"] = Narrowed((Only(2, (_REMOVE_FOLDER,), _REMOVE_FOLDER),))
    return rules


def listed(processor: str) -> dict[str, int]:
    """The numbers of the calls that may be made; with :func:`narrowed`, that is."""
    column = PROCESSORS.index(processor)
    return {name: number for name, numbers in _ALL.items() if (number := numbers[column]) is not None}
