"""What a study amounts to, as the exit status of a command."""

from __future__ import annotations

from collections.abc import Sequence

from wattwitness.model.claim import VerdictWord
from wattwitness.model.study import Study
from wattwitness.workflows.outcome import Outcome


def outcome_of_study(study: Study) -> Outcome:
    """Broken where a claim is shown not to be met; nothing concluded where no ride counts."""
    if not any(ride.counts for ride in study.rides):
        return Outcome.NOTHING_CONCLUDED
    verdicts = (study.verdicts.trueness, study.verdicts.consistency, study.verdicts.faults)
    if any(verdict.verdict is VerdictWord.DOES_NOT_CONFORM for verdict in verdicts):
        return Outcome.LIMIT_BROKEN
    return Outcome.PRODUCED


def worst_of_studies(studies: Sequence[Study]) -> Outcome:
    """Of several: a claim that is not met stands before nothing concluded, and both before an answer."""
    found = {outcome_of_study(study) for study in studies}
    return next(one for one in (Outcome.LIMIT_BROKEN, Outcome.NOTHING_CONCLUDED, Outcome.PRODUCED) if one in found)
