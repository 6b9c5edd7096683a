"""Whatever two meters wrote, why they differ is answered: with estimates that hold their value, or a reason."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.agreement.rides import LEVEL
from tests.unit.agreement.test_anything import recording
from wattwitness.agreement.overall import overall_bias
from wattwitness.agreement.stories.registry import STORIES
from wattwitness.agreement.why import RideForWhy, why_they_differ
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import Response, ResponseFit, ResponseKind

NONE = Estimate.missing("not_of_this_kind", "s")
PROMPT = Response(kind=ResponseKind.PROMPT, width_s=NONE, tau_s=NONE, delay_s=NONE)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 2**32 - 1),
    seconds=st.sampled_from([0, 1, 61, 400, 700, 2500]),
    same=st.booleans(),
    cadence=st.sampled_from(["real", "any", "none", "held"]),
)
def test_every_part_answers(seed: int, seconds: int, same: bool, cadence: str) -> None:
    """Estimates refuse a NaN and an interval beside their value, so that making them all is the test."""
    generator = np.random.default_rng(seed)
    expected_w = recording(generator, seconds)
    unit_w = 1.1 * expected_w if same else recording(generator, seconds)
    cadence_rpm = {
        "real": 85 + 5 * generator.standard_normal(seconds),
        "any": recording(generator, seconds) / 3,
        "none": np.full(seconds, np.nan),
        "held": np.full(seconds, 80.0),
    }[cadence]
    overall = overall_bias(expected_w, unit_w, level=LEVEL, reference_uncertainty_pct=None, seed=seed)
    why = why_they_differ(
        RideForWhy(
            time_s=np.arange(float(seconds)),
            reference_w=expected_w,
            expected_w=expected_w,
            unit_w=unit_w,
            cadence_rpm=cadence_rpm,
            response=ResponseFit(reference=PROMPT, unit=PROMPT),
            reference_uncertainty_pct=generator.choice([0.0, 3.2, np.nan]),
            overall_pct=overall.bias_pct,
            left_share_pct=50 + recording(generator, seconds) / 100,
            left_share_of=MeterSide.REFERENCE,
            temperature_c=recording(generator, seconds),
            recorded_unit_w=unit_w,
        ),
        level=LEVEL,
    )
    assert all(np.isfinite(why.settling.at_s))
    if not why.stories:
        assert why.settling.model is None
        return
    assert {story.name for story in why.stories} <= set(STORIES.names())
    for story in why.stories:
        assert story.misfit is None or 0 <= story.misfit <= 1, story
        assert "nan" not in story.why
