"""A surface over two quantities that rises in both: values at the nodes of a grid, straight between them.

Penalised differences of the node values keep it smooth, and a penalty that works on falling differences alone keeps it
from falling (Eilers & Marx 1996, Stat. Sci. 11:89-121; Bollaerts, Eilers & van Mechelen 2006, Stat. Med. 25:1451-1465;
both from memory). Outliers lose their weight by Tukey's biweight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, frozen_floats

BIWEIGHT = 4.685
NORMAL = 1.4826
ABSOLUTE_ROUNDS, ROUNDS = 6, 12
STEEP = 1e4
"""How much harder than noise a falling difference is held."""

USUAL_SLOPE, SLOPE_SD = 1.8, 1.2
"""Power of a braked wheel goes as cadence to the power of 1 (the same torque at every speed) to 3 (air)."""

BEND_SD = 0.8
LEVEL_BEND_SD = 2.5
TWIST_SD = 0.3
"""Beforehand, one standard deviation: change of the slope over log cadence from one interval to the next; of that over
the range of resistance; of the slope over log cadence from one level to the next."""

LEAST_SCATTER = 0.008


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Nodes over log cadence (a,) and over resistance as a share of its range (b,), increasing; b may be 1."""

    across: FloatArray
    along: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("across", "along"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    @property
    def size(self) -> int:
        """Number of nodes."""
        return self.across.size * self.along.size

    def columns(self, log_cadence: FloatArray, level: FloatArray) -> FloatArray:
        """Weights of the nodes at each place, (n, a·b): straight between nodes, and beyond the outermost cadences."""
        first = hats(self.across, log_cadence, beyond=True)
        second = hats(self.along, level, beyond=False)
        return np.asarray((first[:, :, None] * second[:, None, :]).reshape(log_cadence.size, -1))

    def differences(self) -> tuple[FloatArray, FloatArray]:
        """First differences (as slopes) over log cadence and over resistance, each (rows, a·b)."""
        eye_a, eye_b = np.eye(self.across.size), np.eye(self.along.size)
        by_cadence, by_level = np.kron(_slopes(self.across), eye_b), np.kron(eye_a, _slopes(self.along))
        return np.asarray(by_cadence, dtype=np.float64), np.asarray(by_level, dtype=np.float64)

    def penalty(self) -> tuple[FloatArray, FloatArray]:
        """Quadratic form (p, p) and linear part (p,) of what is expected beforehand."""
        eye_a, eye_b = np.eye(self.across.size), np.eye(self.along.size)
        by_cadence, by_level = _slopes(self.across), _slopes(self.along)
        rows = [
            np.kron(np.diff(by_cadence, axis=0), eye_b) / BEND_SD,
            np.kron(eye_a, np.diff(by_level, axis=0)) / LEVEL_BEND_SD,
            np.kron(by_cadence, np.diff(eye_b, axis=0)) / TWIST_SD,
        ]
        slope = np.kron(by_cadence, eye_b) / SLOPE_SD
        form = sum((row.T @ row for row in rows if row.size), start=np.zeros((self.size, self.size)))
        form = form + slope.T @ slope + 1e-6 * np.eye(self.size)
        return np.asarray(form, dtype=np.float64), np.asarray(slope.sum(axis=0) * USUAL_SLOPE / SLOPE_SD)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurfaceFit:
    """``nodes`` (p,) and ``others`` (q,) coefficients, the ``scatter`` of what is left, the ``loss`` (smaller is
    better), and the covariance (p + q, p + q) of all.
    """

    nodes: FloatArray
    others: FloatArray
    scatter: float
    loss: float
    covariance: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("nodes", "others", "covariance"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


def hats(nodes: FloatArray, at: FloatArray, *, beyond: bool) -> FloatArray:
    """Weights (n, k) of linear interpolation between ``nodes`` (k,); ``beyond``: straight on past the ends."""
    weights = np.zeros((at.size, nodes.size))
    if nodes.size == 1:
        weights[:, 0] = 1.0
        return weights
    left = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, nodes.size - 2)
    share = (at - nodes[left]) / (nodes[left + 1] - nodes[left])
    share = np.clip(share, -1.0, 2.0) if beyond else np.clip(share, 0.0, 1.0)
    rows = np.arange(at.size)
    weights[rows, left] = 1.0 - share
    weights[rows, left + 1] = share
    return weights


def fit_monotone(
    grid: Grid,
    columns: FloatArray,
    others: FloatArray,
    others_sd: FloatArray,
    response: FloatArray,
    weight: FloatArray,
    *,
    inflation: float,
    scatter: float | None = None,
) -> SurfaceFit:
    """Fit ``response`` (n,) by the grid's ``columns`` (n, p) and ``others`` (n, q), whose coefficients lie around zero.

    ``weight`` (n,) is up to 1 for a full observation. ``inflation``: neighbours err together, so that a node has to
    explain so many times what independent ones would ask. ``scatter``: taken as given for the loss (else as found).
    """
    whole = np.hstack([columns, others])
    form, linear = grid.penalty()
    size, extra = grid.size, others.shape[1]
    prior = np.zeros((size + extra, size + extra))
    prior[:size, :size] = form
    prior[size:, size:] = np.diag(others_sd**-2.0)
    pull = np.concatenate([linear, np.zeros(extra)])
    slopes = np.vstack(grid.differences())
    slopes = np.hstack([slopes, np.zeros((slopes.shape[0], extra))])
    falling = np.zeros(slopes.shape[0], dtype=bool)
    coefficients = np.zeros(size + extra)
    coefficients[:size] = float(np.median(response))
    left = response - whole @ coefficients
    found = 0.1
    for turn in range(ABSOLUTE_ROUNDS + ROUNDS):
        found = max(_middle(np.abs(left), weight) * NORMAL, LEAST_SCATTER)
        if turn < ABSOLUTE_ROUNDS:
            robust = 1.0 / np.maximum(np.abs(left) / found, 0.5)
        else:
            robust = np.maximum(1.0 - (left / (BIWEIGHT * found)) ** 2, 0.0) ** 2
        weighted = whole * (weight * robust)[:, None]
        held = inflation * found**2
        steep = slopes[falling].T @ slopes[falling] * (STEEP * held)
        normal = weighted.T @ whole + held * prior + steep
        before = coefficients
        coefficients = np.linalg.solve(normal, weighted.T @ response + held * pull)
        left = response - whole @ coefficients
        was, falling = (
            falling,
            slopes @ coefficients < -1e-9 if turn < ABSOLUTE_ROUNDS else falling | (slopes @ coefficients < -1e-6),
        )
        settled = bool(np.array_equal(was, falling)) and float(np.max(np.abs(coefficients - before))) < 0.02 * found
        if turn > ABSOLUTE_ROUNDS and settled:
            break
    scale = found if scatter is None else scatter
    limit = BIWEIGHT * scale
    bounded = limit**2 / 6.0 * (1.0 - np.maximum(1.0 - (left / limit) ** 2, 0.0) ** 3)
    loss = float((weight * bounded).sum()) / scale**2 / inflation
    loss += 0.5 * float(np.sum((coefficients[size:] / others_sd) ** 2)) + 0.5 * extra * np.log(response.size)
    return SurfaceFit(
        nodes=coefficients[:size],
        others=coefficients[size:],
        scatter=found,
        loss=loss,
        covariance=np.asarray(np.linalg.inv(normal) * held, dtype=np.float64),
    )


def _middle(values: FloatArray, weight: FloatArray) -> float:
    """Weighted median."""
    order = np.argsort(values)
    heaped = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(heaped, heaped[-1] / 2)])


def _slopes(nodes: FloatArray) -> FloatArray:
    """Differences of neighbouring node values over their distance, (k - 1, k)."""
    return np.asarray(np.diff(np.eye(nodes.size), axis=0) / np.diff(nodes)[:, None])
