"""Three verdicts as signs: a word each, never a colour alone."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.study import Study
from wattwitness.sections.over_rides.verdict import WORDS

ASPECTS = (("trueness", "right on average"), ("consistency", "the same every day"), ("faults", "free from faults"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One verdict: ``kind`` is its word as a key, ``says`` what is read."""

    kind: str
    says: str


def signs_of(study: Study) -> list[Sign]:
    """The three, in the order of the report."""
    verdicts = [(words, getattr(study.verdicts, name).verdict) for name, words in ASPECTS]
    return [Sign(kind=verdict.value, says=f"{words}: {WORDS[verdict]}") for words, verdict in verdicts]
