"""How numbers are written: the one place where a result is rounded, after every comparison has been made."""

from __future__ import annotations

import math
import re

NBSP = "\u00a0"
MINUS = "\u2212"
ABSENT = "\u2013"
MOST_DECIMALS = 3


def number(value: float | None, decimals: int = 1, *, signed: bool = False) -> str:
    """``value`` with ``decimals``, a true minus sign and thousands set apart; a dash where there is none.

    ``signed`` writes the plus of a positive number too. A value that rounds to zero carries no sign.
    """
    if value is None or math.isnan(value):
        return ABSENT
    if math.isinf(value):
        return f"{MINUS}∞" if value < 0 else ("+∞" if signed else "∞")
    if abs(value) >= 1e15:
        mantissa, exponent = f"{abs(value):.2e}".split("e")
        text = f"{mantissa}{NBSP}×{NBSP}10^{int(exponent)}"
    else:
        text = f"{abs(value):,.{decimals}f}"
        text = text.replace(",", NBSP) if abs(value) >= 9_999.5 else text.replace(",", "")
    if not text.strip("0." + NBSP):
        return text
    return (MINUS if value < 0 else "+" if signed else "") + text


def quantity(value: float | None, unit: str, decimals: int = 1, *, signed: bool = False) -> str:
    """A number with its unit, kept on one line: ``−4.3 %``; a dash alone where there is none."""
    text = number(value, decimals, signed=signed)
    return text if text == ABSENT or not unit else f"{text}{NBSP}{unit}"


def decimals_for(*values: float | None, fewest: int = 1, apart_from: tuple[float, ...] = ()) -> int:
    """Decimals that write no nonzero value as zero, and none as equal to a number it is ``apart_from``.

    At most three; beyond that what is written may round to the number it is not, and the words must say which side.
    """
    decimals = fewest
    for value in values:
        if value is None or not math.isfinite(value):
            continue
        for other in (0.0, *apart_from):
            while (
                decimals < MOST_DECIMALS
                and value != other
                and f"{abs(value):.{decimals}f}" == f"{abs(other):.{decimals}f}"
                and not math.isclose(abs(value), abs(other), rel_tol=1e-12)
            ):
                decimals += 1
    return decimals


def typeset(text: str) -> str:
    """A sentence from a lower room with the signs this report uses: true minus, true apostrophe, and no line
    broken between a number and its percent sign.

    Only a hyphen before a digit at the start of a word is a minus; ``5-20 s`` and file names stay as they are.
    """
    return re.sub(r"(?<![^\s(])-(?=[\d.])", MINUS, text).replace("'", "\u2019").replace(" %", f"{NBSP}%")


def size_words(value: float, decimals: int = 2) -> str:
    """A size that is never written as zero unless it is: ``0.25``, ``under 0.01``, ``0``."""
    if value == 0:
        return "0"
    least = 10.0**-decimals
    return f"under {number(least, decimals)}" if abs(value) < least / 2 else number(value, decimals)


def percent_level(level: float) -> str:
    """A confidence level: ``95 %``, ``99.9 %``."""
    return f"{100 * level:.4g}{NBSP}%"


def clock_time(seconds: float | None) -> str:
    """Seconds of a ride as ``h:mm:ss``; a dash where there are none."""
    if seconds is None or not math.isfinite(seconds):
        return ABSENT
    whole = round(abs(seconds))
    sign = MINUS if seconds < 0 and whole else ""
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def utc_time(iso: str) -> str:
    """An ISO 8601 time in UTC as people write it: ``2026-11-03 09:02:11 UTC``; a dash where there is none."""
    date, _, rest = iso.partition("T")
    clock = rest.partition("+")[0].removesuffix("Z").removesuffix(".000")
    return f"{date} {clock} UTC".replace("  ", " ") if date else ABSENT


def stretch(start_s: float, end_s: float) -> str:
    """A stretch of the ride: ``0:10:00 to 0:20:00``."""
    return f"{clock_time(start_s)} to {clock_time(end_s)}"


def short_duration(seconds: int) -> str:
    """A duration in its own unit: ``5 s``, ``20 min``, ``1 min 30 s``."""
    minutes, rest = divmod(seconds, 60)
    if minutes == 0:
        return f"{rest}{NBSP}s"
    return f"{minutes}{NBSP}min" + (f" {rest}{NBSP}s" if rest else "")


def long_duration(seconds: float) -> str:
    """How long something lasted, in words: ``45 s``, ``12 min 30 s``, ``1 h 02 min``."""
    if not math.isfinite(seconds):
        return ABSENT
    whole = round(seconds)
    if whole < 60:
        return f"{whole}{NBSP}s"
    if whole < 3600:
        return f"{whole // 60}{NBSP}min" + (f"{NBSP}{whole % 60}{NBSP}s" if whole % 60 else "")
    minutes = round(whole / 60)
    return f"{minutes // 60}{NBSP}h{NBSP}{minutes % 60:02d}{NBSP}min"


def seconds_offset(seconds: float | None, decimals: int = 2) -> str:
    """Seconds to add to a clock: ``+12.30 s``, and beyond two minutes also as h:mm:ss."""
    text = quantity(seconds, "s", decimals, signed=True)
    if seconds is None or not 120 <= abs(seconds) < 1e6:
        return text
    sign = MINUS if seconds < 0 else "+"
    return f"{text} ({sign}{clock_time(abs(seconds))})"
