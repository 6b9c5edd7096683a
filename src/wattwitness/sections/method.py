"""How it was done: what the numbers mean, the settings, the recordings and the version, so that it can be repeated."""

from __future__ import annotations

from wattwitness.model.comparison import Comparison, RecordingSummary
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.sections.small_print import PRIVATE, limit_words, settings_table
from wattwitness.words.names import clean, recording_name
from wattwitness.words.numbers import long_duration, number, percent_level, quantity, utc_time
from wattwitness.words.parts import channel_words

NAME = "method"
TITLE = "Method, settings and recordings"


def build(comparison: Comparison) -> Section:
    """Small print that lets another tester repeat the comparison."""
    level = percent_level(comparison.settings.level)
    definitions = (
        "Bias is the unit’s power summed over the seconds both meters showed power, over the reference’s, less one, in "
        "percent; negative where the unit reads low. Coasting counts as zero, a missing sample as missing. The "
        "reference is first passed through the unit’s response, so that a smooth or late display is not counted as "
        f"wrong. Intervals are {level} unless they say otherwise and allow for errors that wander over minutes. "
        "Numbers are rounded after they are compared. Times are those of the reference’s clock, from its first sample."
    )
    return Section(
        name=NAME,
        title=TITLE,
        blocks=(
            Paragraph(text=definitions, tone=Tone.NOTE),
            _recordings(comparison),
            settings_table(comparison.settings),
            Paragraph(text=limit_words(comparison.settings.limit_pct), tone=Tone.NOTE),
            Paragraph(text=f"Made with wattwitness {comparison.version}. {PRIVATE}", tone=Tone.NOTE),
        ),
    )


def recordings_of(comparison: Comparison) -> tuple[RecordingSummary, ...]:
    """The reference and every unit, each once."""
    return (comparison.pairs[0].reference, *(pair.unit for pair in comparison.pairs)) if comparison.pairs else ()


def _recordings(comparison: Comparison) -> Table:
    recordings = recordings_of(comparison)
    return Table(
        caption="The recordings",
        columns=(
            Column(heading="", numeric=False),
            *(
                Column(heading=f"{'reference' if place == 0 else 'unit'}: {recording_name(item)}", numeric=False)
                for place, item in enumerate(recordings)
            ),
        ),
        rows=tuple((what, *cells) for what, cells in _facts(recordings)),
        folded=True,
    )


def _facts(recordings: tuple[RecordingSummary, ...]) -> list[tuple[str, list[str]]]:
    return [
        ("file", [clean(item.source.file_name) or "–" for item in recordings]),
        ("part of the file", [_part(item) for item in recordings]),
        ("format", [clean(item.source.format_name) or "–" for item in recordings]),
        ("bytes", [number(item.source.size_bytes, 0) for item in recordings]),
        ("SHA-256 of the bytes", [item.source.sha256 or "–" for item in recordings]),
        ("meter, as the file says", [_meter(item) for item in recordings]),
        (
            "first sample",
            [utc_time(item.first_sample_utc) if item.first_sample_utc else "undated" for item in recordings],
        ),
        ("length", [long_duration(item.duration_s) for item in recordings]),
        ("samples", [number(item.samples, 0) for item in recordings]),
        ("spacing", [_spacing(item) for item in recordings]),
        ("channels", [", ".join(channel_words(name) for name, _ in item.channels) or "–" for item in recordings]),
    ]


def _part(item: RecordingSummary) -> str:
    label = clean(item.source.part_label)
    return f"{item.source.part}: {label}" if label else number(item.source.part, 0)


def _meter(item: RecordingSummary) -> str:
    meter = item.meter
    known = [clean(text) for text in (meter.maker, meter.product) if text]
    if meter.firmware:
        known.append(f"firmware {clean(meter.firmware)}")
    return ", ".join(known) or "–"


def _spacing(item: RecordingSummary) -> str:
    return "when something changed" if item.event_driven else quantity(item.step_s, "s", 2)
