"""Linear models with wandering errors, against generalised least squares written out."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.agreement_rides import wander
from wattwitness.model.arrays import FloatArray
from wattwitness.stats.wandering import (
    WHITE_SHARES,
    fit_wandering,
    functional_variance,
    innovations,
    wandering_products,
)
from wattwitness.stats.wandering_scan import either_scan, scan_wandering

BLOCK_S = 20.0


def blocks(seed: int = 3, size: int = 60) -> tuple[FloatArray, dict[str, FloatArray], FloatArray]:
    """Irregular times, a response, two columns and one more, and unequal noise."""
    generator = np.random.default_rng(seed)
    at_s = np.cumsum(BLOCK_S * generator.integers(1, 4, size)).astype(np.float64)
    columns = {
        "y": generator.standard_normal(size),
        "one": np.ones(size),
        "x": generator.standard_normal(size),
        "z": np.linspace(-1, 1, size) ** 3,
    }
    return at_s, columns, 0.5 + generator.random(size)


def covariance(at_s: FloatArray, noise: FloatArray, tau_s: float, white: float) -> FloatArray:
    slow = np.exp(-np.abs(at_s[:, None] - at_s) / tau_s)
    return np.asarray((1 - white) * slow + white * np.diag(noise / noise.mean()))


def shapes(at_s: FloatArray) -> list[tuple[float, float]]:
    span = at_s[-1] - at_s[0] + BLOCK_S
    taus = np.geomspace(BLOCK_S / 2, span / 2, 9)
    return [(tau, white) for tau in taus for white in WHITE_SHARES] + [(1.0, 1.0)]


def test_every_shape_is_generalised_least_squares() -> None:
    at_s, columns, noise = blocks()
    products = wandering_products(at_s, columns, noise, block_s=BLOCK_S)
    fit = fit_wandering(products, "y", ("one", "x"))
    design = np.column_stack([columns["one"], columns["x"]])
    for place, (tau_s, white) in enumerate(shapes(at_s)):
        whole = covariance(at_s, noise, tau_s, white)
        weight = np.linalg.inv(whole)
        inverse = np.linalg.inv(design.T @ weight @ design)
        coefficients = inverse @ design.T @ weight @ columns["y"]
        left = columns["y"] - design @ coefficients
        size = left @ weight @ left / (at_s.size - 2)
        np.testing.assert_allclose(fit.coefficients[place], coefficients, rtol=1e-6, atol=1e-9)
        np.testing.assert_allclose(fit.covariance[place], size * inverse, rtol=1e-6)
        assert products.log_determinant[place] == pytest.approx(np.linalg.slogdet(whole)[1], abs=1e-7)


def test_a_scan_is_the_fit_with_the_column_added() -> None:
    at_s, columns, noise = blocks()
    products = wandering_products(at_s, columns, noise, block_s=BLOCK_S)
    scan = scan_wandering(products, "y", ("one", "x"), ("z",), candidate_sd=1e6)
    fit = fit_wandering(products, "y", ("one", "x", "z"))
    np.testing.assert_allclose(scan.amplitude[:, 0], fit.coefficients[:, 2], rtol=1e-5, atol=1e-8)
    base = scan.base.coefficients - scan.taken[:, :, 0] * scan.amplitude[:, 0][:, None]
    np.testing.assert_allclose(base, fit.coefficients[:, :2], rtol=1e-5, atol=1e-8)


def test_a_strong_column_is_found_and_a_weak_one_pays_for_itself() -> None:
    at_s, columns, noise = blocks()
    columns["y"] = 0.1 * columns["y"]
    nothing = wandering_products(at_s, columns, noise, block_s=BLOCK_S)
    there = wandering_products(at_s, columns | {"y": columns["y"] + columns["z"]}, noise, block_s=BLOCK_S)
    for products, found in ((nothing, False), (there, True)):
        scan = scan_wandering(products, "y", ("one",), ("z",), candidate_sd=1.0)
        assert (scan.evidence > scan.without.evidence) is found


def test_a_prior_pulls_towards_nothing() -> None:
    at_s, columns, noise = blocks()
    products = wandering_products(at_s, columns, noise, block_s=BLOCK_S)
    free, held = (fit_wandering(products, "y", ("one", "x"), prior_sd=prior) for prior in (None, {"x": 1e-4}))
    assert np.all(np.abs(held.coefficients[:, 1]) < 0.01 * np.abs(free.coefficients[:, 1]) + 1e-3)


def test_noise_of_the_reference_is_taken_out() -> None:
    """A ratio over a noisy reference, on a column that is the reciprocal of it: the classic spurious slope."""
    generator = np.random.default_rng(8)
    plain, mended = [], []
    for _ in range(200):
        true = np.repeat([20.0, 22.0, 24.0, 26.0], 40)
        reference = true * (1 + 0.02 * generator.standard_normal(true.size))
        unit = true * (1 + 0.02 * generator.standard_normal(true.size))
        at_s = BLOCK_S * np.arange(float(true.size)).astype(np.float64)
        columns = {"y": unit / reference - 1, "one": np.ones(true.size), "x": 1 / reference}
        products = wandering_products(at_s, columns, np.ones(true.size), block_s=BLOCK_S)
        plain.append(fit_wandering(products, "y", ("one", "x")).interval_of("x", 0.95)[0])
        pull = {"x": -float(columns["x"].sum())}
        mended.append(fit_wandering(products, "y", ("one", "x"), reference_noise=pull).interval_of("x", 0.95)[0])
    error = np.std(plain) / np.sqrt(len(plain))
    assert np.mean(plain) > 5 * error
    assert abs(np.mean(mended)) < 3 * error + 0.1 * np.mean(plain)


def test_an_account_is_judged_by_what_it_says_and_not_by_what_it_leaves_open() -> None:
    at_s, columns, noise = blocks()
    columns["y"] = 0.01 * columns["y"] + 3 * columns["x"]
    fit = fit_wandering(wandering_products(at_s, columns, noise, block_s=BLOCK_S), "y", ("one", "x"))
    nothing = np.zeros((2, 2))
    assert fit.misfit(np.array([0.0, 3.0]), nothing, np.array([False, False])) > 0.01
    assert fit.misfit(np.array([0.0, 2.9]), nothing, np.array([False, False])) < 1e-6
    assert fit.misfit(np.array([0.0, 2.9]), nothing, np.array([False, True])) > 0.01
    assert fit.misfit(np.array([0.0, 2.9]), np.diag([0.0, 0.1]), np.array([False, False])) > 0.01
    assert fit.only(("x",)).misfit(np.array([3.0]), np.zeros((1, 1)), np.array([False])) > 0.01


def test_columns_that_coincide_are_known_together_only() -> None:
    at_s, columns, noise = blocks()
    columns |= {"y": 1 + 0.01 * columns["y"], "same": np.ones(at_s.size)}
    fit = fit_wandering(wandering_products(at_s, columns, noise, block_s=BLOCK_S), "y", ("one", "same"))
    value, low, high = fit.interval(np.array([1.0, 1.0]), 0.95)
    assert value == pytest.approx(1, abs=0.01)
    assert high - low < 0.1
    _, low, high = fit.interval_of("one", 0.95)
    assert high - low > 1


def test_variance_of_a_functional_is_that_of_the_sum() -> None:
    at_s, _, noise = blocks()
    weights = np.random.default_rng(1).standard_normal(at_s.size)
    for place, (tau_s, white) in enumerate(shapes(at_s)):
        only = np.zeros(len(shapes(at_s)))
        only[place] = 1.0
        found = functional_variance(
            at_s, weights, noise, block_s=BLOCK_S, probability=only, size=np.full(only.size, 4.0)
        )
        assert found == pytest.approx(4 * weights @ covariance(at_s, noise, tau_s, white) @ weights)


def test_what_stands_out_is_seen() -> None:
    at_s, columns, noise = blocks()
    columns["y"] = 0.1 * columns["y"]
    columns["y"][17] += 2.0
    off = innovations(at_s, columns, noise, block_s=BLOCK_S, response="y", prior_sd={})
    assert int(np.argmax(np.abs(off))) == 17
    assert np.abs(off[17]) > 5


def test_two_scans_as_one_lean_to_the_likelier() -> None:
    at_s, columns, noise = blocks()
    generator = np.random.default_rng(4)
    columns["y"] = columns["z"] + 2 * columns["x"] + 0.05 * generator.standard_normal(at_s.size)
    products = wandering_products(at_s, columns, noise, block_s=BLOCK_S)
    rich = scan_wandering(products, "y", ("one", "x"), ("z",), candidate_sd=2.0, prior_sd={"x": 5.0})
    poor = scan_wandering(products, "y", ("one",), ("z",), candidate_sd=2.0)
    both = either_scan(rich, poor)
    assert both.amplitude_interval(1.0, 0.95) == pytest.approx(rich.amplitude_interval(1.0, 0.95), rel=1e-3)


def test_a_slow_wander_widens_the_interval_of_a_mean() -> None:
    """The mean of blocks that wander over ten of them is known worse than that of as many independent ones."""
    generator = np.random.default_rng(5)
    at_s = BLOCK_S * np.arange(180.0).astype(np.float64)
    widths = []
    for series in (generator.standard_normal(180), wander(generator, 180, 10.0)):
        columns = {"y": series, "one": np.ones(180)}
        fit = fit_wandering(wandering_products(at_s, columns, np.ones(180), block_s=BLOCK_S), "y", ("one",))
        _, low, high = fit.interval_of("one", 0.95)
        widths.append(high - low)
    assert widths[0] == pytest.approx(2 * 1.96 / np.sqrt(180), rel=0.35)
    assert widths[1] > 2.5 * widths[0]
