"""The answer first: how far off each unit is, in sentences, and what that stands on."""

from __future__ import annotations

from wattwitness.agreement.change import change_of_bias
from wattwitness.charts import bias_intervals
from wattwitness.model.clock import ClockStatus
from wattwitness.model.comparison import Comparison, PairComparison
from wattwitness.model.corrected_copy import SLUG
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import ResponseKind
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.settling import TimeModel
from wattwitness.sections.building import Block, Named, interval_heading, named_pairs
from wattwitness.words.estimates import (
    against_true_power,
    counted,
    holds_zero,
    interval_cell,
    interval_words,
    reads,
    side,
    value_cell,
    with_interval,
)
from wattwitness.words.faults import counted_in_cell, faults_of, own_in_brief, unclear_words
from wattwitness.words.limit import limit_is_broken, limit_words, stated_limit
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, decimals_for, long_duration, number, quantity, typeset
from wattwitness.words.one_number import likeliest_causes, never_moves, what_to_look_at
from wattwitness.words.parts import channel_words, response_words

NAME = "answer"
TITLE = "The answer"
SAME_WITHIN = 1.0
CORRECTED = (
    "its power is not what the meter showed. What is found here says how good the correction is, and nothing of the "
    "meter as it stands."
)


def build(comparison: Comparison) -> Section:
    """A headline for each unit, a table of all where there are several, then what each stands on."""
    pairs = named_pairs(comparison)
    limit_pct = comparison.settings.limit_pct
    blocks: list[Block] = []
    for named in pairs:
        blocks.append(Paragraph(text=headline(named), tone=Tone.HEADLINE))
        blocks += _corrected(named)
        if course := _course(named.pair):
            blocks.append(Paragraph(text=f"{sentence_start(named.unit)}: {course[:1].lower()}{course[1:]}"))
    if any(named.pair.overall.bias_pct.assessed for named in pairs):
        units = [named.unit for named in pairs]
        blocks.append(bias_intervals.build_glance(comparison.pairs, units, limit_pct=limit_pct))
    if len(pairs) > 1:
        blocks.append(_at_a_glance(pairs, limit_pct))
        blocks += _common_reference(pairs)
    for named in pairs:
        blocks += _support(named, limit_pct, alone=len(pairs) == 1)
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))


def headline(named: Named) -> str:
    """The one sentence that answers the question, or says why there is no answer."""
    pair, unit = named.pair, sentence_start(named.unit)
    if still := never_moves(pair, named.reference, named.unit):
        return still
    if pair.clock.status is ClockStatus.AMBIGUOUS:
        return f"{unit} cannot be compared second by second: its clock against the reference’s is ambiguous."
    if pair.clock.status is ClockStatus.NO_COMMON_EFFORT:
        return f"Nothing is concluded about {named.unit}: the two recordings show no effort in common."
    if pair.clock.status is ClockStatus.SAME_SOURCE:
        return f"Nothing is concluded about {named.unit}: both files hold the same recording, so this is no comparison."
    bias = pair.overall.bias_pct
    if not bias.assessed:
        nothing = f"Nothing is concluded about the power of {named.unit}: {_why(pair)}"
        return f"{nothing} {_own_episodes(pair)}".strip()
    own, faults = _own_episodes(pair), pair.faults
    if own and faults is not None and faults.bias_without_pct.assessed:
        usual = f"{unit} {reads(faults.bias_without_pct)} apart from its episodes."
        return f"{usual} {own} With them, over the whole ride, it {reads(bias)}."
    clause = _halves_clause(pair)
    bias_words = f"{unit} {reads(bias)}{', ' + clause if clause and not holds_zero(bias) else ''}."
    return f"{bias_words} {_own_episodes(pair)}".strip()


def _corrected(named: Named) -> list[Block]:
    """A warning for each of the two that is no longer what its meter showed."""
    both = ((named.reference, named.pair.reference), (named.unit, named.pair.unit))
    return [
        Paragraph(text=sentence_start(f"{name} is a corrected copy: {CORRECTED}"), tone=Tone.WARNING)
        for name, recording in both
        if any(notice.slug == SLUG for notice in recording.notices)
    ]


def _course(pair: PairComparison) -> str:
    """How the bias goes along the ride at equal power, in one sentence, where a change was found."""
    settling = pair.settling
    if settling is None:
        return ""
    start, settled, end = settling.start_bias_pct, settling.settled_bias_pct, settling.end_bias_pct
    to = end if settling.model is TimeModel.LINEAR else settled
    does = {TimeModel.LINEAR: "drifts", TimeModel.SETTLING: "settles", TimeModel.STEP: "steps"}
    if settling.model not in does or start.value is None or to.value is None:
        return ""
    decimals = decimals_for(start.value, to.value)
    return (
        f"Its bias {does[settling.model]} along the ride, from {side(start.value, decimals)} to "
        f"{side(to.value, decimals)}."
    )


def _own_episodes(pair: PairComparison) -> str:
    """What the unit did by itself, where any episode is put down to it."""
    faults = faults_of(pair)
    return own_in_brief(faults) if faults is not None else ""


def _unclear_episodes(named: Named) -> list[Paragraph]:
    """Episodes that nobody can be blamed for are no pass, so they stand among the first words."""
    faults = faults_of(named.pair)
    words = unclear_words(faults, named.unit, named.reference) if faults is not None else ""
    return [Paragraph(text=words, tone=Tone.WARNING)] if words else []


def _why(pair: PairComparison) -> str:
    for item in pair.not_assessed:
        if item.what == "bias_pct" and item.why:
            return typeset(item.why)
    return f"{reads(pair.overall.bias_pct)}."


def _change(pair: PairComparison) -> Estimate | None:
    """Second half less first; None where there are no two halves or no interval."""
    if len(pair.halves) != 2:
        return None
    change = change_of_bias(*pair.halves)
    return change if change.assessed else None


def _both_halves(pair: PairComparison) -> str:
    one, two = (half.bias_pct.value or 0.0 for half in pair.halves)
    decimals = decimals_for(one, two)
    return f"{side(one, decimals)} in the first half, {side(two, decimals)} in the second"


def _halves_clause(pair: PairComparison) -> str:
    """How the two halves compare, where the interval of their difference allows to say it firmly."""
    change = _change(pair)
    if change is None or change.low is None or change.high is None:
        return ""
    if not holds_zero(change):
        return f"and it changed: {_both_halves(pair)}"
    if max(abs(change.low), abs(change.high)) <= SAME_WITHIN:
        return f"the same in both halves to within {number(SAME_WITHIN, 0)}{NBSP}percentage point"
    return ""


def _halves_open(pair: PairComparison) -> str:
    """The two halves where neither a change nor sameness is shown."""
    change = _change(pair)
    if change is None or _halves_clause(pair):
        return ""
    return f"As ridden, no change between the halves is shown: {_both_halves(pair)}."


def _at_equal_power(pair: PairComparison) -> str:
    """The halves at equal power, where that says something else than the halves as ridden, and why it does."""
    settling, ridden = pair.settling, _change(pair)
    if settling is None or ridden is None or not settling.halves_change_pct.assessed:
        return ""
    change = settling.halves_change_pct
    if holds_zero(change) is holds_zero(ridden):
        return ""
    words = with_interval(change)
    if holds_zero(change) and _own_episodes(pair):
        return f"At equal power and apart from the episodes no change between the halves is shown ({words})."
    if holds_zero(change):
        return (
            f"At equal power, with the course of the bias fitted, no change is shown ({words}): the change as ridden "
            "may come from other efforts in the second half."
        )
    return (
        f"At equal power the second half differs from the first by {words}: there the course of the bias is fitted "
        "and what comes of power and slow wander is taken out, so it sees finer than the halves as ridden."
    )


def _zero_and_gain(pair: PairComparison) -> str:
    """A zero that is shown, with its gain; empty where none is."""
    anatomy = pair.anatomy
    if anatomy is None or not anatomy.zero_nm.assessed or holds_zero(anatomy.zero_nm):
        return ""
    end = "At the end of the ride" if _course(pair) else "In torque"
    return (
        f"{end} it is off by a zero of {with_interval(anatomy.zero_nm, 2)} added at any effort, beside a gain of "
        f"{with_interval(anatomy.gain_pct, 2)}: see “Zero and gain”."
    )


def _support(named: Named, limit_pct: float | None, *, alone: bool) -> list[Paragraph]:
    """What the headline stands on: reference, limit, clock, response, how much was compared."""
    pair = named.pair
    found = [*_about_limit(named, limit_pct), *_unclear_episodes(named)]
    if not pair.clock.status.usable:
        return [*_without_clock(named), *found]
    if not pair.overall.bias_pct.assessed:
        return [Paragraph(text=_clock_alone(named)), *found]
    if look := what_to_look_at(pair):
        cause = likeliest_causes(pair)
        found.append(Paragraph(text=f"{cause} {look}", tone=Tone.WARNING))
    if alone:
        found.append(Paragraph(text=_with_reference(named)))
    sentences = (
        _halves_open(pair),
        _at_equal_power(pair),
        _zero_and_gain(pair),
        _by_power(named),
        _display(named),
        _compared(named),
    )
    words = " ".join(sentence for sentence in sentences if sentence)
    found.append(Paragraph(text=words if alone else f"{sentence_start(named.unit)}: {words}"))
    caution = _clock_caution(named)
    if caution:
        found.append(Paragraph(text=caution, tone=Tone.WARNING))
    if pair.overall.short_for_wander and _own_episodes(pair):
        text = (
            "Its episodes make the error of the whole ride look like a slow wander: the bias apart from them says more."
        )
        found.append(Paragraph(text=text, tone=Tone.WARNING))
    elif pair.overall.short_for_wander:
        text = (
            "The error wanders slowly and this ride holds few independent stretches of it, so the interval may be too "
            "narrow. A longer ride, or several, would say more."
        )
        found.append(Paragraph(text=text, tone=Tone.WARNING))
    return found


def _about_limit(named: Named, limit_pct: float | None) -> list[Paragraph]:
    """Whether a stated limit is kept; said also where nothing was measured, which never passes."""
    if limit_pct is None:
        return []
    overall = named.pair.overall
    words = limit_words(named.unit, overall.bias_pct, overall.bias_with_reference_pct, limit_pct)
    loud = limit_is_broken(overall.bias_pct, limit_pct) or not overall.bias_pct.assessed
    return [Paragraph(text=words, tone=Tone.WARNING if loud else Tone.PLAIN)]


def _with_reference(named: Named) -> str:
    overall = named.pair.overall
    estimate = overall.bias_with_reference_pct
    if estimate.low is None or estimate.high is None:
        return f"The uncertainty of {named.reference} itself is not counted in these numbers."
    text = (
        f"That is {named.unit} against {named.reference} {_as_it_is(named)}. "
        f"{against_true_power(estimate, overall.reference_uncertainty_pct)}"
    )
    if holds_zero(estimate) and not holds_zero(overall.bias_pct):
        text += f" So the two differ, but this ride by itself cannot say that it is {named.unit} that is wrong."
    return text


def _as_it_is(named: Named) -> str:
    """Whether the reference was taken as recorded."""
    put_right = any(notice.slug == "crank_length_put_right" for notice in named.pair.reference.notices)
    return "with its crank length put right" if put_right else "as it stands"


def _by_power(named: Named) -> str:
    """Whether the bias changes with power, where that was shown."""
    slope = named.pair.trend.per_100_w
    if not slope.assessed or holds_zero(slope):
        return ""
    return (
        f"The bias changes with power, by {value_cell(slope)} ({interval_cell(slope)}){NBSP}percentage points per "
        f"100{NBSP}W."
    )


def _common_reference(pairs: tuple[Named, ...]) -> list[Paragraph]:
    """Once for all units: what the reference's own uncertainty does to them."""
    known = [named for named in pairs if named.pair.overall.bias_with_reference_pct.assessed]
    if not known:
        return []
    overall = known[0].pair.overall
    return [
        Paragraph(
            text=f"All are against {known[0].reference} {_as_it_is(known[0])}. Its own standard uncertainty of "
            f"{quantity(overall.reference_uncertainty_pct, '%')} is common to all of them: it widens every "
            "interval as shown, and does not enter the differences between the units."
        )
    ]


def _compared(named: Named) -> str:
    if named.pair.reference.spot or named.pair.unit.spot:
        return (
            f"The two were compared at {named.pair.common_seconds} noted readings; nothing is known of what was shown "
            "between them."
        )
    return (
        f"Both showed power over {long_duration(named.pair.common_seconds)}, which is what was compared; coasting "
        "counts, as zero."
    )


def _display(named: Named) -> str:
    response = named.pair.response.unit
    if response.kind is ResponseKind.NOT_ASSESSED:
        return ""
    allowed = "" if response.kind is ResponseKind.PROMPT else "; the comparison allows for that"
    return f"{sentence_start(named.unit)} {response_words(response)}{allowed}."


def _clock_caution(named: Named) -> str:
    status = named.pair.clock.status
    if status is ClockStatus.FOUND_WITH_DELAY:
        channel = named.pair.clock.channel
        source = channel_words(channel) if channel is not None else "one channel"
        return (
            f"The clocks were matched on {source}, which a display may show late, and a late display looks just like a "
            "late clock. The bias hardly depends on it, but how late the display is cannot be told from this ride."
        )
    if status is ClockStatus.BY_HAND:
        return (
            f"The clock of {named.unit} was given by hand, and every number of it here stands on that. "
            f"{typeset(named.pair.clock.reason)}"
        )
    return ""


def _clock_alone(named: Named) -> str:
    jumps = len(named.pair.clock.jumps)
    words = f", with {counted(jumps, 'jump')}" if jumps else ""
    return (
        f"The clocks themselves were matched{words}, and both recorded over "
        f"{long_duration(named.pair.common_seconds)}. See “The clock”."
    )


def _without_clock(named: Named) -> list[Paragraph]:
    pair = named.pair
    found = [Paragraph(text=typeset(pair.clock.reason))] if pair.clock.reason else []
    if look := what_to_look_at(pair):
        return [*found, Paragraph(text=look, tone=Tone.NOTE)]
    if pair.clock.status is ClockStatus.AMBIGUOUS:
        if pair.offset_range is not None:
            low, high = pair.offset_range.low_pct, pair.offset_range.high_pct
            span = interval_words(low, high, decimals_for(low, high))
            over, caution = "At the offset that fits best", "Other offsets may fit as well, so it stands for nothing."
            if pair.offset_range.offsets > 1:
                over = f"Over the {counted(pair.offset_range.offsets, 'offset')} that fit"
                caution = "That is a range, not an interval."
            text = f"{over}, the bias of {named.unit} is {span}. {caution}"
            found.append(Paragraph(text=text))
        found.append(
            Paragraph(
                text="Give the offset by hand if you know it, or ride again with a few uneven efforts (a short spurt, "
                "a pause in pedalling) that mark one moment on both clocks.",
                tone=Tone.NOTE,
            )
        )
    if pair.clock.status is ClockStatus.NO_COMMON_EFFORT:
        found.append(Paragraph(text="Check that both files are from the same ride.", tone=Tone.NOTE))
    if pair.clock.status is ClockStatus.SAME_SOURCE:
        text = "A comparison needs two meters, each with a recording of its own."
        found.append(Paragraph(text=text, tone=Tone.NOTE))
    return found


def _at_a_glance(pairs: tuple[Named, ...], limit_pct: float | None) -> Table:
    first = pairs[0].pair.overall.bias_pct
    columns = [
        Column(heading="unit", numeric=False),
        Column(heading="bias", unit="%"),
        Column(heading=interval_heading(first), unit="%"),
        Column(heading="with reference’s uncertainty", unit="%"),
    ]
    if any(faults_of(named.pair) is not None for named in pairs):
        columns.append(Column(heading="episodes of its own", numeric=False))
    if limit_pct is not None:
        columns.append(Column(heading=f"stated limit {stated_limit(limit_pct)}", numeric=False))
    return Table(
        caption="The units side by side",
        columns=tuple(columns),
        rows=tuple(_glance_row(named, pairs, limit_pct) for named in pairs),
    )


def _glance_row(named: Named, pairs: tuple[Named, ...], limit_pct: float | None) -> tuple[str, ...]:
    overall = named.pair.overall
    row: tuple[str, ...] = (
        named.unit,
        value_cell(overall.bias_pct),
        interval_cell(overall.bias_pct),
        interval_cell(overall.bias_with_reference_pct),
    )
    if any(faults_of(other.pair) is not None for other in pairs):
        row = (*row, counted_in_cell(faults_of(named.pair)))
    if limit_pct is None:
        return row
    if not overall.bias_pct.assessed:
        return (*row, "not assessed")
    return (*row, "broken as measured" if limit_is_broken(overall.bias_pct, limit_pct) else "kept as measured")
