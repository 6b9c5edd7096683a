"""A planned ride as a FIT workout, read back by an independent decoder."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import fitdecode
import pytest

from wattwitness.model.errors import OutputExists
from wattwitness.model.plan import StepKind
from wattwitness.plan.orders import StepGrid, planned_orders
from wattwitness.writers.workout import write_workout

RIDE = planned_orders(StepGrid(threshold_w=240), seed=1)[0]


def messages(path: Path) -> list[tuple[str, dict[str, Any]]]:
    with fitdecode.FitReader(str(path), check_crc=fitdecode.CrcCheck.RAISE) as reader:
        return [
            (frame.name, {field.name: field.value for field in frame.fields})
            for frame in reader
            if isinstance(frame, fitdecode.FitDataMessage)
        ]


def test_every_step_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    write_workout(RIDE, path, title="Compare power, order A", made_utc_s=1_760_000_000.4)
    found = messages(path)
    assert [name for name, _ in found] == ["file_id", "workout", *["workout_step"] * len(RIDE.steps)]
    assert found[0][1]["type"] == "workout"
    assert found[0][1]["time_created"].timestamp() == 1_760_000_000
    assert "serial_number" not in found[0][1]
    assert found[1][1]["num_valid_steps"] == len(RIDE.steps)
    assert found[1][1]["sport"] == "cycling"
    kinds = {StepKind.WARM_UP: "warmup", StepKind.MEASURE: "active", StepKind.COOL_DOWN: "cooldown"}
    for place, (step, (_, read)) in enumerate(zip(RIDE.steps, found[2:], strict=True)):
        assert read["message_index"] == place
        assert read["duration_type"] == "time"
        assert read["duration_time"] == step.seconds
        assert read["target_type"] == "power"
        assert read["custom_target_power_low"] < 1000 + step.power_w < read["custom_target_power_high"]
        assert read["secondary_target_type"] == "cadence"
        assert read["secondary_custom_target_cadence_low"] == step.cadence_rpm - 3
        assert read["secondary_custom_target_cadence_high"] == step.cadence_rpm + 3
        assert read["intensity"] == kinds[step.kind]


def test_targets_of_steps_next_to_each_other_do_not_overlap(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    write_workout(RIDE, path, title="x", made_utc_s=1.76e9)
    reach = {(read["custom_target_power_low"], read["custom_target_power_high"]) for name, read in messages(path)[3:-1]}
    ordered = sorted(reach)
    assert all(one[1] < other[0] for one, other in pairwise(ordered))


def test_another_file_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "ride.fit"
    path.write_bytes(b"mine")
    with pytest.raises(OutputExists):
        write_workout(RIDE, path, title="x", made_utc_s=1.76e9)
    assert path.read_bytes() == b"mine"
    write_workout(RIDE, path, title="x", made_utc_s=1.76e9, overwrite=True)
    assert messages(path)
