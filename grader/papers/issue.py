"""Issue papers: draw, register, pack. Run again, it makes only what is missing."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from exercises.model import System
from grader.store.errors import GraderError
from grader.store.log import FORGETTING, FORGOTTEN, Log
from grader.store.own_exercises import blamed, check_own
from grader.store.register import Paper, Register, draw_paper
from grader.store.school import Candidate, School, Sitting


@dataclass(frozen=True)
class IssueTally:
    """What an issue run did: papers drawn now, packs written now, packs that were there."""

    drawn: int
    packed: int
    already: int


@dataclass(frozen=True)
class Replaced:
    """A pack that was written again. ``drawn_anew`` is the unit system of its new paper, where units were corrected.

    ``kept_units`` is the unit system that the paper keeps, other than the roster's, since a script of it came back.
    """

    pack: Path
    paper: Paper
    drawn_anew: System | None = None
    kept_units: System | None = None


def to_issue(school: School, named: Sequence[str] = ()) -> tuple[Sitting, ...]:
    """The sitting to issue next: the first, in the order of days, that lacks a paper or a pack; none where none does.

    For those who are ``named``, who come late, it is every sitting that others were issued already, or else the first.
    """
    from grader.papers.packs import is_packed

    register = Register(school, only_read=True)
    in_order = sorted(school.sittings, key=lambda sitting: sitting.day)
    chosen = _chosen(school, named)
    if named:
        out = {paper.sitting for paper in register.papers.values()}
        return tuple(sitting for sitting in in_order if sitting.id in out) or tuple(in_order[:1])
    for sitting in in_order:
        papers = [register.paper_of(sitting.id, candidate.id) for candidate in chosen]
        if not papers or not all(paper and (sitting.observed or is_packed(school, paper)) for paper in papers):
            return (sitting,)
    return ()


def chosen_sittings(
    school: School, sitting: str | None, everything: bool = False, named: Sequence[str] = ()
) -> tuple[Sitting, ...]:
    """The sittings to issue: the one that is named, all, or the next, see :func:`to_issue`."""
    if sitting:
        return (school.sitting(sitting),)
    return school.sittings if everything else to_issue(school, named) or school.sittings


def issue(
    school: School,
    sittings: tuple[Sitting, ...],
    progress: Callable[[int, int], None],
    attempt: int = 1,
    named: Sequence[str] = (),
) -> IssueTally:
    """Give every candidate of the roster, or those who are named, a paper for each sitting.

    A later ``attempt`` than the first is a resit: its exercises have other numbers than all earlier papers of the
    candidate in that sitting. Numbers that a page of practice papers has shown are given to nobody while there are
    others.

    A paper is in the register, on the disk, before its pack is written, so no pack exists without its line.

    Raises: :class:`GraderError` when the roster is empty or lacks somebody named, a sitting's exercises changed after
    papers were issued, or somebody was never issued the attempt before; then no paper is drawn.
    """
    from grader.papers.handing_out import keep_handed_out, write_lists
    from grader.papers.packs import is_packed, write_pack  # brings along what makes notebooks, which takes time
    from grader.papers.practice_papers import shown_numbers

    if not school.roster:
        raise GraderError(f"{school.roster_file}: no candidates; write a line for each under the first line")
    wanted = {name for sitting in sittings for name in sitting.exercises}
    check_own(school.bank[name] for name in school.own_exercises if name in wanted)
    chosen = _chosen(school, named)
    _check_not_forgotten(school, chosen)
    register = Register(school)
    for sitting in sittings:
        _check_unchanged(school, register, sitting)
        _check_attempt_before(register, sitting, chosen, attempt)
    practised = shown_numbers(school, school.sittings)
    papers: list[tuple[Sitting, Paper]] = []
    new: list[Paper] = []
    for sitting in sittings:
        for candidate in chosen:
            paper = register.paper_of(sitting.id, candidate.id, attempt)
            if paper is None:
                earlier = [p for p in register.papers_of(sitting.id, candidate.id) if p.attempt < attempt]
                with blamed(sitting.id, [name for name in school.own_exercises if name in sitting.exercises]):
                    paper = draw_paper(school, sitting, candidate, attempt, earlier, practised, register.schemes)
                new.append(paper)
            papers.append((sitting, paper))
    register.add(new)
    register.schemes.keep()
    candidates = {candidate.id: candidate for candidate in school.roster}
    missing = [(s, paper) for s, paper in papers if not s.observed and not is_packed(school, paper)]
    for count, (sitting, paper) in enumerate(missing, 1):
        write_pack(school, sitting, candidates[paper.candidate], paper)
        progress(count, len(missing))
    keep_handed_out(school, [paper for _, paper in missing])
    # What is watched at the machine has no packs.
    for session in dict.fromkeys(paper.session for sitting, paper in papers if not sitting.observed):
        write_lists(school, register, session)
    return IssueTally(drawn=len(new), packed=len(missing), already=len(papers) - len(missing))


def replace_packs(
    school: School,
    sittings: tuple[Sitting, ...],
    named: Sequence[str],
    why: str,
    attempt: int | None,
    progress: Callable[[int, int], None],
    back: Collection[str] = (),
) -> list[Replaced]:
    """Write packs again that were lost, or in which something of the roster is wrong.

    Of each sitting it is the pack of ``attempt``, or of the latest that was issued. The paper stays as it was issued,
    unless the roster has other units for the candidate: then another is drawn, which counts in its place. Of papers
    that came ``back``, given by id, none is drawn anew. Each goes into the log before it is written.

    Raises: :class:`GraderError` when somebody named has no such paper, or a mark scheme has changed since it was
    issued; then no pack is written.
    """
    from grader.papers.handing_out import keep_handed_out, write_lists
    from grader.papers.packs import drop_pack, write_pack  # brings along what makes notebooks, which takes time
    from grader.papers.practice_papers import shown_numbers

    register, log = Register(school), Log(school)
    practised = shown_numbers(school, school.sittings)
    lost: list[tuple[Sitting, Candidate, Paper, Paper]] = []
    for candidate in _chosen(school, named):
        papers = [
            (sitting, found[-1])
            for sitting in sittings
            if not sitting.observed
            and (found := [p for p in register.papers_of(sitting.id, candidate.id) if attempt in (None, p.attempt)])
        ]
        if not papers:
            which = f"attempt {attempt} at " if attempt else ""
            raise GraderError(
                f"{school.register_file}: {candidate.id} was never issued {which}"
                f"{', '.join(sitting.id for sitting in sittings)}; issue it first, without --replace"
            )
        # All papers are seen to be as issued, and drawn, before anything is logged or written.
        for sitting, paper in papers:
            paper.variants()
            new = paper
            if paper.system is not candidate.units and paper.id not in back:
                void = [old for old in register.replaced.values() if old.candidate == candidate.id]
                earlier = [*register.papers_of(sitting.id, candidate.id), *void]
                about = (school, sitting, candidate, paper.attempt, earlier, practised, register.schemes)
                new = draw_paper(*about, replaces=paper.id)
            lost.append((sitting, candidate, paper, new))
    done: list[Replaced] = []
    for count, (sitting, candidate, paper, new) in enumerate(lost, 1):
        if new is not paper:
            # The pack first, which else would be taken for that of the new paper if this run is killed here.
            drop_pack(school, paper)
            register.add([new])
        log.replace(new.id, why)
        pack = write_pack(school, sitting, candidate, new)
        kept = new.system if new.system is not candidate.units else None
        done.append(Replaced(pack, new, drawn_anew=new.system if new is not paper else None, kept_units=kept))
        progress(count, len(lost))
    register.schemes.keep()
    keep_handed_out(school, [one.paper for one in done])
    for session in dict.fromkeys(one.paper.session for one in done):
        write_lists(school, register, session)
    return done


def _chosen(school: School, named: Sequence[str]) -> tuple[Candidate, ...]:
    """The candidates who are named, in the order of the roster; all where none is."""
    wanted = {school.candidate(one).id for one in named}
    return tuple(candidate for candidate in school.roster if not named or candidate.id in wanted)


def _check_not_forgotten(school: School, candidates: tuple[Candidate, ...]) -> None:
    """An id that was forgotten stays in register and log, so its papers would be taken for somebody else's."""
    lines = [line for line in Log(school).lines if line["what"] in (FORGETTING, FORGOTTEN)]
    ids = {line["candidate"] for line in lines}
    for candidate in candidates:
        if candidate.id in ids:
            raise GraderError(
                f"{school.roster_file}: {candidate.id} was forgotten; give whoever comes new another id, or "
                f'complete it with: pitside forget {school.here} {candidate.id} --reason "..."'
            )


def _check_attempt_before(
    register: Register, sitting: Sitting, candidates: tuple[Candidate, ...], attempt: int
) -> None:
    without = [c.id for c in candidates if attempt > 1 and not register.paper_of(sitting.id, c.id, attempt - 1)]
    if without:
        more = f" and {len(without) - 5} more" if len(without) > 5 else ""
        raise GraderError(
            f"sitting {sitting.id}: attempt {attempt - 1} was never issued to {', '.join(without[:5])}{more}; "
            "issue that first, or name with --candidate only those who had it"
        )


def _check_unchanged(school: School, register: Register, sitting: Sitting) -> None:
    for paper in register.papers.values():
        if paper.sitting != sitting.id:
            continue
        issued = tuple(entry.exercise for entry in paper.entries)
        if issued != sitting.exercises:
            raise GraderError(
                f"{school.folder / 'school.toml'}: sitting {sitting.id} was issued with {', '.join(issued)}; "
                f"put these exercises back, or make a new sitting for others"
            )
