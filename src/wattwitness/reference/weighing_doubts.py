"""What cannot well be true of a worksheet, with the slip that would explain it: units, lever, zero."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from wattwitness.model.hanging_weights import HungReading, SideResult
from wattwitness.reference.weighing_series import UNLOADED
from wattwitness.reference.weighing_strays import Stray

LARGEST_GAIN_PCT = 10.0
"""Meters in use spread by 3.2 % (Maier et al. 2017): three times that is no meter's gain, but a slip (judgement)."""

USUAL_LEVER_MM = (100.0, 250.0)
"""Cranks measure 150 to 190 mm (common practice, no source); a bar on a hub may be longer."""

LARGEST_ZERO_NM = 2.0
CLOSE = 0.06
FEWEST_READINGS = 5
SHOWN = 5

SLIPS: tuple[tuple[float, str], ...] = (
    (1000.0, "the readings may be in N·mm"),
    (141.612, "the readings may be in ounce-force inches"),
    (100.0, "the readings may be in N·cm, or masses and levers each ten times too small"),
    (10.19716, "the readings may be in kgf·cm, or the lever in centimetres rather than millimetres"),
    (8.850746, "the readings may be in pound-force inches"),
    (2.0, "the meter may double the side that was loaded, or two such weights may have hung"),
    (0.737562, "the readings may be in pound-force feet (1 N·m is 0.738 lbf·ft)"),
    (0.5, "the meter may show half of what one side carries"),
    (0.453592, "the masses may be in pounds (1 lb is 0.454 kg)"),
    (0.1019716, "the readings may be in kgf·m, or the lever ten times too long"),
    (0.001, "the readings may be in kN·m, or the masses in grams"),
)
"""Reading over torque, and what was likely written in another unit. Conversions: exact by definition of the units."""


def doubts(side: SideResult, readings: Sequence[HungReading]) -> Iterator[tuple[str, str]]:
    """Slug and sentence of everything about ``side`` that is not plausible; ``readings`` are its own."""
    shown = {item.reading_nm for item in readings}
    if len(shown) == 1 and len(readings) >= FEWEST_READINGS:
        yield (
            "reading_never_changes",
            (
                f"every reading is {next(iter(shown)):g} N·m, whatever hung: the display was held or not connected, or "
                "one number was copied down. Nothing follows for the meter."
            ),
        )
        return
    yield from _slope_doubts(side)
    yield from _lever_doubts(readings)
    zero = side.zero_nm.value
    if zero is not None and abs(zero) > LARGEST_ZERO_NM:
        yield (
            "zero_implausible",
            (
                f"unloaded, the meter read {zero:+.1f} N·m first. Its zero was not taken, or pedal or crank "
                "pulled on it. The slope does not suffer, but every watt of a ride would."
            ),
        )


def _slope_doubts(side: SideResult) -> Iterator[tuple[str, str]]:
    if side.slope <= 0:
        yield (
            "reading_falls_with_load",
            "the reading falls as the load grows; check the sign of the readings and the crank’s position.",
        )
    elif abs(side.slope - 1) > LARGEST_GAIN_PCT / 100:
        likely = likely_slip(side.slope)
        yield (
            "slope_implausible",
            f"the readings are {side.slope:.3g} times the torque that hung, which no meter’s gain explains; "
            + (likely or "check the units of masses (kg), lever (mm) and readings (N·m)")
            + ". Do not correct by it.",
        )


def likely_slip(slope: float) -> str:
    """The slip whose factor is nearest to ``slope``, within 6 %; empty where none is."""
    factor, words = min(SLIPS, key=lambda slip: abs(math.log(slope / slip[0])))
    return words if abs(math.log(slope / factor)) < CLOSE else ""


def _lever_doubts(readings: Sequence[HungReading]) -> Iterator[tuple[str, str]]:
    low, high = USUAL_LEVER_MM
    odd = [item for item in readings if item.step not in UNLOADED and not low <= item.lever_mm <= high]
    if not odd:
        return
    lever_mm = odd[0].lever_mm
    where = f" (first on line {odd[0].line})" if odd[0].line else ""
    guess = ""
    if low <= 10 * lever_mm <= high:
        guess = f" In centimetres it would be {10 * lever_mm:g} mm."
    elif low <= lever_mm / 10 <= high:
        guess = f" With one digit too many it would be {lever_mm / 10:g} mm."
    yield (
        "lever_implausible",
        f"a lever of {lever_mm:g} mm{where} is no usual crank, which measures 150 to 190 mm.{guess}",
    )


def stray_words(strays: Sequence[Stray], gain_pct: float, gain_without_pct: float | None) -> str:
    """Each reading off the line of the others with its line, and what the slope would be without them."""
    told = " ".join(_one_stray(stray) for stray in strays[:SHOWN])
    if len(strays) > SHOWN:
        told += f" And {len(strays) - SHOWN} more."
    if gain_without_pct is None:
        return f"{told} Check before you believe the slope."
    return (
        f"{told} Check before you believe the slope: it is {gain_pct:+.2f} % over 1 with "
        f"{'it' if len(strays) == 1 else 'them'} and {gain_without_pct:+.2f} % without."
    )


def _one_stray(stray: Stray) -> str:
    item = stray.reading
    where = f"Line {item.line}" if item.line else f"“{item.position}”, repeat {item.repeat}"
    if item.step in UNLOADED:
        return (
            f"{where}: unloaded ({item.step.value}) the meter read {item.reading_nm:.2f} N·m, where the other readings "
            f"of its series say {stray.expected_nm:.2f}."
        )
    fitting = f"; {stray.fitting_kg:.3g} kg would fit" if stray.fitting_kg > 0 else ""
    return (
        f"{where}: {item.mass_kg:g} kg at {item.lever_mm:g} mm ({item.step.value}) read {item.reading_nm:.2f} N·m, "
        f"where the other readings say {stray.expected_nm:.2f}{fitting}."
    )
