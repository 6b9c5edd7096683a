"""Gathers findings of private data: by kind and place, with a count and a few values."""

from __future__ import annotations

from wattwitness.model.private_data import PrivateItem, PrivateKind
from wattwitness.readers.words import plain_text

MOST_EXAMPLES = 50
"""Values kept of one place; they also serve to keep these very words out of what is handed on."""

MOST_PLACES = 500


class Found:
    """Findings in the order in which they are met."""

    def __init__(self) -> None:
        self._counts: dict[tuple[PrivateKind, str], int] = {}
        self._examples: dict[tuple[PrivateKind, str], dict[str, None]] = {}

    def add(self, kind: PrivateKind, where: str, value: object = "", *, count: int = 1) -> None:
        """Count a finding at ``where``; a value is kept as an example."""
        key = (kind, plain_text(where))
        if key not in self._counts and len(self._counts) >= MOST_PLACES:
            return
        self._counts[key] = self._counts.get(key, 0) + count
        examples = self._examples.setdefault(key, {})
        text = plain_text(value)
        if text and len(examples) < MOST_EXAMPLES:
            examples.setdefault(text)

    def items(self) -> tuple[PrivateItem, ...]:
        """All findings, the kinds in their usual order."""
        return tuple(
            PrivateItem(kind=kind, where=where, count=count, examples=tuple(self._examples[kind, where]))
            for wanted in PrivateKind
            for (kind, where), count in self._counts.items()
            if kind is wanted
        )
