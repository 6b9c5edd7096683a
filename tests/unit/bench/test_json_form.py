"""Figures come back from their text as they were, and nothing else is taken for figures."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from wattwitness.bench.json_form import from_text, to_text
from wattwitness.model.episodes import Episode, EpisodeKind, Finding, HeartAccounts, Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.rider import ThresholdTest, ZonesRidden
from wattwitness.model.study import RideFigures
from wattwitness.rider.zone_sets import SEVEN


def percent(value: float) -> Estimate:
    return Estimate(value=value, low=-math.inf, high=value + 0.1, unit="%")


def figures() -> RideFigures:
    beats = np.array([120.0, math.nan, 131.0])
    witness = Witness(
        kind=WitnessKind.HEART_RATE,
        recorded_by="pedals “A”",
        change=percent(3.0),
        expected_if_unit_right=Estimate.missing("too_short", "%"),
        expected_if_reference_right=percent(2.0),
        log_odds=math.inf,
        supports=Finding.UNIT,
        says="It rose.",
    )
    episode = Episode(
        kind=EpisodeKind.DROP,
        start_s=100.0,
        end_s=160.0,
        depth_pct=percent(-20.0),
        energy_kj=Estimate.missing("no_power", "kJ"),
        energy_share_pct=None,
        certainty=0.99,
        finding=Finding.UNIT,
        reason="The pedals say so.",
        witnesses=(witness,),
        before_ranks=((ChannelName.CADENCE, 0.1),),
        heart=HeartAccounts(
            time_s=np.arange(3.0), measured_bpm=beats, if_unit_right_bpm=beats, if_reference_right_bpm=beats
        ),
    )
    table = tuple(tuple(range(7)) for _ in range(7))
    return RideFigures(
        name="ride 1",
        unit="studio bike B",
        day="",
        hours=1 / 3,
        bias_pct=percent(-5.1),
        bias_se_pct=0.1 + 0.2,
        bias_degrees=math.inf,
        standardised_pct=Estimate.missing("one_effort", "%"),
        standardised_se_pct=math.nan,
        standardised_degrees=math.nan,
        gain_pct=-5.0,
        zero_nm=5e-324,
        relation_covariance=(1.0, -0.5, 2.0),
        mean_w=200.0,
        mean_rpm=math.nan,
        episodes=(episode,),
        zones_ridden=ZonesRidden(zones=SEVEN, threshold_w=250.0, threshold_from="stated", shown=table, perfect=table),
        threshold_test=ThresholdTest(share=0.95, reference_w=250.0, unit_w=None, zone_ends_w=(("1", 137.5, 130.0),)),
        block_bias_pct=(1.0, math.nan),
    )


def test_figures_come_back_to_the_last_digit() -> None:
    """Every kind of value there is: enums, estimates with and without numbers, arrays, NaN, infinities, tuples."""
    again = from_text(RideFigures, to_text(figures()), whole=True)
    assert to_text(again) == to_text(figures())
    assert again.bias_se_pct == 0.1 + 0.2
    assert again.zero_nm == 5e-324
    assert math.isnan(again.mean_rpm)
    assert again.bias_degrees == math.inf
    assert again.zones_ridden == figures().zones_ridden
    assert again.threshold_test == figures().threshold_test
    assert again.bias_pct == figures().bias_pct
    (episode,) = again.episodes
    assert episode.kind is EpisodeKind.DROP
    assert episode.before_ranks == ((ChannelName.CADENCE, 0.1),)
    assert episode.witnesses == figures().episodes[0].witnesses
    assert episode.heart is not None
    assert np.array_equal(episode.heart.measured_bpm, [120.0, math.nan, 131.0], equal_nan=True)
    json.loads(to_text(figures()), parse_constant=pytest.fail)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("name", 3),
        ("hours", "long"),
        ("hours", True),
        ("hours", None),
        ("bias_pct", {"value": 1}),
        ("bias_pct", None),
        ("episodes", {}),
        ("relation_covariance", [1.0, 2.0]),
        ("faults_looked_for", 1),
        ("one_more", 1),
    ],
)
def test_what_is_not_exactly_of_their_form_is_refused(key: str, value: object) -> None:
    changed = json.loads(to_text(figures())) | {key: value}
    with pytest.raises(ValueError, match=r".+"):
        from_text(RideFigures, json.dumps(changed), whole=True)


@pytest.mark.parametrize("text", ["", "[]", "null", "{}", '{"name":', "cos\nsystem\n(S'true'\ntR."])
def test_any_other_text_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".+"):
        from_text(RideFigures, text, whole=True)


def test_what_an_older_program_did_not_know_has_its_default() -> None:
    older = json.loads(to_text(ListedStudy(rides=(), unit="bike A", margin_pct=1.5)))
    del older["field_riders"], older["zones"]
    assert from_text(ListedStudy, json.dumps(older)) == ListedStudy(rides=(), unit="bike A", margin_pct=1.5)
    with pytest.raises(ValueError, match="ListedStudy"):
        from_text(ListedStudy, json.dumps(older), whole=True)
    with pytest.raises(ValueError, match="ListedStudy"):
        from_text(ListedStudy, json.dumps(older | {"one_more": 1}))
