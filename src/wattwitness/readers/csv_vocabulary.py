"""Words in the headings of tables, in the languages that exports come in, without their accents.

Plain words of the trade only. Order matters: the first channel whose word stands in a heading is taken, so that
“heart rate while power” and “power meter cadence” are no power.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_time_kinds import TimeKind


def words_of(*lines: str) -> frozenset[str]:
    """The words in lines of words."""
    return frozenset(" ".join(lines).split())


CHANNEL_WORDS: tuple[tuple[ChannelName, frozenset[str]], ...] = (
    (
        ChannelName.TORQUE,
        words_of("torque drehmoment couple coppia koppel vridmoment momento moment"),
    ),
    (
        ChannelName.HEART_RATE,
        words_of(
            "heartrate hr hrm bpm pulse puls pulsfrequenz herzfrequenz herzrate hartslag hjertefrekvens pulsaciones",
            "пульс 心率 心拍 心拍数 heartbeat",
        ),
    ),
    (
        ChannelName.CADENCE,
        words_of(
            "cadence cad rpm trittfrequenz tretfrequenz kadenz drehzahl cadencia cadenza trapfrequentie kadens kadence",
            "kadencja cadans tråkkfrekvens trampfrekvens каденс 踏频 ケイデンス",
        ),
    ),
    (
        ChannelName.POWER,
        words_of(
            "power pwr watt watts wattage leistung puissance potencia potenza vermogen effekt moc teho vykon",
            "kw tretleistung мощность 功率 パワー",
        ),
    ),
    (
        ChannelName.SPEED,
        words_of(
            "speed velocity geschwindigkeit vitesse velocidad velocidade velocita snelheid hastighet hastighed kph kmh",
            "mph mps nopeus скорость 速度",
        ),
    ),
    (
        ChannelName.TEMPERATURE,
        words_of("temp temperature temperatur temperatura temperatuur lampotila температура 温度"),
    ),
    (
        ChannelName.RESISTANCE,
        words_of("resistance widerstand resistencia resistenza weerstand motstand modstand opor сопротивление"),
    ),
)

PHRASES: tuple[tuple[ChannelName, str], ...] = (
    (
        ChannelName.HEART_RATE,
        r"heart rate|frequence cardiaque|frecuencia cardiaca|frequenza cardiaca|frequencia cardiaca",
    ),
    (ChannelName.CADENCE, r"pedal rate|pedalling rate|pedaling rate|crank speed|pedal frequency|frequence de pedalage"),
    (ChannelName.RESISTANCE, r"brake level|brake position"),
)

NEVER = re.compile(
    r"\b(?:torque effectiveness|pedal smoothness|power phase|platform offset|power to weight|w kg|watts? kg|work|"
    r"energy|energie|kj|k?cal|calories?|kalorien|distance|distanz|altitude|elevation|latitude|longitude|grade|slope|incline|"
    r"steigung)\b"
)

ASIDE: tuple[tuple[str, frozenset[str]], ...] = (
    (
        "a target",
        words_of(
            "target tgt goal setpoint set soll sol ziel sollwert sollleistung zielleistung prescribed planned",
            "consigne cible objetivo obiettivo doel desired requested",
        ),
    ),
    (
        "an average",
        words_of(
            "avg average mean ave durchschnitt durchschnittlich mittel mittelwert mittlere moyenne moy media",
            "medio promedio gem gemiddeld gemiddelde gjennomsnitt snitt medel median ø",
        ),
    ),
    ("an extreme", words_of("max maximum maximal spitzen spitze hochst peak best highest min minimum minimal lowest")),
    ("a weighted value", words_of("normalized normalised norm weighted adjusted adj gewichtet gewichtete corrected")),
    ("a smoothed value", words_of("smoothed smooth smoothened rolling filtered geglattet moving gleitend")),
    ("a percentage", words_of("percent percentage pct prozent relative rel")),
    ("a zone", words_of("zone zones bereich")),
    ("a value per kilogram", words_of("kg")),
    (
        "an estimate, not a measurement",
        words_of(
            "estimated estimate est virtual calculated calc modelled modeled predicted",
            "theoretical expected simulated geschatzt berechnet",
        ),
    ),
    ("a running total", words_of("cumulative accumulated cumul kumuliert")),
    ("the value of a lap or stage", words_of("lap laps interval stage segment runde round")),
    (
        "a difference or a spread",
        words_of(
            "error err diff difference delta deviation accuracy uncertainty sd stdev std",
            "variability variance abweichung fehler differenz",
        ),
    ),
    ("a limit", words_of("threshold critical limit reserve schwelle rated")),
    (
        "not a measurement",
        words_of("status flag valid quality id battery type source name index count version offset gain"),
    ),
)

SIDES: Mapping[str, frozenset[str]] = {
    "left": words_of("left links linke gauche izquierda sinistra vanster venstre l"),
    "right": words_of("right rechts rechte droite derecha destra hoger hoyre r"),
}

TIME_WORDS = words_of(
    "time timestamp datetime date zeit uhrzeit datum zeitstempel laufzeit fahrzeit dauer temps heure horodatage tiempo",
    "hora fecha tempo ora data tijd tijdstip tid dato klokkeslett elapsed duration secs sec seconds second minutes",
    "minute mins min hours hour millis milliseconds ms s t clock epoch unix utc sekunden sekunde minuten stunden",
    "segundos czas cas aika время 时间 時間 timer",
)
TIME_ASIDE = words_of(
    "lap remaining left countdown interval split moving pause paused stopped delta step diff difference zone to start",
    "end stage segment best target average avg last",
)
TIME_HINTS: tuple[tuple[TimeKind, frozenset[str]], ...] = (
    (TimeKind.ELAPSED, words_of("elapsed duration dauer laufzeit fahrzeit stopwatch timer verstrichen")),
    (TimeKind.CLOCK, words_of("clock uhrzeit klokkeslett hora heure ora")),
)
