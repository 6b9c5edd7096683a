"""The numbers the simulator starts from, each with its source and how far that source was checked.

Status: ``RET`` read in the source's abstract or text; ``DER`` derived or computed from a published source or an open
recording; ``MEM`` from memory, unverified.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """How far a default was checked against its source."""

    RETRIEVED = "RET"
    DERIVED = "DER"
    MEMORY = "MEM"


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeDefault:
    """One number of the trade: its name, value, unit, usual range (equal ends: none stated), source and status."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    source: str
    status: Status


_FILE = "computed from one open indoor recording, one rider, two 10-min blocks at 259 and 264 W"
_ROAD = "computed from one open outdoor recording, one rider, 4700 s"
_MAIER = "Maier et al. 2017, Int J Sports Med 38:456, 54 meters in use"
_D, _R, _M = Status.DERIVED, Status.RETRIEVED, Status.MEMORY

_ROWS: tuple[tuple[str, float, float, float, str, str, Status], ...] = (
    ("rider_power_cv_pct", 6.9, 4.3, 11.8, "%", f"1-s coefficient of variation, {_FILE}", _D),
    ("rider_power_acf1", 0.33, 0.32, 0.35, "1", f"autocorrelation at 1 s, {_FILE}", _D),
    ("rider_power_slow_share", 0.11, 0.05, 0.15, "1", f"share of variance that is slow, {_FILE}", _D),
    ("rider_power_slow_tau_s", 25.0, 20.0, 30.0, "s", f"time constant of the slow part, {_FILE}", _D),
    ("rider_cadence_sd_rpm", 2.0, 1.4, 3.2, "rpm", f"1-s standard deviation, {_FILE}", _D),
    ("rider_cadence_tau_s", 8.0, 4.0, 30.0, "s", f"integral time, {_FILE}", _D),
    ("heart_tau_on_s", 65.0, 47.0, 90.0, "s", "rounded from 68.7 ± 21.5 s, 25 riders, 2019", _R),
    ("heart_tau_off_s", 40.0, 32.0, 55.0, "s", "32 and 41 s, one open indoor recording", _D),
    ("heart_delay_on_s", 2.0, 0.0, 3.0, "s", "one open indoor recording", _D),
    ("heart_delay_off_s", 15.0, 12.0, 20.0, "s", "one open indoor recording", _D),
    ("heart_drift_bpm_per_h", 10.0, 5.0, 15.0, "bpm/h", "6-9 bpm by 35 min, Murphy 2009, extended to the hour", _D),
    ("heart_drift_onset_s", 600.0, 600.0, 600.0, "s", "onset near 10 min, Colakoglu 2018", _R),
    ("heart_scatter_bpm", 2.5, 2.0, 3.0, "bpm", "residual of the first-order fit, 25 riders, 2019", _R),
    ("optical_lag_s", 8.0, 3.0, 15.0, "s", "lag of wrist sensors; that there is one: Støve 2020", _M),
    ("optical_scatter_bpm", 3.0, 0.0, 3.0, "bpm", "mean absolute error up to 3 bpm, Sartor 2018", _R),
    ("meter_noise_pct", 1.2, 0.9, 1.8, "%", f"coefficient of variation, {_MAIER}, taken as 1-s noise", _D),
    ("zero_tempco_nm_per_k", 0.0125, 0.005, 0.05, "N·m/K", "<0.05 % of rated torque per 10 K, transducer makers", _D),
    ("transmission_loss_w", 2.5, 2.3, 3.5, "W", "fit to chain efficiencies, Wilson 2004", _D),
    ("transmission_loss_pct", 1.2, 1.0, 1.4, "%", "fit to chain efficiencies, Wilson 2004", _D),
    ("brake_warm_up_pct", -7.0, -12.0, -2.0, "%", "conducting disc heated by 20 K: 1/(1 + 0.0039·ΔT)", _D),
    ("brake_warm_up_tau_min", 10.0, 5.0, 15.0, "min", "5 kg aluminium disc, 4500 J/K over 7.5 W/K", _D),
    (
        "brake_corner_rpm",
        202.0,
        202.0,
        202.0,
        "rpm",
        "so that P ~ rpm^1.77 between 56 and 95 rpm, published readings",
        _D,
    ),
    ("clock_drift_ppm", 15.0, 10.0, 20.0, "ppm", "ordinary quartz, engineering article", _D),
    ("dropout_share", 0.01, 0.0, 0.03, "1", "share of samples lost on the radio", _M),
    ("dropout_hold_s", 3.0, 1.0, 5.0, "s", "length of one loss", _M),
    ("left_share_sd_100_w", 11.6, 11.6, 11.6, "% points", f"1-s scatter of the left share at 50-150 W, {_ROAD}", _D),
    ("left_share_sd_200_w", 4.9, 4.9, 4.9, "% points", f"the same at 150-250 W, {_ROAD}", _D),
    ("left_share_sd_325_w", 3.4, 3.4, 3.4, "% points", f"the same at 300-350 W, {_ROAD}", _D),
    ("left_share_sd_450_w", 2.2, 2.2, 2.2, "% points", f"the same above 450 W, {_ROAD}", _D),
)

DEFAULTS: dict[str, TradeDefault] = {
    name: TradeDefault(name=name, value=value, low=low, high=high, unit=unit, source=source, status=status)
    for name, value, low, high, unit, source, status in _ROWS
}


def trade(name: str) -> float:
    """The default called ``name``; KeyError if there is none."""
    return DEFAULTS[name].value
