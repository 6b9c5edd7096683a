"""Recordings under the names their files came with, where they lie under other names on a bench."""

from __future__ import annotations

from dataclasses import replace

from wattwitness.model.recording import Recording


def under_its_own_name(recording: Recording, file_name: str) -> Recording:
    """The recording as if it had been read from ``file_name``, in every notice too; as it is where that is empty."""
    there = recording.source.file_name
    if not file_name or file_name == there:
        return recording
    notices = tuple(
        replace(
            notice,
            message=notice.message.replace(there, file_name),
            about=file_name if notice.about == there else notice.about,
        )
        for notice in recording.notices
    )
    return replace(recording, source=replace(recording.source, file_name=file_name), notices=notices)
