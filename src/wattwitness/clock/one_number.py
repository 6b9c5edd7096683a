"""A power that is one number from the first sample to the last: no effort is in it, and it was hardly measured."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording

LEAST_SAMPLES = 60
"""Fewer samples may well be alike."""


def one_number(power_w: FloatArray) -> float | None:
    """The one value of all samples (n,), NaN where missing; ``None`` where they differ or are too few to tell."""
    held = power_w[np.isfinite(power_w)]
    return float(held[0]) if held.size >= LEAST_SAMPLES and bool(np.all(held == held[0])) else None


def one_power_w(recording: Recording) -> float | None:
    """The one number that a recording shows as power, W; ``None`` where it shows several, or noted readings only."""
    if recording.spot or not recording.has(ChannelName.POWER):
        return None
    return one_number(recording.channels[ChannelName.POWER])


def shows_only(who: str, power_w: float) -> str:
    """``the unit shows 0 W in every sample``."""
    return f"{who} shows {power_w:.0f} W in every sample"


def likeliest_cause(power_w: float) -> str:
    """Why a recording holds one number as power, as a sentence; nothing in the recording can tell for certain."""
    if power_w == 0:
        return "Most likely its power was never recorded, or its sensor was not paired with the recorder."
    return "Most likely that is a target, or the recorder went on writing one number without measuring."


def one_number_words(reference: Recording, unit: Recording) -> str:
    """What the meters show whose power is one number throughout, and why, most likely; empty where both move."""
    shown = [(whose, one_power_w(side)) for whose, side in (("The reference", reference), ("The unit", unit))]
    return " ".join(
        f"{shows_only(whose, power_w)}. {likeliest_cause(power_w)}" for whose, power_w in shown if power_w is not None
    )


def next_step(power_w: float) -> str:
    """What to look at before anything is concluded."""
    again = "and record a minute before the whole ride is ridden again"
    if power_w == 0:
        return (
            f"Look whether a display of that meter shows power while someone pedals. If it does, pair it anew {again}. "
            "If it shows 0 W too, film it: then it is the meter that shows nothing."
        )
    return (
        f"Look whether a display of that meter follows the effort. If it does, look what the recorder writes {again}."
    )
