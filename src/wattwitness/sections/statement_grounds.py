"""The grounds of a statement: what the witnesses rule out, how sure it is, and how to see it again."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.model.clock import ClockStatus
from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding, Witness, WitnessKind
from wattwitness.model.recording import ChannelName
from wattwitness.model.section import Paragraph, Tone
from wattwitness.words.episodes import READ_OFF, WITNESSES, kinds_counted
from wattwitness.words.estimates import counted, listed
from wattwitness.words.names import sentence_start, sentence_starts
from wattwitness.words.numbers import NBSP, long_duration, number, percent_level, quantity, typeset
from wattwitness.words.parts import channel_words

TELLS_THE_METERS_APART = (WitnessKind.RESISTANCE, WitnessKind.HEART_RATE, WitnessKind.OTHER_METER, WitnessKind.SURFACE)
"""Kinds of witness that can say which of two meters is right. A cadence that holds fits both."""

MANY = 4
"""From here on a ride until half of them had come is long enough to see some again."""

OF_ONE_RECORD = (
    EpisodeKind.FROZEN,
    EpisodeKind.MISSING,
    EpisodeKind.SPIKE,
    EpisodeKind.ZEROS,
    EpisodeKind.CLOCK_JUMP,
)
"""Kinds that stand in the unit's own samples, whatever another meter measured."""

WHILE_THE_EFFORT_WENT_ON = (EpisodeKind.FROZEN, EpisodeKind.ZEROS)
"""Kinds that are faults only because somebody else says that there was an effort."""

LITTLE_REST_S = 600.0
"""With less of the ride outside its episodes a relation to the reference is poorly known."""

WITNESS_CHANNELS = (ChannelName.CADENCE, ChannelName.RESISTANCE, ChannelName.HEART_RATE)

CAUTION = (
    "Ride only as hard as you are used to and fit for, and stop at pain, dizziness or a bike that behaves oddly; who "
    "is not sure of being fit for the effort asks a doctor first. Do not open the bike. Its maker’s instructions, "
    "local rules and qualified people come before this page."
)


def ruled_out(stated: tuple[Episode, ...], reference: str, unit: str) -> Iterator[Paragraph]:
    """Each kind of witness: in how many episodes it spoke for what, with the clearest account in its own words."""
    kinds = [kind for kind in WitnessKind if any(witness.kind is kind for e in stated for witness in e.witnesses)]
    own = tuple(episode for episode in stated if episode.kind in OF_ONE_RECORD)
    if own:
        yield Paragraph(text=f"{sentence_start(kinds_counted(own))}: seen in the record of {unit} itself.")
    for kind in kinds:
        heard = [witness for episode in stated for witness in episode.witnesses if witness.kind is kind]
        yield Paragraph(text=_heard(kind, heard, len(stated), unit))
    if len(own) < len(stated):
        yield _between_the_meters(stated, reference, unit)
    elif any(episode.kind in WHILE_THE_EFFORT_WENT_ON for episode in own) and not _independent(stated):
        yield Paragraph(
            text=f"No witness that is independent of both meters spoke: that the effort went on meanwhile is the "
            f"word of {reference} alone. Ride again with heart rate, logged resistance or a third meter before this "
            "is sent.",
            tone=Tone.WARNING,
        )


def _independent(stated: tuple[Episode, ...]) -> list[WitnessKind]:
    """The kinds of witness on which neither meter has a hold that spoke against the unit."""
    heard = [witness for episode in stated for witness in episode.witnesses if witness.supports is Finding.UNIT]
    return [kind for kind in TELLS_THE_METERS_APART if any(witness.kind is kind for witness in heard)]


def _between_the_meters(stated: tuple[Episode, ...], reference: str, unit: str) -> Paragraph:
    """Whether anything but the reference itself speaks for the reference."""
    heard = [witness for episode in stated for witness in episode.witnesses if witness.supports is Finding.UNIT]
    against = _independent(stated)
    if not against:
        by_course = any(witness.kind is WitnessKind.REFERENCE for witness in heard)
        ground = (
            f"No channel that is independent of both meters speaks against {unit}; what does is the course of the two "
            f"powers. That {reference} failed instead is less likely, but not ruled out."
            if by_course
            else f"That {reference} failed instead is not ruled out: nothing that is independent of both meters speaks "
            f"against {unit}."
        )
        again = "Ride again with heart rate, logged resistance or a third meter."
        return Paragraph(text=f"{ground} {again}", tone=Tone.WARNING)
    named = listed([WITNESSES[kind] for kind in against])
    return Paragraph(
        text=f"A rider who eases off would have shown in {reference} as well. That {reference} failed instead is "
        f"spoken against by {named}, on which neither of the two meters has a hold."
    )


def _heard(kind: WitnessKind, heard: list[Witness], episodes: int, unit: str) -> str:
    votes = [
        (f"against {unit}", sum(witness.supports is Finding.UNIT for witness in heard)),
        ("for the rider having changed the effort", sum(witness.supports is Finding.RIDER for witness in heard)),
        ("against the reference", sum(witness.supports is Finding.REFERENCE for witness in heard)),
        ("for neither", sum(witness.supports is Finding.UNDETERMINED for witness in heard)),
    ]
    often = "" if episodes == 1 else f" of {counted(episodes, 'episode')}"
    said = listed([f"{words} in {count}{often}" if often else words for words, count in votes if count])
    clearest = max(heard, key=lambda witness: (witness.supports is Finding.UNIT, abs(witness.log_odds)))
    lead = "The clearest: " if episodes > 1 else ""
    return f"{sentence_start(WITNESSES[kind])} speaks {said}. {lead}{sentence_starts(typeset(clearest.says))}"


def uncertainty(
    pair: PairComparison, faults: FaultsFound, stated: tuple[Episode, ...], reference: str, unit: str
) -> Iterator[Paragraph]:
    """What the numbers are worth, what was not counted, and what could not be asked."""
    level = percent_level(stated[0].depth_pct.level)
    told = [
        f"Intervals hold the true value {level} of the time.",
        _against_what(faults, stated, reference, unit),
        _no_chance(stated),
    ]
    yield Paragraph(text=" ".join(told))
    others = [
        (words, sum(episode.finding is finding for episode in faults.episodes))
        for finding, words in (
            (Finding.UNDETERMINED, "that cannot be told apart"),
            (Finding.REFERENCE, f"put down to {reference}"),
            (Finding.RIDER, "put down to the rider"),
        )
    ]
    left = [f"{counted(count, 'episode')} {words}" for words, count in others if count]
    if left:
        left = [f"Not counted here, but in the bundle: {listed(left)}."]
    missing = [name for name in WITNESS_CHANNELS if name not in faults.channels]
    if missing:
        left.append(f"Not recorded, so not asked: {listed([channel_words(name) for name in missing])}.")
    yield Paragraph(text=" ".join([*left, _clock(pair, reference, unit)]))


def _against_what(faults: FaultsFound, stated: tuple[Episode, ...], reference: str, unit: str) -> str:
    """What depth and missing energy are measured against, and whether there was enough of the ride to learn it from."""
    deep = any(episode.kind not in OF_ONE_RECORD for episode in stated)
    what = "The depth is" if deep else "What is missing is"
    own = f"{what} measured against {unit}’s own relation to {reference}"
    fault = [episode for episode in faults.episodes if episode.finding is not Finding.RIDER]
    rest_s = 3600 * faults.hours - sum(episode.duration_s for episode in fault if episode.kind is not EpisodeKind.STEP)
    if rest_s < LITTLE_REST_S:
        return (
            f"{own}; only {long_duration(max(rest_s, 0.0))} lie outside the episodes to learn that from, so it may "
            f"stand on what {reference} shows alone."
        )
    return f"{own} on the rest of the ride, so that a steady error of either is no part of it."


def _no_chance(stated: tuple[Episode, ...]) -> str:
    """How likely it is that noise and wander made the episodes; what is read off the record no chance makes."""
    by_chance = [episode.certainty for episode in stated if episode.kind not in READ_OFF]
    if not by_chance:
        return "That it happened is read off the record itself: no noise or wander makes it."
    least = "" if len(stated) == 1 else " for the least certain of them"
    return f"The probability that it is no chance of noise and wander is {_certainty(min(by_chance))}{least}."


def _certainty(probability: float) -> str:
    return f"more than 99.9{NBSP}%" if probability > 0.999 else quantity(100 * probability, "%", 1)


def _clock(pair: PairComparison, reference: str, unit: str) -> str:
    clock = pair.clock
    if clock.status is ClockStatus.BY_HAND:
        return f"The clocks of {reference} and {unit} were put together by hand; the times stand on that."
    if clock.standard_uncertainty_s == clock.standard_uncertainty_s:
        return (
            f"The clocks of {reference} and {unit} were put together to "
            f"{number(max(clock.standard_uncertainty_s, 0.01), 2)}{NBSP}s (standard uncertainty)."
        )
    return f"The clocks of {reference} and {unit} were put together; how well could not be worked out."


def reproduction(stated: tuple[Episode, ...], unit: str) -> Iterator[Paragraph]:
    """The ride to repeat, in words, with the cautions such riding asks for."""
    ends_min = sorted(episode.end_s / 60 for episode in stated)
    many = len(ends_min) >= MANY
    enough_min = ends_min[len(ends_min) // 2] if many else ends_min[-1]
    powers = [episode.before_w for episode in stated if episode.before_w is not None]
    rates = [episode.before_rpm for episode in stated if episode.before_rpm is not None]
    effort = []
    if powers:
        effort.append(f"at about {_span(powers)}{NBSP}W")
    if rates:
        effort.append(f"{_span(rates)}{NBSP}rpm")
    at = f" {' and '.join(effort)}" if effort else ""
    minutes = 5 * -(-int(enough_min + 5) // 5)
    seen = ", by when half of them had come," if many else ""
    yield Paragraph(
        text=(
            f"Ride {unit} from cold for at least {minutes}{NBSP}min{seen}{at}, with a second meter of known accuracy "
            "recorded beside it, and with heart rate and, where the bike logs it, resistance. Hold cadence and "
            "resistance, and compare the two records; ride it more than once, since it need not come every time."
            + (" One episode does not show that it comes again." if len(stated) == 1 else "")
        )
    )
    yield Paragraph(text=CAUTION, tone=Tone.WARNING)


def _span(values: list[float]) -> str:
    low, high = number(min(values), 0), number(max(values), 0)
    return low if low == high else f"{low} to {high}"
