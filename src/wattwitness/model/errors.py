"""Every error a user can meet: a stable slug, what is wrong, where, and what to do.

One page of the documentation explains each slug (``docs/errors/<slug>.md``); a test holds the two together.
The command line turns an error into words in one place; nothing below it prints.
"""

from __future__ import annotations

from typing import ClassVar


class WattwitnessError(Exception):
    """Base of all errors that are the user's to mend.

    ``what`` says in one sentence what is wrong, ``where`` names the file, column or option (``None`` if there is no
    single place), ``hint`` says what to do next.
    """

    slug: ClassVar[str] = "error"
    exit_code: ClassVar[int] = 2

    def __init__(self, what: str, *, where: str | None = None, hint: str) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.hint = hint


class FileMissing(WattwitnessError):
    """The path does not exist."""

    slug = "file_missing"


class IsDirectory(WattwitnessError):
    """A folder was given where a file is needed."""

    slug = "is_directory"


class FileNotReadable(WattwitnessError):
    """The operating system refuses to open or read the file."""

    slug = "file_not_readable"


class EmptyFile(WattwitnessError):
    """The file holds no bytes, or nothing but blanks."""

    slug = "empty_file"


class FileTooLarge(WattwitnessError):
    """The file is larger than any plausible recording."""

    slug = "file_too_large"


class UnknownFormat(WattwitnessError):
    """No reader recognises the file's content."""

    slug = "unknown_format"


class AmbiguousFormat(WattwitnessError):
    """More than one reader recognises the file's content."""

    slug = "ambiguous_format"


class CorruptFile(WattwitnessError):
    """The format is recognised, but nothing in the file can be salvaged."""

    slug = "corrupt_file"


class UnsafeXml(WattwitnessError):
    """An XML file defines entities, which no recording needs and which can exhaust a machine."""

    slug = "unsafe_xml"


class NoSamples(WattwitnessError):
    """The file is sound but holds no samples of any channel this tool uses."""

    slug = "no_samples"


class ColumnsUnclear(WattwitnessError):
    """A table's columns can be read in more than one way; the proposals are in the hint."""

    slug = "columns_unclear"


class MappingInvalid(WattwitnessError):
    """A saved column mapping does not fit the file, or is itself malformed."""

    slug = "mapping_invalid"


class WorksheetInvalid(WattwitnessError):
    """A worksheet of hanging weights is mistyped, or holds too little; the message names the line."""

    slug = "worksheet_invalid"


class MeterFileInvalid(WattwitnessError):
    """A file that describes a meter is malformed, or says something that cannot be."""

    slug = "meter_file_invalid"


class StudyFileInvalid(WattwitnessError):
    """A list of rides is malformed, names a ride twice, or says something that cannot be."""

    slug = "study_file_invalid"


class CorrectionInvalid(WattwitnessError):
    """A correction cannot be taken from a study, is none, or does not fit the recording."""

    slug = "correction_invalid"


class StepsInvalid(WattwitnessError):
    """A list of the steps of a ride is malformed, or says something that cannot be ridden."""

    slug = "steps_invalid"


class RidesUnclear(WattwitnessError):
    """It cannot be told which recordings of a folder belong to one ride, or which is the reference."""

    slug = "rides_unclear"


class SpotReadingInvalid(WattwitnessError):
    """A line of spot readings is mistyped; the message names the line and what is expected there."""

    slug = "spot_reading_invalid"


class PartUnknown(WattwitnessError):
    """A file holds several recordings and the one asked for is not among them."""

    slug = "part_unknown"


class TooFewRecordings(WattwitnessError):
    """A comparison needs at least two recordings."""

    slug = "too_few_recordings"


class SettingInvalid(WattwitnessError):
    """A setting is misspelt, malformed or outside its range."""

    slug = "setting_invalid"


class UnknownName(WattwitnessError):
    """A name (format, chart, section, scenario) is not registered."""

    slug = "unknown_name"


class OutputExists(WattwitnessError):
    """The output would overwrite one of the recordings, or a file that is not ours to replace."""

    slug = "output_exists"


class OutputNotWritable(WattwitnessError):
    """The output cannot be written where it was asked for."""

    slug = "output_not_writable"


class DateMissing(WattwitnessError):
    """A format needs a date that the recording does not have, or one that the format cannot hold."""

    slug = "date_missing"


class BenchInvalid(WattwitnessError):
    """A bench's catalogue cannot be read, or an original is missing or altered."""

    slug = "bench_invalid"


class BenchNewer(WattwitnessError):
    """A bench was written by a newer version of the program."""

    slug = "bench_newer"


class ArchiveInvalid(WattwitnessError):
    """A file that should hold a bench does not, is damaged, or holds what no bench holds."""

    slug = "archive_invalid"


class BenchBusy(WattwitnessError):
    """Another program is changing the bench and did not finish in time."""

    slug = "bench_busy"
