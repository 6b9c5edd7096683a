"""The README of an evidence bundle: what is inside, what is not, how to verify it and how to repeat it."""

from __future__ import annotations

import shlex
import textwrap

from wattwitness.model.evidence import Bundle, BundledUnit
from wattwitness.render.evidence.archive import CHECKSUMS
from wattwitness.render.glyphs import sentence
from wattwitness.words.estimates import listed

WIDTH = 100

LISTS = """\
results/report.html is the whole report, results/comparison.json the same for a program, manifest.json the list of all
files with settings and versions."""

SAME_NUMBERS = """\
It gives the numbers of results/comparison.json again: the same clock, bias and episodes, to the last digit with the
versions that manifest.json names (with others the last digits may differ). Only sizes, formats and hashes of files are
others, since these are now those of the copies."""

COPIES = """\
recordings/ holds every recording as a table, whole, each number in full: times of day, power, cadence and, where they
were recorded, heart rate, resistance, torque, speed, temperature and left share, and what the file says of the make,
product and firmware of the meter. The copies hold no positions, no serial or device numbers, no names of persons or
files. Their first lines say whether their times are dates, where the recorder was paused, and what was noticed when the
original was read."""

EPISODES = """\
episodes/ holds a folder for each unit: episodes.csv lists all episodes, and each has a folder with its figure, a
sentence, and the samples of each recording from {minutes} minutes before to {minutes} minutes after it. In these tables
time_as_recorded is the time stamp of the sample itself (UTC where it is a date, else seconds after the file's own
zero), reference_clock and unit_clock are that moment on either meter's clock, ride_s is seconds after the reference's
first sample, and in_episode is 1 inside."""

NO_ORIGINALS = """\
The files as they were recorded are not inside: they may hold positions, serial numbers and names. manifest.json names
them by their SHA-256, so that an original handed over later can be told to be the same."""

ORIGINALS = """\
originals/ holds the files as they were recorded, because that was asked for. They hold private data: {kinds}. Hand this
bundle on only to who may have them."""


def readme(bundle: Bundle) -> bytes:
    """The text, in lines that fit a narrow window."""
    verify = f"In the unpacked folder:\n\n    sha256sum -c {CHECKSUMS}"
    repeat = f"In the unpacked folder, with wattwitness {bundle.version}:\n\n    {shlex.join(bundle.command)}"
    parts = [
        "EVIDENCE OF A COMPARISON OF POWER METERS",
        _flowing(_lead(bundle)),
        "WHERE TO BEGIN",
        "\n".join(_flowing(_begin(unit)) for unit in bundle.units),
        _flowing(LISTS),
        "VERIFY",
        verify,
        "REPEAT",
        repeat,
        _flowing(SAME_NUMBERS),
        "THE COPIES",
        _flowing(COPIES),
    ]
    if any(count for unit in bundle.units for _, count in unit.episodes):
        parts += ["THE EPISODES", _flowing(EPISODES.format(minutes=f"{bundle.around_s / 60:.0f}"))]
    lacking = sentence([recording.label for recording in bundle.recordings], where="the figures")
    parts += ["THE FIGURES", _flowing(lacking)] if lacking else []
    parts += ["THE ORIGINALS", _flowing(_originals(bundle))]
    return ("\n\n".join(parts) + "\n").encode("utf-8")


def _lead(bundle: Bundle) -> str:
    units = listed([unit.label for unit in bundle.units])
    stated = [unit.label for unit in bundle.units if unit.defect]
    what = f"A defect is stated of {listed(stated)}." if stated else "No defect is stated."
    return f"Compared with {bundle.recordings[0].label}: {units}. {what}"


def _begin(unit: BundledUnit) -> str:
    counts = [f"{count} put down to {finding}" for finding, count in unit.episodes if count]
    total = sum(count for _, count in unit.episodes)
    said = f"{total} episode{'' if total == 1 else 's'}: {listed(counts)}" if counts else "no episodes"
    drawn = f"; the {unit.drawn} largest are drawn" if unit.drawn < total else ""
    return f"{unit.statement}: {unit.label}; {said}{drawn}."


def _originals(bundle: Bundle) -> str:
    if not bundle.with_originals:
        return NO_ORIGINALS
    kinds = list(dict.fromkeys(kind.value for recording in bundle.recordings for kind in recording.original.private))
    return ORIGINALS.format(kinds=listed(kinds) if kinds else "none was found")


def _flowing(text: str) -> str:
    return textwrap.fill(" ".join(text.split()), WIDTH, break_long_words=False, break_on_hyphens=False)
