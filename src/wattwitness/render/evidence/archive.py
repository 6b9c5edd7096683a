"""One archive of many files, the same bytes for the same files, with its checksums inside."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Mapping

CHECKSUMS = "SHA256SUMS"
FIRST_DAY = (1980, 1, 1, 0, 0, 0)
"""The earliest time an archive can state; no member tells when it was made."""

PACKED_ALREADY = (".png", ".fit", ".gz")
ORDINARY_FILE = 0o100644


def sha256(content: bytes) -> str:
    """The SHA-256 of a file in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def checksums(members: Mapping[str, bytes]) -> bytes:
    """The list that ``sha256sum -c`` verifies."""
    return "".join(f"{sha256(content)}  {name}\n" for name, content in sorted(members.items())).encode("ascii")


def archive(members: Mapping[str, bytes]) -> bytes:
    """The members with their checksums as one ZIP archive, in the order of their names.

    Raises ValueError for a name that could be written outside the folder it is unpacked to.
    """
    for name in members:
        _refuse_outside(name)
    whole = {**members, CHECKSUMS: checksums(members)}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        for name, content in sorted(whole.items()):
            member = zipfile.ZipInfo(name, FIRST_DAY)
            member.create_system = 3
            member.external_attr = ORDINARY_FILE << 16
            member.compress_type = zipfile.ZIP_STORED if name.endswith(PACKED_ALREADY) else zipfile.ZIP_DEFLATED
            file.writestr(member, content, compresslevel=6)
    return buffer.getvalue()


def _refuse_outside(name: str) -> None:
    if not name.isascii() or "\\" in name or ":" in name or any(part in ("", ".", "..") for part in name.split("/")):
        raise ValueError(f"no name for a member of an archive: {name!r}")
