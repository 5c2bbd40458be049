"""Formats of optional libraries, each file made by that library itself."""

from __future__ import annotations

import random
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.reading import ImportMapping, MappedColumn, Reading, preview, read_paths
from tests.analysis.reading.conftest import TRACES

LEFT, RIGHT = (tuple(map(np.array, TRACES[name])) for name in ("left", "right"))


def make_tdms(
    path: Path, names: tuple[str, str] = ("Angle", "Torque"), units: tuple[str, str] = ("deg", "N·m")
) -> None:
    nptdms = pytest.importorskip("nptdms")
    objects: list[Any] = [nptdms.RootObject({"station": 4})]
    for group, (angle, torque) in {"left": LEFT, "right": RIGHT}.items():
        objects.append(nptdms.GroupObject(group, {"joint": "hub", "trace_id": f"{group} 1"}))
        timing = {"wf_increment": 0.5, "wf_samples": len(angle)}
        objects.append(nptdms.ChannelObject(group, names[0], angle, {"unit_string": units[0], **timing}))
        objects.append(nptdms.ChannelObject(group, names[1], torque, {"unit_string": units[1], **timing}))
    with nptdms.TdmsWriter(str(path)) as writer:
        writer.write_segment(objects)


def make_hdf5(
    path: Path, names: tuple[str, str] = ("angle", "torque"), units: tuple[str, str] = ("deg", "Nm")
) -> None:
    h5py = pytest.importorskip("h5py")
    with h5py.File(path, "w") as content:
        content.attrs["station"] = 4
        for name, (angle, torque) in {"left": LEFT, "right": RIGHT}.items():
            group = content.create_group(f"shift/{name}")
            group.attrs["joint"] = "hub"
            group.attrs["trace_id"] = f"{name} 1"
            for dataset, values, unit in zip(names, (angle, torque), units, strict=True):
                group.create_dataset(dataset, data=values, compression="gzip").attrs["unit"] = unit
            group.create_dataset("time_s", data=np.arange(len(angle)) * 0.5)
        content["without_copy"] = content["shift"]
        content["round"] = h5py.SoftLink("/")
        content["outside"] = h5py.ExternalLink("other.h5", "/secret")


def make_mdf(
    path: Path, names: tuple[str, str] = ("angle", "torque"), units: tuple[str, str] = ("deg", "Nm")
) -> None:
    asammdf = pytest.importorskip("asammdf")
    with asammdf.MDF(version="4.10") as content:
        for name, (angle, torque) in {"left": LEFT, "right": RIGHT}.items():
            time = np.arange(len(angle)) * 0.5
            signals = [
                asammdf.Signal(values, time, name=channel, unit=unit)
                for channel, values, unit in zip(names, (angle, torque), units, strict=True)
            ]
            content.append(signals, acq_name=name)
        content.save(path, overwrite=True)


def make_excel(
    path: Path, names: tuple[str, str] = ("angle", "torque"), units: tuple[str, str] = ("deg", "Nm")
) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "notes"
    book.active.append(["nothing to see"])
    for name, (angle, torque) in {"left": LEFT, "right": RIGHT}.items():
        sheet = book.create_sheet(name)
        sheet.append(["joint", "hub"])
        sheet.append(["station", 4])
        sheet.append([*names, "time (s)"])
        sheet.append([*units, "s"])
        for index, pair in enumerate(zip(angle.tolist(), torque.tolist(), strict=True)):
            sheet.append([*pair, index * 0.5])
    book.save(path)


MAKERS = {"t.tdms": make_tdms, "t.h5": make_hdf5, "t.mf4": make_mdf, "t.xlsx": make_excel}
MODULES = {"t.tdms": "nptdms", "t.h5": "h5py", "t.mf4": "asammdf", "t.xlsx": "openpyxl"}


@pytest.fixture(params=list(MAKERS))
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def check(reading: Reading) -> None:
    assert not any(problem.fatal for problem in reading.problems), reading.problems
    assert len(reading.traces) == 2
    for trace, (angle, torque) in zip(reading.traces, (LEFT, RIGHT), strict=True):
        np.testing.assert_array_equal(trace.angle_deg, angle)
        np.testing.assert_array_equal(trace.torque_nm, torque)
        assert trace.time_s is not None
        np.testing.assert_array_equal(trace.time_s, np.arange(len(angle)) * 0.5)


def test_two_traces_in_each_format(tmp_path: Path, name: str) -> None:
    MAKERS[name](tmp_path / name)
    reading = read_paths([tmp_path / name])
    check(reading)
    expected = ("left 1", "right 1") if name in ("t.tdms", "t.h5") else ("t-left", "t-right")
    assert reading.traces.trace_ids == expected
    if name != "t.mf4":
        assert reading.traces.column("joint") == ["hub", "hub"]
        assert reading.traces.column("station") == [4, 4]


def test_a_folder_finds_them(tmp_path: Path, name: str) -> None:
    MAKERS[name](tmp_path / name)
    assert len(read_paths([tmp_path]).traces) == 2


def test_units_and_names_of_others_by_a_mapping(tmp_path: Path, name: str) -> None:
    MAKERS[name](tmp_path / name, ("Winkel", "Moment"), ("turns", "cNm"))
    assert read_paths([tmp_path / name]).unfamiliar == (str(tmp_path / name),)
    columns = {"angle_deg": MappedColumn("Winkel"), "torque_nm": MappedColumn("Moment")}
    mapping = ImportMapping(columns=columns, sheet="left" if name == "t.xlsx" else "")
    trace = read_paths([tmp_path / name], mapping=mapping).traces[0]
    np.testing.assert_allclose(trace.angle_deg, LEFT[0] * 360.0)
    np.testing.assert_allclose(trace.torque_nm, LEFT[1] * 0.01)


def test_previews(tmp_path: Path, name: str) -> None:
    MAKERS[name](tmp_path / name, ("Winkel", "Moment"), ("turns", "cNm"))
    sheet = {"t.xlsx": "left", "t.h5": "shift/left"}.get(name, "")
    columns = {"angle_deg": MappedColumn("Winkel"), "torque_nm": MappedColumn("Moment")}
    shown = preview(tmp_path / name, ImportMapping(columns=columns, sheet=sheet))
    assert {"Winkel", "Moment"} <= set(shown.headers)
    assert {guess.target: guess.unit for guess in shown.guesses}["torque_nm"] == "cN·m"
    assert shown.trace is not None
    np.testing.assert_allclose(shown.trace.torque_nm, LEFT[1] * 0.01)


def test_a_missing_library_is_said_clearly(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    MAKERS[name](tmp_path / name)
    monkeypatch.setitem(sys.modules, MODULES[name], None)
    (problem,) = read_paths([tmp_path / name]).problems
    assert "optional package" in problem.expected
    assert 'pip install "tautograph[formats]"' in problem.advice


def test_no_library_is_loaded_before_such_a_file_is_opened() -> None:
    heavy = ("nptdms", "h5py", "asammdf", "openpyxl")
    code = f"import sys, analysis.reading; print([m for m in {heavy} if m in sys.modules])"
    root = Path(__file__).resolve().parents[3]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert done.stdout.strip() == "[]"


# A destructor of one of the libraries stumbles over a file that it could not open.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.slow
def test_damaged_files_are_listed(tmp_path: Path, name: str) -> None:
    MAKERS[name](tmp_path / name)
    content, folder, rng = (tmp_path / name).read_bytes(), tmp_path / "damaged", random.Random(0)
    folder.mkdir()
    # Read together: the library is loaded once, and again where one of them brings it down.
    for number in range(36):
        data = bytearray(content)
        for _ in range(rng.choice([1, 4, 16])):
            data[rng.randrange(8, len(data))] = rng.randrange(256)
        if rng.random() < 0.3:
            del data[rng.randrange(8, len(data)) :]
        (folder / f"{number}-{name}").write_bytes(data)
    (folder / f"sound-{name}").write_bytes(content)
    reading = read_paths([folder])
    told, read = {problem.path for problem in reading.problems}, {one.path for one in reading.sources}
    assert told | read == {str(path) for path in folder.iterdir()}
    sound = [one for one in reading.problems if Path(one.path).name == f"sound-{name}" and one.fatal]
    assert all("a second time" in one.found for one in sound), "what follows the damaged ones is read"


def test_values_kept_in_another_file_are_not_followed(tmp_path: Path) -> None:
    h5py = pytest.importorskip("h5py")
    make_hdf5(tmp_path / "other.h5")
    with h5py.File(tmp_path / "t.h5", "w") as content:
        layout = h5py.VirtualLayout(shape=(4,), dtype="f8")
        layout[:] = h5py.VirtualSource(str(tmp_path / "other.h5"), "shift/left/angle", shape=(4,))
        content.create_virtual_dataset("angle_deg", layout)
        content.create_dataset("torque_nm", data=LEFT[1])
    (problem,) = read_paths([tmp_path / "t.h5"]).problems
    assert "in another file" in problem.found


def test_a_data_set_that_claims_too_much_is_refused(tmp_path: Path) -> None:
    h5py = pytest.importorskip("h5py")
    with h5py.File(tmp_path / "t.h5", "w") as content:
        for name in ("angle_deg", "torque_nm"):
            content.create_dataset(name, shape=(2**40,), dtype="f8", chunks=(1024,), compression="gzip")
    (problem,) = read_paths([tmp_path / "t.h5"]).problems
    assert "claims" in problem.found


def test_a_workbook_that_grows_beyond_measure_is_refused(tmp_path: Path) -> None:
    pytest.importorskip("openpyxl")
    make_excel(tmp_path / "t.xlsx")
    with zipfile.ZipFile(tmp_path / "t.xlsx", "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/bomb.xml", b"0" * 80_000_000)
    (problem,) = read_paths([tmp_path / "t.xlsx"]).problems
    assert "claims" in problem.found
