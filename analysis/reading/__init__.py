"""Files to traces: a registry of layouts, each with sniff and read; the import mapping."""

from __future__ import annotations

from analysis.reading.column_guess import Guess
from analysis.reading.import_mapping import ImportMapping, MappedColumn
from analysis.reading.joining_write import ValueLimits, write_joining_results
from analysis.reading.mapping_file import MappingLibrary, load_mapping, mapping_from_text, mapping_to_text
from analysis.reading.preview import Preview, preview
from analysis.reading.reading import Reading, read_paths
from analysis.reading.write import write_arrow, write_csv, write_parquet

__all__ = [
    "Guess",
    "ImportMapping",
    "MappedColumn",
    "MappingLibrary",
    "Preview",
    "Reading",
    "ValueLimits",
    "load_mapping",
    "mapping_from_text",
    "mapping_to_text",
    "preview",
    "read_paths",
    "write_arrow",
    "write_csv",
    "write_joining_results",
    "write_parquet",
]
