"""Write a corrected copy of a recording; the original is only read."""

from __future__ import annotations

import math
from dataclasses import replace as with_changes
from pathlib import Path

import numpy as np

from wattwitness import __version__
from wattwitness.model.corrected_copy import AppliedCorrection, CopyReport, is_corrected
from wattwitness.model.errors import CorrectionInvalid, OutputExists
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.study.corrected import corrected_power, corrected_torque

GAINS = (0.2, 5.0)
MOST_ZERO_NM = 50.0
BY_HAND = "gain and zero given by hand"


def correction_by_hand(gain: float, zero_nm: float) -> AppliedCorrection:
    """A correction in numbers. Raises CorrectionInvalid where they cannot be."""
    return checked(AppliedCorrection(gain=gain, zero_nm=zero_nm, origin=BY_HAND))


def correction_of_study(path: Path) -> AppliedCorrection:
    """The correction that a study found. Raises CorrectionInvalid, FileMissing and what else reading raises."""
    from wattwitness.readers.study_correction import load_correction

    return checked(load_correction(path))


def checked(applied: AppliedCorrection) -> AppliedCorrection:
    """The correction itself. Raises CorrectionInvalid where it is none, or beyond anything a meter does."""
    if not (GAINS[0] <= applied.gain <= GAINS[1] and abs(applied.zero_nm) <= MOST_ZERO_NM):
        raise CorrectionInvalid(
            f"A gain of {applied.gain:.6g} with a zero of {applied.zero_nm:.6g} N·m is no correction of a meter.",
            hint=f"The gain (1: right) goes from {GAINS[0]} to {GAINS[1]:.0f}, the zero to {MOST_ZERO_NM:.0f} N·m.",
        )
    if applied.gain == 1 and applied.zero_nm == 0:
        raise CorrectionInvalid(
            "A gain of 1 and a zero of 0 change nothing.", hint="Give --gain, --zero-nm or both, or a study."
        )
    return applied


def write_corrected_copy(
    argument: str,
    out: Path,
    applied: AppliedCorrection,
    *,
    mapping: Path | None = None,
    study: Path | None = None,
    replace: bool = False,
) -> CopyReport:
    """Correct the recording that ``argument`` means (``FILE`` or ``FILE#2``) and write it to ``out``.

    Raises OutputExists where that is the original, the mapping or the ``study``, CorrectionInvalid where it cannot be
    corrected or was already.
    """
    from wattwitness.readers.open import read_one, split_part
    from wattwitness.writers.corrected_copy import write_corrected

    original, _ = split_part(argument)
    if _same_file(original, out):
        raise OutputExists(
            "The copy would overwrite the original, which is never touched.",
            where=str(out),
            hint="Give the copy another name.",
        )
    if any(path is not None and _same_file(path, out) for path in (mapping, study)):
        raise OutputExists(
            "The copy would overwrite the mapping or the study it is made by.",
            where=str(out),
            hint="Give the copy another name.",
        )
    recording = read_one(argument, mapping=mapping)
    corrected, report = corrected_recording(recording, applied)
    write_corrected(corrected, out, applied, version=__version__, overwrite=replace)
    return report


def corrected_recording(recording: Recording, applied: AppliedCorrection) -> tuple[Recording, CopyReport]:
    """The recording with its power and torque corrected. Raises CorrectionInvalid."""
    name = recording.source.file_name
    if is_corrected(recording):
        raise CorrectionInvalid(
            "This is a corrected copy already.",
            where=name,
            hint="Correct the original; its SHA-256 stands in the copy.",
        )
    if not recording.has(ChannelName.POWER):
        raise CorrectionInvalid("The recording holds no power.", where=name, hint="Name the unit's own recording.")
    shown = recording.channels[ChannelName.POWER]
    cadence = recording.channels.get(ChannelName.CADENCE)
    try:
        found = corrected_power(shown, cadence, gain=applied.gain, zero_nm=applied.zero_nm)
    except ValueError as error:
        raise CorrectionInvalid(
            "A zero cannot be taken out without cadence, and the recording holds none.",
            where=name,
            hint="Correct it by a gain alone, with --gain, if the study's correction allows that.",
        ) from error
    channels = {**recording.channels, ChannelName.POWER: found.power_w}
    if ChannelName.TORQUE in channels:
        torque = recording.channels[ChannelName.TORQUE]
        channels[ChannelName.TORQUE] = corrected_torque(torque, gain=applied.gain, zero_nm=applied.zero_nm)
    both = np.isfinite(shown) & np.isfinite(found.power_w)
    report = CopyReport(
        samples=int(np.isfinite(shown).sum()),
        lost=found.lost,
        cut=found.cut,
        mean_before_w=_mean(shown[both]),
        mean_after_w=_mean(found.power_w[both]),
        original_sha256=recording.source.sha256,
        applied=applied,
    )
    # The name goes into what other programs show of the file.
    product = f"{recording.meter.product} (corrected)".strip()
    return with_changes(
        recording, channels=channels, meter=with_changes(recording.meter, product=product, serial="")
    ), report


def _mean(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    return float(values.mean()) if values.size else math.nan


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return False
