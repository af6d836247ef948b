"""Lines of a roster that may be one person twice: to be looked at, since two people can have one name."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from itertools import combinations

from grader.store.plain_letters import plain_letters
from grader.store.school import Candidate

#: From this likeness on, of 0 to 100, two names are nearly the same: one letter in nine may differ.
NEAR = 88


def near_names(roster: Sequence[Candidate], among: Collection[str]) -> Iterator[str]:
    """Pairs of candidates whose names or ids read nearly alike, of which one at least is ``among`` these, in words."""
    by_id = {candidate.id: candidate for candidate in roster}
    for one, other, why in (*_by_name(roster), *_by_id(roster)):
        if one in among or other in among:
            yield f"{one} ({by_id[one].name}) and {other} ({by_id[other].name}): {why}"


def _by_name(roster: Sequence[Candidate]) -> Iterator[tuple[str, str, str]]:
    from rapidfuzz import fuzz, process

    # The order of first and last name may differ too.
    folded = [" ".join(sorted(re.findall(r"\w+", plain_letters(candidate.name)))) for candidate in roster]
    likeness = process.cdist(folded, folded, scorer=fuzz.ratio, score_cutoff=NEAR)
    for at, other in zip(*likeness.nonzero(), strict=True):
        if at < other and not _differ_in_numbers(folded[at], folded[other]):
            same = folded[at] == folded[other]
            yield roster[at].id, roster[other].id, "the same name" if same else "nearly the same name"


def _differ_in_numbers(one: str, other: str) -> bool:
    return re.findall(r"\d+", one) != re.findall(r"\d+", other)


def _by_id(roster: Sequence[Candidate]) -> Iterator[tuple[str, str, str]]:
    alike: dict[str, list[str]] = {}
    for candidate in roster:
        read = re.sub(r"\d+", lambda digits: str(int(digits[0])), candidate.id.replace("-", ""))
        alike.setdefault(read, []).append(candidate.id)
    for ids in alike.values():
        for one, other in combinations(ids, 2):
            yield one, other, "ids that read alike"
