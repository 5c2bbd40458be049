"""Text files as people write them: separators, signs, encodings, preamble, units, broken lines."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.reading import Reading, read_paths
from analysis.reading.text_form import find_encoding, find_form, find_signs

ANGLE = [0.0, 1.5, 1002.25]
TORQUE = [-0.5, 10.125, 65.0]


def read(tmp_path: Path, text: str | bytes, name: str = "t.csv") -> Reading:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_paths([path])


def body(separator: str, decimal: str = ".", end: str = "\n") -> str:
    rows = [f"{a}{separator}{t}".replace(".", decimal) for a, t in zip(ANGLE, TORQUE, strict=True)]
    return end.join([f"angle_deg{separator}torque_nm", *rows]) + end


def check(reading: Reading) -> None:
    assert reading.problems == ()
    np.testing.assert_array_equal(reading.traces.angle_deg, ANGLE)
    np.testing.assert_array_equal(reading.traces.torque_nm, TORQUE)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("separator", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", ","), ("|", ".")]
)
def test_separators_and_decimal_signs(tmp_path: Path, separator: str, decimal: str, end: str) -> None:
    check(read(tmp_path, body(separator, decimal, end)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    text = "Prüfer: Jörg\n" + body(";", ",").replace("angle_deg", "angle [°]")
    reading = read(tmp_path, text.encode(encoding))
    check(reading)
    assert reading.traces.column("Prüfer") == ["Jörg"]


def test_an_encoding_that_shows_late_is_found(tmp_path: Path) -> None:
    rows = "".join(f"a;{k};{k};ok\n" for k in range(20_000)) + "a;20000;1;größer\n"
    reading = read(tmp_path, ("trace_id;angle_deg;torque_nm;remark\n" + rows).encode("cp1252"))
    assert reading.problems == ()
    assert reading.traces.column("remark")[0][-1] == "größer"


def test_no_line_end_at_the_end(tmp_path: Path) -> None:
    check(read(tmp_path, body(";").rstrip("\n")))


@pytest.mark.parametrize(
    ("thousands", "decimal"), [(".", ","), ("'", "."), (" ", ","), ("\u202f", ","), ("\xa0", ",")]
)
def test_thousands_signs(tmp_path: Path, thousands: str, decimal: str) -> None:
    text = body(";", decimal).replace("1002", f"1{thousands}002")
    check(read(tmp_path, text))


def test_thousands_comma_between_quotes(tmp_path: Path) -> None:
    check(read(tmp_path, body(",").replace("1002.25", '"1,002.25"')))


def test_plus_signs_and_exponents(tmp_path: Path) -> None:
    check(read(tmp_path, body(";").replace("1.5", "+15e-1")))


@pytest.mark.parametrize(
    ("header", "factor_angle", "factor_torque"),
    [
        ("angle (deg);torque (Nm)", 1.0, 1.0),
        ("Angle [°];Torque [cNm]", 1.0, 0.01),
        ("ANGLE_DEG;TORQUE_NM", 1.0, 1.0),
        ("angle (turns);torque (ft·lbf)", 360.0, 1.3558179483314004),
        ("angle (rad);torque [in-lbf]", 180.0 / np.pi, 0.1129848290276167),
        ("angle_deg;torque (kgf·cm)", 1.0, 0.0980665),
        ("angle_deg;torque (kgf·m)", 1.0, 9.80665),
        ("angle_deg;torque (ozf·in)", 1.0, 0.00706155181422604),
        ("angle;torque\n°;N·m", 1.0, 1.0),
        ("angle;torque\n[turns];[lbf ft]", 360.0, 1.3558179483314004),
    ],
)
def test_units(tmp_path: Path, header: str, factor_angle: float, factor_torque: float) -> None:
    # Factors: exact inch, pound and standard gravity (NIST SP 811).
    traces = read(tmp_path, body(";").replace("angle_deg;torque_nm", header)).traces
    np.testing.assert_allclose(traces.angle_deg, np.array(ANGLE) * factor_angle, rtol=1e-15)
    np.testing.assert_allclose(traces.torque_nm, np.array(TORQUE) * factor_torque, rtol=1e-15)


def test_a_preamble_gives_attributes(tmp_path: Path) -> None:
    reading = read(
        tmp_path,
        "sep=;\n# Joint: hub\nSpindle: 3\nstarted_at: 2031-05-04T06:07:08+02:00\n"
        "lot no: 00123\ntemp: 21,5\n\n" + body(";", ","),
    )
    check(reading)
    attributes = reading.traces[0].attributes
    assert (attributes["joint"], attributes["spindle"], attributes["lot no"]) == ("hub", "3", "00123")
    assert attributes["temp"] == 21.5
    assert attributes["started_at"].isoformat() == "2031-05-04T04:07:08+00:00"


def test_other_text_above_the_header_is_noted(tmp_path: Path) -> None:
    reading = read(tmp_path, "Export of station four\n" + body(";"))
    assert len(reading.traces) == 1
    (note,) = reading.problems
    assert (note.line, note.fatal) == (1, False)


def test_a_column_that_is_constant_is_an_attribute_and_one_that_varies_a_list(tmp_path: Path) -> None:
    reading = read(
        tmp_path,
        "trace_id,angle_deg,torque_nm,lot,remark\na,0,1,L1,x\na,1,2,L1,y\nb,0,1,L2,z\nb,1,2,L2,z\n",
    )
    assert reading.traces.column("lot") == ["L1", "L2"]
    assert reading.traces.column("remark") == [["x", "y"], ["z", "z"]]


def test_a_last_line_cut_short_is_left_out_and_noted(tmp_path: Path) -> None:
    for cut in ("40", "40;", "40;-", "40;1e"):
        reading = read(tmp_path, body(";") + cut)
        assert reading.traces.angle_deg.tolist() == ANGLE
        (note,) = reading.problems
        assert (note.line, note.fatal) == (5, False)


@pytest.mark.parametrize(
    ("bad", "found"),
    [
        ("7;abc", "'abc' in column 'torque_nm'"),
        ("7", "1 columns"),
        ("7;8;9", "3 columns"),
        ("7;1_0", "'1_0'"),
        ("7;1,5", "'1,5'"),
    ],
)
def test_a_bad_line_is_named(tmp_path: Path, bad: str, found: str) -> None:
    lines = body(";").splitlines()
    lines.insert(2, bad)
    reading = read(tmp_path, "\n".join(lines) + "\n")
    assert len(reading.traces) == 0
    (problem,) = reading.problems
    assert (problem.line, problem.fatal) == (3, True)
    assert found in problem.found


def test_a_point_among_decimal_commas_is_named(tmp_path: Path) -> None:
    reading = read(tmp_path, "angle_deg;torque_nm\n0,5;1,5\n1,5;2.5\n2,5;3,5\n")
    (problem,) = reading.problems
    assert problem.line == 3
    assert "'2.5'" in problem.found


def test_separators_at_the_end_of_every_line(tmp_path: Path) -> None:
    check(read(tmp_path, "".join(line + ";\n" for line in body(";").splitlines())))
    check(
        read(
            tmp_path, "".join(f"{line}{';' if k else ''}\n" for k, line in enumerate(body(";").splitlines()))
        )
    )


def test_empty_lines_and_rows_of_separators_are_nothing(tmp_path: Path) -> None:
    check(read(tmp_path, body(";").replace("\n", "\n\n") + ";\n;\n"))


def test_a_missing_number_in_the_middle_is_noted(tmp_path: Path) -> None:
    reading = read(tmp_path, "angle_deg;torque_nm\n0;1\n1;\n2;3\n")
    np.testing.assert_array_equal(reading.traces.torque_nm, [1.0, np.nan, 3.0])
    assert [p.fatal for p in reading.problems] == [False]


def test_signs_are_told_only_where_one_reading_explains_all() -> None:
    assert find_signs(["1.5", "2"], 1) == (".", "")
    assert find_signs(["1,5", "2"], 1) == (",", "")
    assert find_signs(["1,5", "1.234,5"], 1) == (",", ".")
    assert find_signs(["1,234.5", "2"], 1) == (".", ",")
    assert find_signs(["0,123", "1,234"], 1) == (",", "")


def test_bytes_that_are_no_text_have_no_encoding() -> None:
    assert find_encoding(bytes(range(256))) is None
    assert find_encoding(b"\x89PNG\r\n\x1a\n\x00\x00") is None
    assert find_form("no header here\n1;2\n", "utf-8") is None


def test_an_attribute_named_twice_keeps_both(tmp_path: Path) -> None:
    reading = read(tmp_path, "angle_deg;torque_nm;note;note\n0;1;a;b\n1;2;a;b\n")
    assert reading.traces[0].attributes["note"] == "a"
    assert reading.traces[0].attributes["note (column 4)"] == "b"
