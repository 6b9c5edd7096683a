"""What the parts of an answer, the channels and the responses are called in sentences."""

from __future__ import annotations

import math

from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.response import Response, ResponseKind
from wattwitness.words.estimates import holds_zero
from wattwitness.words.numbers import NBSP, number

PARTS = {
    "bias_pct": "the bias",
    "bias_with_reference_pct": "the bias with the reference’s uncertainty",
    "response": "the response of the display",
    "halves": "the halves",
    "blocks": "the blocks along the ride",
    "power_bands": "the power bands",
    "cadence_bands": "the cadence bands",
    "efforts": "steady against surging effort",
    "trend": "the trends with power, cadence and time",
    "limits_of_agreement": "the limits of agreement",
    "best_means": "the best mean powers",
    "work": "the total work",
    "anatomy": "the error’s zero and gain",
    "stories": "what may be behind the difference",
    "settling": "the course of the bias along the ride",
    "episodes": "whether the unit ever leaves the effort",
    "clock": "the clock",
}

CHANNELS = {
    ChannelName.POWER: ("power", "W"),
    ChannelName.CADENCE: ("cadence", "rpm"),
    ChannelName.HEART_RATE: ("heart rate", "bpm"),
    ChannelName.TORQUE: ("torque", "N·m"),
    ChannelName.RESISTANCE: ("resistance", "the bike’s own scale"),
    ChannelName.SPEED: ("speed", "m/s"),
    ChannelName.TEMPERATURE: ("temperature", "°C"),
    ChannelName.LEFT_SHARE: ("left share", "%"),
}


def part_words(what: str) -> str:
    """A part of the answer by its key; an unknown one is spelt out."""
    return PARTS.get(what, what.replace("_", " "))


def channel_words(name: ChannelName) -> str:
    """A channel without its unit."""
    return CHANNELS[name][0]


def article(number_text: str) -> str:
    """``a`` or ``an``, as the number is spoken: an 8, an 11, an 18, an 80."""
    whole = number_text.split(".", maxsplit=1)[0]
    return "an" if whole in ("11", "18") or whole.startswith("8") else "a"


def response_words(response: Response) -> str:
    """What a display does, as the rest of a sentence: ``shows about an 8 s mean, 1.2 s late``."""
    if response.kind is ResponseKind.NOT_ASSESSED:
        return "was not assessed"
    delay = _delay_words(response.delay_s)
    if response.kind is ResponseKind.PROMPT:
        return f"follows the effort without averaging, {delay}" if delay else "follows the effort at once"
    mean = response.kind is ResponseKind.MEAN
    size = number((response.width_s if mean else response.tau_s).value, 0 if mean else 1)
    kind = f"{size}{NBSP}s mean" if mean else f"mean that fades with {article(size)} {size}{NBSP}s time constant"
    lead = article(size) if mean else "a"
    return f"shows about {lead} {kind}{', ' + delay if delay else ''}"


def _delay_words(delay: Estimate) -> str:
    """``1.2 s late``; nothing where no delay was shown; a one-sided delay is said as such."""
    if delay.value is None or delay.low is None or delay.high is None:
        return "its delay unknown"
    if math.isinf(delay.low) or math.isinf(delay.high):
        return "its delay bounded from one side only"
    if holds_zero(delay):
        return ""
    return f"{number(abs(delay.value), 1)}{NBSP}s {'late' if delay.value > 0 else 'early'}"
