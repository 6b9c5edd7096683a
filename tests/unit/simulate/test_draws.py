"""The draws: the same on every machine, independent of each other, and as spread as they say."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.simulate.draws import Draws, derived_seed


def test_a_stream_repeats_and_is_its_own() -> None:
    again = Draws(7, "noise").normal(500)
    assert np.array_equal(Draws(7, "noise").normal(500), again)
    for other in (Draws(8, "noise"), Draws(7, "wander")):
        assert abs(float(np.corrcoef(other.normal(500), again)[0, 1])) < 0.15


def test_the_first_draws_are_those_of_the_day_they_were_written() -> None:
    # Regression values of our own, so that a change of numpy or of the stream is seen.
    assert Draws(1, "golden").uniform(2).tolist() == [0.08897255847972918, 0.8935849912564338]
    assert Draws(1, "golden").normal(2).tolist() == [1.624075136763031, 0.08738748162678842]
    assert derived_seed(1, "ride") == 735881413


def test_uniform_fills_the_unit_interval() -> None:
    drawn = Draws(3, "u").uniform(20_000)
    assert drawn.min() >= 0.0
    assert drawn.max() < 1.0
    assert drawn.mean() == pytest.approx(0.5, abs=0.01)
    assert drawn.var() == pytest.approx(1 / 12, rel=0.03)


def test_normal_has_the_moments_of_sixteen_summed_lanes() -> None:
    # Irwin-Hall: excess kurtosis -1.2/n for a sum of n uniforms (textbook result, recomputed here).
    drawn = Draws(3, "n").normal(100_000)
    assert drawn.mean() == pytest.approx(0.0, abs=0.02)
    assert drawn.std() == pytest.approx(1.0, abs=0.01)
    assert ((drawn - drawn.mean()) ** 4).mean() / drawn.var() ** 2 - 3.0 == pytest.approx(-0.075, abs=0.05)
    assert np.mean(np.abs(drawn) > 1.959964) == pytest.approx(0.05, abs=0.003)


def test_whole_numbers_reach_both_ends() -> None:
    drawn = Draws(3, "w").whole(1, 5, 2000)
    assert set(drawn.tolist()) == {1, 2, 3, 4, 5}
