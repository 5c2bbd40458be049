"""Files to traces: a registry of layouts, each with sniff and read; the import mapping."""

from __future__ import annotations

from analysis.reading.reading import Reading, read_paths
from analysis.reading.write import write_arrow, write_csv, write_parquet

__all__ = ["Reading", "read_paths", "write_arrow", "write_csv", "write_parquet"]
