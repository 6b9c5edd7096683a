"""The list of an evidence bundle: every file, every setting and version, and how to read it, as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict

from wattwitness.model.evidence import Bundle, BundledRecording, BundledUnit
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.render.evidence.archive import CHECKSUMS, sha256

SCHEMA_VERSION = 1

WHAT = {
    "README.txt": "how to read, verify and repeat this",
    "results/comparison.json": "every result, as JSON",
    "results/report.html": "the report, one page that works offline",
}
BY_FOLDER = {
    "recordings": "a whole recording without positions, serial numbers and names",
    "meters": "the description of a meter that the results use",
    "originals": "a file as it was recorded, with all it holds",
}
BY_NAME = {
    "figure.svg": "the episode drawn",
    "figure.png": "the episode drawn",
    "in-words.txt": "the episode in a sentence",
    "episodes.csv": "all episodes of a unit, a row each",
}


def manifest(bundle: Bundle, members: Mapping[str, bytes]) -> bytes:
    """The manifest of ``members``; itself and the checksums, which hold it, are not in the list."""
    content = {
        "schema_version": SCHEMA_VERSION,
        "made_by": {"program": "wattwitness", "version": bundle.version, "with": dict(bundle.versions)},
        "how_to_read": {
            "start": "README.txt",
            "verify": f"sha256sum -c {CHECKSUMS}",
            "repeat": list(bundle.command),
            "times": "seconds after the reference's first sample, on the reference's clock",
            "bias_pct": "100 * (sum of the unit's power / sum of the reference's - 1); negative: the unit reads low",
            "depth_pct": "negative: the unit shows less than its own relation to the reference gives",
            "energy_kj": "positive: missing in the unit's record",
            "finding": "unit, reference, rider or undetermined: what an episode is put down to",
            "around_s": bundle.around_s,
        },
        "settings": {name: _plain(value) for name, value in bundle.settings},
        "recordings": [_recording(recording) for recording in bundle.recordings],
        "units": [_unit(unit) for unit in bundle.units],
        "originals_included": bundle.with_originals,
        "files": [
            {"name": name, "bytes": len(content), "sha256": sha256(content), "what": _what(name)}
            for name, content in sorted(members.items())
        ],
    }
    return (json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def _plain(value: object) -> object:
    """A setting as JSON holds it."""
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return asdict(value) if isinstance(value, LeftOutStretch) else value


def _recording(recording: BundledRecording) -> dict[str, object]:
    original = recording.original
    return {
        "role": recording.role,
        "label": recording.label,
        "copy": recording.copy,
        "meter": recording.meter or None,
        "original": {
            "sha256": original.sha256,
            "bytes": original.size_bytes,
            "format": original.format_name,
            "part": original.part,
            "included_as": original.member or None,
            "holds": [kind.value for kind in original.private],
        },
    }


def _unit(unit: BundledUnit) -> dict[str, object]:
    return {
        "role": unit.role,
        "label": unit.label,
        "defect_stated": unit.defect,
        "statement": unit.statement,
        "episodes": dict(unit.episodes),
        "episodes_drawn": unit.drawn,
    }


def _what(name: str) -> str:
    folder, last = name.partition("/")[0], name.rpartition("/")[2]
    if name in WHAT:
        return WHAT[name]
    if last in BY_NAME:
        return BY_NAME[last]
    if folder in BY_FOLDER:
        return BY_FOLDER[folder]
    if folder == "episodes":
        return "the samples of one recording around the episode"
    return "what is stated to the maker" if "statement" in last or "no-defect" in last else ""
