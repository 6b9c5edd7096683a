"""What is written in any form reads back the same; what is no table never ends in anything but our own errors."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.unit.readers_csv.reading import opened, read, sniffed
from wattwitness.model.errors import WattwitnessError
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_mapping import parse_mapping
from wattwitness.readers.csv_propose import proposed_mapping_text
from wattwitness.readers.csv_table import READER as CSV
from wattwitness.readers.spot import READER as SPOT

START = datetime(2026, 1, 14, 10, 0, tzinfo=UTC)
TIMES = {
    "Time (s)": lambda s: f"{s:.2f}",
    "Zeit [min]": lambda s: f"{s / 60:.6f}",
    "t (ms)": lambda s: f"{s * 1000:.0f}",
    "Elapsed": lambda s: f"{int(s) // 60}:{s % 60:05.2f}",
    "Duration": lambda s: f"{int(s) // 3600}:{int(s) // 60 % 60:02d}:{s % 60:05.2f}",
    "Timestamp": lambda s: (START + timedelta(seconds=s)).isoformat(timespec="milliseconds"),
    "Datum": lambda s: (START + timedelta(seconds=s)).strftime("%d.%m.%Y %H:%M:%S.%f")[:-3],
    "epoch": lambda s: f"{START.timestamp() + s:.3f}",
    "epoch ms": lambda s: f"{(START.timestamp() + s) * 1000:.0f}",
}
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16")
PREAMBLES = ("", "# by hand\n", "Device: 3\n\n", "Report\nA;B\n1;2\n")


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    comma=st.booleans(),
    quoted=st.booleans(),
    heading=st.sampled_from(sorted(TIMES)),
    step_s=st.sampled_from([0.25, 1.0, 2.0]),
    encoding=st.sampled_from(ENCODINGS),
    preamble=st.sampled_from(PREAMBLES),
    end=st.sampled_from(["\n", "\r\n"]),
    power=st.lists(st.one_of(st.none(), st.integers(40, 4000)), min_size=12, max_size=40).filter(
        lambda values: sum(value is not None for value in values) > 3
    ),
    tenths=st.booleans(),
)
def test_a_table_reads_back_to_the_same_values(
    delimiter: str,
    comma: bool,
    quoted: bool,
    heading: str,
    step_s: float,
    encoding: str,
    preamble: str,
    end: str,
    power: list[int | None],
    tenths: bool,
) -> None:
    comma = comma and (delimiter != "," or quoted)
    rows = []
    for index, value in enumerate(power):
        shown = "" if value is None else f"{value / 10:.1f}" if tenths else str(value // 10)
        cells = [TIMES[heading](index * step_s), shown, "85"]
        if comma:
            # In dates the point parts day and month, so only the seconds take the comma.
            cells = [cell if cell.count(".") > 1 else cell.replace(".", ",") for cell in cells]
        rows.append(delimiter.join(f'"{cell}"' for cell in cells) if quoted else delimiter.join(cells))
    text = preamble + end.join([delimiter.join([heading, "Power (W)", "Cadence"]), *rows]) + end
    recording = read(text.encode(encoding))
    expected = [np.nan if value is None else value / 10 if tenths else value // 10 for value in power]
    np.testing.assert_allclose(recording.time_s - recording.time_s[0], np.arange(len(power)) * step_s, atol=1e-3)
    np.testing.assert_allclose(recording.channels[ChannelName.POWER], expected)
    assert recording.dated == (heading in ("Timestamp", "Datum", "epoch", "epoch ms"))


CELLS = st.one_of(
    st.integers(-70_000, 70_000).map(str),
    st.floats(allow_nan=True).map(str),
    st.sampled_from(
        ["", "Time", "Power (W)", "Watts", "HR", "0:01", "1:00:00", "2026-01-12", "2026-01-12T10:00:00Z", "--"]
    ),
    st.sampled_from(
        ["12/13/2026", "99:99", "0000-00-00 00:00:00", "1e308", "−5", "٣", "48/52", "24:00", "10:00 PM", '"']
    ),
    st.text(max_size=12),
)


@settings(max_examples=200, deadline=None)
@given(
    rows=st.lists(st.lists(CELLS, max_size=5), max_size=30),
    delimiter=st.sampled_from([",", ";", "\t", "|", " "]),
    heading=st.sampled_from(
        ["", "Time,Power\n", "Date;Time;Power;Cadence\n", "secs\tW\n", "at,shows_w\n", "# spot readings\n"]
    ),
)
def test_wild_tables_end_in_a_recording_or_our_own_error(rows: list[list[str]], delimiter: str, heading: str) -> None:
    content = (heading + "\n".join(delimiter.join(row) for row in rows)).encode("utf-8", errors="surrogatepass")
    for reader in (CSV, SPOT):
        sniffed(content, reader)
        with contextlib.suppress(WattwitnessError):
            reader.read(opened(content))
    with contextlib.suppress(WattwitnessError):
        proposed_mapping_text(opened(content))


@settings(max_examples=200, deadline=None)
@given(content=st.binary(max_size=600))
def test_wild_bytes_end_in_our_own_error(content: bytes) -> None:
    for reader in (CSV, SPOT):
        sniffed(content, reader)
        with contextlib.suppress(WattwitnessError):
            reader.read(opened(content))


@settings(max_examples=100, deadline=None)
@given(
    text=st.one_of(
        st.text(max_size=80), st.text(max_size=30).map(lambda text: f"[columns]\ntime = 1\npower_w = {text}")
    )
)
def test_wild_mappings_end_in_our_own_error(text: str) -> None:
    with contextlib.suppress(WattwitnessError):
        parse_mapping(text)


@settings(max_examples=60, deadline=None)
@given(headings=st.lists(st.text(min_size=1, max_size=20), min_size=2, max_size=5))
def test_a_proposed_mapping_is_always_valid_toml(headings: list[str]) -> None:
    cells = ",".join(
        '"' + heading.replace('"', '""').replace("\n", " ").replace("\r", " ") + '"' for heading in headings
    )
    text = f"Time,Power,{cells}\n" + "\n".join(f"{i},{150 + i}" + ",7" * len(headings) for i in range(20))
    with contextlib.suppress(WattwitnessError):
        proposed = proposed_mapping_text(opened(text))
        parse_mapping(proposed)
