"""The heart's account: right, silent where it must be, and robust to what straps do."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.witnesses.rides import (
    FROM_S,
    SECONDS,
    TO_S,
    candidate_of,
    effort,
    faulty,
    heart_of,
    noisy,
    outside_of,
    ride_of,
)
from wattwitness.faults.witnesses.ground import ground_of, stretch_of
from wattwitness.faults.witnesses.heard import Heard
from wattwitness.faults.witnesses.heart_fit import fit_heart
from wattwitness.faults.witnesses.heart_rate import MOST_LOG_ODDS, listener
from wattwitness.faults.witnesses.heart_response import everywhere as net
from wattwitness.faults.witnesses.heart_response import followed, near
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import EpisodeKind, Finding
from wattwitness.model.recording import ChannelName


def heard(heart: FloatArray, *, to_s: int = TO_S, share: float = 0.7, by_reference: bool = False) -> Heard | None:
    true = effort()
    good, bad = noisy(true, 5), noisy(faulty(true, share, to_s=to_s), 6)
    powers = (bad, good) if by_reference else (good, bad)
    ride = ride_of(*powers, unit={ChannelName.HEART_RATE: heart})
    candidate = candidate_of(end_s=to_s)
    ground = ground_of(ride, outside_of(candidate))
    return listener(ground)(stretch_of(ground, candidate))


def test_heart_rate_tells_which_meter_showed_the_effort() -> None:
    for by_reference, side in ((False, Finding.UNIT), (True, Finding.REFERENCE)):
        found = heard(heart_of(effort()), by_reference=by_reference)
        assert found is not None
        assert found.witness.supports is side
        assert abs(found.witness.log_odds) <= MOST_LOG_ODDS
        assert found.accounts is not None
        assert found.accounts.time_s[0] == FROM_S - 60
        assert found.accounts.time_s[-1] == TO_S + 239


def test_the_accounts_part_by_what_the_lost_power_would_have_done() -> None:
    """30 % of 150 W for 150 s at 0.35 bpm/W and a time constant of 55 s: 0.3·150·0.35·(1 - exp(-150/55)) = 14.7 bpm."""
    found = heard(heart_of(effort()))
    assert found is not None
    assert found.accounts is not None
    apart = np.nanmax(found.accounts.if_reference_right_bpm - found.accounts.if_unit_right_bpm)
    assert apart == pytest.approx(14.7, abs=3.0)


@pytest.mark.parametrize(("to_s", "share"), [(FROM_S + 8, 0.7), (FROM_S + 20, 0.9), (TO_S, 0.985)])
def test_too_short_or_too_small_is_said_and_counts_for_nothing(to_s: int, share: float) -> None:
    found = heard(heart_of(effort()), to_s=to_s, share=share)
    assert found is not None
    assert found.witness.log_odds == 0.0
    assert found.witness.supports is Finding.UNDETERMINED
    assert "too small to tell" in found.witness.says


def test_no_heart_rate_is_no_witness() -> None:
    assert heard(np.full(SECONDS, np.nan)) is None


def test_a_heart_that_is_missing_frozen_or_too_little_says_nothing() -> None:
    missing, little, frozen = heart_of(effort()), heart_of(effort()), np.full(SECONDS, 133.0)
    missing[FROM_S : TO_S + 300] = np.nan
    little[300:] = np.nan
    for heart in (missing, little, frozen):
        found = heard(heart)
        assert found is not None
        assert found.witness.log_odds == 0.0
        assert not found.witness.change.assessed


def test_a_strap_that_loses_contact_now_and_then_does_not_turn_the_verdict() -> None:
    generator = np.random.default_rng(4)
    heart = heart_of(effort())
    for at in generator.integers(0, SECONDS, 25):
        heart[at : at + 6] = generator.choice([0.0, np.nan, 240.0])
    found = heard(heart)
    assert found is not None
    assert found.witness.supports is Finding.UNIT


def test_a_ride_of_spiky_missing_power_still_drives_a_heart() -> None:
    true = effort()
    reference = noisy(true, 5)
    reference[::7] = np.nan
    ride = ride_of(reference, noisy(faulty(true), 6), unit={ChannelName.HEART_RATE: heart_of(true)})
    candidate = candidate_of(EpisodeKind.DROP)
    ground = ground_of(ride, outside_of(candidate))
    found = listener(ground)(stretch_of(ground, candidate))
    assert found is not None
    assert found.witness.supports is Finding.UNIT


def test_the_response_is_that_of_a_first_order_lag() -> None:
    """A step of 100 W: up by 1 - exp(-t/tau_up) after the delay, down by exp(-t/tau_down) after delay and hold."""
    power = np.concatenate([np.full(300, 100.0), np.full(600, 200.0), np.full(600, 100.0)])
    responses = near(net(), 40)
    state = followed(power, responses, 0, None)
    ticks = (np.arange(state.shape[0]) + 1) * 5.0
    for place in range(responses.delay_s.size):
        up = ticks - 300 - responses.delay_s[place]
        rising = (up > 10) & (ticks <= 900)
        expected = 200 - 100 * np.exp(-up[rising] / responses.tau_up_s[place])
        assert np.max(np.abs(state[rising, place] - expected)) < 9.0
        down = ticks - 900 - responses.delay_s[place] - responses.hold_s[place]
        falling = down > 10
        expected = 100 + 100 * np.exp(-down[falling] / responses.tau_down_s[place])
        assert np.max(np.abs(state[falling, place] - expected)) < 13.0


def test_the_fitted_heart_is_the_one_that_was_made() -> None:
    power = effort(7)
    fit = fit_heart(heart_of(power), power, np.ones(SECONDS, dtype=bool), 0)
    assert fit is not None
    gain = float(fit.weight @ fit.coefficients[:, 1])
    tau = float(fit.weight @ fit.responses.tau_up_s)
    assert gain == pytest.approx(0.35, abs=0.04)
    assert tau == pytest.approx(55.0, rel=0.35)


def test_hours_of_riding_are_fitted_in_pieces() -> None:
    true = effort(3, 4 * 3600)
    candidate = candidate_of(start_s=13_000.0, end_s=13_200.0)
    ride = ride_of(
        noisy(true, 5),
        noisy(faulty(true, from_s=13_000, to_s=13_200), 6),
        unit={ChannelName.HEART_RATE: heart_of(true)},
    )
    ground = ground_of(ride, outside_of(candidate, true.size))
    found = listener(ground)(stretch_of(ground, candidate))
    assert found is not None
    assert found.witness.supports is Finding.UNIT
    assert found.accounts is not None
    assert found.accounts.time_s[0] == 12_940
