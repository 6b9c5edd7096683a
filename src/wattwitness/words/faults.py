"""What was found of all episodes of one ride, said in sentences; never firmer than the witnesses.

The unit's own episodes, the reference's, the rider's and those that cannot be told are said apart.
"""

from __future__ import annotations

from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding
from wattwitness.model.estimate import Estimate
from wattwitness.words.episodes import WITHOUT_DEPTH, kind_at_fault, kinds_counted
from wattwitness.words.estimates import listed
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, clock_time, long_duration, number, quantity

MOST_TOLD_ONE_BY_ONE = 3

DID = {
    EpisodeKind.DROP: "fell away",
    EpisodeKind.SURGE: "rose above the effort",
    EpisodeKind.FROZEN: "stood still",
    EpisodeKind.MISSING: "went missing",
    EpisodeKind.SPIKE: "leapt",
    EpisodeKind.ZEROS: "showed zero while the rider pedalled",
    EpisodeKind.CLOCK_JUMP: "lost or repeated time",
    EpisodeKind.STEP: "changed at once and stayed changed",
}
"""What a meter's number did, as the rest of a sentence."""

WITH_DEPTH_TOLD = (EpisodeKind.DROP, EpisodeKind.SURGE, EpisodeKind.STEP)
"""Kinds whose depth says something; a frozen number is now too high and now too low, a zero is all of it."""


def faults_of(pair: PairComparison) -> FaultsFound | None:
    """What was found, or ``None`` where nothing could be: single readings and no common time show no episode."""
    faults = pair.faults
    if faults is None or not faults.hours > 0:
        return None
    spot = pair.reference.spot or pair.unit.spot
    return None if spot and not faults.episodes else faults


def episodes_with(faults: FaultsFound, finding: Finding) -> tuple[Episode, ...]:
    """The episodes with this finding, in order of time."""
    return tuple(episode for episode in faults.episodes if episode.finding is finding)


def times(count: int) -> str:
    """``once``, ``twice``, ``3 times``."""
    return {1: "once", 2: "twice"}.get(count, f"{number(count, 0)}{NBSP}times")


def depth_span(depth: Estimate) -> str:
    """``31 % (28 to 34)``, without a sign where the interval lies on one side; empty where there is no depth."""
    if depth.value is None or depth.low is None or depth.high is None:
        return ""
    decimals = 0 if abs(depth.value) >= 10 else 1
    size = f"{number(abs(depth.value), decimals)}{NBSP}%"
    if depth.low < 0 < depth.high:
        return f"{size} ({number(depth.low, decimals, signed=True)} to {number(depth.high, decimals, signed=True)})"
    near, far = sorted((abs(depth.low), abs(depth.high)))
    return f"{size} ({number(near, decimals)} to {number(far, decimals)})"


def length_words(episode: Episode) -> str:
    """How long an episode was, in words: ``2 min 05 s``, ``0.4 s``."""
    length = episode.duration_s
    return long_duration(length) if length >= 1 else quantity(length, "s", 1)


def one_occasion(episode: Episode) -> str:
    """``by 31 % (28 to 34) for 2 min 05 s from 0:25:00``, as the rest of a sentence."""
    by = f"by {depth_span(episode.depth_pct)} " if _tells_depth(episode) else ""
    return f"{by}{_when(episode)}"


def did_what(whose: str, episodes: tuple[Episode, ...]) -> list[str]:
    """What a number did, one clause for each kind: ``the number fell away twice: by …``. ``whose``: ``its number``."""
    kinds = list(dict.fromkeys(episode.kind for episode in episodes))
    groups = [tuple(episode for episode in episodes if episode.kind is kind) for kind in kinds]
    return [f"{whose if k == 0 else 'it'} {_of_one_kind(group)}" for k, group in enumerate(groups)]


def reference_sentence(faults: FaultsFound, unit: str, reference: str) -> str:
    """What the reference's number did by itself; empty where no episode is put down to it."""
    group = episodes_with(faults, Finding.REFERENCE)
    if not group:
        return ""
    kinds = list(dict.fromkeys(kind_at_fault(episode) for episode in group))
    said = []
    for kind in kinds:
        alike = [episode for episode in group if kind_at_fault(episode) is kind]
        said.append(f"{DID[kind]} {times(len(alike))}, {_places(alike)}")
    fault = "That is a fault" if len(group) == 1 else "Those are faults"
    return f"The number of {reference} {listed(said)}. {fault} of the reference, and none of {unit}."


def rider_sentence(faults: FaultsFound) -> str:
    """When the rider changed the effort, so that both meters show it; empty where that was not."""
    group = episodes_with(faults, Finding.RIDER)
    if not group:
        return ""
    eased = [episode for episode in group if (episode.depth_pct.value or 0.0) < 0 or episode.kind is EpisodeKind.DROP]
    pushed = [episode for episode in group if episode not in eased]
    said = [
        f"{words} {times(len(some))}, {_places(some, with_depth=True)}"
        for words, some in (("eased off", eased), ("pushed harder", pushed))
        if some
    ]
    return f"The rider {listed(said)}: both meters show it, so it is a fault of neither."


def _places(group: list[Episode], *, with_depth: bool = False) -> str:
    """When each was, one by one where they are few: ``for 45 s from 0:41:40``."""
    if len(group) > MOST_TOLD_ONE_BY_ONE:
        return f"between {clock_time(group[0].start_s)} and {clock_time(group[-1].end_s)}"
    return listed([one_occasion(episode) if with_depth else _when(episode) for episode in group])


def _when(episode: Episode) -> str:
    if episode.kind in (EpisodeKind.STEP, EpisodeKind.CLOCK_JUMP):
        return f"at {clock_time(episode.start_s)}"
    if episode.lasts:
        return f"from {clock_time(episode.start_s)} to the end of the recording, {length_words(episode)}"
    return f"for {length_words(episode)} from {clock_time(episode.start_s)}"


def own_sentences(faults: FaultsFound, unit: str) -> str:
    """What the unit's own number did; empty where no episode is put down to the unit."""
    own = episodes_with(faults, Finding.UNIT)
    if not own:
        return ""
    return " ".join(f"{sentence_start(clause)}." for clause in did_what(f"the number of {unit}", own))


def own_in_brief(faults: FaultsFound) -> str:
    """One sentence for the report's first words on what the unit did by itself; empty where it did nothing."""
    own = episodes_with(faults, Finding.UNIT)
    if not own:
        return ""
    deep = [episode for episode in own if _tells_depth(episode)]
    if len({episode.kind for episode in own}) > 1:
        worst = max(deep, key=_weight, default=None)
        example = f"; the worst {DID[worst.kind]} {one_occasion(worst)}" if worst is not None else ""
        return f"Its number failed by itself {times(len(own))}: {kinds_counted(own)}{example}."
    kind, went_on = own[0].kind, " while the effort went on" if own[0].kind is EpisodeKind.DROP else ""
    if len(own) == 1:
        return f"Its number {DID[kind]} once{went_on}, {one_occasion(own[0])}."
    depths = f", {_depths(own)}" if len(deep) == len(own) else ""
    return f"Its number {DID[kind]} {times(len(own))}{went_on}{depths}."


def levels_unclear(faults: FaultsFound, unit: str) -> str:
    """Where the unit stood nearer to the reference within its episodes than apart from them, and long: which of the two
    is its usual level is then not known. Empty otherwise.
    """
    usual_pct = faults.bias_without_pct.value
    if usual_pct is None:
        return ""
    within = [
        (episode.duration_s, 100 * ((1 + usual_pct / 100) * (1 + episode.depth_pct.value / 100) - 1))
        for episode in episodes_with(faults, Finding.UNIT)
        if episode.kind in (EpisodeKind.DROP, EpisodeKind.SURGE) and episode.depth_pct.value is not None
    ]
    nearer = [(seconds, bias_pct) for seconds, bias_pct in within if abs(bias_pct) < abs(usual_pct) - NEARER_POINTS]
    seconds = sum(length for length, _ in nearer)
    if seconds < NEARER_SHARE * 3600 * faults.hours:
        return ""
    bias_pct = sum(length * bias for length, bias in nearer) / seconds
    return (
        f"Which of two levels is the usual one of {unit} cannot be told from this ride: apart from the episodes it is "
        f"off by {number(usual_pct, 0, signed=True)}{NBSP}%, within them, for {long_duration(seconds)}, by "
        f"{number(bias_pct, 0, signed=True)}{NBSP}%. It may be the rest of the ride that is at fault."
    )


NEARER_POINTS = 5.0
NEARER_SHARE = 0.1
"""So much nearer to the reference, for so much of the ride, and an episode may be the sound part."""


def _weight(episode: Episode) -> float:
    """How much of an episode there is to see: depth times duration."""
    return abs(episode.depth_pct.value or 0.0) * episode.duration_s


def counted_in_cell(faults: FaultsFound | None) -> str:
    """The unit's own episodes for a table's cell; those that cannot be told are said, too."""
    if faults is None:
        return "not looked for"
    own = episodes_with(faults, Finding.UNIT)
    unclear = len(episodes_with(faults, Finding.UNDETERMINED))
    said = kinds_counted(own) if own else f"none in {hours_words(faults)}"
    return f"{said}; {number(unclear, 0)} unclear" if unclear else said


def hours_words(faults: FaultsFound) -> str:
    """How long both were recorded: ``0.98 h``."""
    return quantity(faults.hours, "h", 2)


def lost_words(faults: FaultsFound) -> str:
    """The energy that the unit's record lost or gained through episodes, as a sentence; empty where none is known."""
    counted_ones = [
        episode
        for episode in faults.episodes
        if episode.finding in (Finding.UNIT, Finding.UNDETERMINED) and episode.energy_kj.assessed
    ]
    if not counted_ones:
        return ""
    kj = quantity(abs(faults.lost_kj), "kJ", 1)
    verb = "lacks" if faults.lost_kj >= 0 else "holds"
    more = "" if faults.lost_kj >= 0 else " too much"
    shares = [episode.energy_share_pct for episode in counted_ones]
    share = ""
    if all(value is not None for value in shares):
        total = sum(value for value in shares if value is not None)
        share = f", {quantity(abs(total), '%', 1)} of the ride’s work"
    unclear = any(episode.finding is Finding.UNDETERMINED for episode in counted_ones)
    apart = " (unclear ones counted)" if unclear else ""
    return f"Its record {verb} {kj}{more} through {'it' if len(counted_ones) == 1 else 'them'}{share}{apart}."


def _tells_depth(episode: Episode) -> bool:
    return episode.kind in WITH_DEPTH_TOLD and episode.kind not in WITHOUT_DEPTH and episode.depth_pct.assessed


def _of_one_kind(group: tuple[Episode, ...]) -> str:
    did = DID[group[0].kind]
    if len(group) == 1:
        return f"{did} once, {one_occasion(group[0])}"
    if len(group) <= MOST_TOLD_ONE_BY_ONE:
        return f"{did} {times(len(group))}: {listed([one_occasion(episode) for episode in group])}"
    first, last = clock_time(group[0].start_s), clock_time(group[-1].start_s)
    lengths = sorted(group, key=lambda episode: episode.duration_s)
    shortest, longest = length_words(lengths[0]), length_words(lengths[-1])
    lasted = shortest if shortest == longest else f"{shortest} to {longest}"
    by = f"{_depths(group)}, " if all(_tells_depth(episode) for episode in group) else ""
    return f"{did} {times(len(group))} between {first} and {last}, {by}for {lasted} each time"


def _depths(group: tuple[Episode, ...]) -> str:
    """``by 31 %``, ``by 31 % and 28 %``, ``by 12 to 34 %``."""
    sizes = [abs(episode.depth_pct.value or 0.0) for episode in group]
    decimals = 0 if min(sizes) >= 10 else 1
    if len(sizes) <= MOST_TOLD_ONE_BY_ONE:
        return f"by {listed([f'{number(size, decimals)}{NBSP}%' for size in sizes])}"
    low, high = number(min(sizes), decimals), number(max(sizes), decimals)
    return f"by about {low}{NBSP}%" if low == high else f"by {low} to {high}{NBSP}%"


def unclear_words(faults: FaultsFound, unit: str, reference: str) -> str:
    """How many episodes can be put down to neither meter; empty where there is none."""
    unclear = episodes_with(faults, Finding.UNDETERMINED)
    if not unclear:
        return ""
    verb = "remains" if len(unclear) == 1 else "remain"
    return (
        f"{sentence_start(kinds_counted(unclear))} {verb} unclear: what was recorded does not tell whether {unit} or "
        f"{reference} was wrong."
    )
