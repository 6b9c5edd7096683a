"""One recording alone as JSON, and its published schema."""

from __future__ import annotations

import json
from dataclasses import fields

from wattwitness.model.alone import AloneReport, Yardstick
from wattwitness.model.episodes import Episode, EpisodeKind, Finding, WitnessKind
from wattwitness.model.settings import AloneSettings
from wattwitness.render.json_form import recording_to_json
from wattwitness.render.json_schema import SCHEMA_VERSION, estimate_schema, notice_schema, recording_schema
from wattwitness.render.json_values import JsonObject, json_estimate, json_number, json_record
from wattwitness.render.schema_words import (
    Schema,
    boolean_schema,
    constant_schema,
    list_schema,
    maybe_number_schema,
    number_schema,
    object_schema,
    one_of_schema,
    ref_schema,
    text_schema,
)
from wattwitness.sections.alone import CAN_SHOW, CANNOT_SHOW, WANTS


def alone_text(report: AloneReport) -> str:
    """The report as indented JSON text; valid for every parser, so without NaN or infinity."""
    return json.dumps(alone_to_json(report), indent=2, ensure_ascii=False, allow_nan=False)


def alone_to_json(report: AloneReport) -> JsonObject:
    """The report under the names of its own fields, without the series."""
    surface = json_record(report.surface)
    surface["held_against"] = report.surface.yardstick.value
    del surface["yardstick"]
    return {
        "schema_version": SCHEMA_VERSION,
        "version": report.version,
        "settings": json_record(report.settings),
        "recording": recording_to_json(report.recording),
        "hours": json_number(report.hours),
        "mean_w": json_number(report.mean_w),
        "lost_kj": json_number(report.lost_kj),
        "surface": surface,
        "episodes": [_episode(episode) for episode in report.episodes],
        "channels": [name.value for name in report.channels],
        "can_show": CAN_SHOW,
        "cannot_show": CANNOT_SHOW,
        "would_help": [{"what": slug, "how": WANTS[slug]} for slug in report.wanting],
    }


def alone_schema() -> Schema:
    """The JSON Schema (draft 2020-12) of what ``alone_to_json`` gives."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:alone:{SCHEMA_VERSION}",
        "title": "wattwitness, one recording alone",
        **object_schema(
            "What one recording shows of itself. Times are seconds after its first sample; null is missing.",
            schema_version=constant_schema(
                SCHEMA_VERSION, "Version of this form; it changes when a key changes meaning."
            ),
            version=text_schema("Version of the program."),
            settings=object_schema(
                "The settings.",
                **{item.name: number_schema(item.metadata["meaning"]) for item in fields(AloneSettings)},
            ),
            recording=ref_schema("recording", "What was read."),
            hours=number_schema("Hours of power that were looked at."),
            mean_w=maybe_number_schema("Mean power as recorded, W."),
            lost_kj=number_schema("Energy that the record lost over all episodes that are not the rider’s, kJ."),
            surface=_surface(),
            episodes=list_schema(_episode_schema(), "Every stretch found, in order of time."),
            channels=list_schema(text_schema("A channel."), "Channels beside power that could be asked."),
            can_show=text_schema("What one recording can show."),
            cannot_show=text_schema("What it cannot."),
            would_help=list_schema(
                object_schema("One thing.", what=text_schema("Stable name."), how=text_schema("In a sentence.")),
                "What would make the answer firmer, most useful first.",
            ),
        ),
        "$defs": {"estimate": estimate_schema(), "recording": recording_schema(), "notice": notice_schema()},
    }


def _episode(episode: Episode) -> JsonObject:
    return {
        "kind": episode.kind.value,
        "start_s": json_number(episode.start_s),
        "end_s": json_number(episode.end_s),
        "depth_pct": json_estimate(episode.depth_pct),
        "energy_kj": json_estimate(episode.energy_kj),
        "energy_share_pct": json_number(episode.energy_share_pct),
        "certainty": json_number(episode.certainty),
        "finding": episode.finding.value,
        "reason": episode.reason,
        "odds": json_number(episode.odds),
        "lasts": episode.lasts,
        "before_w": json_number(episode.before_w),
        "before_rpm": json_number(episode.before_rpm),
        "witnesses": [
            {
                "kind": witness.kind.value,
                "change": json_estimate(witness.change),
                "log_odds": json_number(witness.log_odds),
                "supports": witness.supports.value,
                "says": witness.says,
            }
            for witness in episode.witnesses
        ],
    }


def _surface() -> Schema:
    return object_schema(
        "What the power was held against, and how well it follows.",
        held_against=one_of_schema(Yardstick, "What foretells it."),
        why=text_schema("That in a sentence."),
        scatter_pct=maybe_number_schema("Robust standard deviation of means over 40 s around it, %."),
        known_pct=maybe_number_schema("Share of pedalled seconds at which it is known, %."),
        lag_s=maybe_number_schema("How late power shows cadence and resistance, s."),
        course_pct=maybe_number_schema("Its slow change along the whole ride, %."),
        low_rpm=maybe_number_schema("Lowest usual cadence, rpm."),
        high_rpm=maybe_number_schema("Highest usual cadence, rpm."),
        levels={"type": ["integer", "null"], "description": "How many different resistances were logged, or null."},
    )


def _episode_schema() -> Schema:
    return object_schema(
        "One stretch in which the number leaves its own behaviour.",
        kind=one_of_schema(EpisodeKind, "What is seen."),
        start_s=number_schema("Onset, at half depth."),
        end_s=number_schema("End, at half depth."),
        depth_pct=ref_schema("estimate", "Change against what was foretold; negative for a drop."),
        energy_kj=ref_schema("estimate", "Energy that the record lost by it; positive when lost."),
        energy_share_pct=maybe_number_schema("That in percent of the work recorded."),
        certainty=number_schema("Probability that it is no chance of noise and wander."),
        finding=one_of_schema(
            Finding, "unit only where the number itself shows it; a change of behaviour is undetermined."
        ),
        reason=text_schema("Why, in a sentence."),
        odds=maybe_number_schema("How many to one heart rate speaks against the number; null where not weighed."),
        lasts=boolean_schema("Whether it goes on to the end of the recording."),
        before_w=maybe_number_schema("Mean power of the minute before, W."),
        before_rpm=maybe_number_schema("Mean cadence of the minute before, rpm."),
        witnesses=list_schema(
            object_schema(
                "One channel’s account.",
                kind=one_of_schema(WitnessKind, "Which channel."),
                change=ref_schema("estimate", "What it did against the time around."),
                log_odds=number_schema("Natural logarithm of the odds it gives against the number; 0 says nothing."),
                supports=one_of_schema(Finding, "What it speaks for by itself."),
                says=text_schema("In a sentence."),
            ),
            "What the other channels say.",
        ),
    )
