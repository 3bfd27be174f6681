"""A table as a Parquet file, for notebooks and statistics packages."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from pathlib import Path

from app.exchange.tables import Row, kind_of

ROWS_PER_GROUP = 50_000


def write_parquet(path: Path, columns: tuple[str, ...], rows: Iterable[Row]) -> int:
    """Write rows under column names; give how many there were."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    types = {"word": pa.string(), "count": pa.int32(), "number": pa.float64()}
    schema = pa.schema([(name, types[kind_of(name)]) for name in columns])
    count = 0
    with pq.ParquetWriter(path, schema) as writer:
        left = iter(rows)
        while some := list(islice(left, ROWS_PER_GROUP)):
            writer.write_table(
                pa.Table.from_pylist([dict(zip(columns, row, strict=True)) for row in some], schema)
            )
            count += len(some)
    return count
