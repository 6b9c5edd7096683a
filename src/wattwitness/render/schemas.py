"""The published JSON Schemas, one for each command that prints JSON."""

from __future__ import annotations

import json
from enum import StrEnum

from wattwitness.render.alone_json import alone_schema
from wattwitness.render.inspection_schema import inspection_schema
from wattwitness.render.json_schema import comparison_schema
from wattwitness.render.plan_json import plan_schema
from wattwitness.render.schema_words import Schema
from wattwitness.render.study_json import study_schema
from wattwitness.render.weighing_schema import weighing_schema


class Printed(StrEnum):
    """The commands whose JSON has a schema."""

    COMPARE = "compare"
    ALONE = "alone"
    INSPECT = "inspect"
    WEIGH = "weigh"
    STUDY = "study"
    PLAN = "plan"


def schema_of(command: Printed) -> Schema:
    """The schema of what ``command`` prints with ``--format json``."""
    return {
        Printed.COMPARE: comparison_schema,
        Printed.ALONE: alone_schema,
        Printed.INSPECT: inspection_schema,
        Printed.WEIGH: weighing_schema,
        Printed.STUDY: study_schema,
        Printed.PLAN: plan_schema,
    }[command]()


def schema_text(command: Printed = Printed.COMPARE) -> str:
    """The same as text."""
    return json.dumps(schema_of(command), indent=2, ensure_ascii=False, allow_nan=False)
