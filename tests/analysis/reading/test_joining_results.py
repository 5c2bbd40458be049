"""Joining results by OPC 40450-1: files built by hand from the published types; there and back."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import CallError
from analysis.reading import Reading, ValueLimits, read_paths, write_joining_results
from analysis.reading.joining_codes import CODE_OF_UNIT, UNIT_OF_CODE
from analysis.traces import TraceSet
from analysis.traces.schema import LARGEST_VALUES
from analysis.traces.units import UNITS

# Unit codes and enumeration numbers: nodesets IJT/Base 1.00.0 and IJT/Tightening 2.00.0 (OPC Foundation).
NM, DEG, SECONDS, MILLISECONDS = 20053, 17476, 5457219, 4403766
TIME, TORQUE, ANGLE = 1, 2, 3


def content(values: list[Any], quantity: Any, unit: Any) -> dict[str, Any]:
    return {"Values": values, "PhysicalQuantity": quantity, "EngineeringUnits": {"UnitId": unit}}


def step(angle: list[Any], torque: list[Any], **more: Any) -> dict[str, Any]:
    contents = [content(angle, ANGLE, DEG), content(torque, TORQUE, NM)]
    if "time" in more:
        contents.append(content(more.pop("time"), TIME, SECONDS))
    return {
        "StepTraceId": "st", "StepResultId": "sr", "NumberOfTracePoints": len(angle),
        "StepTraceContent": contents, **more,
    }  # fmt: skip


def joining(*steps: dict[str, Any], **more: Any) -> dict[str, Any]:
    trace = {"TraceId": "t", "ResultId": "r1", "StepTraces": list(steps)}
    values = [{"MeasuredValue": 20.0, "ValueTag": 1, "PhysicalQuantity": TORQUE}]
    return {"OverallResultValues": values, "Trace": trace, **more}


def result(*contents: Any, result_id: str = "r1", **metadata: Any) -> dict[str, Any]:
    return {"ResultMetaData": {"ResultId": result_id, **metadata}, "ResultContent": list(contents)}


def read(tmp_path: Path, *results: Any) -> Reading:
    path = tmp_path / "results.json"
    path.write_text(json.dumps(list(results) if len(results) > 1 else results[0]))
    return read_paths([path])


ONE_STEP = step([0, 1.5, 3], [0.5, 10, 20.25], time=[0, 0.1, 0.2])


def check_one(reading: Reading) -> None:
    assert reading.problems == ()
    (trace,) = reading.traces
    assert trace.trace_id == "r1"
    assert trace.angle_deg.tolist() == [0.0, 1.5, 3.0]
    assert trace.torque_nm.tolist() == [0.5, 10.0, 20.25]
    assert trace.time_s is not None
    np.testing.assert_allclose(trace.time_s, [0.0, 0.1, 0.2])


@pytest.mark.parametrize("wrapping", ["bare", "inline", "body"])
def test_three_wrappings(tmp_path: Path, wrapping: str) -> None:
    inner = joining(ONE_STEP)
    wrapped = {
        "bare": inner,
        "inline": {"UaTypeId": "nsu=http://opcfoundation.org/UA/IJT/Base/;i=3009", **inner},
        "body": {"TypeId": {"Id": 3009, "Namespace": 5}, "Body": inner},
    }[wrapping]
    check_one(read(tmp_path, result(wrapped)))


def test_compact_and_verbose_forms(tmp_path: Path) -> None:
    compact = joining(ONE_STEP)
    compact["OverallResultValues"] = [{"ValueTag": 1, "EncodingMask": 4}]
    check_one(read(tmp_path, {"EncodingMask": 1, **result(compact)}))
    verbose = joining(ONE_STEP, FailureReason=0, StepResults=[], Errors=[], FailingStepResultId=None)
    check_one(
        read(tmp_path, result(verbose, IsPartial=False, StepId=None, CreationTime="0001-01-01T00:00:00Z"))
    )


def test_numbers_and_enumerations_in_every_spelling(tmp_path: Path) -> None:
    spelled = step([], [])
    spelled["NumberOfTracePoints"] = "3"
    spelled["StepTraceContent"] = [
        content([0, 1.5, "3"], "ANGLE_3", "17476"),
        content(["0.5", 10, 20.25], "2", {"": 0}.get("x", "20053")),
        content([0, 100, 200], 1, MILLISECONDS),
    ]
    check_one(
        read(tmp_path, result(joining(spelled), ResultEvaluation="OK_1", Description={"Text": "left front"}))
    )


def test_one_result_a_line(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    lines = [json.dumps(result(joining(ONE_STEP), result_id=name)) for name in ("a", "b", "c")]
    path.write_text("\n".join(lines) + "\n")
    assert read_paths([path]).traces.trace_ids == ("a", "b", "c")


def test_units_by_code(tmp_path: Path) -> None:
    for code, symbol in UNIT_OF_CODE.items():
        if UNITS[symbol].quantity not in ("torque", "angle"):
            continue
        one = step([2, 3], [2, 3])
        position = 1 if UNITS[symbol].quantity == "torque" else 0
        one["StepTraceContent"][position]["EngineeringUnits"] = {"UnitId": code}
        trace = read(tmp_path, result(joining(one))).traces[0]
        values = (trace.angle_deg, trace.torque_nm)[position]
        np.testing.assert_allclose(values, np.array([2.0, 3.0]) * UNITS[symbol].to_internal)


def test_a_unit_by_name_and_a_quantity_by_its_unit(tmp_path: Path) -> None:
    one = step([0, 1], [0, 1])
    one["StepTraceContent"][1] = {
        "Values": [1, 2],
        "EngineeringUnits": {"UnitId": 999, "DisplayName": {"Text": "kgf·m"}},
    }
    assert read(tmp_path, result(joining(one))).traces.torque_nm.tolist() == [9.80665, 2 * 9.80665]


def test_sampling_intervals_are_milliseconds_and_seconds_in_the_predecessor(tmp_path: Path) -> None:
    for in_seconds, interval in ((False, 100.0), (True, 0.1)):
        inner = joining(step([0, 1.5, 3], [0.5, 10, 20.25], SamplingInterval=interval))
        if in_seconds:
            inner["OverallResultValues"] = [{"Value": 20.0, "ValueTag": 1}]
        check_one(read(tmp_path, result(inner)))


def test_steps_are_stitched(tmp_path: Path) -> None:
    first = step([0, 90, 180], [1, 1, 2], SamplingInterval=10.0, StepResultId="s1")
    second = step([0, 5, 10], [2, 8, 16], SamplingInterval=5.0, StartTimeOffset=50.0, StepResultId="s2")
    third = step([192, 195], [20, 24], SamplingInterval=5.0, StepResultId="s3")
    program = [{"StepResultId": "s1", "ProgramStep": 10}, {"StepResultId": "s2", "ProgramStep": "20"}]
    reading = read(tmp_path, result(joining(first, second, third, StepResults=program)))
    (trace,) = reading.traces
    assert trace.angle_deg.tolist() == [0, 90, 180, 180, 185, 190, 192, 195]
    assert trace.torque_nm.tolist() == [1, 1, 2, 2, 8, 16, 20, 24]
    assert trace.step is not None
    assert trace.step.tolist() == [10, 10, 10, 20, 20, 20, 3, 3]
    assert trace.time_s is not None
    np.testing.assert_allclose(trace.time_s, [0, 0.01, 0.02, 0.05, 0.055, 0.06, 0.065, 0.07])
    (note,) = reading.problems
    assert not note.fatal
    assert "step 2 starts again at 0 deg: counted on from 180 deg" in note.found


def test_times_that_start_again_are_moved(tmp_path: Path) -> None:
    first = step([0, 1], [1, 2], time=[0.0, 0.5])
    second = step([2, 3], [3, 4], time=[0.0, 0.25], StartTimeOffset=750.0)
    third = step([4, 5], [5, 6], time=[0.0, 0.25])
    trace = read(tmp_path, result(joining(first, second, third))).traces[0]
    assert trace.time_s is not None
    np.testing.assert_allclose(trace.time_s, [0.0, 0.5, 0.75, 1.0, 1.0, 1.25])


def test_metadata_become_attributes_and_unknown_codes_stay(tmp_path: Path) -> None:
    metadata = {
        "PartId": "A7", "InternalRecipeId": "12", "SequenceNumber": "9007199254740993",
        "ResultEvaluation": 77,
        "OperationMode": 42, "Name": {"Locale": "en", "Text": "wheel"},
        "ProcessingTimes": {"StartTime": "2031-05-04T06:07:08.5Z", "EndTime": "2031-05-04T06:07:09Z"},
        "AssociatedEntities": [{"Name": "Joint", "EntityId": "hub", "EntityType": 9}],
        "ExtendedMetaData": [{"Key": "x", "Value": {"UaType": 11, "Value": 1.5}}],
    }  # fmt: skip
    inner = joining(ONE_STEP, Errors=[{"ErrorType": 3, "ErrorId": "E1"}])
    attributes = read(tmp_path, result(inner, **metadata)).traces[0].attributes
    assert (attributes["joint"], attributes["part"], attributes["program"]) == ("hub", "A7", "12")
    assert attributes["sequence_number"] == 9007199254740993
    assert (attributes["result_evaluation"], attributes["operation_mode"]) == (77, 42)
    assert attributes["result_name"] == "wheel"
    assert attributes["started_at"].isoformat() == "2031-05-04T06:07:08.500000+00:00"
    kept = json.loads(attributes["joining_result"])
    assert kept["ResultMetaData"] == {"ResultId": "r1", **metadata}
    assert kept["Errors"] == inner["Errors"]
    assert "Trace" not in kept


def test_what_is_wrong_is_listed_and_the_others_kept(tmp_path: Path) -> None:
    no_unit = step([0, 1], [0, 1])
    no_unit["StepTraceContent"][1]["EngineeringUnits"] = {"UnitId": 4711}
    ragged = step([0, 1], [0, 1])
    ragged["StepTraceContent"][0]["Values"] = [0]
    words = step([0, 1], [0, "much"])
    no_torque = step([0, 1], [0, 1])
    del no_torque["StepTraceContent"][1]
    bad = {"unit": no_unit, "ragged": ragged, "words": words, "torque": no_torque, "empty": step([], [])}
    results = [result(joining(one), result_id=name) for name, one in bad.items()]
    reading = read(
        tmp_path, *results, result({"OverallResultValues": []}, result_id="none"), result(joining(ONE_STEP))
    )
    assert reading.traces.trace_ids == ("r1",)
    said = [problem.found for problem in reading.problems]
    assert [problem.line for problem in reading.problems] == [1, 2, 3, 4, 5, 6]
    assert all(problem.fatal for problem in reading.problems)
    words_of = [
        "4711",
        "{'angle_deg': 1, 'torque_nm': 2}",
        "no numbers",
        "without torque_nm",
        "without samples",
        "without a trace",
    ]
    for sentence, expected in zip(said, words_of, strict=True):
        assert expected in sentence


def test_several_traces_in_one_result(tmp_path: Path) -> None:
    reading = read(tmp_path, result(joining(ONE_STEP), joining(ONE_STEP)))
    assert reading.traces.trace_ids == ("r1-1", "r1-2")


@pytest.mark.parametrize(
    "text",
    [
        '{"ResultMetaData": ',
        '{"ResultMetaData": {}} x',
        '{"ResultContent": ' + "[" * 100_000,
        '{"ResultContent": ' + "[" * 700 + "]" * 700 + "}",
        '{"ResultContent": [{"Trace": ' + "9" * 5000 + "}]}",
        '{"ResultMetaData": {}, "ResultContent": [], "ResultContent": [1]}',
        '{"ResultContent": {"Body": {"Trace": 5}}}',
        '[1, {"ResultMetaData": null, "ResultContent": [null, [], "x"]}]',
        '{"ResultContent": [{"Trace": {"StepTraces": [{"StepTraceContent": [{"Values": 5}]}]}}]}',
    ],
)
def test_mangled_json_is_listed(tmp_path: Path, text: str) -> None:
    path = tmp_path / "r.json"
    path.write_text(text)
    reading = read_paths([path])
    assert len(reading.traces) == 0
    assert reading.problems
    assert all(problem.fatal for problem in reading.problems)


def test_a_name_with_a_line_separator_is_no_end_of_a_line(tmp_path: Path) -> None:
    path = tmp_path / "results.jsonl"
    lines = [
        json.dumps(result(joining(ONE_STEP), result_id=name), ensure_ascii=False)
        for name in ("a\u2028b", "c")
    ]
    path.write_text("\n".join(lines), "utf-8")
    assert read_paths([path]).traces.trace_ids == ("a\u2028b", "c")


#: What every channel can hold: beyond it a value is listed and left out; and angles that are no single turns.
LARGEST = min(LARGEST_VALUES.values())
FLOATS = st.floats(-LARGEST, LARGEST)
ANGLES = st.floats(361.0, LARGEST)


@st.composite
def trace_sets(draw: st.DrawFn) -> TraceSet:
    n = draw(st.integers(1, 3))
    lengths = [draw(st.integers(1, 6)) for _ in range(n)]

    def channel(values: st.SearchStrategy[float] = FLOATS) -> list[list[float]]:
        return [draw(st.lists(values, min_size=k, max_size=k)) for k in lengths]

    # One step, or angles that never come near zero again: a later step that starts near zero is counted on.
    steps = [[float(draw(st.integers(0, 3)))] * k for k in lengths]
    return TraceSet.from_lists(
        [f"t{k}" for k in range(n)],
        channel(ANGLES),
        channel(),
        {"joint": ["hub", None, "hub"][:n], "lot": [5, 6, 7][:n], "good": [True, False, None][:n]},
        time_s=channel(),
        step=steps if draw(st.booleans()) else None,
    )


@given(trace_sets(), st.booleans())
def test_there_and_back(traces: TraceSet, compact: bool) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.json"
        write_joining_results(traces, path, compact=compact)
        reading = read_paths([path])
    assert reading.problems == ()
    for name in ("offsets", "angle_deg", "torque_nm", "time_s"):
        np.testing.assert_array_equal(getattr(reading.traces, name), getattr(traces, name))
    if traces.step is not None:
        np.testing.assert_array_equal(reading.traces.step, traces.step)
    for name in ("trace_id", "joint", "lot", "good"):
        assert reading.traces.column(name) == traces.column(name)


def test_several_steps_there_and_back(tmp_path: Path) -> None:
    angle, torque = np.linspace(10.0, 90.0, 9), np.linspace(1.0, 40.0, 9)
    steps = [1.0, 1.0, 1.0, 2.0, 2.0, 5.0, 5.0, 5.0, 5.0]
    time = np.linspace(0.0, 1.0, 9)
    traces = TraceSet.from_lists(["a"], [angle], [torque], time_s=[time], step=[steps])
    write_joining_results(traces, tmp_path / "r.json")
    reading = read_paths([tmp_path / "r.json"])
    assert reading.problems == ()
    np.testing.assert_array_equal(reading.traces.angle_deg, angle)
    np.testing.assert_array_equal(reading.traces.time_s, time)
    np.testing.assert_array_equal(reading.traces.step, steps)


def test_values_are_written_with_tags_evaluation_and_limits(tmp_path: Path) -> None:
    traces = TraceSet.from_lists(
        ["a"], [[0.0, 10.0, 20.0, 19.0]], [[0.0, 5.0, 70.0, 3.0]], {"joint": ["hub"]}
    )
    results = pa.table(
        {
            "trace_id": ["a"], "verdict": ["not ok"], "final_torque_nm": [70.0], "final_angle_deg": [20.0],
            "snug_torque_nm": [5.0], "snug_angle_deg": [9.5], "yield_torque_nm": pa.nulls(1, pa.float64()),
            "joint_rate_deg": [10.5],
        }
    )  # fmt: skip
    limits = {
        "hub": {"final_torque_nm": ValueLimits(58.0, 66.0, 62.0), "joint_rate_deg": ValueLimits(5.0, 20.0)}
    }
    write_joining_results(traces, tmp_path / "r.json", results=results, limits=limits)
    (written,) = json.loads((tmp_path / "r.json").read_text())
    assert written["ResultMetaData"]["ResultEvaluation"] == 2
    values = {value["ValueId"]: value for value in written["ResultContent"][0]["OverallResultValues"]}
    assert values.keys() == {
        "final_torque_nm",
        "final_angle_deg",
        "snug_torque_nm",
        "snug_angle_deg",
        "joint_rate_deg",
    }
    torque = values["final_torque_nm"]
    assert (torque["MeasuredValue"], torque["ValueTag"], torque["ResultEvaluation"]) == (70.0, 1, 2)
    assert (torque["LowLimit"], torque["HighLimit"], torque["TargetValue"]) == (58.0, 66.0, 62.0)
    assert torque["EngineeringUnits"]["UnitId"] == CODE_OF_UNIT["N·m"]
    assert torque["TracePointIndex"] == 2
    assert (values["snug_angle_deg"]["ValueTag"], values["snug_angle_deg"]["TracePointIndex"]) == (3, 1)
    assert (values["joint_rate_deg"]["ResultEvaluation"], values["joint_rate_deg"]["ValueTag"]) == (1, 0)


@pytest.mark.parametrize(
    ("verdict", "code"), [("ok", 1), ("not ok", 2), ("suspect", 3), ("not evaluated", 0)]
)
def test_verdicts_map_to_evaluations(tmp_path: Path, verdict: str, code: int) -> None:
    traces = TraceSet.from_lists(["a"], [[0.0]], [[0.0]])
    write_joining_results(
        traces, tmp_path / "r.json", results=pa.table({"trace_id": ["a"], "verdict": [verdict]})
    )
    (written,) = json.loads((tmp_path / "r.json").read_text())
    assert written["ResultMetaData"]["ResultEvaluation"] == code


def test_results_of_other_traces_are_refused(tmp_path: Path) -> None:
    traces = TraceSet.from_lists(["a"], [[0.0]], [[0.0]])
    with pytest.raises(CallError, match="not those of these traces"):
        write_joining_results(traces, tmp_path / "r.json", results=pa.table({"trace_id": ["b"]}))


def test_samples_that_are_no_numbers_survive(tmp_path: Path) -> None:
    traces = TraceSet.from_lists(["a"], [[0.0, np.nan]], [[np.inf, -np.inf]])
    write_joining_results(traces, tmp_path / "r.json")
    trace = read_paths([tmp_path / "r.json"]).traces[0]
    np.testing.assert_array_equal(trace.angle_deg, [0.0, np.nan])
    np.testing.assert_array_equal(trace.torque_nm, [np.inf, -np.inf])
