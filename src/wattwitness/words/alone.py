"""Words for one recording looked at by itself."""

from __future__ import annotations

from wattwitness.model.episodes import Episode, EpisodeKind, Finding, WitnessKind
from wattwitness.words.episodes import WITHOUT_DEPTH, kind_words, where_words
from wattwitness.words.estimates import interval_cell
from wattwitness.words.numbers import NBSP, clock_time, number, percent_level, typeset

NOT_OF_THE_RIDER = "the number leaves its own behaviour"
HEADS = {
    Finding.UNIT: "The number itself shows it",
    Finding.UNDETERMINED: "A change of behaviour, not yet anybody’s fault",
    Finding.RIDER: "The rider’s own change",
    Finding.REFERENCE: "A change of behaviour",
}


def at_words(episode: Episode) -> str:
    """``a drop at 0:31:05``."""
    return f"a {kind_words(episode.kind)} at {clock_time(episode.start_s)}"


def alone_depth_words(episode: Episode) -> str:
    """``21 % (17 to 25, 95 %) below what it foretells``; empty where a depth means nothing."""
    depth = episode.depth_pct
    if depth.value is None or depth.low is None or depth.high is None or episode.kind in WITHOUT_DEPTH:
        return ""
    if episode.kind in (EpisodeKind.SPIKE, EpisodeKind.ZEROS):
        return ""
    decimals = 0 if abs(depth.value) >= 10 else 1
    near, far = sorted((depth.low, depth.high), key=abs)
    bounds = (
        f"{interval_cell(depth, decimals)}{NBSP}%"
        if near * far < 0
        else f"{number(abs(near), decimals)} to {number(abs(far), decimals)}"
    )
    side = "below" if depth.value < 0 else "above"
    size = f"{number(abs(depth.value), decimals)}{NBSP}%"
    told = any(witness.kind is WitnessKind.SURFACE for witness in episode.witnesses) or episode.kind is EpisodeKind.STEP
    than = "what the rest of the ride foretells" if told else "the level around it"
    return f"{size} ({bounds}, {percent_level(depth.level)}) {side} {than}"


def alone_sentence(episode: Episode) -> str:
    """What happened, when, how deep and why it is put down to what it is, as plain sentences."""
    depth = alone_depth_words(episode)
    what = f"A {kind_words(episode.kind)} {where_words(episode)}" + (f": {depth}" if depth else "")
    return f"{what}. {typeset(episode.reason)}"
