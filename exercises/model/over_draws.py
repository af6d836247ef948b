"""What draws of an exercise show: do its quantities stay in what a rig would see, and are its choices fair?

Where two techniques compete, each must be the right answer in a good share of draws: whoever always names the same one
must not fare well by it, and a school sells nothing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import pint

from exercises.model.envelope import Within
from exercises.model.numbers import System, grouped, significant
from exercises.model.parts import Choice, Known
from exercises.model.variant import Variant
from pitside.errors import CalculationError
from pitside.unit_names import read_unit

#: No option of a comparison is right in fewer draws than this, where three or four options compete.
LEAST = 0.15
#: Nor in more than this, of however many.
MOST = 0.60
#: How many standard deviations of chance are allowed beyond the bounds.
CHANCE = 2.0


@dataclass(frozen=True)
class Seen:
    """The lowest and the highest value of a quantity over draws."""

    exercise: str
    system: System
    within: Within
    low: pint.Quantity
    high: pint.Quantity

    @property
    def inside(self) -> bool:
        return self.within.usual.holds(self.low) and self.within.usual.holds(self.high)

    def __str__(self) -> str:
        unit = self.within.usual.unit
        low, high = (grouped(significant(float(v.m_as(read_unit(unit))), 3)) for v in (self.low, self.high))
        line = f"{self.exercise} ({self.system}): {self.within.quantity}: {low} to {high}; usual {self.within.usual}"
        if self.inside:
            return line + ("; the reason to lie outside is not needed" if self.within.outside else "")
        return f"{line}; OUTSIDE{f', because {self.within.outside}' if self.within.outside else ''}"


def _worked(within: Within, variant: Variant) -> pint.Quantity | None:
    return within.value(Known(variant.numbers, variant.key))


def envelope_faults(variant: Variant) -> list[str]:
    """Quantities that lie outside their usual range without a reason, a sentence each."""
    found = []
    for within in variant.exercise.envelope:
        try:
            value = _worked(within, variant)
        except (CalculationError, ArithmeticError, LookupError, AttributeError) as error:
            found.append(f"the quantity {within.quantity} cannot be worked out: {error}")
            continue
        if value is not None and not within.outside and not within.usual.holds(value):
            found.append(f"{within.quantity}: it lies outside the usual {within.usual}, and no reason is given")
    return found


def seen(variants: Sequence[Variant]) -> list[Seen]:
    """What draws of one exercise in one unit system gave for each of its quantities; one that never was is left out."""
    found = []
    for within in variants[0].exercise.envelope if variants else ():
        values = [value for variant in variants if (value := _worked(within, variant)) is not None]
        if values:
            of = variants[0]
            found.append(Seen(of.exercise.id, of.system, within, min(values), max(values)))
    return found


@dataclass(frozen=True)
class Balance:
    """How often each option of a choice was right.

    A draw in which several options are sound counts as a part for each of them, so that the shares add up to one.
    ``sound`` is the share of draws in which an option was sound, ``alone`` that in which it was the only one.
    """

    exercise: str
    part: str
    draws: int
    share: dict[str, float]
    sound: dict[str, float]
    alone: dict[str, float]
    never_right: frozenset[str]

    @property
    def bounds(self) -> tuple[float, float]:
        """The least and the most share of an option.

        15 and 60 %; of two options 40 and 60 %, since the one has what the other leaves; with five options or more
        15 % for each would leave no room, and the least is 60 % of an even share.
        """
        competing = len(self.share) - len(self.never_right)
        return 1 - MOST if competing == 2 else min(LEAST, MOST / competing), MOST

    def faults(self) -> list[str]:
        """Options that are right too seldom or too often, beyond what chance gives in so many draws."""
        least, most = self.bounds
        found = []
        for option, share in self.share.items():
            if option in self.never_right:
                if share:
                    found.append(f"part {self.part}: option {option} is called never right, and was right")
            elif share < least - self._chance(least):
                found.append(f"part {self.part}: option {option} is right in {share:.0%} of draws, below {least:.0%}")
            elif share > most + self._chance(most):
                found.append(f"part {self.part}: option {option} is right in {share:.0%} of draws, above {most:.0%}")
        return found

    def _chance(self, share: float) -> float:
        return CHANCE * math.sqrt(share * (1 - share) / self.draws)

    def __str__(self) -> str:
        several = any(self.sound[option] > self.alone[option] for option in self.share)
        told = [
            f"{option} {self.share[option]:.0%}"
            + (f" (sound in {self.sound[option]:.0%}, alone in {self.alone[option]:.0%})" if several else "")
            + (" (never right, by intent)" if option in self.never_right else "")
            for option in self.share
        ]
        least, most = self.bounds
        wrong = "; OUT OF BALANCE" if self.faults() else ""
        return f"{self.exercise} ({self.part}): {', '.join(told)}; each {least:.0%} to {most:.0%}{wrong}"


def balances(variants: Sequence[Variant]) -> list[Balance]:
    """The balance of each choice of an exercise, over draws of it in one unit system or in both."""
    found = []
    for part in variants[0].exercise.parts if variants else ():
        if not isinstance(part, Choice):
            continue
        share: dict[str, Fraction] = {option.key: Fraction(0) for option in part.options}
        sound: Counter[str] = Counter()
        alone: Counter[str] = Counter()
        for variant in variants:
            right = variant.sound_options(part, variant.key)
            sound.update(right)
            alone.update(right if len(right) == 1 else ())
            for option in right:
                share[option] += Fraction(1, len(right))
        draws = len(variants)
        found.append(
            Balance(
                variants[0].exercise.id,
                part.key,
                draws,
                {option: float(total / draws) for option, total in share.items()},
                {option: sound[option] / draws for option in share},
                {option: alone[option] / draws for option in share},
                frozenset(option.key for option in part.options if option.never_right),
            )
        )
    return found
