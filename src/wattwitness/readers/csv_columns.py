"""What the columns of a table mean, told from their headings. Nothing is chosen here, only read."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_time_kinds import TimeKind
from wattwitness.readers.csv_units import TIME_UNITS, channel_of_unit, is_unit, unit_key, unit_of
from wattwitness.readers.csv_vocabulary import (
    ASIDE,
    CHANNEL_WORDS,
    NEVER,
    PHRASES,
    SIDES,
    TIME_ASIDE,
    TIME_HINTS,
    TIME_WORDS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """One column's heading and what it can mean.

    ``position`` counts columns from 1. ``channel`` is the quantity it names, ``unit`` the unit as written (or empty).
    ``aside`` says why it is not that channel's own measurement ("a target", "an average"); empty where it can be.
    ``by_unit``: only its unit tells the quantity. ``side`` is left, right or empty. ``time``: it names a time or date,
    with ``time_hint`` where the heading says which kind, ``utc`` where it says that zone.
    """

    position: int
    text: str
    channel: ChannelName | None = None
    unit: str = ""
    aside: str = ""
    by_unit: bool = False
    side: str = ""
    time: bool = False
    time_hint: TimeKind | None = None
    utc: bool = False

    @property
    def label(self) -> str:
        """The heading as shown to the tester, or the column's number where it has none."""
        return f"“{shown(self.text)}”" if self.text.strip() else f"column {self.position}"


def shown(text: str) -> str:
    """A heading cut to a readable length, without control characters."""
    plain = "".join(char if char.isprintable() else " " for char in text).strip()
    return plain if len(plain) <= 40 else plain[:39] + "…"


MAX_HEADING_CHARS = 200
"""What stands beyond is not looked at; it also bounds the work of the patterns."""

_BRACKET = re.compile(r"(.*?)[\s_]*[\[({<]([^\[\](){}<>]*)[\])}>]\s*(.*)", re.DOTALL)
_TAIL_UNIT = re.compile(r"(.*?\w)\s*(?:,|/|\bin\b|;|:|\s-\s)\s*([^\s,;]{1,12})", re.DOTALL)
_COMPOUND = re.compile(r"(.{2,}?)(leistung|vermogen|effekt)")
_WINDOW = re.compile(r"(?:^| )[0-9]{1,4} ?(?:s|sec|secs|second|seconds|sek|m|min|mins)(?: |$)")


def read_heading(position: int, text: str, units_text: str = "") -> Heading:
    """Read one heading, with what stands below it in a row of units (empty: nothing)."""
    name, unit = _name_and_unit(text[:MAX_HEADING_CHARS])
    if units_text.strip():
        _, inner = _name_and_unit(units_text[:MAX_HEADING_CHARS])
        unit = (inner or units_text).strip(" -–—")
    words = split_words(name)
    joined = " ".join(words)
    share = _share(position, text, words, joined, unit)
    if share is not None:
        return share
    channel, unit = _channel_of(words, joined, unit)
    time = _is_time(words, unit) if channel is None else False
    if time:
        utc = bool({"utc", "gmt"} & {*words, unit_key(unit)})
        return Heading(position=position, text=text, unit=unit, time=True, time_hint=_time_hint(words, unit), utc=utc)
    by_unit = False
    if channel is None and not NEVER.search(joined):
        unit = unit or text.strip()[:MAX_HEADING_CHARS]
        channel, by_unit = channel_of_unit(unit), True
    if channel is None:
        return Heading(position=position, text=text, unit=unit)
    side = _side(words)
    return Heading(
        position=position,
        text=text,
        channel=channel,
        unit=unit,
        by_unit=by_unit,
        side=side,
        aside=_aside(channel, words, joined, unit) or (f"the {side} side alone" if side else ""),
    )


def split_words(text: str) -> list[str]:
    """Lower-case words of a heading, accents taken off, ``camelCase`` and ``snake_case`` parted, signs dropped."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text.replace("%", " percent "))
    plain = "".join(c for c in unicodedata.normalize("NFKD", parted) if not unicodedata.combining(c)).replace("ß", "ss")
    plain = plain.replace("Ø", "ø").replace("∅", "ø")
    return [part for word in re.findall(r"[^\W_]+", plain.lower()) for part in _parts(word)]


def _parts(word: str) -> list[str]:
    """A compound such as ``solleistung`` or ``maxeffekt`` as its two words; any other word as it is."""
    match = _COMPOUND.fullmatch(word)
    if match is None:
        return [word]
    first = match.group(1)
    return [first if first in ("gauche", "links", "rechts") else first.removesuffix("s"), match.group(2)]


def _name_and_unit(text: str) -> tuple[str, str]:
    """Part ``Power (W)``, ``Power [W]``, ``Power, W``, ``Power / W``, ``power_w`` into name and unit."""
    bracket = _BRACKET.fullmatch(text)
    if bracket:
        name, inner, rest = bracket.groups()
        if is_unit(inner):
            return f"{name} {rest}", inner.strip()
        return f"{name} {inner} {rest}", ""
    if is_unit(text) and not text.strip().isalpha():
        return "", text.strip()
    words = text.strip().split("_") if "_" in text else text.split()
    if len(words) > 1 and is_unit(words[-1]) and not words[-2].isdigit():
        return " ".join(words[:-1]).removesuffix(" in").rstrip(" ,;:/-"), words[-1]
    tail = _TAIL_UNIT.fullmatch(text.strip())
    if tail and is_unit(tail.group(2)):
        return tail.group(1), tail.group(2)
    return text, ""


def _share(position: int, text: str, words: list[str], joined: str, unit: str) -> Heading | None:
    """A column that tells how power is shared between the legs, if it is one."""
    balance = bool({"balance", "lrbalance", "lr", "share", "verteilung"} & set(words)) or joined == "l r"
    side = _side(words)
    both = {"left", "right"} <= set(words) or {"l", "r"} <= set(words) or {"links", "rechts"} <= set(words)
    percent = unit_key(unit) in ("%", "pct", "percent") or "percent" in words or "pct" in words
    if not (balance or (percent and side and not _channel_in(words, joined))):
        return None
    if balance and not (both or side or {"power", "pedal", "lr", "lrbalance", "balance", "leistung"} & set(words)):
        return None
    side = "left" if both or side != "right" else "right"
    average = _reason(words)
    aside = average if average not in ("", "a percentage") else ""
    return Heading(position=position, text=text, channel=ChannelName.LEFT_SHARE, unit=unit, side=side, aside=aside)


def _channel_in(words: list[str], joined: str) -> ChannelName | None:
    if NEVER.search(joined):
        return None
    for channel, pattern in PHRASES:
        if re.search(rf"\b(?:{pattern})\b", joined):
            return channel
    for channel, names in CHANNEL_WORDS:
        if any(word in names or word.rstrip("0123456789") in names for word in words):
            return channel
    return None


def _channel_of(words: list[str], joined: str, unit: str) -> tuple[ChannelName | None, str]:
    """The channel named, with its unit where the name is one (``kW``, ``MPH``)."""
    channel = _channel_in(words, joined)
    if channel is None:
        return None, unit
    if not unit:
        unit = next((word for word in words if unit_of(channel, word)), "")
    return channel, unit


def _side(words: list[str]) -> str:
    return next((side for side, names in SIDES.items() if names & set(words)), "")


def _reason(words: list[str]) -> str:
    return next((why for why, names in ASIDE if names & set(words)), "")


def _aside(channel: ChannelName, words: list[str], joined: str, unit: str) -> str:
    if channel is not ChannelName.RESISTANCE and unit_key(unit) in ("%", "pct", "percent"):
        return "a percentage"
    if unit_key(unit) in ("w/kg", "/kg"):
        return "a value per kilogram"
    if _WINDOW.search(joined):
        return "a smoothed value"
    return _reason(words)


def _is_time(words: list[str], unit: str) -> bool:
    if TIME_WORDS & set(words):
        since_start = "start" in words and bool({"since", "from"} & set(words))
        return not (TIME_ASIDE & set(words)) or (since_start and TIME_ASIDE & set(words) == {"start"})
    return not words and unit_key(unit) in TIME_UNITS


def _time_hint(words: list[str], unit: str) -> TimeKind | None:
    hint = TIME_UNITS.get(unit_key(unit)) if unit else None
    if hint is not None:
        return hint
    if "of day" in " ".join(words):
        return TimeKind.CLOCK
    for kind, names in TIME_HINTS:
        if names & set(words):
            return kind
    return next((TIME_UNITS[word] for word in words if word in TIME_UNITS), None)
