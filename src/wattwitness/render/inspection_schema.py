"""The published JSON Schema (draft 2020-12) of what files hold."""

from __future__ import annotations

from wattwitness.model.recording import ChannelName
from wattwitness.render.json_schema import SCHEMA_VERSION, notice_schema
from wattwitness.render.schema_words import (
    Schema,
    boolean_schema,
    constant_schema,
    integer_schema,
    list_schema,
    maybe_number_schema,
    object_schema,
    ref_schema,
    text_schema,
)


def inspection_schema() -> Schema:
    """The schema of what ``inspections_to_json`` gives."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:inspection:{SCHEMA_VERSION}",
        "title": "wattwitness inspection",
        **object_schema(
            "What files hold and what is wrong with them. Times are in seconds; null is missing, never zero.",
            schema_version=constant_schema(
                SCHEMA_VERSION, "Version of this form; it changes when a key changes meaning."
            ),
            files=list_schema(_file(), "One entry a file, in the order given.", least=1),
        ),
        "$defs": {"notice": notice_schema()},
    }


def _file() -> Schema:
    return object_schema(
        "One file.",
        file_name=text_schema("Its name, without folders."),
        size_bytes=integer_schema("Its size."),
        sha256=text_schema("SHA-256 of its content."),
        format=text_schema("The format it was read as."),
        recordings=list_schema(_recording(), "Every recording in it, or the one part asked for.", least=1),
    )


def _recording() -> Schema:
    meter = object_schema(
        "What the file says of the meter; empty where it says nothing.",
        maker=text_schema("Maker."),
        product=text_schema("Product."),
        serial=text_schema("Serial number; only where it was asked for and the file has one."),
        firmware=text_schema("Firmware."),
    )
    meter["required"].remove("serial")
    return object_schema(
        "One recording.",
        part=integer_schema("Its place in the file, from 1."),
        part_label=text_schema("What in the file tells the parts apart; may be empty."),
        meter=meter,
        first_sample_utc={"type": ["string", "null"], "description": "Time of the first sample, ISO 8601; or null."},
        duration_s=maybe_number_schema("From the first to the last sample."),
        samples=integer_schema("How many samples."),
        step_s=maybe_number_schema("Median spacing of samples; null with fewer than two."),
        event_driven=boolean_schema("Whether the recorder wrote only when something changed."),
        channels={
            "type": "object",
            "description": "What each channel holds, in the unit that its name says.",
            "properties": {name.value: _channel(name) for name in ChannelName},
            "additionalProperties": False,
        },
        gaps=list_schema(_stretch(), "Stretches without a sample that no pause explains."),
        pauses=list_schema(_stretch(), "Stretches in which the recorder was stopped."),
        notices=list_schema(ref_schema("notice"), "What was wrong in the file."),
    )


def _channel(name: ChannelName) -> Schema:
    return object_schema(
        f"What there is of {name.value}.",
        samples=integer_schema("How many samples have a value."),
        minimum=maybe_number_schema("The least."),
        mean=maybe_number_schema("The mean."),
        maximum=maybe_number_schema("The greatest."),
    )


def _stretch() -> Schema:
    return object_schema(
        "One stretch.",
        at_s=maybe_number_schema("Seconds after the first sample."),
        length_s=maybe_number_schema("How long."),
    )
