"""The correction that a study found, from the JSON that the study printed."""

from __future__ import annotations

import hashlib
import json
import math
from pathlib import Path
from typing import Any

from wattwitness.model.corrected_copy import AppliedCorrection
from wattwitness.model.errors import CorrectionInvalid
from wattwitness.model.study import CorrectionModel
from wattwitness.readers.open import read_bytes
from wattwitness.readers.words import plain_text

HOW = "Print one with “wattwitness study FOLDER --format json > study.json”, or give --gain and --zero-nm by hand."
SETTLED = "once the unit has settled; how it settles is not corrected"


def load_correction(path: Path) -> AppliedCorrection:
    """The best correction of a study. Raises CorrectionInvalid where the file holds none that can be used."""
    raw = read_bytes(path)
    study = _parsed(raw, path.name)
    correction = study.get("correction")
    if not isinstance(correction, dict) or "best" not in correction:
        raise CorrectionInvalid("The file is not what a study prints as JSON.", where=path.name, hint=HOW)
    best = correction["best"]
    if best is None or best == CorrectionModel.NONE:
        raise CorrectionInvalid(
            f"The study offers no correction. {plain_text(correction.get('says', ''), 300)}",
            where=path.name,
            hint="Ride more, leave the recordings as they are, or give --gain and --zero-nm by hand.",
        )
    if correction.get("correctable") is not True:
        raise CorrectionInvalid(
            f"The study says that no correction holds. {plain_text(correction.get('says', ''), 300)}",
            where=path.name,
            hint="A correction by hand with --gain and --zero-nm is possible, but would not make the unit right.",
        )
    gain, zero_nm = _numbers(correction, best, path.name)
    version, unit = (plain_text(study.get(key, ""), 60) for key in ("version", "unit"))
    return AppliedCorrection(
        gain=gain,
        zero_nm=zero_nm,
        origin=f"study of {unit} by wattwitness {version} with SHA-256 {hashlib.sha256(raw).hexdigest()}",
        holds=SETTLED if best == CorrectionModel.WITH_SETTLING else "",
    )


def _parsed(raw: bytes, name: str) -> dict[str, Any]:
    try:
        found = json.loads(raw)
    except (ValueError, RecursionError) as error:
        raise CorrectionInvalid(f"The file is no JSON: {plain_text(error, 120)}.", where=name, hint=HOW) from error
    if not isinstance(found, dict):
        raise CorrectionInvalid("The file is not what a study prints as JSON.", where=name, hint=HOW)
    return found


def _numbers(correction: dict[str, Any], best: object, name: str) -> tuple[float, float]:
    tried = correction.get("tried")
    for one in tried if isinstance(tried, list) else []:
        if isinstance(one, dict) and one.get("model") == best:
            gain, zero = one.get("gain"), one.get("zero_nm")
            if all(isinstance(value, int | float) and math.isfinite(value) for value in (gain, zero)):
                return float(gain), float(zero)  # type: ignore[arg-type]
    raise CorrectionInvalid("The study's correction has no gain and zero in numbers.", where=name, hint=HOW)
