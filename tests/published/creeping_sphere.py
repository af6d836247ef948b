"""Slow flow round a sphere in a liquid of any shear-dependent viscosity: the drag by the principle of least work.

The flow that happens does the least work of all flows that keep volume and stick to the sphere, so any trial flow
bounds the drag of a power law, or of a yield stress alone, from above. Trial flows here: stream functions

    psi = sum over j of F_j(r) * sin(theta) ** 2 * cos(theta) ** (2 j)

with F_j cubic splines in ln(r) that end at a far sphere. They are found by giving every place the viscosity that its
shear rate asks for, solving the Newtonian flow of least work, and doing so again until the work stays.

Radius and velocity of the sphere are 1, so Stokes' drag with a viscosity of 1 is 6 pi, and drag is work done in a time.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy.interpolate import BSpline


@dataclass(frozen=True)
class Flow:
    """A trial flow: shear rate at each place and the volume that the place stands for."""

    shear_rate: np.ndarray
    volume: np.ndarray

    def total(self, density: np.ndarray) -> float:
        """A quantity for each volume, added up over the liquid."""
        return float(self.volume @ density)


def _radial(far: float, splines: int) -> tuple[np.ndarray, np.ndarray, list[np.ndarray], float]:
    """Radii, their weights in ln r, each spline with its two derivatives in r, and the step of the knots."""
    inner = np.linspace(0, np.log(far), splines - 2)
    step = inner[1] - inner[0]
    spline = BSpline(np.concatenate([np.zeros(3), inner, np.full(3, inner[-1])]), np.eye(splines), 3)
    nodes, weights = leggauss(4)
    at = (inner[:-1, np.newaxis] + (nodes + 1) / 2 * step).ravel()
    radius = np.exp(at)
    value, first, second = (spline(at, order).T for order in range(3))
    derivatives = [value, first / radius, (second - first) / radius**2]
    return radius, np.tile(weights / 2 * step, splines - 3), derivatives, step


def _strains(radius: np.ndarray, derivatives: list[np.ndarray], cos: np.ndarray, harmonic: int) -> list[np.ndarray]:
    """Rate of strain of each spline in one harmonic: rr, theta-theta, phi-phi, and r-theta times the root of 2."""
    power = 2 * harmonic
    sin = np.sqrt(1 - cos**2)
    lower = cos ** (power - 1) if power else 0 * cos
    lowest = cos ** (power - 2) if power else 0 * cos
    along = 2 * cos ** (power + 1) - power * sin**2 * lower
    turned = -2 * (power + 1) * cos**power * sin
    turned = turned - power * (2 * sin * cos * lower - (power - 1) * sin**3 * lowest)
    across = cos ** (power + 1) - power * sin**2 * lower
    found = []
    for value, first, second in zip(*derivatives, strict=True):
        shear = turned * value / radius**3 - sin * cos**power * (second / radius - 2 * first / radius**2)
        parts = (
            along * (first / radius**2 - 2 * value / radius**3),
            along * value / radius**3 - across * first / radius**2,
            along * value / radius**3 - cos ** (power + 1) * first / radius**2,
            shear / np.sqrt(2),
        )
        found.append(np.array(parts).reshape(4, -1))
    return found


def least_work(
    viscosity: Callable[[np.ndarray], np.ndarray],
    *,
    far: float = 1000.0,
    splines: int = 40,
    harmonics: int = 2,
    rounds: int = 300,
) -> Flow:
    """The trial flow that does the least work, for a viscosity that depends on the shear rate."""
    radius, weights, derivatives, step = _radial(far, splines)
    # The flow behind the sphere mirrors that before it, so half of it is worked out and counted twice.
    cos, angle = (values[10:, np.newaxis] for values in leggauss(20))
    volume = (4 * np.pi * angle * weights * radius**3).ravel()
    strains = np.array([mode for j in range(harmonics) for mode in _strains(radius, derivatives, cos, j)])
    # Sphere: F = 1/2 and F' = 1 in the first harmonic, nought in the others. Far sphere: nought.
    free = np.ones((harmonics, splines), dtype=bool)
    free[:, [0, 1, -2, -1]] = False
    fixed, modes = strains[0] / 2 + (1 / 2 + step / 3) * strains[1], strains[free.ravel()]
    thickness, work = np.ones_like(volume), np.inf
    for _ in range(rounds):
        root = np.sqrt(volume * thickness)
        columns = (modes * root).reshape(len(modes), -1)
        share = np.linalg.solve(columns @ columns.T, -columns @ (fixed * root).ravel())
        rate = np.sqrt(2 * ((fixed + np.tensordot(share, modes, 1)) ** 2).sum(axis=0))
        thickness, before = viscosity(rate), work
        work = float((volume * thickness) @ rate**2)
        if abs(before - work) < 1e-6 * work:
            break
    return Flow(rate, volume)


@functools.cache
def power_law_drag(index: float) -> float:
    """Upper bound of the drag over 3 pi * K * (U / d) ** (n - 1) * d * U."""
    flow = least_work(lambda rate: np.maximum(rate, 1e-9) ** (index - 1))
    return flow.total(flow.shear_rate ** (index + 1)) / (6 * np.pi * 2 ** (1 - index))


@functools.cache
def plastic_drag() -> float:
    """Upper bound of the drag of a yield stress alone, over yield stress times radius squared."""
    flow = least_work(lambda rate: 1 / np.maximum(rate, 1e-6), far=2.0)
    return flow.total(flow.shear_rate)


@functools.cache
def bingham_drag(number: float) -> float:
    """Drag in a Bingham liquid over Stokes' drag with its plastic viscosity; beyond the far sphere it stands still."""
    stress, far = number / 2, 1.4 + 6.3 * number ** (-1 / 3)
    flow = least_work(lambda rate: 1 + stress / np.maximum(rate, 1e-9), far=far, splines=30, rounds=100)
    return flow.total(flow.shear_rate**2 + stress * flow.shear_rate) / (6 * np.pi)
