"""What the columns of a table mean, told from their headings. Nothing is chosen here: every reading says how sure it is."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_times import TimeKind
from wattwitness.readers.csv_units import TIME_UNITS, channel_of_unit, is_unit, unit_key, unit_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """One column's heading and what it can mean.

    ``position`` counts columns from 1. ``channel`` is the quantity it names, ``unit`` the unit as written (empty: none).
    ``aside`` says why it is not that channel's own measurement ("a target", "an average"); empty where it can be.
    ``by_unit``: only its unit tells the quantity. ``side`` is left, right or empty. ``time``: it names a time or a date,
    with ``time_hint`` where the heading says which kind.
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

    @property
    def label(self) -> str:
        """The heading as shown to the tester, or the column's number where it has none."""
        return f"“{shown(self.text)}”" if self.text.strip() else f"column {self.position}"


def shown(text: str) -> str:
    """A heading cut to a readable length, without control characters."""
    plain = "".join(char if char.isprintable() else " " for char in text).strip()
    return plain if len(plain) <= 40 else plain[:39] + "…"


def _words(*lines: str) -> frozenset[str]:
    return frozenset(" ".join(lines).split())


_CHANNEL_WORDS: tuple[tuple[ChannelName, frozenset[str]], ...] = (
    (
        ChannelName.TORQUE,
        _words("torque drehmoment couple coppia koppel vridmoment momento moment"),
    ),
    (
        ChannelName.HEART_RATE,
        _words(
            "heartrate hr hrm bpm pulse puls pulsfrequenz herzfrequenz herzrate hartslag hjertefrekvens pulsaciones",
            "пульс 心率 心拍 心拍数 heartbeat",
        ),
    ),
    (
        ChannelName.CADENCE,
        _words(
            "cadence cad rpm trittfrequenz tretfrequenz kadenz drehzahl cadencia cadenza trapfrequentie kadens kadence",
            "kadencja cadans tråkkfrekvens trampfrekvens каденс 踏频 ケイデンス",
        ),
    ),
    (
        ChannelName.POWER,
        _words(
            "power pwr watt watts wattage leistung puissance potencia potenza potencia vermogen effekt moc teho vykon",
            "kw tretleistung мощность 功率 パワー",
        ),
    ),
    (
        ChannelName.SPEED,
        _words(
            "speed velocity geschwindigkeit vitesse velocidad velocidade velocita snelheid hastighet hastighed kph kmh",
            "mph mps nopeus скорость 速度",
        ),
    ),
    (
        ChannelName.TEMPERATURE,
        _words("temp temperature temperatur temperatura temperatuur lampotila температура 温度"),
    ),
    (
        ChannelName.RESISTANCE,
        _words("resistance widerstand resistencia resistenza weerstand motstand modstand motstand opor сопротивление"),
    ),
)

_PHRASES: tuple[tuple[ChannelName, str], ...] = (
    (
        ChannelName.HEART_RATE,
        r"heart rate|frequence cardiaque|frecuencia cardiaca|frequenza cardiaca|frequencia cardiaca",
    ),
    (ChannelName.CADENCE, r"pedal rate|pedalling rate|pedaling rate|crank speed|pedal frequency|frequence de pedalage"),
    (ChannelName.RESISTANCE, r"brake level|brake position"),
)

_NEVER = re.compile(
    r"\b(?:torque effectiveness|pedal smoothness|power phase|platform offset|power to weight|w kg|watts? kg|work|energy|"
    r"energie|kj|k?cal|calories?|kalorien|distance|distanz|altitude|elevation|latitude|longitude|grade|slope|incline|steigung)\b"
)

_ASIDE: tuple[tuple[str, frozenset[str]], ...] = (
    (
        "a target",
        _words(
            "target tgt goal setpoint set soll ziel sollwert sollleistung zielleistung prescribed planned",
            "consigne cible objetivo obiettivo doel desired requested",
        ),
    ),
    (
        "an average",
        _words(
            "avg average mean ave durchschnitt durchschnittlich mittel mittelwert mittlere moyenne moy media",
            "medio promedio gem gemiddeld gemiddelde gjennomsnitt snitt medel median ø",
        ),
    ),
    ("an extreme", _words("max maximum maximal peak best highest min minimum minimal lowest")),
    ("a weighted value", _words("normalized normalised norm weighted adjusted adj gewichtet gewichtete corrected")),
    ("a smoothed value", _words("smoothed smooth smoothened rolling filtered geglattet moving gleitend")),
    ("a percentage", _words("percent percentage pct prozent relative rel")),
    ("a zone", _words("zone zones bereich")),
    ("a value per kilogram", _words("kg")),
    (
        "an estimate, not a measurement",
        _words(
            "estimated estimate est virtual calculated calc modelled modeled predicted",
            "theoretical expected simulated geschatzt berechnet",
        ),
    ),
    ("a running total", _words("cumulative accumulated cumul kumuliert")),
    ("the value of a lap or stage", _words("lap laps interval stage segment runde round")),
    (
        "a difference or a spread",
        _words(
            "error err diff difference delta deviation accuracy uncertainty sd stdev std",
            "variability variance abweichung fehler differenz",
        ),
    ),
    ("a limit", _words("threshold critical limit reserve schwelle rated")),
    (
        "not a measurement",
        _words("status flag valid quality id battery type source name index count version offset gain"),
    ),
)

_SIDES: Mapping[str, frozenset[str]] = {
    "left": _words("left links linke gauche izquierda sinistra vanster venstre l"),
    "right": _words("right rechts rechte droite derecha destra hoger hoyre r"),
}

_TIME_WORDS = _words(
    "time timestamp datetime date zeit uhrzeit datum zeitstempel laufzeit fahrzeit dauer temps heure horodatage tiempo",
    "hora fecha tempo ora data tijd tijdstip tid dato klokkeslett elapsed duration secs sec seconds second minutes minute",
    "mins min hours hour millis milliseconds ms s t clock epoch unix utc sekunden sekunde minuten stunden segundos czas cas",
    "aika время 时间 時間 timer",
)
_TIME_ASIDE = _words(
    "lap remaining left countdown interval split moving pause paused stopped delta step diff difference zone to start end",
    "stage segment best target average avg last",
)
_HINTS: tuple[tuple[TimeKind, frozenset[str]], ...] = (
    (TimeKind.ELAPSED, _words("elapsed duration dauer laufzeit fahrzeit stopwatch timer verstrichen")),
    (TimeKind.CLOCK, _words("clock uhrzeit klokkeslett hora heure ora")),
)
_BRACKET = re.compile(r"(.*?)[\s_]*[\[({<]([^\[\](){}<>]*)[\])}>]\s*(.*)", re.DOTALL)
_TAIL_UNIT = re.compile(r"(.*\w)\s*(?:,|/|\bin\b|;|:|-)\s*([^\s,;:]{1,12})", re.DOTALL)
_WINDOW = re.compile(r"(?:^| )[0-9]{1,4} ?(?:s|sec|secs|second|seconds|sek|m|min|mins)(?: |$)")


def read_heading(position: int, text: str, units_text: str = "") -> Heading:
    """Read one heading, with what stands below it in a row of units (empty: nothing)."""
    name, unit = _name_and_unit(text)
    if units_text.strip():
        _, inner = _name_and_unit(units_text)
        unit = inner or units_text.strip()
    words = split_words(name)
    joined = " ".join(words)
    share = _share(position, text, words, joined, unit)
    if share is not None:
        return share
    channel, unit = _channel_of(words, joined, unit)
    time = _is_time(words, unit) if channel is None else False
    if time:
        return Heading(position=position, text=text, unit=unit, time=True, time_hint=_time_hint(words, unit))
    by_unit = False
    if channel is None and unit and not _NEVER.search(joined):
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
    return re.findall(r"[^\W_]+", plain.lower())


def _name_and_unit(text: str) -> tuple[str, str]:
    """Part ``Power (W)``, ``Power [W]``, ``Power, W``, ``Power / W``, ``Power in W``, ``power_w`` into name and unit."""
    bracket = _BRACKET.fullmatch(text)
    if bracket:
        name, inner, rest = bracket.groups()
        if is_unit(inner):
            return f"{name} {rest}", inner.strip()
        return f"{name} {inner} {rest}", ""
    tail = _TAIL_UNIT.fullmatch(text.strip())
    if tail and is_unit(tail.group(2)):
        return tail.group(1), tail.group(2)
    words = text.strip().split("_") if "_" in text else text.split()
    if len(words) > 1 and is_unit(words[-1]) and not words[-2].isdigit():
        return " ".join(words[:-1]), words[-1]
    return text, ""


def _share(position: int, text: str, words: list[str], joined: str, unit: str) -> Heading | None:
    """A column that tells how power is shared between the legs, if it is one."""
    balance = any(word in ("balance", "lrbalance", "lr", "share", "verteilung") for word in words) or joined == "l r"
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
    if _NEVER.search(joined):
        return None
    for channel, pattern in _PHRASES:
        if re.search(rf"\b(?:{pattern})\b", joined):
            return channel
    for channel, names in _CHANNEL_WORDS:
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
    return next((side for side, names in _SIDES.items() if names & set(words)), "")


def _reason(words: list[str]) -> str:
    return next((why for why, names in _ASIDE if names & set(words)), "")


def _aside(channel: ChannelName, words: list[str], joined: str, unit: str) -> str:
    if channel is not ChannelName.RESISTANCE and unit_key(unit) in ("%", "pct", "percent"):
        return "a percentage"
    if unit_key(unit) in ("w/kg", "/kg"):
        return "a value per kilogram"
    if _WINDOW.search(joined):
        return "a smoothed value"
    return _reason(words)


def _is_time(words: list[str], unit: str) -> bool:
    if _TIME_WORDS & set(words):
        since_start = "start" in words and bool({"since", "from"} & set(words))
        return not (_TIME_ASIDE & set(words)) or (since_start and _TIME_ASIDE & set(words) == {"start"})
    return not words and unit_key(unit) in TIME_UNITS


def _time_hint(words: list[str], unit: str) -> TimeKind | None:
    hint = TIME_UNITS.get(unit_key(unit)) if unit else None
    if hint is not None:
        return hint
    for kind, names in _HINTS:
        if names & set(words):
            return kind
    return next((TIME_UNITS[word] for word in words if word in TIME_UNITS), None)
