"""Every setting of a comparison, with its default, unit and meaning. The documentation's table is made from here."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Any

from wattwitness.model.errors import SettingInvalid
from wattwitness.model.left_out import LeftOutStretch


def setting(default: Any, *, unit: str, meaning: str, low: float | None = None, high: float | None = None) -> Any:
    """A dataclass field that documents itself."""
    return field(default=default, metadata={"unit": unit, "meaning": meaning, "low": low, "high": high})


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareSettings:
    """Settings of one comparison. Raises SettingInvalid where a number is outside its documented range."""

    level: float = setting(
        0.95, unit="1", low=0.5, high=0.999, meaning="How often an interval must hold the true value."
    )
    power_band_w: float = setting(50.0, unit="W", low=5, high=500, meaning="Width of the power bands.")
    cadence_band_rpm: float = setting(10.0, unit="rpm", low=1, high=50, meaning="Width of the cadence bands.")
    block_min: float = setting(10.0, unit="min", low=1, high=120, meaning="Length of the blocks along the ride.")
    offsets_s: tuple[float | None, ...] = setting(
        (),
        unit="s",
        meaning=(
            "Clock offsets given by hand, one for each unit in the order of the files: the seconds to add to the "
            "unit's time stamps. Where none is given it is estimated."
        ),
    )
    stretches_out: tuple[LeftOutStretch, ...] = setting(
        (),
        unit="s",
        meaning=(
            "Stretches of the ride that are not compared, in seconds after the reference's first sample, each with the "
            "tester's reason."
        ),
    )
    reference_uncertainty_pct: float | None = setting(
        None,
        unit="%",
        low=0,
        high=50,
        meaning=(
            "Standard uncertainty of the reference meter, common to the whole ride. "
            "Empty: 3.2 %, the spread found among meters in use."
        ),
    )
    limit_pct: float | None = setting(
        None,
        unit="%",
        low=0,
        high=100,
        meaning="A limit on the size of the bias. If the measured bias is beyond it, the command ends with status 1.",
    )
    episode_depth_pct: float = setting(
        6.0,
        unit="%",
        low=2,
        high=90,
        meaning="The least depth of a drop, surge or step that is told as an episode.",
    )
    episode_duration_s: float = setting(
        8.0, unit="s", low=3, high=3600, meaning="The shortest drop, surge or frozen stretch told as an episode."
    )
    bootstrap_seed: int = setting(1, unit="1", low=0, high=2**31, meaning="Seed of the bootstrap interval.")

    def __post_init__(self) -> None:
        """Check every number against its range."""
        check_ranges(self)
        for one in self.stretches_out:
            if not (0 <= one.from_s < one.to_s < math.inf and one.reason.strip()):
                raise SettingInvalid(
                    f"The stretch from {one.from_s:g} to {one.to_s:g} s cannot be left out.",
                    where="stretches_out",
                    hint="It begins at 0 s or later, ends after it began, and has a reason.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class AloneSettings:
    """Settings for one recording alone. Raises SettingInvalid where a number is outside its documented range."""

    level: float = setting(
        0.95, unit="1", low=0.5, high=0.999, meaning="How often an interval must hold the true value."
    )
    episode_depth_pct: float = setting(
        8.0,
        unit="%",
        low=4,
        high=90,
        meaning="The least depth of a drop, surge or step that is told as an episode.",
    )
    episode_duration_s: float = setting(
        15.0, unit="s", low=5, high=3600, meaning="The shortest drop, surge or frozen stretch told as an episode."
    )

    def __post_init__(self) -> None:
        """Check every number against its range."""
        check_ranges(self)


def check_ranges(settings: Any) -> None:
    """Check every number of a settings class against its range. Raises SettingInvalid."""
    for item in fields(settings):
        value = getattr(settings, item.name)
        low, high = item.metadata["low"], item.metadata["high"]
        if value is None or isinstance(value, tuple):
            continue
        if value != value or (low is not None and value < low) or (high is not None and value > high):
            unit = "" if item.metadata["unit"] == "1" else f" {item.metadata['unit']}"
            raise SettingInvalid(
                f"{item.name} is {value}, outside {low} to {high}{unit}.",
                where=item.name,
                hint="Give a number inside that range, or leave the setting out.",
            )
