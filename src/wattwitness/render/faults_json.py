"""Episodes as JSON: what each is, who it is put down to, what every witness says, and what the schema says of them."""

from __future__ import annotations

from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding, Pattern, Witness, WitnessKind
from wattwitness.model.recording import ChannelName
from wattwitness.render.json_values import JsonObject, json_estimate, json_number
from wattwitness.render.schema_words import (
    Schema,
    boolean_schema,
    list_schema,
    maybe_number_schema,
    number_schema,
    object_schema,
    one_of_schema,
    or_null_schema,
    ref_schema,
    text_schema,
)


def faults_to_json(pair: PairComparison) -> JsonObject:
    """The keys ``episodes`` and ``faults`` of one unit."""
    found = pair.faults
    return {
        "episodes": [] if found is None else [_episode(episode) for episode in found.episodes],
        "faults": None if found is None else _faults(found),
    }


def _episode(episode: Episode) -> JsonObject:
    return {
        "kind": episode.kind.value,
        "start_s": json_number(episode.start_s),
        "end_s": json_number(episode.end_s),
        "duration_s": json_number(episode.duration_s),
        "lasts": episode.lasts,
        "depth_pct": json_estimate(episode.depth_pct),
        "energy_kj": json_estimate(episode.energy_kj),
        "energy_share_pct": json_number(episode.energy_share_pct),
        "certainty": json_number(episode.certainty),
        "finding": episode.finding.value,
        "odds": json_number(episode.odds),
        "reason": episode.reason,
        "before_w": json_number(episode.before_w),
        "before_rpm": json_number(episode.before_rpm),
        "witnesses": [_witness(witness) for witness in episode.witnesses],
    }


def _witness(witness: Witness) -> JsonObject:
    return {
        "kind": witness.kind.value,
        "recorded_by": witness.recorded_by,
        "supports": witness.supports.value,
        "log_odds": json_number(witness.log_odds),
        "change": json_estimate(witness.change),
        "expected_if_unit_right": json_estimate(witness.expected_if_unit_right),
        "expected_if_reference_right": json_estimate(witness.expected_if_reference_right),
        "says": witness.says,
    }


def _faults(found: FaultsFound) -> JsonObject:
    return {
        "hours": json_number(found.hours),
        "bias_without_pct": json_estimate(found.bias_without_pct),
        "lost_kj": json_number(found.lost_kj),
        "channels": [channel.value for channel in found.channels],
        "patterns": [_pattern(pattern) for pattern in found.patterns],
    }


def _pattern(pattern: Pattern) -> JsonObject:
    return {"name": pattern.name, "says": pattern.says, "chance": json_number(pattern.chance)}


def faults_schema() -> dict[str, Schema]:
    """What ``faults_to_json`` gives."""
    return {
        "episodes": list_schema(
            _episode_schema(),
            "Every episode in order of time. Empty is no pass: see faults, null where not looked for.",
        ),
        "faults": or_null_schema(_faults_schema(), "The episodes together; null where they could not be looked for."),
    }


def _episode_schema() -> Schema:
    return object_schema(
        "A stretch in which the unit departs from its own behaviour; onset and end at half depth.",
        kind=one_of_schema(EpisodeKind, "What is seen of the unit's number."),
        start_s=number_schema("Onset, seconds after the reference's first sample."),
        end_s=number_schema("End, seconds after the reference's first sample."),
        duration_s=number_schema("From onset to end, seconds."),
        lasts=boolean_schema("Whether it goes on to the end of the recording."),
        depth_pct=ref_schema(
            "estimate",
            "Change of the unit against what its own relation to the reference foretells, %; negative for a drop. With "
            "the finding rider the change of the effort.",
        ),
        energy_kj=ref_schema(
            "estimate", "Energy missing from the unit's record, kJ; positive when lost. Not assessed if not the unit's."
        ),
        energy_share_pct=maybe_number_schema("That in percent of the work of the whole ride."),
        certainty=maybe_number_schema("Probability that it is no chance of noise and wander."),
        finding=one_of_schema(Finding, "Who it is put down to."),
        odds=maybe_number_schema("How many to one the unit is at fault rather than the reference; null: not weighed."),
        reason=text_schema("Why the finding is what it is, in plain words."),
        before_w=maybe_number_schema("Power just before, W."),
        before_rpm=maybe_number_schema("Cadence just before, rpm."),
        witnesses=list_schema(_witness_schema(), "Every channel that was asked."),
    )


def _witness_schema() -> Schema:
    return object_schema(
        "One channel's account of the episode.",
        kind=one_of_schema(WitnessKind, "The channel."),
        recorded_by=text_schema("The meter whose channel it is."),
        supports=one_of_schema(Finding, "The finding it speaks for by itself; undetermined where it does not."),
        log_odds=maybe_number_schema(
            "Natural logarithm of how much likelier what it shows is under the reference's account than the unit's: "
            "positive speaks against the unit."
        ),
        change=ref_schema("estimate", "What it did against the time around, in its own unit or %."),
        expected_if_unit_right=ref_schema("estimate", "What it should have done if the unit were right."),
        expected_if_reference_right=ref_schema("estimate", "What it should have done if the reference were right."),
        says=text_schema("Its account in plain words."),
    )


def _faults_schema() -> Schema:
    return object_schema(
        "All episodes of the ride together.",
        hours=number_schema("How long both were recorded; no episode shows nothing beyond these hours."),
        bias_without_pct=ref_schema(
            "estimate", "Bias outside the episodes with the finding unit, reference or undetermined, %."
        ),
        lost_kj=number_schema("Energy missing over the episodes with the finding unit or undetermined, kJ."),
        channels=list_schema(one_of_schema(ChannelName, "A channel."), "Channels that could be asked, beside power."),
        patterns=list_schema(
            object_schema(
                "One question about several episodes.",
                name=text_schema("Its name."),
                says=text_schema("The answer in plain words."),
                chance=maybe_number_schema(
                    "Probability of so much of a pattern by chance; null where there are too few to tell."
                ),
            ),
            "What the episodes have in common.",
        ),
    )
