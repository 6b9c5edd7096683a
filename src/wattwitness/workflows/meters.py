"""The meters of a comparison as their owners describe them: files read, findings on their setup, a crank length put
right on record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.model.errors import SettingInvalid
from wattwitness.model.recording import ChannelName, Notice, Recording, Severity
from wattwitness.model.setup import MeterFile
from wattwitness.reference.setup_checks import crank_factor, same_bike_findings, setup_findings
from wattwitness.workflows.summary import display_label

SCALED = (ChannelName.POWER, ChannelName.TORQUE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meters:
    """What is described of the reference and of each unit, in the order of the files; ``None`` where nothing is."""

    reference: MeterFile | None = None
    units: tuple[MeterFile | None, ...] = ()

    def unit(self, place: int) -> MeterFile | None:
        """The description of the unit at ``place``, from 0."""
        return self.units[place] if place < len(self.units) else None


def read_meters(reference: Path | None, units: Sequence[Path | None], *, compared: int) -> Meters:
    """Read the descriptions of a comparison with ``compared`` units.

    Raises MeterFileInvalid, SettingInvalid for more descriptions than units.
    """
    if len(units) > compared:
        raise SettingInvalid(
            f"{len(units)} descriptions of units were given for {compared} unit(s).",
            where="--unit-meter",
            hint="Give at most one for each unit, in the order of the files; “none” skips one.",
        )
    if reference is None and not any(units):
        return Meters()
    from wattwitness.readers.meter_file import load_meter_file

    return Meters(
        reference=None if reference is None else load_meter_file(reference),
        units=tuple(None if path is None else load_meter_file(path) for path in units),
    )


def with_meter(recording: Recording, meter: MeterFile | None) -> Recording:
    """The recording as its description asks: its crank length put right, with a notice; named where it has no name.

    What is on the disk stays as it is.
    """
    if meter is None:
        return recording
    if meter.name and not recording.label:
        recording = replace(recording, label=meter.name)
    factor = crank_factor(meter)
    if factor is None:
        return recording
    setup = meter.setup
    touched = int(recording.time_s.size)
    notice = Notice(
        slug="crank_length_put_right",
        message=(
            f"Power and torque were multiplied by {factor:.5f} ({setup.crank_true_mm:g} mm true over "
            f"{setup.crank_set_mm:g} mm set), as its description asks; the file is unchanged."
        ),
        severity=Severity.NOTE,
        samples=touched,
        about=recording.source.file_name,
    )
    channels = {name: values * factor if name in SCALED else values for name, values in recording.channels.items()}
    return replace(recording, channels=channels, notices=(*recording.notices, notice))


def findings_of_pair(
    reference: Recording, unit: Recording, reference_meter: MeterFile | None, unit_meter: MeterFile | None
) -> tuple[Notice, ...]:
    """Findings on the setup of both; none for a meter that is not described."""
    found: list[Notice] = []
    if reference_meter is not None:
        found += setup_findings(reference_meter, display_label(reference), is_reference=True)
    if unit_meter is not None:
        found += setup_findings(unit_meter, display_label(unit), is_reference=False)
    if reference_meter is not None and unit_meter is not None:
        found += same_bike_findings(reference_meter, unit_meter)
    return tuple(found)
