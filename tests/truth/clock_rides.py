"""Rides for the clock's truth runs, made apart from the package's own simulator so that neither can flatter the other.

Everything is drawn on a fine grid of true time; each recorder then samples it at whole seconds of its own clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.recording import ChannelName, Recording, Source

FINE_S = 0.1
Kind = Literal["steady", "intervals", "group", "ramp", "steps"]
KINDS: tuple[Kind, ...] = ("steady", "intervals", "group", "ramp", "steps")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Effort:
    """What the rider did, on true time from 0 in steps of ``FINE_S``; shape (n,) each."""

    power_w: FloatArray
    cadence_rpm: FloatArray
    heart_rate_bpm: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder:
    """How one meter writes what it sees.

    ``t_true = t_own + offset_s + drift_ppm * 1e-6 * (t_own - middle)``; smoothing widths are trailing means in s, taus
    exponential, on true time before noise; ``cadence_mean_samples`` a mean of the last noisy samples, as a display
    makes it; ``stops`` are (start on true time, seconds) in which the recorder and its clock stand still; ``gaps`` the
    same without stopping the clock.
    """

    offset_s: float = 0.0
    drift_ppm: float = 0.0
    step_s: float = 1.0
    first_s: float = 0.0
    last_s: float = np.inf
    cadence_noise_rpm: float = 0.5
    cadence_step_rpm: float = 1.0
    cadence_mean_s: float = 0.0
    cadence_tau_s: float = 0.0
    cadence_mean_samples: int = 1
    gain: float = 1.0
    power_noise: float = 0.02
    power_mean_s: float = 0.0
    power_tau_s: float = 0.0
    power_delay_s: float = 0.0
    heart_lag_s: float = 0.0
    dropout: float = 0.0
    gaps: tuple[tuple[float, float], ...] = ()
    stops: tuple[tuple[float, float], ...] = ()
    channels: tuple[ChannelName, ...] = field(default=(ChannelName.POWER, ChannelName.CADENCE, ChannelName.HEART_RATE))


def wobble(rng: np.random.Generator, n: int, sd: float, tau_s: float) -> FloatArray:
    """An Ornstein-Uhlenbeck path of ``n`` fine steps."""
    keep = np.exp(-FINE_S / tau_s)
    kicks = rng.standard_normal(n) * sd * np.sqrt(1 - keep**2)
    kicks[0] = sd * rng.standard_normal()
    return _recursive(kicks, keep)


def _recursive(kicks: FloatArray, keep: float) -> FloatArray:
    from scipy.signal import lfilter

    return np.asarray(lfilter([1.0], [1.0, -keep], kicks))


def _held(rng: np.random.Generator, n: int, low_s: float, high_s: float, draw: FloatArray) -> FloatArray:
    """Levels from ``draw`` held for log-uniform times."""
    out = np.empty(n)
    at = 0
    while at < n:
        end = at + int(np.exp(rng.uniform(np.log(low_s), np.log(high_s))) / FINE_S)
        out[at:end] = rng.choice(draw)
        at = end
    return out


def plan_w(kind: Kind, rng: np.random.Generator, n: int) -> FloatArray:
    """The power meant, shape (n,)."""
    t = np.arange(n) * FINE_S
    length = n * FINE_S
    if kind == "steady":
        return np.full(n, rng.uniform(150, 260))
    if kind == "ramp":
        return np.where(t < 600, 120.0, 120 + (t - 600) / (length - 600) * rng.uniform(150, 250))
    if kind == "steps":
        return np.asarray(100 + 25.0 * np.floor(t / rng.choice([120, 180, 240])) % 300)
    if kind == "group":
        return _held(rng, n, 4, 90, np.array([0, 80, 120, 160, 180, 200, 220, 260, 320, 420.0]))
    work, rest = rng.choice([30, 40, 60, 120, 240]), rng.choice([30, 20, 60, 120, 180])
    phase = (t - 600) % (work + rest)
    return np.asarray(np.where((t > 600) & (t < length - 400) & (phase < work), 320.0, 140.0))


def ride(kind: Kind, rng: np.random.Generator, *, length_s: float = 3600.0, margin_s: float = 900.0) -> Effort:
    """One effort of ``kind`` with ``margin_s`` more on both sides than a recorder of ``length_s`` needs."""
    n = int((length_s + 2 * margin_s) / FINE_S)
    power = plan_w(kind, rng, n)
    ease = _recursive(power * 0.05, 0.95)
    ease[:200] = power[:200]
    cadence = rng.uniform(78, 95) + wobble(rng, n, rng.uniform(1.0, 4.0), rng.uniform(4, 15))
    cadence += wobble(rng, n, rng.uniform(0.5, 3.0), rng.uniform(40, 150))
    cadence += rng.uniform(0, 0.05) * (ease - ease.mean())
    if kind == "group" or rng.random() < 0.2:
        cadence += _held(rng, n, 20, 300, np.arange(-8.0, 8.0))
    power = ease * (1 + wobble(rng, n, 0.06, 1.0) + wobble(rng, n, 0.03, 25.0))
    coast = ease < 30
    for _ in range(rng.integers(0, 8)):
        at = rng.integers(0, n - 400)
        coast[at : at + rng.integers(30, 200)] = True
    power = np.where(coast, 0, power)
    cadence = np.where(coast, 0, np.clip(cadence, 40, 130))
    heart = _recursive((90 + 0.28 * power) * (FINE_S / 60), np.exp(-FINE_S / 60.0))
    heart[:2000] = heart[2000]
    return Effort(power_w=np.clip(power, 0, None), cadence_rpm=cadence, heart_rate_bpm=heart + wobble(rng, n, 1.0, 15))


def _smoothed(values: FloatArray, mean_s: float, tau_s: float) -> FloatArray:
    if mean_s > 0:
        width = round(mean_s / FINE_S)
        total = np.concatenate([np.zeros(width), np.cumsum(values)])
        return np.asarray((total[width:] - total[:-width]) / width)
    if tau_s > 0:
        keep = np.exp(-FINE_S / tau_s)
        return _recursive(values * (1 - keep), keep)
    return values


def _mean_of_last(values: FloatArray, count: int) -> FloatArray:
    total = np.concatenate([[0.0], np.cumsum(values)])
    start = np.maximum(np.arange(values.size) + 1 - count, 0)
    end = np.arange(values.size) + 1
    return np.asarray((total[end] - total[start]) / (end - start))


def record(
    effort: Effort, recorder: Recorder, rng: np.random.Generator, *, length_s: float = 3600.0, margin_s: float = 900.0
) -> Recording:
    """What ``recorder`` wrote of ``effort``; its clock reads 0 near the start of the ride where ``offset_s`` is 0."""
    true_end = length_s + 2 * margin_s
    first, last = margin_s + recorder.first_s, margin_s + min(length_s, recorder.last_s)
    slope = recorder.drift_ppm * 1e-6
    middle = margin_s + length_s / 2 - recorder.offset_s
    own = np.arange(np.ceil(first - recorder.offset_s - 30), last - recorder.offset_s + 30, recorder.step_s)
    at = own + recorder.offset_s + slope * (own - middle)
    keep = (at >= first) & (at < last)
    own, at = own[keep], at[keep]
    for start, seconds in recorder.stops:
        at = np.where(at >= margin_s + start, at + seconds, at)
    keep = at < min(last, true_end - 1)
    for start, seconds in recorder.gaps:
        keep &= ~((at >= margin_s + start) & (at < margin_s + start + seconds))
    own, at = own[keep], at[keep]
    lost = rng.random(own.size) < recorder.dropout
    return Recording(
        source=Source(file_name="ride.fit", sha256="", size_bytes=0, format_name="fit"),
        time_s=own,
        dated=False,
        channels={name: _channel(name, effort, recorder, rng, at, lost) for name in recorder.channels},
    )


def _channel(
    name: ChannelName, effort: Effort, recorder: Recorder, rng: np.random.Generator, at: FloatArray, lost: BoolArray
) -> FloatArray:
    def sample(values: FloatArray, delay_s: float = 0.0) -> FloatArray:
        place = np.clip((at - delay_s) / FINE_S, 0, values.size - 1)
        moved = np.interp(place, np.arange(values.size), values)
        # No ramp into or out of coasting that the rider never rode.
        return np.where(values[np.floor(place).astype(int)] == 0, 0.0, moved)

    if name == ChannelName.CADENCE:
        true = sample(_smoothed(effort.cadence_rpm, recorder.cadence_mean_s, recorder.cadence_tau_s))
        seen = np.where(true > 0, true + recorder.cadence_noise_rpm * rng.standard_normal(at.size), 0)
        seen = _mean_of_last(seen, recorder.cadence_mean_samples)
        step = recorder.cadence_step_rpm
        seen = np.round(seen / step) * step if step else seen
    elif name == ChannelName.POWER:
        true = sample(_smoothed(effort.power_w, recorder.power_mean_s, recorder.power_tau_s), recorder.power_delay_s)
        seen = np.round(recorder.gain * true * (1 + recorder.power_noise * rng.standard_normal(at.size)))
    else:
        seen = np.round(sample(effort.heart_rate_bpm, recorder.heart_lag_s))
    return np.where(lost, np.nan, seen)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """Two recordings and the truth of their clocks, at the middle of the reference's ride.

    ``late_s``: by how much the unit shows power late, smoothing included; ``stops`` as the recorder had them.
    """

    reference: Recording
    unit: Recording
    offset_s: float
    drift_ppm: float
    late_s: float
    stops: tuple[tuple[float, float], ...]


MARGIN_S = 1200.0
ALL = (ChannelName.POWER, ChannelName.CADENCE, ChannelName.HEART_RATE)


def one_ride(
    seed: int,
    *,
    channels: tuple[ChannelName, ...] = ALL,
    pause: bool = False,
    smoothed: bool = False,
    length_s: float = 3600.0,
) -> Case:
    """A ride of any kind seen by two meters.

    Offsets to ±10 min, drift to ±150 ppm, bias -25 to +25 %, power responses to 8 s with delays to 3 s, gaps, up to 3 %
    of samples lost, the unit started up to 5 min late.

    ``pause``: the unit's recorder and its clock stand still once, for 20 s to 10 min. ``smoothed``: one side shows the
    mean of its last 2 to 8 cadences, or an exponential of 0.5 to 8 s.
    """
    rng = np.random.default_rng([seed, 7])
    effort = ride(KINDS[seed % len(KINDS)], rng, length_s=length_s, margin_s=MARGIN_S)
    offset_s, drift_ppm, noise_rpm = rng.uniform(-600, 600), rng.uniform(-150, 150), rng.uniform(0.3, 1.0)
    reference_gaps, unit_gaps = _gaps(rng, length_s), _gaps(rng, length_s)
    stops: tuple[tuple[float, float], ...] = ()
    if pause:
        stops = ((rng.uniform(0.15, 0.75) * length_s, float(np.exp(rng.uniform(np.log(20), np.log(600))))),)
    kind, mean_s, tau_s = rng.integers(0, 3), float(rng.integers(1, 9)), rng.uniform(0.5, 4.0)
    delay_s = rng.uniform(0.0, 3.0)
    power_mean_s, power_tau_s = (mean_s if kind == 0 else 0.0), (tau_s if kind == 1 else 0.0)
    shows = _smoothing(rng) if smoothed else {}
    unit_smoothed = bool(rng.integers(0, 2))
    reference = Recorder(
        cadence_noise_rpm=noise_rpm,
        gaps=reference_gaps,
        channels=channels,
        **({} if unit_smoothed else shows),
    )
    unit = Recorder(
        offset_s=offset_s,
        drift_ppm=drift_ppm,
        cadence_noise_rpm=noise_rpm,
        first_s=rng.uniform(0.0, 300.0),
        gain=rng.uniform(0.75, 1.25),
        gaps=unit_gaps,
        stops=stops,
        channels=channels,
        dropout=rng.uniform(0.0, 0.03),
        power_mean_s=power_mean_s,
        power_tau_s=power_tau_s,
        power_delay_s=delay_s,
        **(shows if unit_smoothed else {}),
    )
    a = record(effort, reference, rng, length_s=length_s, margin_s=MARGIN_S)
    b = record(effort, unit, rng, length_s=length_s, margin_s=MARGIN_S)
    return Case(
        reference=a,
        unit=b,
        offset_s=_offset_at_middle(a, unit, length_s),
        drift_ppm=drift_ppm,
        late_s=power_mean_s / 2 + power_tau_s + delay_s,
        stops=stops,
    )


def _gaps(rng: np.random.Generator, length_s: float) -> tuple[tuple[float, float], ...]:
    return tuple((rng.uniform(0.05, 0.85) * length_s, rng.uniform(10.0, 120.0)) for _ in range(int(rng.integers(0, 4))))


def _smoothing(rng: np.random.Generator) -> dict[str, Any]:
    if rng.integers(0, 2):
        return {"cadence_mean_samples": int(rng.integers(2, 9))}
    return {"cadence_tau_s": float(np.exp(rng.uniform(np.log(0.5), np.log(8.0))))}


def _offset_at_middle(reference: Recording, unit: Recorder, length_s: float) -> float:
    """What has to be added to the unit's clock at the middle of the reference's ride; the reference's is true time."""
    middle = float(reference.time_s[0] + reference.time_s[-1]) / 2
    stopped = sum(min(max(middle - MARGIN_S - start, 0.0), seconds) for start, seconds in unit.stops)
    rate = 1 + unit.drift_ppm * 1e-6
    own_middle = MARGIN_S + length_s / 2 - unit.offset_s
    own = (middle - stopped - unit.offset_s + (rate - 1) * own_middle) / rate
    return middle - own


def other_rides(seed: int) -> tuple[Recording, Recording]:
    """Two rides that have nothing to do with each other, of any kinds, any channels, smoothed or not."""
    rng = np.random.default_rng([seed, 77])
    some = (ALL, ALL[:2], ALL[:1], ALL[1:2], (ALL[0], ALL[2]), ALL[2:])
    channels = some[int(rng.integers(0, len(some)))]
    efforts = [
        ride(KINDS[(seed // step) % len(KINDS)], np.random.default_rng([seed, step]), margin_s=MARGIN_S)
        for step in (1, len(KINDS))
    ]
    first = Recorder(cadence_noise_rpm=rng.uniform(0.2, 1.0), channels=channels)
    second = Recorder(
        cadence_noise_rpm=rng.uniform(0.2, 1.0),
        channels=channels,
        offset_s=rng.uniform(-600, 600),
        power_mean_s=float(rng.integers(0, 8)),
        cadence_mean_samples=int(rng.choice([1, 1, 3, 8])),
    )
    return record(efforts[0], first, rng, margin_s=MARGIN_S), record(efforts[1], second, rng, margin_s=MARGIN_S)


def meters_alone(seed: int, *, intervals_s: float = 0.0) -> tuple[Recording, Recording]:
    """A constant effort, or equal intervals with nothing else in them, in which only each meter's own noise varies.

    One ride in three has power alone, one cadence alone, one both; the unit begins up to 200 s later.
    """
    rng = np.random.default_rng([seed, 5])
    offset_s, late_s = float(int(rng.uniform(-600, 600))), float(rng.integers(0, 200))
    kept = (ALL[:1], ALL[1:2], ALL[:2])[seed % 3]

    def side(true_s: FloatArray, gain: float) -> dict[ChannelName, FloatArray]:
        hard = (true_s // intervals_s) % 2 == 0 if intervals_s else np.zeros(true_s.shape, dtype=bool)
        power = np.where(hard, 300.0, 200.0) * gain * (1 + rng.uniform(0.01, 0.04) * rng.standard_normal(true_s.size))
        cadence = np.where(hard, 95.0, 88.0) + rng.uniform(0.2, 1.0) * rng.standard_normal(true_s.size)
        both = {ChannelName.POWER: np.round(power), ChannelName.CADENCE: np.round(cadence)}
        return {name: both[name] for name in kept}

    first, second = np.arange(0.0, 3600.0), np.arange(late_s, 3600.0)
    return _written(first, side(first, 1.0)), _written(second - offset_s, side(second, 0.93))


def _written(time_s: FloatArray, channels: dict[ChannelName, FloatArray]) -> Recording:
    source = Source(file_name="ride.fit", sha256="", size_bytes=0, format_name="fit")
    return Recording(source=source, time_s=time_s, dated=False, channels=channels)
