"""Rides with private data put into their files, for tests that none of it gets out. All names are invented."""

from __future__ import annotations

import re
import struct

from tests.unit.readers.fit_bytes import DEVICE_INFO, RECORD, STRING, UINT16, UINT32, fit_file, simple

NAME, SERIAL, LATITUDE, LONGITUDE = "Josefine Beispiel", 3141592653, 47.1234567, 11.7654321
SECRETS = ("Josefine", "Beispiel", str(SERIAL), "47.1234567", "11.7654321")
SINT32, UINT32Z = 0x85, 0x8C
USER_PROFILE = 3


def semicircles(degrees: float) -> int:
    """Degrees as FIT writes them: 2**31 for 180."""
    return round(degrees / 180 * 2**31)


POSITION = struct.pack("<ii", semicircles(LATITUDE), semicircles(LONGITUDE))


def fit_with_secrets(content: bytes) -> bytes:
    """A FIT file with a user's name, a device's number and one position added at its end."""
    start = content[0]
    (length,) = struct.unpack_from("<I", content, 4)
    body = content[start : start + length]
    body += simple(USER_PROFILE, [(0, STRING, NAME.encode() + b"\0"), (4, UINT16, 660)])
    body += simple(DEVICE_INFO, [(253, UINT32, 1_100_000_000), (3, UINT32Z, struct.pack("<I", SERIAL))])
    body += simple(RECORD, [(0, SINT32, POSITION[:4]), (1, SINT32, POSITION[4:])])
    return fit_file(body)


def tcx_with_secrets(content: bytes) -> bytes:
    """A TCX file with a position in its first point, and notes and a creator with a number."""
    text = content.decode()
    position = (
        f"<Position><LatitudeDegrees>{LATITUDE}</LatitudeDegrees>"
        f"<LongitudeDegrees>{LONGITUDE}</LongitudeDegrees></Position>"
    )
    text = re.sub(r"(<Trackpoint>\s*<Time>[^<]*</Time>)", rf"\g<1>{position}", text, count=1)
    creator = f"<Notes>{NAME} rode this</Notes><Creator><Name>Console</Name><UnitId>{SERIAL}</UnitId></Creator>"
    return text.replace("</Activity>", f"{creator}</Activity>", 1).encode()


def csv_with_secrets(content: bytes) -> bytes:
    """A table with lines above it that name rider and device, and columns of positions."""
    lines = content.decode().splitlines()
    head = [f"Rider,{NAME}", f"Serial number,{SERIAL}"]
    table = [f"{lines[0]},latitude,longitude", *(f"{line},{LATITUDE},{LONGITUDE}" for line in lines[1:])]
    return ("\n".join([*head, *table]) + "\n").encode()


WITH_SECRETS = {"fit": fit_with_secrets, "tcx": tcx_with_secrets, "csv": csv_with_secrets}
