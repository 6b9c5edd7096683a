"""A plan as JSON, and its published schema: both made from its types."""

from __future__ import annotations

import json

from wattwitness.model.plan import StudyPlan
from wattwitness.render.json_schema import SCHEMA_VERSION, estimate_schema
from wattwitness.render.json_values import JsonObject
from wattwitness.render.schema_words import Schema, constant_schema, object_schema
from wattwitness.render.tree_json import json_tree, tree_schema


def plan_text(plan: StudyPlan) -> str:
    """The plan as indented JSON text; valid for every parser, so without NaN or infinity."""
    return json.dumps(plan_to_json(plan), indent=2, ensure_ascii=False, allow_nan=False)


def plan_to_json(plan: StudyPlan) -> JsonObject:
    """The plan under the names of its own fields."""
    tree: JsonObject = json_tree(plan)
    return {"schema_version": SCHEMA_VERSION, **tree}


def plan_schema() -> Schema:
    """The JSON Schema (draft 2020-12) of what ``plan_to_json`` gives."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:plan:{SCHEMA_VERSION}",
        "title": "What to ride, and what it would decide",
        **object_schema(
            "What “wattwitness plan --format json” prints. A standard error without bound is null.",
            schema_version=constant_schema(SCHEMA_VERSION, "Raised when a key changes its meaning or goes away."),
            **tree_schema(StudyPlan)["properties"],
        ),
        "$defs": {"estimate": estimate_schema()},
    }
