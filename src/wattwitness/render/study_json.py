"""A study as JSON, and its published schema."""

from __future__ import annotations

import json
from collections.abc import Sequence

from wattwitness.model.episodes import Pattern
from wattwitness.model.study import Consistency, RandomEffects, RideFigures, Study
from wattwitness.render.json_schema import SCHEMA_VERSION, estimate_schema
from wattwitness.render.json_values import JsonObject, json_number
from wattwitness.render.schema_words import (
    Schema,
    constant_schema,
    list_schema,
    number_schema,
    object_schema,
    or_null_schema,
    text_schema,
)
from wattwitness.render.tree_json import json_tree, tree_schema

WITHOUT = ("heart", "relation_covariance", "zones_ridden", "threshold_test")
"""Left to the rides' own comparisons, or said once for all rides under ``rider``."""


def study_text(study: Study, unused: Sequence[tuple[str, str]] = ()) -> str:
    """The study as indented JSON text; valid for every parser, so without NaN or infinity."""
    return json.dumps(study_to_json(study, unused), indent=2, ensure_ascii=False, allow_nan=False)


def studies_text(studies: Sequence[Study]) -> str:
    """Several studies, each as ``study_text`` has it, under ``studies``."""
    whole = {
        "schema_version": SCHEMA_VERSION,
        "version": studies[0].version,
        "studies": [study_to_json(study) for study in studies],
    }
    return json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False)


def study_to_json(study: Study, unused: Sequence[tuple[str, str]] = ()) -> JsonObject:
    """The study under the names of its own fields; ``unused`` are files that belong to no ride, with the reason."""
    return {
        "schema_version": SCHEMA_VERSION,
        "version": study.version,
        "unit": study.unit,
        "reference_uncertainty_pct": json_number(study.reference_uncertainty_pct),
        "mean_bias_with_reference_pct": json_tree(study.mean_bias_with_reference_pct),
        "limit_pct": json_number(study.limit_pct),
        "judged_on": study.judged_on,
        "claim": None if study.claim is None else json_tree(study.claim),
        "settings": None if study.settings is None else json_tree(study.settings),
        "verdicts": json_tree(study.verdicts),
        "consistency": _consistency(study.consistency),
        "correction": json_tree(study.correction),
        "before_after": None if study.before_after is None else json_tree(study.before_after),
        "rider": None if study.rider is None else json_tree(study.rider),
        "rides": [_ride(ride) for ride in study.rides],
        "patterns": [json_tree(pattern) for pattern in study.episode_patterns],
        "unused": [{"file": file, "why": why} for file, why in unused],
    }


def _consistency(found: Consistency) -> JsonObject:
    """The crude figures at the top, those at one power and cadence under ``standardised``."""
    rest: JsonObject = json_tree(found, without=("crude", "standardised", "at_w", "at_rpm"))
    standardised: JsonObject = json_tree(found.standardised)
    at = {"at_w": json_number(found.at_w), "at_rpm": json_number(found.at_rpm)}
    crude: JsonObject = json_tree(found.crude)
    return {**crude, "standardised": {**standardised, **at}, **rest}


def _ride(ride: RideFigures) -> JsonObject:
    """``left_out`` is the slug of why a ride does not count, ``null`` where it does."""
    return {**json_tree(ride, without=WITHOUT), "left_out": ride.left_out or None}


def study_schema() -> Schema:
    """The JSON Schema (draft 2020-12) of what ``study_to_json`` gives."""
    whole = tree_schema(Study, without=WITHOUT)["properties"]
    effects = tree_schema(RandomEffects)["properties"]
    rest = tree_schema(Consistency, without=("crude", "standardised", "at_w", "at_rpm"))["properties"]
    at = {"at_w": or_null_schema(number_schema(""), "W"), "at_rpm": or_null_schema(number_schema(""), "rpm")}
    ride = tree_schema(RideFigures, without=WITHOUT)
    ride["properties"]["left_out"] = or_null_schema(text_schema("A slug."), "Why it does not count; null: it counts.")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:study:{SCHEMA_VERSION}",
        "title": "A unit over many rides",
        **object_schema(
            "What “wattwitness study --format json” prints.",
            schema_version=constant_schema(SCHEMA_VERSION, "Raised when a key changes its meaning or goes away."),
            version=text_schema("Version of the program."),
            unit=text_schema("The unit under test."),
            reference_uncertainty_pct=whole["reference_uncertainty_pct"],
            mean_bias_with_reference_pct=whole["mean_bias_with_reference_pct"],
            limit_pct=whole["limit_pct"],
            judged_on=whole["judged_on"],
            claim=whole["claim"],
            settings=whole["settings"],
            verdicts=whole["verdicts"],
            consistency=object_schema(
                "Is it the same every day? As ridden; under standardised at one power and cadence.",
                **effects,
                standardised=object_schema("At one power and cadence.", **effects, **at),
                **rest,
            ),
            correction=whole["correction"],
            before_after=whole["before_after"],
            rider=whole["rider"],
            rides=list_schema(ride, "Every ride, in the order given; those that do not count too."),
            patterns=list_schema(tree_schema(Pattern), "What the episodes of all rides have in common."),
            unused=list_schema(
                object_schema("A file of the folder.", file=text_schema("Its path."), why=text_schema("Why.")),
                "Files that belong to no ride.",
            ),
        ),
        "$defs": {"estimate": estimate_schema()},
    }
