"""Turn a recording into a table that other programs read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ridelog.ingest.frame_export import read_for_export
from ridelog.runs.write_table import write_columns, write_parquet

PARQUET_SUFFIXES = (".parquet", ".pq")


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What was written, and what the recording says of itself."""

    row_count: int
    names: tuple[str, ...]
    remarks: tuple[str, ...]


def export_recording(recording: Path, out_file: Path) -> Exported:
    """Write a recording as CSV, or as Parquet where the new file's name ends so.

    Parameters
    ----------
    recording : Path
        The recording.
    out_file : Path
        Where to; must not exist.

    Raises
    ------
    LogError
        When the recording cannot be read.
    FileError
        When there is something under the new name, or a library is missing.
    """
    exported = read_for_export(recording)
    write = write_parquet if out_file.suffix.lower() in PARQUET_SUFFIXES else write_columns
    write(out_file, exported.columns)
    names = tuple(exported.columns)
    return Exported(
        row_count=len(exported.columns[names[0]]), names=names, remarks=exported.remarks
    )
