"""What may happen in a classroom: being let in, beginning, saving answers, handing in; and what the instructor sees.

Nothing of a mark scheme is asked here. What a device sends is looked at field by field; a script is made of what was
saved, and lies among the scripts like one that came on a stick.
"""

from __future__ import annotations

import hashlib
import math
import secrets
import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import nullcontext, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from grader.classroom.clock import Clocks, RoomClock
from grader.classroom.codes import digest_of, digest_of_cookie, new_code, page_token, plain
from grader.classroom.drafts import Begun, Clash, Device, Drafts, HandIn, Held, Saved, drafts_file
from grader.classroom.more_time import more_time
from grader.classroom.scripts_of_answers import WORKING, Answer, empty_answers, script_of
from grader.papers.packs import as_titled, worksheet
from grader.returned.taking_in import put_in
from grader.store.errors import GraderError
from grader.store.files import only_one
from grader.store.log import (
    CLASSROOM_AFTER,
    CLASSROOM_BEGUN,
    CLASSROOM_CLASH,
    CLASSROOM_DEVICE,
    CLASSROOM_SLIP,
    CLASSROOM_TIME,
    HANDED_IN,
    Log,
)
from grader.store.register import Paper, Register, attempt_suffix, sitting_and_attempt
from grader.store.school import Candidate, School, Sitting, open_school
from grader.store.wording import counted

#: Most characters of a number or its unit, of letters, and of words or working.
LONGEST_TYPED, LONGEST_LETTERS, LONGEST_WORDS = 200, 60, 50_000
#: Characters of an answer that the log repeats where two devices differ.
_REPEATED = 60
#: A device that was there within so many seconds is open now; pages speak up every fifteen.
OPEN_SECONDS = 45.0
#: A page may hand in by itself within so many seconds after the end, for it counts the time on another clock.
GRACE = 20.0
#: The longest limit of time, and the most that is given on the day at once.
MOST_MINUTES = 1000.0
_COOKIE_BYTES = 32
_HOLD_SECONDS = 1.0


class RefusedError(Exception):
    """What a device asked for is not done; the text says why, to a candidate."""


@dataclass(frozen=True)
class Sheet:
    """A candidate's paper as the classroom hands it out."""

    paper: Paper
    candidate: Candidate
    title: str
    page: str
    data: Mapping[str, Any]
    empty: Mapping[str, Answer]
    token: str

    @property
    def wanted(self) -> list[str]:
        """The fields that are counted as answers: those on the way are of one's own choice."""
        items = self.data["items"]
        return [name for name in items if not items[name].get("on_the_way")]


@dataclass(frozen=True)
class Receipt:
    """What says that a script was handed in: its digest (SHA-256 of the file), when, and how many minutes late."""

    digest: str
    day: str
    late: float
    file: str


@dataclass(frozen=True)
class Told:
    """What a page is told each time: answers that are new to it, seconds left, other devices, the receipt if any."""

    answers: Mapping[str, Held]
    number: int
    left: float | None
    others: int
    receipt: Receipt | None
    #: By field, why an answer was not taken.
    refused: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Room:
    """The classroom of one sitting.

    ``minutes`` is the limit of time for all without arrangements, above 0 and up to :data:`MOST_MINUTES`; None is no
    limit. Raises: :class:`GraderError` where it is another, or nobody was issued a paper.
    """

    folder: Path
    sitting_id: str
    attempt: int = 1
    minutes: float | None = None
    clocks: Clocks = field(default_factory=Clocks)
    school: School = field(init=False)
    drafts: Drafts = field(init=False)
    clock: RoomClock = field(init=False)

    def __post_init__(self) -> None:
        self._lock = threading.Lock()
        self._outside = threading.Lock()
        self._stamp: tuple[Any, ...] = ()
        self._sheets: dict[str, Sheet] = {}
        if self.minutes is not None:
            _check_minutes(self.minutes)
        self._read()
        self.sitting: Sitting = self.school.sitting(self.sitting_id)
        if self.sitting.observed:
            raise GraderError(f"{self.sitting_id}: is watched at the machine and has no papers for a classroom")
        if not self._papers:
            raise GraderError(
                f"{self.folder}: nobody was issued a paper of {self.session}; first: pitside issue {self.folder}"
            )
        self.drafts = Drafts(self.school)
        self.clock = RoomClock(self.clocks, self.drafts.clock(self.session))

    @property
    def session(self) -> str:
        return self.sitting_id + attempt_suffix(self.attempt)

    def close(self) -> None:
        self.drafts.close()

    # The school's papers --------------------------------------------------------------------------------------------

    def _read(self) -> None:
        """Read the school, and again when its files changed: a candidate who comes late is issued a paper meanwhile."""
        stamp = _stamp(self.folder)
        if stamp == self._stamp:
            return
        school = open_school(self.folder)
        register = Register(school, only_read=True)
        papers = {paper.candidate: paper for paper in register.papers.values() if paper.session == self.session}
        roster = {one.id: one for one in school.roster}
        self.school = school
        self._papers = {who: (roster[who], paper) for who, paper in papers.items() if who in roster}
        self._by_paper = {paper.id: who for who, (_, paper) in self._papers.items()}
        self._stamp = stamp

    def refresh(self) -> None:
        with self._lock, suppress(GraderError, OSError):  # a file that is half edited now is read later
            self._read()

    @property
    def candidates(self) -> list[tuple[Candidate, Paper]]:
        """Those who have a paper, in the order of the roster."""
        order = {one.id: at for at, one in enumerate(self.school.roster)}
        return sorted(self._papers.values(), key=lambda one: order[one[0].id])

    def check(self) -> None:
        """See that every paper can be handed out as it was issued.

        Raises: :class:`GraderError`, of the first whose exercise or mark scheme changed since.
        """
        for _, paper in self.candidates:
            paper.variants()

    def sheet(self, paper_id: str) -> Sheet:
        """The candidate's worksheet. Raises: :class:`RefusedError` where the paper counts no more."""
        with self._lock:
            candidate, paper = self._of_paper(paper_id)
            if paper_id not in self._sheets:
                self._sheets[paper_id] = self._made(candidate, paper)
            return self._sheets[paper_id]

    def candidate(self, paper_id: str) -> Candidate:
        """Whose paper it is, as the roster has them today: an arrangement may have come after the sheet was made.

        Raises: as :meth:`sheet` does.
        """
        with self._lock:
            return self._of_paper(paper_id)[0]

    def _of_paper(self, paper_id: str) -> tuple[Candidate, Paper]:
        who = self._by_paper.get(paper_id)
        if who is None:
            raise RefusedError("This paper does not count any more. Ask your instructor for a new slip.")
        return self._papers[who]

    def _made(self, candidate: Candidate, paper: Paper) -> Sheet:
        token = page_token(self.school.key, paper.id)
        made = worksheet(
            self.school, self.sitting, candidate, paper,
            "classroom/worksheet.html", ("classroom/saving_at_school.js",), token=token,
        )  # fmt: skip
        title = as_titled(self.sitting, paper).title
        return Sheet(paper, candidate, title, made.page, made.data, empty_answers(made.data), token)

    # Codes ----------------------------------------------------------------------------------------------------------

    def new_codes(self, candidates: Iterable[str] = ()) -> dict[str, str]:
        """A new code for each of these candidates, or for everybody who has a paper.

        Codes of before open nothing more, and who came in by them is out.

        Raises: :class:`GraderError` where one has no paper.
        """
        chosen = list(candidates) or [candidate.id for candidate, _ in self.candidates]
        for one in chosen:
            if one not in self._papers:
                raise GraderError(f"{one}: has no paper of {self.session}; ids are in {self.school.roster_file.name}")
        codes = {one: new_code() for one in chosen}
        digests = {one: digest_of(self.school.key, plain(code)) for one, code in codes.items()}
        papers = [self._papers[one][1].id for one in chosen]
        with self.drafts.change():
            had_codes = self.drafts.has_codes(self.session)
            self.drafts.put_codes(self.session, digests, papers)
            for one, paper in zip(chosen, papers, strict=True):
                if one in had_codes:
                    why = "the code and the devices of before open nothing more"
                    self.drafts.tell_log(paper, what=CLASSROOM_SLIP, why=why, at=self._at())
        return codes

    # Being let in ---------------------------------------------------------------------------------------------------

    def let_in(self, typed: str) -> tuple[str, Device] | None:
        """A cookie and a device for who has this code, or None where the code is nobody's.

        Raises: :class:`RefusedError` where the paper was opened with too many devices.
        """
        letters = plain(typed)
        digest = digest_of(self.school.key, letters) if letters else ""
        # Looked up before too, so that a wrong code takes no turn at writing from who saves.
        who = self.drafts.whose(self.session, digest) if digest else ""
        if who and who not in self._papers:
            self.refresh()
        if not who or who not in self._papers:
            return None
        _, paper = self._papers[who]
        cookie = secrets.token_urlsafe(_COOKIE_BYTES)
        with self.drafts.change():
            if self.drafts.whose(self.session, digest) != who:
                return None  # a new slip was written meanwhile
            device = self.drafts.let_in(paper.id, digest_of_cookie(cookie), self.clock.seconds(), self.clock.day())
            if device is None:
                raise RefusedError("This paper was opened on too many devices. Ask your instructor.")
            if device.number > 1:
                self.drafts.tell_log(paper.id, what=CLASSROOM_DEVICE, why=f"device {device.number}", at=self._at())
        return cookie, device

    def device(self, cookie: str) -> Device | None:
        """The device that has this cookie, if its paper is one of this sitting."""
        found = self.drafts.device(digest_of_cookie(cookie)) if cookie else None
        return found if found and found.paper in self._by_paper else None

    def leave(self, device: Device) -> None:
        self.drafts.forget_device(device)

    # Working --------------------------------------------------------------------------------------------------------

    def allowed(self, candidate: Candidate) -> float | None:
        """The minutes that a candidate has from the beginning, by the limit and the arrangements; None is no limit."""
        return None if self.minutes is None else more_time(candidate.arrangements).of(self.minutes)

    def begin(self, device: Device) -> None:
        """Begin the paper of a device: its time runs from now on."""
        sheet = self.sheet(device.paper)
        candidate = self.candidate(device.paper)
        begun = Begun(self.clock.seconds(), self._at(), self.allowed(candidate), tuple(sheet.wanted))
        with self.drafts.change():
            if self.drafts.begin(device.paper, self.session, candidate.id, begun):
                limit = "no limit of time" if begun.minutes is None else f"{begun.minutes:g} minutes"
                self.drafts.tell_log(device.paper, what=CLASSROOM_BEGUN, why=limit, at=begun.day)

    def has_begun(self, device: Device) -> bool:
        return self.drafts.begun(device.paper) is not None

    def left(self, paper: str, candidate: str) -> float | None:
        """Seconds that are left for a paper, below nought once they are over; None where there is no limit."""
        begun = self.drafts.begun(paper)
        end = begun.end(self.drafts.given_minutes(self.session, candidate)) if begun else None
        return None if end is None else end - self.clock.seconds()

    def save(self, device: Device, sent: str, answers: Mapping[str, tuple[Answer, int, float]], seen: int) -> Told:
        """Keep answers: each value with the save that the device had seen of it, and how many seconds ago it was typed.

        When this returns they are on the disk, but for what is no answer of the paper, which is told. Raises:
        :class:`RefusedError` where the paper was not begun.
        """
        sheet = self.sheet(device.paper)
        if not self.has_begun(device):
            raise RefusedError("Press Start first.")
        now = self.clock.seconds()
        changes, refused = [], {}
        for name, (value, base, ago) in answers.items():
            try:
                changes.append(Saved(name, checked(sheet, name, value), base, now - min(ago, now)))
            except RefusedError as error:
                refused[name] = str(error)
        left = self.left(device.paper, sheet.candidate.id)
        late = left is not None and left < -GRACE
        with self.drafts.change():
            done = self.drafts.save(self.session, device, sent, changes, self.clock.to_keep(), late)
            for clash in done.clashes:
                self.drafts.tell_log(device.paper, what=CLASSROOM_CLASH, why=_clash(clash), at=self._at())
            if done.after:
                why = f"{counted(done.after, 'answer')} of device {device.number}, kept apart from the script"
                self.drafts.tell_log(device.paper, what=CLASSROOM_AFTER, why=why, at=self._at())
        return replace(self.told(device, seen, answers), refused=refused)

    def told(self, device: Device, seen: int, also: Iterable[str] = ()) -> Told:
        """What the page of a device is told, and what became of the fields that it sent, ``also`` if nothing."""
        sheet = self.sheet(device.paper)
        hand_in = self.drafts.hand_in(device.paper)
        every = self.drafts.answers(device.paper)
        chosen = set(also)
        answers = {name: held for name, held in every.items() if held.number > seen or hand_in or name in chosen}
        return Told(
            answers,
            max((held.number for held in every.values()), default=seen),
            self.left(device.paper, sheet.candidate.id),
            self.drafts.others_open(device, self.clock.seconds() - OPEN_SECONDS),
            _receipt(hand_in) if hand_in else None,
        )

    # Handing in -----------------------------------------------------------------------------------------------------

    def hand_in(self, device: Device, shown: Mapping[str, Answer]) -> Receipt | None:
        """Hand in what was saved, if it is what the page shows, else None; the same receipt however often."""
        sheet = self.sheet(device.paper)
        if not self.has_begun(device):
            raise RefusedError("Press Start first.")
        answers = {name: checked(sheet, name, value) for name, value in shown.items()}
        if set(answers) != set(sheet.empty):
            raise RefusedError("The page did not send all of its answers. Try again, or save your script.")
        return self._hand_in(sheet, device.id, answers)

    def hand_in_for(self, candidate: str) -> Receipt | None:
        """Hand in what a candidate saved who went without doing it; None where nothing was begun."""
        _, paper = self._papers[candidate]
        return self._hand_in(self.sheet(paper.id), 0, None) if self.drafts.begun(paper.id) else None

    def hand_in_saved(self) -> list[str]:
        """Hand in what was saved for all who have begun and did not hand in; gives their ids."""
        done = self.drafts.hand_ins(self.session)
        begun = self.drafts.all_begun(self.session)
        waiting = [one.id for one, paper in self.candidates if paper.id in begun and paper.id not in done]
        for one in waiting:
            self.hand_in_for(one)
        return waiting

    def _hand_in(self, sheet: Sheet, device: int, shown: Mapping[str, Answer] | None) -> Receipt | None:
        paper = sheet.paper
        with self.drafts.change():
            before = self.drafts.hand_in(paper.id)
            if before is not None:
                return _receipt(before)
            held = {**sheet.empty, **{name: one.value for name, one in self.drafts.answers(paper.id).items()}}
            if shown is not None and dict(shown) != held:
                return None
            script = script_of(sheet.data, held)
            left = self.left(paper.id, sheet.candidate.id)
            late = -left / 60 if left is not None and left < -GRACE else 0.0
            digest = hashlib.sha256(script).hexdigest()
            one = HandIn(
                paper.id, sheet.candidate.id, device, self._at(), round(late, 2), digest, str(sheet.data["file"]), ""
            )
            self.drafts.put_hand_in(self.session, one, script)
            why = "in time"
            if late:
                saved = counted(self.drafts.count_late(paper.id), "answer")
                why = f"{counted(math.ceil(late), 'minute')} late, {saved} saved late"
            if device == 0:
                why += ", by the instructor, with what was saved"
            why += f"; receipt {digest[:8]} … {digest[-8:]}"
            self.drafts.tell_log(paper.id, what=HANDED_IN, digest=digest, late=one.late, why=why, at=one.day)
        with suppress(GraderError, OSError):  # it is handed in, whatever is wrong with the scripts
            self.land()
        return _receipt(one)

    def land(self) -> None:
        """Put scripts that were handed in among the scripts of the school; what cannot be put now is put later."""
        with self._outside:
            for paper, name, script in self.drafts.to_land():
                with suppress(GraderError, OSError):
                    self.drafts.landed(paper, put_in(self.school, name, script)[0])

    def write_log(self, is_held: bool = False) -> bool:
        """Write what waits for the school's log, if no command is at work there; gives whether nothing waits now.

        ``is_held``: the caller holds the school.
        """
        waiting = self.drafts.to_log()
        if not waiting:
            return True
        with self._outside, suppress(GraderError, OSError), nullcontext() if is_held else only_one(self.folder):
            log = Log(self.school)
            there = {(line.get("paper"), line.get("event"), line.get("at")) for line in log.lines}
            for number, paper, line in waiting:
                # Killed between log and file, it would else be written twice.
                if (paper, number, line.get("at")) not in there:
                    log.write(line.pop("what"), paper=paper, event=number, **line)
                self.drafts.logged(number)
            return True
        return False

    # The instructor's side ------------------------------------------------------------------------------------------

    @property
    def parts(self) -> tuple[Callable[[], object], ...]:
        """What is done every few seconds: the clock is kept, late candidates are seen, scripts are written."""
        return self.keep_clock, self.refresh, self.land

    def tick(self) -> None:
        """Do all of that once, and write what waits for the log."""
        for part in (*self.parts, self.write_log):
            part()

    def keep_clock(self) -> None:
        self.drafts.tick(self.session, self.clock.to_keep())

    def give_minutes(self, candidate: str, minutes: float) -> float:
        """Give a candidate more time on the day; gives the minutes that were given so by now.

        Raises: :class:`GraderError` where they are no such time, or the candidate has no paper.
        """
        _check_minutes(minutes)
        if candidate not in self._papers:
            raise GraderError(f"{candidate}: has no paper of {self.session}")
        _, paper = self._papers[candidate]
        with self.drafts.change():
            total = self.drafts.give_minutes(self.session, candidate, minutes)
            self.drafts.tell_log(
                paper.id, what=CLASSROOM_TIME, why=f"{minutes:g} minutes more, {total:g} by now", at=self._at()
            )
        return total

    def _at(self) -> str:
        return self.clock.day().isoformat(timespec="seconds")


def _check_minutes(minutes: float) -> None:
    if not 0 < minutes <= MOST_MINUTES:  # so is no "nan" either
        raise GraderError(f"{minutes:g} minutes: write a number above 0, and {MOST_MINUTES:g} at most")


def checked(sheet: Sheet, name: str, value: Any) -> Answer:
    """An answer that a page of this paper can have sent. Raises: :class:`RefusedError` for any other."""
    refused = RefusedError(f"{name[:40]}: this is no answer that can be saved here.")
    if name not in sheet.empty:
        raise refused
    if isinstance(sheet.empty[name], str):
        item = sheet.data["items"].get(name, {})
        words = name.startswith(WORKING) or item.get("kind") == "words"
        return _text(value, LONGEST_WORDS if words else LONGEST_LETTERS, refused)
    if not isinstance(value, dict) or set(value) != {"typed", "unit"}:
        raise refused
    return {key: _text(value[key], LONGEST_TYPED, refused) for key in ("typed", "unit")}


def _text(value: Any, longest: int, refused: RefusedError) -> str:
    if not isinstance(value, str):
        raise refused
    if len(value) > longest:
        raise RefusedError(f"An answer has more than {longest} characters; make it shorter.")
    # Halves of a sign that is written in two, which no file can hold.
    return value.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def is_empty(value: Answer) -> bool:
    return not (value if isinstance(value, str) else value["typed"]).strip()


def _receipt(one: HandIn) -> Receipt:
    return Receipt(one.digest, one.day, one.late, one.file)


def _clash(clash: Clash) -> str:
    def said(value: Answer) -> str:
        text = value if isinstance(value, str) else f"{value['typed']} {value['unit']}".strip()
        return repr(text if len(text) <= _REPEATED else f"{text[:_REPEATED]}…")

    return (
        f"{clash.item}: {said(clash.kept)} of device {clash.kept_device} is kept, "
        f"{said(clash.other)} of device {clash.other_device} is not"
    )


def _stamp(folder: Path) -> tuple[Any, ...]:
    found = []
    for name in ("school.toml", "roster.csv", "roster.xlsx", "register.jsonl"):
        try:
            about = (folder / name).stat()
            found.append((name, about.st_mtime_ns, about.st_size))
        except OSError:
            found.append((name, 0, 0))
    return tuple(found)


class Open:
    """Holds a sitting's classroom, so that it is not opened twice. Raises: :class:`GraderError` where it is open."""

    def __init__(self, school: School, session: str) -> None:
        # Who looks whether it is open holds it for a moment.
        self._lock = FileLock(lock_file(school, session), timeout=_HOLD_SECONDS)

    def __enter__(self) -> Open:
        try:
            self._lock.acquire()
        except Timeout:
            raise GraderError("the classroom of this sitting is open already; close it there first") from None
        return self

    def __exit__(self, *_: object) -> None:
        self._lock.release()


def lock_file(school: School, session: str) -> Path:
    return school.records / f".classroom_{session}"


def room_of(school: School, session: str) -> Room | None:
    """The classroom of a sitting to look at, or None where there was none; its time goes on as that of the open one."""
    if not drafts_file(school).exists():
        return None
    room = Room(school.folder, *sitting_and_attempt(session))
    room.minutes = room.drafts.minutes(session)
    if room.drafts.clock(session) is None and not room.drafts.has_codes(session):
        room.close()
        return None
    return room


def is_open(school: School, session: str) -> bool:
    """Whether some program has the classroom of a sitting open."""
    if not lock_file(school, session).exists():
        return False
    try:
        with FileLock(lock_file(school, session), timeout=0):
            return False
    except Timeout:
        return True
