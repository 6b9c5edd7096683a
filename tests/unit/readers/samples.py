"""Sample files of every registered format, for the contract that each is claimed by one reader alone.

A new format adds its samples here: a format name, and contents under labels.
"""

from __future__ import annotations

from collections.abc import Mapping

from tests.unit.readers.fit_bytes import START, fit_file, powers
from tests.unit.readers.test_xml import gpx, tcx_powers, track_point

_GPX = gpx("".join(track_point(i, f"<power>{200 + i}</power>") for i in range(5)))
_TCX = tcx_powers([200, 210, 220, 230])

SAMPLES: Mapping[str, Mapping[str, bytes]] = {
    "fit": {
        "long header": fit_file(powers([200] * 5)),
        "short header": fit_file(powers([200] * 5), long_header=False),
        "big-endian": fit_file(powers([200] * 5, order=">")),
        "chained": fit_file(powers([200] * 5)) + fit_file(powers([200] * 5, start=START + 900)),
        "truncated": fit_file(powers([200] * 5))[:-9],
    },
    "tcx": {
        "plain": _TCX,
        "with a mark": b"\xef\xbb\xbf" + _TCX,
        "wide": _TCX.decode().replace('encoding="UTF-8"', "").encode("utf-16"),
        "prefixed root": _TCX.replace(b"<TrainingCenterDatabase xmlns", b"<t:TrainingCenterDatabase xmlns:t"),
        "after a comment": _TCX.replace(b"?>", b"?>\n<!-- <gpx> time,power -->\n", 1),
        "cut": _TCX[:-60],
    },
    "gpx": {
        "plain": _GPX,
        "with a document type": _GPX.replace(b"<gpx ", b"<!DOCTYPE gpx>\n<gpx ", 1),
        "cut": _GPX[:-20],
    },
    "csv": {
        "comma": b"time,power (W),cadence (rpm)\n" + b"".join(b"%d,%d,80\n" % (i, 200 + i) for i in range(20)),
        "semicolon": b"Sekunden;Watt\r\n" + b"".join(b"%d;%d,5\r\n" % (i, 200 + i) for i in range(20)),
        "with brackets": b"time,power\n" + b"".join(b"%d,%d\n" % (i, 200 + i) for i in range(20)) + b"20,<none>\n",
    },
    "ride_copy": {
        "dated": (
            b'# ride copy 1\n"# label: the bike, left"\n"# times: seconds since 1970-01-01 UTC"\n'
            b'"# event driven: no"\n"# pause: 1762160402 to 1762160410.5"\n'
            b'"# notice: note | power_missing | 1 | 1 of 3 samples has no power."\n'
            b"time_s,time_utc,power_w\n1762160400,2025-11-03T09:00:00Z,200\n1762160401.5,2025-11-03T09:00:01.500Z,\n"
            b"1762160412,2025-11-03T09:00:12Z,201.25\n"
        ),
        "undated": (
            b"\xef\xbb\xbf# ride copy 1\r\n# times: seconds after the file's own zero\r\n# event driven: yes\r\n"
            b"time_s,cadence_rpm\r\n0,80\r\n3,81\r\n"
        ),
    },
    "spot": {
        "elapsed": b"# spot readings\nat, shows_w, shows_rpm\n0:30, 148, 82\n1:15, 205, 90\n2:00, 210, 91\n",
    },
}
