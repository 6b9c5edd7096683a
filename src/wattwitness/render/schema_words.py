"""The words a JSON Schema is written in: objects that hold all their keys and no other, lists, numbers, references."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

Schema = dict[str, Any]


def object_schema(description: str, **properties: Schema) -> Schema:
    """An object that holds all of ``properties`` and nothing else."""
    return {
        "type": "object",
        "description": description,
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def list_schema(items: Schema, description: str, *, least: int = 0) -> Schema:
    """An array of ``items``."""
    return {"type": "array", "description": description, "items": items, "minItems": least}


def ref_schema(name: str, description: str = "") -> Schema:
    """What stands under ``name`` in the definitions."""
    reference: Schema = {"$ref": f"#/$defs/{name}"}
    return {**reference, "description": description} if description else reference


def or_null_schema(schema: Schema, description: str) -> Schema:
    """``schema``, or null."""
    return {"description": description, "anyOf": [schema, {"type": "null"}]}


def one_of_schema(kinds: type[StrEnum], description: str) -> Schema:
    """One of the values of an enumeration."""
    return {"enum": [kind.value for kind in kinds], "description": description}


def constant_schema(value: int, description: str) -> Schema:
    """Exactly ``value``."""
    return {"const": value, "description": description}


def text_schema(description: str) -> Schema:
    """A string."""
    return {"type": "string", "description": description}


def integer_schema(description: str) -> Schema:
    """A whole number, zero or more."""
    return {"type": "integer", "minimum": 0, "description": description}


def number_schema(description: str) -> Schema:
    """A number."""
    return {"type": "number", "description": description}


def maybe_number_schema(description: str) -> Schema:
    """A number, or null where it is missing."""
    return {"type": ["number", "null"], "description": description}


def boolean_schema(description: str) -> Schema:
    """True or false."""
    return {"type": "boolean", "description": description}
