"""The resistance as a bike logged it: held or changed. What it means for power the surface says."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.witnesses.changes import change_in, why_silent
from wattwitness.faults.witnesses.ground import Ground, Stretch
from wattwitness.faults.witnesses.heard import Heard, Listener
from wattwitness.faults.witnesses.words import signed
from wattwitness.model.episodes import Finding, Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName

NAME = "resistance"


def listener(ground: Ground) -> Listener:
    """One for the first recording that logged a resistance, the unit's before the reference's."""
    logged = list(ground.ride.channels(ChannelName.RESISTANCE))[::-1]

    def hear(stretch: Stretch) -> Heard | None:
        if not logged:
            return None
        _, recorded_by, level = logged[0]
        change = change_in(level, ground, stretch, unit="")
        nothing = Estimate.missing("foretells_nothing_alone", "")
        return Heard(
            witness=Witness(
                kind=WitnessKind.RESISTANCE,
                recorded_by=recorded_by,
                change=change,
                expected_if_unit_right=nothing,
                expected_if_reference_right=nothing,
                log_odds=0.0,
                supports=Finding.UNDETERMINED,
                says=_says(recorded_by, level[stretch.first : stretch.stop], change),
            )
        )

    return hear


def _says(recorded_by: str, within: np.ndarray[tuple[int], np.dtype[np.float64]], change: Estimate) -> str:
    silent = why_silent(change, recorded_by, "logged", "resistance")
    if silent:
        return silent
    if change.value is None or change.low is None or change.high is None:
        return f"{recorded_by} logged no resistance in or beside this stretch."
    if change.low == change.high == 0.0 or (abs(change.value) < 1e-9 and np.nanmax(within) == np.nanmin(within)):
        return f"The resistance that {recorded_by} logged was held at {np.nanmean(within):.0f}."
    held = " and may as well have been held" if change.low <= 0.0 <= change.high else ""
    return f"The resistance that {recorded_by} logged changed by {signed(change, 1)}{held}."
