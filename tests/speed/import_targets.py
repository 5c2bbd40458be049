"""What else comes in: files looked at or read by a mapping, what is dropped, a logo, kept machine code."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QMimeData
from PySide6.QtGui import QImage

from analysis.errors import ReadProblem, TautographError
from analysis.kernel_cache import sealed, unsealed
from analysis.reading import ImportMapping, MappedColumn, preview, read_paths
from analysis.report.template import load_template
from app.main_window import dropped_paths

_UNFAMILIAR = "\n".join(
    [
        "Prüfstand: 4",
        "Winkel [°];Drehmoment [Nm];Zeit (ms);Teil",
        *(f"{k},5;{k},25;{k};A" for k in range(9)),
        "",
    ]
)
_MAPPING = ImportMapping(
    columns={"angle_deg": MappedColumn("Winkel [°]", "deg"),
             "torque_nm": MappedColumn("Drehmoment [Nm]", "N·m")},
    decimal=",",
)  # fmt: skip
_DROPPED = "file:///shift/a.csv\r\nfile:///shift/b%20c.parquet\r\nhttps://example.org/d.csv\r\n"


def _looked_at(path: Path) -> None:
    shown = preview(path)
    reading = read_paths([path], mapping=shown.mapping)
    _told([*shown.problems, *reading.problems])


def _mapped(path: Path) -> None:
    _told(read_paths([path], mapping=_MAPPING).problems)


def _told(problems: Sequence[ReadProblem]) -> None:
    if problems:
        raise TautographError(problems[0].found)


def _dropped(path: Path) -> None:
    data = QMimeData()
    data.setData("text/uri-list", path.read_bytes())
    if not dropped_paths(data):
        raise TautographError("nothing that can be opened")


def _logo(path: Path) -> None:
    """The picture at the head of pages, beside the template."""
    template = path.with_name("with_logo.toml")
    template.write_text(f'[site]\nlogo = "{path.name}"\n', "utf-8")
    load_template(template)


def _kernel(path: Path) -> None:
    """Kept machine code that is not what was written is not looked at."""
    content = unsealed(path)
    if content is None:
        raise TautographError("not what was written")
    assert hashlib.sha256(content).digest() == path.read_bytes()[:32]


def import_targets() -> dict[str, tuple[bytes, Callable[[Path], object]]]:
    """Name of each kind: sound bytes, and what reads it."""
    logo = QBuffer()
    logo.open(QBuffer.OpenModeFlag.WriteOnly)
    QImage(8, 8, QImage.Format.Format_RGB32).save(logo, "PNG")
    return {
        "looked_at.csv": (_UNFAMILIAR.encode("cp1252"), _looked_at),
        "mapped.csv": (_UNFAMILIAR.encode("cp1252"), _mapped),
        "dropped.txt": (_DROPPED.encode(), _dropped),
        "logo.png": (logo.data().data(), _logo),
        "kernel": (sealed(b"code"), _kernel),
    }
