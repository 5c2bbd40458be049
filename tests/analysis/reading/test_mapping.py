"""Layouts of others, by a mapping that the user confirmed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import ImportMappingError
from analysis.reading import (
    ImportMapping,
    MappedColumn,
    MappingLibrary,
    load_mapping,
    mapping_from_text,
    mapping_to_text,
    read_paths,
)
from analysis.traces import TraceSet
from analysis.traces.units import TORQUE_UNITS, UNITS

COLUMNS = {"angle_deg": MappedColumn("Drehwinkel", "deg"), "torque_nm": MappedColumn("Moment", "N·m")}
ONE = ImportMapping(name="station", columns=COLUMNS)


def read(path: Path, mapping: ImportMapping) -> TraceSet:
    reading = read_paths([path], mapping=mapping)
    assert reading.problems == ()
    return reading.traces


def test_names_units_and_attributes(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel;Moment;Zeit;Teil\n0,25;10;5;A7\n0,5;20;6;A7\n")
    columns = {
        "angle_deg": MappedColumn("drehwinkel", "turn"),
        "torque_nm": MappedColumn(2, "in·lbf"),
        "time_s": MappedColumn("Zeit", "ms"),
    }
    traces = read(path, ImportMapping(columns=columns, attributes={"part": "Teil"}))
    assert traces.angle_deg.tolist() == [90.0, 180.0]
    # Inch times pound-force by the exact inch and pound (NIST SP 811).
    np.testing.assert_allclose(traces.torque_nm, [1.129848290276167, 2.259696580552334], rtol=1e-15)
    assert traces.time_s is not None
    np.testing.assert_allclose(traces.time_s, [0.005, 0.006])
    assert traces.column("part") == ["A7"]


@pytest.mark.parametrize("unit", TORQUE_UNITS)
def test_every_torque_unit(tmp_path: Path, unit: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel;Moment\n1;3\n")
    mapping = replace(ONE, columns={**COLUMNS, "torque_nm": MappedColumn("Moment", unit)})
    np.testing.assert_allclose(read(path, mapping).torque_nm, [3 * UNITS[unit].to_internal])


def test_the_unit_may_stand_in_the_header_or_the_row_of_units(tmp_path: Path) -> None:
    mapping = ImportMapping(columns={t: MappedColumn(m.column) for t, m in COLUMNS.items()})
    path = tmp_path / "t.csv"
    for text in ("Drehwinkel [rad];Moment (cNm)\n3,5;7\n", "Drehwinkel;Moment\nrad;cNm\n3,5;7\n"):
        path.write_text(text)
        traces = read(path, mapping)
        np.testing.assert_allclose(traces.angle_deg, [np.degrees(3.5)])
        np.testing.assert_allclose(traces.torque_nm, [0.07])


def test_a_unit_that_is_stated_nowhere_is_not_guessed(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel;Moment\n1;2\n")
    mapping = ImportMapping(columns={**COLUMNS, "torque_nm": MappedColumn("Moment")})
    reading = read_paths([path], mapping=mapping)
    assert reading.unfamiliar == (str(path),)
    assert "'Moment' in 'no unit'" in reading.problems[0].found


def test_no_header_columns_by_number(tmp_path: Path) -> None:
    path = tmp_path / "t.dat"
    path.write_text("measured on line 2\n1;10,5;x\n2;20,5;x\n")
    mapping = ImportMapping(
        columns={"angle_deg": MappedColumn(1, "deg"), "torque_nm": MappedColumn(2, "N·m")},
        attributes={"remark": 3}, header_line=0, first_line=2,
    )  # fmt: skip
    traces = read_paths([path], mapping=mapping).traces
    assert traces.torque_nm.tolist() == [10.5, 20.5]
    assert traces.column("remark") == ["x"]


def test_stated_signs_settle_what_is_in_doubt(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel;Moment\n1,250;2,500\n")
    assert read_paths([path], mapping=ONE).unfamiliar == (str(path),)
    assert read(path, replace(ONE, decimal=",")).torque_nm.tolist() == [2.5]
    assert read(path, replace(ONE, decimal=".", thousands=",")).torque_nm.tolist() == [2500.0]


def test_stated_encoding_and_header_line(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes("Drehwinkel: Moment\nDrehwinkel;Moment;Prüfer\n1;2;Żak\n".encode("cp1250"))
    traces = read(path, replace(ONE, encoding="cp1250", header_line=2))
    assert traces.column("Prüfer") == ["Żak"]


def test_moments_without_zone_are_taken_in_the_stated_one(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("started_at: 2031-07-01T12:00:00\nDrehwinkel;Moment\n1;2\n")
    traces = read(path, replace(ONE, time_zone="Europe/Berlin"))
    assert traces.column("started_at")[0].isoformat() == "2031-07-01T10:00:00+00:00"


def test_one_row_a_sample(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Nr;Drehwinkel;Moment\n7;0;1\n7;1;2\n8;0;3\n")
    mapping = replace(
        ONE, arrangement="one row a sample", columns={**COLUMNS, "trace_id": MappedColumn("Nr")}
    )
    traces = read(path, mapping)
    assert traces.trace_ids == ("7", "8")
    assert traces.n_samples.tolist() == [2, 1]


def test_side_by_side_with_numbered_names(tmp_path: Path) -> None:
    path = tmp_path / "pair.csv"
    path.write_text("Spindle: 4\nDrehwinkel 1;Moment 1;Drehwinkel 2;Moment 2\n0;1;0;3\n1;2;5;4\n2;3;;\n")
    traces = read(path, replace(ONE, arrangement="side by side"))
    assert traces.trace_ids == ("pair-1", "pair-2")
    assert [t.torque_nm.tolist() for t in traces] == [[1.0, 2.0, 3.0], [3.0, 4.0]]
    assert traces.column("spindle") == ["4", "4"]


def test_side_by_side_with_repeated_names_and_one_angle_for_all(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel;Moment;Moment\n0;1;5\n1;2;6\n")
    traces = read(path, replace(ONE, arrangement="side by side"))
    assert [t.angle_deg.tolist() for t in traces] == [[0.0, 1.0], [0.0, 1.0]]
    assert [t.torque_nm.tolist() for t in traces] == [[1.0, 2.0], [5.0, 6.0]]


def test_side_by_side_that_does_not_pair_is_unfamiliar(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel 1;Drehwinkel 2;Moment 1;Moment 2;Moment 3\n0;1;5;6;7\n")
    reading = read_paths([path], mapping=replace(ONE, arrangement="side by side"))
    assert reading.unfamiliar == (str(path),)


@pytest.mark.parametrize(
    "text",
    [
        "Plant: north\nScrew: 7\nDrehwinkel;Moment\n0;1\n1;2\n\nScrew: 8\nDrehwinkel;Moment\n0;3\n1;4\n2;5\n",
        "Plant: north\nScrew: 7\nDrehwinkel;Moment\n0;1\n1;2\nScrew: 8\n0;3\n1;4\n2;5\n",
    ],
)
def test_stacked_curves(tmp_path: Path, text: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text)
    traces = read(path, replace(ONE, arrangement="stacked", trace_id_from="Screw"))
    assert traces.trace_ids == ("7", "8")
    assert [t.torque_nm.tolist() for t in traces] == [[1.0, 2.0], [3.0, 4.0, 5.0]]
    assert traces.column("Plant") == ["north", "north"]


def test_stacked_curves_parted_by_blank_lines_are_numbered(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Drehwinkel;Moment\n0;1\n1;2\n\n0;3\n\n\n0;4\n1")
    reading = read_paths([path], mapping=replace(ONE, arrangement="stacked"))
    assert reading.traces.trace_ids == ("t-1", "t-2", "t-3")
    assert reading.traces.n_samples.tolist() == [2, 1, 1]
    assert [(p.line, p.fatal) for p in reading.problems] == [(9, False)]


def test_tables_by_a_mapping(tmp_path: Path) -> None:
    lists = pa.table({"Nr": [1, 2], "Drehwinkel": [[0.0, 1.0], [2.0]], "Moment": [[1.0, 2.0], [3.0]]})
    pq.write_table(lists, tmp_path / "t.parquet")
    columns = {"trace_id": MappedColumn("Nr"), **COLUMNS}
    traces = read(tmp_path / "t.parquet", ImportMapping(arrangement="one row a trace", columns=columns))
    assert traces.trace_ids == ("1", "2")
    assert traces.torque_nm.tolist() == [1.0, 2.0, 3.0]


def test_patterns_choose_the_files(tmp_path: Path) -> None:
    (tmp_path / "a_kurve.csv").write_text("Drehwinkel;Moment\n0;1\n")
    (tmp_path / "own.csv").write_text("angle_deg;torque_nm\n0;1\n")
    for given_by in ("hand", "pattern"):
        mapping = replace(ONE, file_patterns=("*_KURVE.csv",))
        reading = (
            read_paths([tmp_path], mapping=mapping)
            if given_by == "hand"
            else read_paths([tmp_path], mappings=[mapping])
        )
        assert reading.problems == ()
        assert reading.traces.trace_ids == ("a_kurve", "own")
        assert reading.sources[0].layout == "import mapping station"


def test_own_layouts_need_no_mapping_from_the_library(tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("angle_deg;torque_nm\n0;1\n")
    reading = read_paths([tmp_path], mappings=[replace(ONE, file_patterns=("*.csv",))])
    assert reading.problems == ()
    assert len(reading.traces) == 1


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=6)


@given(
    name=WORDS,
    patterns=st.lists(WORDS, max_size=3),
    column=st.one_of(WORDS, st.integers(1, 99)),
    unit=st.sampled_from(["", "N·m", "ft·lbf"]),
    attribute=WORDS,
    decimal=st.sampled_from([None, ",", "."]),
    header_line=st.one_of(st.none(), st.integers(0, 9)),
)
def test_a_mapping_comes_back_equal_from_its_text(
    name: str,
    patterns: list[str],
    column: str | int,
    unit: str,
    attribute: str,
    decimal: str | None,
    header_line: int | None,
) -> None:
    columns = {"angle_deg": MappedColumn("a", "turn"), "torque_nm": MappedColumn(column, unit)}
    mapping = ImportMapping(
        name=name, file_patterns=tuple(patterns), columns=columns, attributes={attribute: column},
        decimal=decimal, header_line=header_line, separator=";",
    )  # fmt: skip
    assert mapping_from_text(mapping_to_text(mapping)) == mapping


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("[columns]\nangle_deg = 1", "columns.torque_nm"),
        ("[columns]\nangle_deg = 1\ntorque_nm = {column = 2, unit = 'furlong'}", "columns.torque_nm.unit"),
        ("[columns]\nangle_deg = 1\ntorque_nm = {column = 2, unit = 'deg'}", "columns.torque_nm.unit"),
        ("[columns]\nangle_deg = 1\ntorque_nm = 2\nmoment = 3", "columns.moment"),
        ("[columns]\nangle_deg = 1\ntorque_nm = true", "columns.torque_nm"),
        ("colour = 'red'", "colour"),
        ("decimal = 5", "decimal"),
        ("decimal = ';'\n[columns]\nangle_deg = 1\ntorque_nm = 2", "decimal"),
        ("separator = ','\ndecimal = ','\n[columns]\nangle_deg = 1\ntorque_nm = 2", "decimal"),
        ("arrangement = 'pile'\n[columns]\nangle_deg = 1\ntorque_nm = 2", "arrangement"),
        ("arrangement = 'one row a sample'\n[columns]\nangle_deg = 1\ntorque_nm = 2", "columns.trace_id"),
        ("time_zone = 'Moon/Base'\n[columns]\nangle_deg = 1\ntorque_nm = 2", "time_zone"),
        ("encoding = 'ebony'\n[columns]\nangle_deg = 1\ntorque_nm = 2", "encoding"),
        ("file_patterns = [1]\n[columns]\nangle_deg = 1\ntorque_nm = 2", "file_patterns"),
    ],
)
def test_a_wrong_mapping_names_its_key(text: str, key: str) -> None:
    with pytest.raises(ImportMappingError) as caught:
        mapping_from_text(text, "m.toml")
    assert caught.value.key == key
    assert str(caught.value).startswith(f"m.toml {key}: ")


def test_no_toml_and_no_file(tmp_path: Path) -> None:
    with pytest.raises(ImportMappingError, match="no valid TOML"):
        mapping_from_text("= 5")
    with pytest.raises(ImportMappingError, match="cannot be opened"):
        load_mapping(tmp_path / "absent.toml")


def test_a_library_keeps_finds_and_replaces(tmp_path: Path) -> None:
    library = MappingLibrary(tmp_path / "mappings")
    assert len(library) == 0
    path = library.save(replace(ONE, name="Station 4 / left", file_patterns=("*_l.csv",)))
    assert path.name == "station_4_left.toml"
    library.save(replace(ONE, name="Station 4 / left", file_patterns=("*_left.csv",)))
    (tmp_path / "mappings" / "broken.toml").write_text("= 5")
    colleague = MappingLibrary(tmp_path / "mappings")
    assert len(colleague) == 1
    assert [error.path for error in colleague.problems] == [str(tmp_path / "mappings" / "broken.toml")]
    assert colleague.find("/shift/A_LEFT.CSV") == next(iter(colleague))
    assert colleague.find("a_l.csv") is None


@pytest.mark.parametrize("missing", ["name", "file_patterns"])
def test_a_mapping_that_could_not_be_found_again_is_not_saved(tmp_path: Path, missing: str) -> None:
    mapping = replace(ONE, file_patterns=("*.csv",))
    mapping = replace(mapping, name="") if missing == "name" else replace(mapping, file_patterns=())
    with pytest.raises(ImportMappingError) as caught:
        MappingLibrary(tmp_path).save(mapping)
    assert caught.value.key == missing
