"""Several curves in one text file: side by side in columns, or stacked below each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.reading.batch import Batch, one_file_batch
from analysis.reading.columns import Column, UnclearColumnsError
from analysis.reading.constant_columns import not_constant
from analysis.reading.csv_layouts import stray_notes, trace_columns, with_preambles
from analysis.reading.csv_table import read_lines, read_samples, text_of
from analysis.reading.import_mapping import ImportMapping
from analysis.reading.long_rows import flat
from analysis.reading.mapping_plan import names, numbered, unit_of
from analysis.reading.source_file import SourceFile
from analysis.reading.tables import unfamiliar
from analysis.reading.text_form import TextForm, cells_of, is_units_row, lines_of, read_preamble
from analysis.traces.arrow_arrays import text_array

# --- side by side
# ----------------------------------------------------------------------------------------------


def read_side_by_side(file: SourceFile, form: TextForm, mapping: ImportMapping) -> Batch:
    """Curves that each have columns of their own; a column that occurs once is shared by all.

    Columns belong together by the number behind their name, or where there is none by their order. A curve
    ends where its columns have no more numbers.
    """
    labels, curves = pair_columns(file, form, mapping)
    plan = list({column.position: column for curve in curves for column in curve.values()}.values())
    samples = read_samples(file, form, plan)
    parts: dict[str, list[NDArray[np.float64]]] = {target: [] for target in curves[0]}
    lengths = []
    for curve in curves:
        values = {
            target: flat(samples.table.column(column.key), column.factor) for target, column in curve.items()
        }
        present = np.flatnonzero(~(np.isnan(values["angle_deg"]) | np.isnan(values["torque_nm"])))
        lengths.append(int(present[-1]) + 1 if len(present) else 0)
        for target, numbers in values.items():
            parts[target].append(numbers[: lengths[-1]])
    ids = text_array([f"{file.stem}-{label}" for label in labels])
    attributes = with_preambles(pa.table({"trace_id": ids}), [dict(form.preamble)] * len(curves))
    batch = one_file_batch(
        {target: np.concatenate(numbers) for target, numbers in parts.items()},
        np.concatenate(([0], np.cumsum(lengths))).astype(np.int64),
        attributes,
        file,
        np.full(len(curves), form.first_line, np.int64),
    )
    batch.decimal = samples.form.decimal
    batch.problems += samples.problems + stray_notes(file, form)
    return batch


def pair_columns(
    file: SourceFile, form: TextForm, mapping: ImportMapping
) -> tuple[list[str], list[dict[str, Column]]]:
    """Label of each curve, and its columns by channel.

    Raises
    ------
    UnfamiliarLayoutError
        Where the columns of one channel are neither one nor as many as the angle's or torque's.
    """
    found: dict[str, dict[str, Column]] = {}
    for target, mapped in mapping.columns.items():
        if target == "trace_id":
            continue
        found[target] = {}
        for position, header in enumerate(form.headers):
            number = "" if names(mapped.column, position, header) else numbered(mapped.column, header)
            if number is None:
                continue
            stated = form.units[position] if position < len(form.units) else ""
            try:
                factor, unit = unit_of(target, mapped, header, stated)
            except UnclearColumnsError as error:
                raise unfamiliar(file, form.header_line, error.found, error.expected) from None
            label = number if number and number not in found[target] else str(len(found[target]) + 1)
            found[target][label] = Column(position, header, "channel", f"{target} {label}", factor, unit)
    labels = max((list(columns) for columns in found.values()), key=len)
    for target, columns in found.items():
        if len(columns) != 1 and list(columns) != labels:
            raise unfamiliar(
                file,
                form.header_line,
                f"{len(columns)} columns for {target}",
                f"one, or one for each of {labels}",
            )
    shared = {target: next(iter(columns.values())) for target, columns in found.items() if len(columns) == 1}
    curves = [
        {target: columns.get(label) or shared[target] for target, columns in found.items()}
        for label in labels
    ]
    return labels, curves


# --- stacked
# ---------------------------------------------------------------------------------------------------


@dataclass
class _Block:
    above: list[str] = field(default_factory=list)
    rows: list[tuple[int, str]] = field(default_factory=list)


def read_stacked(file: SourceFile, form: TextForm, plan: tuple[Column, ...], mapping: ImportMapping) -> Batch:
    """Curves below each other, parted by blank lines, the header again, or new ``name: value`` lines."""
    blocks, stray = _blocks(lines_of(text_of(file, form)), form)
    samples = read_lines(file, form, plan, [row for block in blocks for row in block.rows])
    lengths = [len(block.rows) for block in blocks]
    if blocks:
        lengths[-1] -= sum(lengths) - samples.table.num_rows  # a last line cut short
    offsets = np.concatenate(([0], np.cumsum(lengths))).astype(np.int64)
    preambles = _preambles(blocks)
    ids = [
        preamble.get(mapping.trace_id_from) or (f"{file.stem}-{k}" if len(blocks) > 1 else file.stem)
        for k, preamble in enumerate(preambles, 1)
    ]
    channels, attributes, several = trace_columns(ids, plan, samples.table, offsets)
    batch = one_file_batch(
        channels,
        offsets,
        with_preambles(attributes, preambles),
        file,
        np.asarray([block.rows[0][0] for block in blocks], np.int64),
    )
    batch.decimal = samples.form.decimal
    batch.problems += samples.problems
    for name, rows in several.items():
        batch.problems += not_constant(file, name, batch.lines[rows])
    batch.problems += [
        file.problem(
            line, "a line between the curves that says no `name: value`", "name: value",
            "the line was left out", fatal=False,
        )
        for line in stray
    ]  # fmt: skip
    return batch


def _blocks(lines: Sequence[str], form: TextForm) -> tuple[list[_Block], list[int]]:
    """The file's blocks, and the numbers of lines that belong to none."""
    headers = [header for header in form.headers if header]
    blocks = [_Block()]
    stray: list[int] = []
    for number, line in enumerate(lines, 1):
        cells = [cell.strip() for cell in cells_of(line, form.separator)]
        parts_blocks = not any(cells) or [cell for cell in cells if cell] == headers
        if not parts_blocks and number >= form.header_line and len(cells) > 1:
            if not is_units_row(cells) or not form.units:
                blocks[-1].rows.append((number, line))
            continue
        if blocks[-1].rows:
            blocks.append(_Block())
        if parts_blocks:
            continue
        if read_preamble([line])[0]:
            blocks[-1].above.append(line)
        else:
            stray.append(number)
    return [block for block in blocks if block.rows], stray


def _preambles(blocks: Sequence[_Block]) -> list[dict[str, str]]:
    """Names and values of each block; what only the first one states holds for the whole file."""
    own = [dict(read_preamble(block.above)[0]) for block in blocks]
    later = {name for preamble in own[1:] for name in preamble}
    common = {name: value for name, value in own[0].items() if name not in later} if own else {}
    return [{**common, **preamble} for preamble in own]
