"""What responses, channels and parts are called."""

from __future__ import annotations

import math

import pytest

from tests.factories import plain
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.response import Response, ResponseKind
from wattwitness.words.parts import CHANNELS, article, part_words, response_words

NONE = Estimate.missing("not_of_this_kind", "s")


def seconds(value: float, half: float) -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, unit="s")


@pytest.mark.parametrize(
    ("response", "said"),
    [
        (
            Response(kind=ResponseKind.MEAN, width_s=seconds(5, 1), tau_s=NONE, delay_s=seconds(2, 0.3)),
            "shows about a 5 s mean, 2.0 s late",
        ),
        (
            Response(kind=ResponseKind.MEAN, width_s=seconds(8, 1), tau_s=NONE, delay_s=seconds(0.1, 0.3)),
            "shows about an 8 s mean",
        ),
        (
            Response(kind=ResponseKind.EXPONENTIAL, width_s=NONE, tau_s=seconds(4, 1), delay_s=seconds(-1, 0.3)),
            "shows about a mean that fades with a 4.0 s time constant, 1.0 s early",
        ),
        (
            Response(kind=ResponseKind.PROMPT, width_s=NONE, tau_s=NONE, delay_s=seconds(0, 0.1)),
            "follows the effort at once",
        ),
        (
            Response(kind=ResponseKind.PROMPT, width_s=NONE, tau_s=NONE, delay_s=seconds(3, 0.1)),
            "follows the effort without averaging, 3.0 s late",
        ),
        (
            Response(
                kind=ResponseKind.MEAN,
                width_s=seconds(3, 0),
                tau_s=NONE,
                delay_s=Estimate(value=0, low=-math.inf, high=1, unit="s"),
            ),
            "shows about a 3 s mean, its delay bounded from one side only",
        ),
        (
            Response(kind=ResponseKind.MEAN, width_s=seconds(3, 0), tau_s=NONE, delay_s=Estimate.missing("x", "s")),
            "shows about a 3 s mean, its delay unknown",
        ),
        (Response(kind=ResponseKind.NOT_ASSESSED, width_s=NONE, tau_s=NONE, delay_s=NONE), "was not assessed"),
    ],
)
def test_what_a_display_does(response: Response, said: str) -> None:
    assert plain(response_words(response)) == said


@pytest.mark.parametrize(
    ("text", "said"), [("8", "an"), ("11", "an"), ("18.5", "an"), ("80", "an"), ("1", "a"), ("10", "a")]
)
def test_articles(text: str, said: str) -> None:
    assert article(text) == said


def test_every_channel_has_words_and_unknown_parts_are_spelt_out() -> None:
    assert set(CHANNELS) == set(ChannelName)
    assert part_words("power_bands") == "the power bands"
    assert part_words("new_part") == "new part"
