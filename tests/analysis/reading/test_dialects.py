"""Tables as plants export them: guesses are right, and what leaves a doubt is asked, never read wrongly."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.reading import MappedColumn, preview
from analysis.traces.units import UNITS

_ANGLE_WORDS = ("Angle", "Winkel", "Drehwinkel", "Angolo", "Rotation angle", "angle_actual", "Winkel Ist")
_TORQUE_WORDS = (
    "Torque",
    "Drehmoment",
    "Moment",
    "Couple",
    "Coppia",
    "TORQUE",
    "torque_actual",
    "Moment Ist",
)
_ANGLE_UNITS = {"deg": ("deg", "°", "Grad"), "rad": ("rad",), "turn": ("turns", "rev")}
_TORQUE_UNITS = {
    "N·m": ("Nm", "N·m", "N m"), "ft·lbf": ("ft-lb", "ft·lbf", "lbf ft"), "in·lbf": ("in-lb", "in lbf"),
    "kgf·m": ("kgf·m",), "N·cm": ("Ncm",),
}  # fmt: skip
_OTHERS = (
    ("Charge Schraube", "W-118"), ("Spindel Nr", "H3"), ("Operator", "k. l."), ("Datum", "02.03.2026"),
    ("Torque target (Nm)", "110"), ("Winkel Soll", "90"), ("Torque rate (Nm/deg)", "3"), ("Result", "OK"),
)  # fmt: skip
_ABOVE = ("Station: 4", "Export 12", "", "Line;3", "Shift = early")


@dataclass(frozen=True)
class Dialect:
    """How one table is written."""

    separator: str
    decimal: str
    digits: int
    angle: tuple[str, str, str]
    torque: tuple[str, str, str]
    stated: str
    preamble: tuple[str, ...]
    before: tuple[tuple[str, str], ...]
    after: tuple[tuple[str, str], ...]
    n_traces: int
    named: bool
    cut: bool
    trailing: bool
    newline: str


def _unit(choices: dict[str, tuple[str, ...]]) -> st.SearchStrategy[tuple[str, str]]:
    return st.sampled_from(
        [(unit, spelling) for unit, spellings in choices.items() for spelling in spellings]
    )


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    separator = draw(st.sampled_from(";\t|,"))
    decimal = draw(st.sampled_from(".," if separator != "," else "."))
    others = draw(st.lists(st.sampled_from(_OTHERS), unique=True, max_size=6))
    parted = draw(st.integers(0, len(others)))
    return Dialect(
        separator, decimal, draw(st.sampled_from((1, 2, 3, 4))),
        (draw(st.sampled_from(_ANGLE_WORDS)), *draw(_unit(_ANGLE_UNITS))),
        (draw(st.sampled_from(_TORQUE_WORDS)), *draw(_unit(_TORQUE_UNITS))),
        draw(st.sampled_from(("brackets", "words", "row", "none"))),
        tuple(draw(st.lists(st.sampled_from(_ABOVE), max_size=4))),
        tuple(others[:parted]), tuple(others[parted:]), draw(st.sampled_from((1, 3))),
        draw(st.booleans()), draw(st.booleans()), draw(st.booleans()), draw(st.sampled_from(("\n", "\r\n"))),
    )  # fmt: skip


def curve(number: int, angle_unit: str, torque_unit: str) -> tuple[np.ndarray, np.ndarray]:
    """Angle and torque of one joint in the units of its file."""
    angle_deg = np.linspace(0.0, 1500.0 + 10.0 * number, 40)
    torque_nm = 1.0 + 0.61 * np.clip(angle_deg - 1300.0, 0.0, None)
    return angle_deg / UNITS[angle_unit].to_internal, torque_nm / UNITS[torque_unit].to_internal


def written(dialect: Dialect) -> tuple[str, tuple[np.ndarray, np.ndarray]]:
    """The text of a table, and the numbers of its first trace as they stand in it."""

    def number(value: float) -> str:
        return f"{value:.{dialect.digits}f}".replace(".", dialect.decimal)

    def header(word: str, spelling: str) -> str:
        return {"brackets": f"{word} [{spelling}]", "words": f"{word} {spelling}"}.get(dialect.stated, word)

    several = dialect.n_traces > 1
    ids = [("Schraub-Nr", "")] if dialect.named or several else []
    columns = [*(name for name, _ in (*ids, *dialect.before)), header(dialect.angle[0], dialect.angle[2])]
    columns += [header(dialect.torque[0], dialect.torque[2]), *(name for name, _ in dialect.after)]
    rows = [columns]
    if dialect.stated == "row":
        blank = [""] * (len(ids) + len(dialect.before))
        rows.append([*blank, dialect.angle[2], dialect.torque[2], *[""] * len(dialect.after)])
    for k in range(dialect.n_traces):
        for angle, torque in zip(*curve(k, dialect.angle[1], dialect.torque[1]), strict=True):
            own = [f"hub-{k}"] if ids else []
            rows.append(
                [
                    *own,
                    *(v for _, v in dialect.before),
                    number(angle),
                    number(torque),
                    *(v for _, v in dialect.after),
                ]
            )
    lines = [dialect.separator.join(row) + (dialect.separator if dialect.trailing else "") for row in rows]
    text = dialect.newline.join([*dialect.preamble, *lines])
    angle, torque = (
        np.round(values, dialect.digits) for values in curve(0, dialect.angle[1], dialect.torque[1])
    )
    if dialect.cut:
        text = text[: -len(lines[-1]) // 2]
    return text + ("" if dialect.cut else dialect.newline), (angle, torque)


@given(dialects())
@settings(max_examples=150, deadline=None)
def test_a_guess_is_right_or_asked(dialect: Dialect) -> None:
    text, (angle, torque) = written(dialect)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        path.write_bytes(text.encode("cp1252" if "°" not in text else "utf-8"))
        shown = preview(path)
        asked = {target for target in ("angle_deg", "torque_nm") if target not in shown.mapping.columns}
        for target, words in (("angle_deg", dialect.angle), ("torque_nm", dialect.torque)):
            if target not in asked:
                assert words[0] in str(shown.mapping.columns[target].column)
        if dialect.stated == "none":
            assert shown.trace is None, "no unit is stated"
            columns = {
                "angle_deg": MappedColumn(dialect.angle[0], dialect.angle[1]),
                "torque_nm": MappedColumn(dialect.torque[0], dialect.torque[1]),
            }
            shown = preview(path, replace(shown.mapping, columns={**shown.mapping.columns, **columns}))
        if dialect.digits != 3:
            assert not asked
            assert shown.trace is not None, [problem.sentence() for problem in shown.problems]
        if shown.trace is not None:
            n = len(shown.trace)
            if dialect.cut and not dialect.after:  # what is left of a number that is cut is a number
                n = min(n, len(angle) - 1)
            assert n >= len(angle) - 1 - dialect.cut
            assert len(shown.trace) <= len(angle), "several curves were taken for one"
            np.testing.assert_allclose(
                shown.trace.angle_deg[:n], angle[:n] * UNITS[dialect.angle[1]].to_internal
            )
            np.testing.assert_allclose(
                shown.trace.torque_nm[:n], torque[:n] * UNITS[dialect.torque[1]].to_internal
            )


@pytest.mark.parametrize(
    ("headers", "asked"),
    [
        ("Torque 1 [Nm];Torque 2 [Nm];Angle [deg]", "torque_nm"),
        ("Torque max [Nm];Power [W];Angle [deg]", "torque_nm"),
        ("Winkel;Zähler;Moment [Nm]", "angle_deg"),
    ],
)
def test_a_doubt_is_asked(tmp_path: Path, headers: str, asked: str) -> None:
    path = tmp_path / "t.csv"
    rows = "\n".join(f"{k}.5;{2 * k}.25;{3 * k}.125" for k in range(50))
    path.write_text(f"{headers}\n{rows}\n", encoding="utf-8")
    shown = preview(path)
    assert shown.trace is None
    mapped = shown.mapping.columns.get(asked)
    assert mapped is None or not mapped.unit
