"""Lines with errors in both coordinates: what least squares gets wrong, and how well the stated errors hold."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.stats.lines import errors_in_variables_line


def test_slope_is_not_flattened_by_noise_in_x() -> None:
    generator = np.random.default_rng(1)
    slopes, plain, held = [], [], []
    for _ in range(200):
        true_x = np.linspace(100, 300, 40)
        x = true_x + 30 * generator.standard_normal(40)
        y = 5 + 1.1 * true_x + 15 * generator.standard_normal(40)
        line = errors_in_variables_line(x, y, np.full(40, 30.0), np.full(40, 15.0))
        slopes.append(line.slope)
        held.append(abs(line.slope - 1.1) <= 1.96 * line.slope_se)
        plain.append(np.polyfit(x, y, 1)[0])
    assert np.mean(slopes) == pytest.approx(1.1, abs=0.03)
    assert np.mean(plain) < 0.95
    assert 0.88 <= np.mean(held) <= 0.99


def test_same_line_seen_from_the_other_side() -> None:
    generator = np.random.default_rng(2)
    x = np.linspace(0, 10, 30) + generator.standard_normal(30)
    y = 2 + 0.5 * x + generator.standard_normal(30)
    forward = errors_in_variables_line(x, y, np.full(30, 1.0), np.full(30, 0.7))
    backward = errors_in_variables_line(y, x, np.full(30, 0.7), np.full(30, 1.0))
    assert backward.slope == pytest.approx(1 / forward.slope, rel=1e-9)


def test_against_direct_minimisation() -> None:
    """The line minimises sum (y - a - b x)^2 / (y_se^2 + b^2 x_se^2)."""
    from scipy.optimize import minimize

    generator = np.random.default_rng(3)
    x = np.linspace(0, 10, 25)
    x_se, y_se = 0.2 + 0.3 * generator.random(25), 0.2 + 0.5 * generator.random(25)
    x, y = x + x_se * generator.standard_normal(25), 1 + 2 * x + y_se * generator.standard_normal(25)

    def misfit(line: np.ndarray) -> float:
        return float(np.sum((y - line[0] - line[1] * x) ** 2 / (y_se**2 + line[1] ** 2 * x_se**2)))

    best = minimize(misfit, [1.0, 2.0], tol=1e-12)
    line = errors_in_variables_line(x, y, x_se, y_se)
    assert (line.intercept, line.slope) == pytest.approx(tuple(best.x), rel=1e-5)
    assert line.chi_square == pytest.approx(best.fun, rel=1e-9)


def test_x_that_does_not_vary_is_refused() -> None:
    with pytest.raises(ValueError, match="varies"):
        errors_in_variables_line(np.ones(5), np.arange(5.0), np.ones(5), np.ones(5))
