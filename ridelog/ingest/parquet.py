"""Read Parquet files, by the Apache Arrow library where it is installed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from ridelog.errors import LogError
from ridelog.ingest.memory_table import AnyArray, OpenTable, memory_table
from ridelog.ingest.needs_library import needs_library
from ridelog.ingest.open_log import LARGEST_UNPACKED_BYTES

PARQUET_MARK = b"PAR1"


def read_parquet(path: Path) -> OpenTable:
    """Read a Parquet file's flat columns.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    OpenTable
        Numbers as they are, dates and times as text; nested columns are left out.

    Raises
    ------
    LogError
        When the Arrow library is missing, or the file is damaged or too large.
    """
    try:
        from pyarrow import ArrowException
        from pyarrow import parquet as arrow_parquet
    except ImportError as missing:
        raise needs_library(path, "a Parquet file", "parquet", missing) from None
    try:
        with arrow_parquet.ParquetFile(path) as file:
            _refuse_too_large(path, file.metadata)
            table = file.read()
            columns = {
                name: _column(column)
                for name, column in zip(table.column_names, table.columns, strict=True)
            }
    except (ArrowException, OSError, ValueError, OverflowError) as error:
        reason = " ".join(str(error).split())[:120]
        raise LogError(path, f"the Parquet file is damaged ({reason}); export it again") from None
    return memory_table(path, {n: c for n, c in columns.items() if c is not None}, {})


def _refuse_too_large(path: Path, metadata: Any) -> None:
    """Refuse what would swell beyond the largest log, before it is unpacked."""
    cells_bytes = 8 * metadata.num_rows * metadata.num_columns
    if cells_bytes > LARGEST_UNPACKED_BYTES:
        limit = LARGEST_UNPACKED_BYTES >> 20
        raise LogError(path, f"unpacks to more than {limit} MiB; cut the log into shorter drives")


def _column(column: Any) -> AnyArray | None:
    """Turn an Arrow column into an array: numbers, or text; None for nested ones."""
    from pyarrow import types

    kind = column.type
    if types.is_integer(kind) or types.is_floating(kind) or types.is_boolean(kind):
        return np.asarray(column.cast("float64").to_numpy())
    if types.is_decimal(kind):
        return np.asarray(column.cast("float64").to_numpy())
    if types.is_timestamp(kind) or types.is_time(kind):
        texts = [None if value is None else value.isoformat() for value in column.to_pylist()]
        return np.array(texts, dtype=object)
    if types.is_string(kind) or types.is_large_string(kind):
        return np.array(column.to_pylist(), dtype=object)
    return None
