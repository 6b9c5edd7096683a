"""What episodes, findings and witnesses are called in sentences."""

from __future__ import annotations

from wattwitness.model.episodes import Episode, EpisodeKind, Finding, WitnessKind
from wattwitness.words.estimates import interval_cell, listed
from wattwitness.words.numbers import ABSENT, NBSP, clock_time, long_duration, number, percent_level

KINDS = {
    EpisodeKind.DROP: ("drop", "drops"),
    EpisodeKind.SURGE: ("surge", "surges"),
    EpisodeKind.FROZEN: ("frozen stretch", "frozen stretches"),
    EpisodeKind.MISSING: ("missing stretch", "missing stretches"),
    EpisodeKind.SPIKE: ("spike", "spikes"),
    EpisodeKind.ZEROS: ("stretch of zeros while pedalling", "stretches of zeros while pedalling"),
    EpisodeKind.CLOCK_JUMP: ("clock jump", "clock jumps"),
    EpisodeKind.STEP: ("step that stays", "steps that stay"),
}

FINDINGS = {
    Finding.UNIT: "the unit",
    Finding.REFERENCE: "the reference",
    Finding.RIDER: "the rider",
    Finding.UNDETERMINED: "cannot be told",
}

FINDINGS_IN_A_CELL = {
    Finding.UNIT: "unit",
    Finding.REFERENCE: "reference",
    Finding.RIDER: "rider",
    Finding.UNDETERMINED: "unclear",
}

WITNESSES = {
    WitnessKind.REFERENCE: "the reference’s power",
    WitnessKind.CADENCE: "cadence",
    WitnessKind.RESISTANCE: "the resistance as logged",
    WitnessKind.HEART_RATE: "heart rate",
    WitnessKind.OTHER_METER: "a third meter",
    WitnessKind.SURFACE: "the unit’s own power at this cadence and resistance",
}

WITHOUT_DEPTH = (EpisodeKind.CLOCK_JUMP, EpisodeKind.MISSING)
READ_OFF = (*WITHOUT_DEPTH, EpisodeKind.ZEROS)
"""Kinds that are read off the record: no relation to the reference says how deep they are, and no chance is in them."""


def kind_words(kind: EpisodeKind, count: int = 1) -> str:
    """``drop`` or ``drops``."""
    return KINDS[kind][0 if count == 1 else 1]


def kind_at_fault(episode: Episode) -> EpisodeKind:
    """What the number of the meter at fault did: where the unit rose against a reference at fault, that one fell.

    ``kind`` itself is what is seen of the unit.
    """
    if episode.finding is not Finding.REFERENCE:
        return episode.kind
    turned = {EpisodeKind.DROP: EpisodeKind.SURGE, EpisodeKind.SURGE: EpisodeKind.DROP}
    return turned.get(episode.kind, episode.kind)


def kinds_counted(episodes: tuple[Episode, ...]) -> str:
    """``2 drops and 1 spike``, in the order in which the kinds first come."""
    kinds = list(dict.fromkeys(episode.kind for episode in episodes))
    counts = [(kind, sum(episode.kind is kind for episode in episodes)) for kind in kinds]
    return listed([f"{number(count, 0)}{NBSP}{kind_words(kind, count)}" for kind, count in counts])


def depth_words(episode: Episode) -> str:
    """``31 % (27 to 35, 95 %) below what it should have shown``; empty where a depth means nothing."""
    depth = episode.depth_pct
    if depth.value is None or depth.low is None or depth.high is None or episode.kind in READ_OFF:
        return ""
    size = f"{number(abs(depth.value), 0 if abs(depth.value) >= 10 else 1)}{NBSP}%"
    decimals = 0 if abs(depth.value) >= 10 else 1
    near, far = sorted((depth.low, depth.high), key=abs)
    if near * far < 0:
        bounds = f"{interval_cell(depth, decimals)}{NBSP}%"
    else:
        bounds = f"{number(abs(near), decimals)} to {number(abs(far), decimals)}"
    side = "below" if depth.value < 0 else "above"
    return f"{size} ({bounds}, {percent_level(depth.level)}) {side} what its own relation to the reference gives"


def where_words(episode: Episode) -> str:
    """``from 0:31:05 to 0:33:10 (2 min 05 s)``."""
    length = episode.duration_s
    lasted = long_duration(length) if length >= 1 else f"{number(length, 1)}{NBSP}s"
    end = "to the end of the recording" if episode.lasts else f"to {clock_time(episode.end_s)}"
    return f"from {clock_time(episode.start_s)} {end} ({lasted})"


def odds_words(odds: float | None) -> str:
    """``more than 1000 to 1``, ``about 40 to 1``, ``1 to 8``; empty where nothing was weighed."""
    if odds is None or odds != odds or odds <= 0:
        return ""
    if odds >= 1000:
        return f"more than 1000{NBSP}to{NBSP}1"
    if odds >= 1:
        return f"about {number(odds, 0 if odds >= 10 else 1)}{NBSP}to{NBSP}1"
    return odds_words(1 / odds).replace(f"{NBSP}to{NBSP}1", "") + f"{NBSP}to{NBSP}1 against"


def odds_cell(odds: float | None) -> str:
    """The same for a table's narrow column: ``>1000 to 1``, ``40 to 1``, ``1 to 8``; a dash where not weighed."""
    if odds is None or odds != odds or odds <= 0:
        return ABSENT
    size = max(odds, 1 / odds)
    said = ">1000" if size >= 1000 else number(size, 0 if size >= 10 else 1)
    return f"{said}{NBSP}to{NBSP}1" if odds >= 1 else f"1{NBSP}to{NBSP}{said}"


def episode_sentence(episode: Episode, reference: str, unit: str) -> str:
    """What happened in one episode, when, how deep, and who it is put down to, as one or two plain sentences."""
    who = {Finding.REFERENCE: reference, Finding.UNIT: unit}.get(episode.finding, unit)
    depth = depth_words(episode)
    if episode.finding is Finding.RIDER:
        what = f"The effort itself changed {where_words(episode)}"
        shown = f": {number(episode.depth_pct.value, 0, signed=True)}{NBSP}%" if episode.depth_pct.assessed else ""
        return f"{what}{shown}. {episode.reason}"
    lead = (
        f"A {kind_words(kind_at_fault(episode))} of {who}"
        if episode.finding is not Finding.UNDETERMINED
        else (f"A {kind_words(episode.kind)} in {unit} against {reference}")
    )
    middle = f": {depth}" if depth and episode.finding is not Finding.REFERENCE else ""
    return f"{lead} {where_words(episode)}{middle}. {episode.reason}"
