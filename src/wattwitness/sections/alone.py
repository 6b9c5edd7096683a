"""What one recording shows of itself, in words and tables, and always what it cannot show."""

from __future__ import annotations

from wattwitness.charts import alone as chart
from wattwitness.model.alone import AloneReport, OwnSurface, Yardstick
from wattwitness.model.episodes import Episode, Finding
from wattwitness.model.recording import ChannelName, Severity
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.sections.small_print import PRIVATE, settings_table
from wattwitness.words.alone import alone_depth_words, alone_sentence
from wattwitness.words.episodes import kind_words, kinds_counted
from wattwitness.words.estimates import counted, interval_cell, value_cell
from wattwitness.words.names import clean, recording_name, sentence_start
from wattwitness.words.numbers import clock_time, long_duration, number, quantity, typeset

CAN_SHOW = (
    "One recording can show a change of behaviour: power that falls, rises or stands still while cadence, resistance "
    "and heart rate say that the effort did not, or that the samples themselves give away."
)
CANNOT_SHOW = (
    "It cannot show a constant error: a bike that reads 10 % low in every second looks perfect here. It cannot tell a "
    "meter that changed from a brake that changed. Nothing found is no proof that the watts are right."
)
WANTS = {
    "log_cadence": "Log cadence: without it nothing foretells power, and zeros cannot be told from coasting.",
    "log_resistance": (
        "Log resistance with the ride, in the bike’s own recording if it can: it tells a rider who turned the "
        "resistance down from a number that fell."
    ),
    "hold_resistance_and_cadence": (
        "Ride again at one resistance that is never touched and one cadence, for half an hour: then power has no "
        "reason to change."
    ),
    "wear_heart_rate": (
        "Wear a heart-rate strap: a heart that beats on while the number falls is the witness that an owner can have "
        "at once."
    ),
    "repeat_the_ride": "Repeat the same ride: a fault at the same minutes, or at the same power, is no chance.",
    "borrow_a_meter": (
        "Borrow a second power meter for one ride, and use “wattwitness compare”: only that shows whether the watts "
        "are right."
    ),
}
TELLING_COURSE_PCT = 5.0
CHANNELS = {
    ChannelName.CADENCE: "cadence",
    ChannelName.RESISTANCE: "resistance",
    ChannelName.HEART_RATE: "heart rate",
}


def alone_sections(report: AloneReport) -> tuple[Section, ...]:
    """The answer first, then the ride, each episode, what was used, and what would help."""
    return tuple(
        section
        for section in (
            _answer(report),
            _ride(report),
            _episodes(report),
            _used(report),
            _helps(report),
            _method(report),
        )
        if section is not None
    )


def _answer(report: AloneReport) -> Section:
    name = recording_name(report.recording)
    if report.mean_w is None:
        text = f"{name} holds no power: nothing can be said of its watts."
        return Section(
            name="answer",
            title="The answer",
            blocks=(Paragraph(text=sentence_start(text), tone=Tone.HEADLINE), *_limits()),
        )
    blocks: list[Paragraph] = [Paragraph(text=sentence_start(_headline(report, name)), tone=Tone.HEADLINE)]
    blocks += [Paragraph(text=alone_sentence(one)) for one in _shown(report)[:3]]
    more = len(_shown(report)) - 3
    if more > 0:
        blocks.append(Paragraph(text=f"{sentence_start(counted(more, 'more episode'))} below."))
    course = report.surface.course_pct
    if course is not None and abs(course) >= TELLING_COURSE_PCT:
        blocks.append(
            Paragraph(
                text=(
                    f"Along the ride the number went by {quantity(course, '%', 0, signed=True)} against cadence and "
                    "resistance, slowly: a brake that warms up does that, and so does a meter that drifts."
                )
            )
        )
    blocks.append(Paragraph(text=report.surface.why))
    return Section(name="answer", title="The answer", blocks=(*blocks, *_limits()))


def _limits() -> tuple[Paragraph, ...]:
    return (Paragraph(text=CAN_SHOW, tone=Tone.NOTE), Paragraph(text=CANNOT_SHOW, tone=Tone.WARNING))


def _shown(report: AloneReport) -> tuple[Episode, ...]:
    return tuple(one for one in report.episodes if one.finding is not Finding.RIDER)


def _headline(report: AloneReport, name: str) -> str:
    looked = long_duration(report.hours * 3600)
    shown = _shown(report)
    if not shown:
        if report.surface.yardstick in (Yardstick.NOTHING, Yardstick.PLATEAUS):
            return (
                f"{name} shows no frozen number, gap, leap or stray zero in {looked} of power; whether it ever fell "
                "away cannot be told from this recording."
            )
        return f"{name} shows no change of its own behaviour in {looked} of power."
    head = f"{name} leaves its own behaviour in {looked} of power: {kinds_counted(shown)}"
    if abs(report.lost_kj) >= 0.5:
        did = "missing from" if report.lost_kj > 0 else "too much in"
        head += f", about {quantity(abs(report.lost_kj), 'kJ', 0 if abs(report.lost_kj) >= 10 else 1)} {did} the record"
    return f"{head}."


def _ride(report: AloneReport) -> Section:
    return Section(name="ride", title="The ride", blocks=(chart.build(report),))


def _episodes(report: AloneReport) -> Section | None:
    if not report.episodes:
        return None
    rows = tuple(
        (
            clock_time(one.start_s),
            kind_words(one.kind),
            number(one.duration_s, 0),
            value_cell(one.depth_pct, 0, signed=True) if alone_depth_words(one) else number(None),
            interval_cell(one.depth_pct, 0) if alone_depth_words(one) else "",
            value_cell(one.energy_kj, 1, signed=True),
            FINDINGS[one.finding],
        )
        for one in report.episodes
    )
    table = Table(
        caption="Episodes",
        columns=(
            Column(heading="from", unit="h:mm:ss"),
            Column(heading="what", numeric=False),
            Column(heading="length", unit="s"),
            Column(heading="depth", unit="%"),
            Column(heading="interval"),
            Column(heading="missing", unit="kJ"),
            Column(heading="finding", numeric=False),
        ),
        rows=rows,
        places=tuple((max(one.start_s - 120.0, 0.0), one.end_s + 120.0) for one in report.episodes),
    )
    told: list[Paragraph] = []
    for one in report.episodes:
        said = " ".join(typeset(witness.says) for witness in one.witnesses)
        told.append(Paragraph(text=f"{alone_sentence(one)} {said}".strip()))
    return Section(name="episodes", title="Each episode", blocks=(*told, table))


FINDINGS = {
    Finding.UNIT: "the number itself",
    Finding.REFERENCE: "not the number",
    Finding.RIDER: "the rider",
    Finding.UNDETERMINED: "cannot be told",
}


def _used(report: AloneReport) -> Section:
    surface = report.surface
    asked = [CHANNELS[name] for name in report.channels]
    missing = [words for name, words in CHANNELS.items() if name not in report.channels]
    text = f"Recorded beside power: {', '.join(asked) if asked else 'nothing'}."
    if missing:
        text += f" Not recorded: {', '.join(missing)}."
    blocks: list[Paragraph | Table] = [Paragraph(text=text)]
    rows = _surface_rows(surface)
    if rows:
        blocks.append(
            Table(
                caption="How well power follows what it was held against",
                columns=(
                    Column(heading="what", numeric=False),
                    Column(heading="value"),
                    Column(heading="unit", numeric=False),
                ),
                rows=rows,
            )
        )
    blocks += [
        Paragraph(
            text=typeset(clean(notice.message, longest=300)),
            tone=Tone.WARNING if notice.severity is Severity.WARNING else Tone.NOTE,
        )
        for notice in report.recording.notices
    ]
    return Section(name="used", title="What it was held against", blocks=tuple(blocks))


def _surface_rows(surface: OwnSurface) -> tuple[tuple[str, ...], ...]:
    cells = (
        ("scatter of 40 s means around it", surface.scatter_pct, 1, "%"),
        ("pedalled seconds at which it is known", surface.known_pct, 0, "%"),
        ("power shows cadence and resistance late by", surface.lag_s, 1, "s"),
        ("slow change along the ride, taken out", surface.course_pct, 1, "%"),
        ("cadence from", surface.low_rpm, 0, "rpm"),
        ("cadence to", surface.high_rpm, 0, "rpm"),
        ("different resistances logged", surface.levels, 0, ""),
    )
    return tuple((what, number(value, decimals), unit) for what, value, decimals, unit in cells if value is not None)


def _helps(report: AloneReport) -> Section:
    return Section(
        name="helps",
        title="What would tell more",
        blocks=tuple(Paragraph(text=WANTS[slug]) for slug in report.wanting),
    )


def _method(report: AloneReport) -> Section:
    settings = report.settings
    length, depth = quantity(settings.episode_duration_s, "s", 0), quantity(settings.episode_depth_pct, "%", 0)
    text = (
        "Power is fitted by a smooth surface that never falls with cadence or resistance, with one slow course along "
        "the ride and the delay of the display; outliers carry no weight, and the stretches found are left out of a "
        f"second fit. Told are stretches of {length} and {depth} or more that stand out beyond what noise and wander "
        "of this ride do."
    )
    return Section(
        name="method",
        title="Method",
        blocks=(
            Paragraph(text=text, tone=Tone.NOTE),
            settings_table(settings),
            Paragraph(
                text=f"SHA-256 of the recording: {report.recording.source.sha256}. Made with wattwitness "
                f"{report.version}. {PRIVATE}",
                tone=Tone.NOTE,
            ),
        ),
    )
