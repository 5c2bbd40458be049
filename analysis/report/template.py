"""What a site changes in its reports: order data, logo, text blocks, page size, unit, how much is shown."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from analysis.checked_text import UnusableTextError, read_bytes, read_text, toml
from analysis.errors import TautographError
from analysis.traces.units import TORQUE_UNITS

_PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
#: A logo is a small picture; more than this is a mistake (own choice).
_LARGEST_LOGO_BYTES = 500_000
#: 4000 by 4000 points unpack to 64 MB (own choice).
_LARGEST_LOGO_POINTS = 16_000_000


class ReportTemplateError(TautographError):
    """A report template that cannot be used; names the file and the key."""

    def __init__(self, path: str, key: str, message: str) -> None:
        super().__init__(f"{path}: {key}: {message}")
        self.path = path
        self.key = key


@dataclass(frozen=True)
class ReportTemplate:
    """Settings and texts of a site's report."""

    #: `title` may hold ``{joint}``, which becomes the joint's title.
    organisation: str = ""
    title: str = "{joint}"
    footer: str = ""
    order: tuple[tuple[str, str], ...] = ()  #: (name, value): order data for the head of the first page.
    logo_png: bytes = b""  #: Empty where there is none.
    #: Text blocks at the start and at the end.
    opening: str = ""
    closing: str = ""
    cautions: tuple[str, ...] = ()  #: Added to the program's own cautions, which always stay.
    page_size: Literal["A4", "Letter"] = "A4"
    torque_unit: str = "N·m"  #: Display unit, everywhere in the report.
    #: Traces of a joint with a page of their own; rows of the table of flagged traces. What is cut is stated.
    most_evidence_pages: int = 8
    most_listed: int = 1000


_TEXTS = {"site": ("organisation", "title", "footer"), "text": ("opening", "closing")}
_KEYS = {
    "site": {"organisation", "title", "footer", "logo", "page_size", "torque_unit"},
    "text": {"opening", "closing", "cautions"},
    "content": {"most_evidence_pages", "most_listed"},
}


def load_template(path: str | Path | None = None) -> ReportTemplate:
    """The template in a TOML file, or the one that comes with the program.

    Raises
    ------
    ReportTemplateError
        Where the file cannot be read, or a key is unknown or of the wrong kind.
    """
    if path is None:
        text = resources.files("resources.templates").joinpath("report.toml").read_text("utf-8")
        return template_from_text(text, "report.toml", None)
    file = Path(path)
    try:
        text = read_text(file)
    except (OSError, UnusableTextError) as error:
        raise ReportTemplateError(str(path), "file", f"cannot be read ({error})") from None
    return template_from_text(text, str(path), file.parent)


def template_from_text(text: str, name: str, folder: Path | None) -> ReportTemplate:
    """A template from TOML text; `folder` is where the logo is looked for. Raises ReportTemplateError."""
    try:
        tables = toml(text)
    except UnusableTextError as error:
        raise ReportTemplateError(name, "file", str(error)) from None
    for table, content in tables.items():
        if table != "order" and table not in _KEYS:
            raise ReportTemplateError(name, table, f"unknown; known: order, {', '.join(_KEYS)}")
        if not isinstance(content, dict):
            raise ReportTemplateError(name, table, "must be a table")
        unknown = set(content) - _KEYS.get(table, set(content))
        if unknown:
            raise ReportTemplateError(name, f"{table}.{min(unknown)}", "unknown key")
    values: dict[str, Any] = {}
    for table, keys in _TEXTS.items():
        for key in keys:
            if key in tables.get(table, {}):
                values[key] = _text(name, f"{table}.{key}", tables[table][key])
    values |= _site(name, tables.get("site", {}), folder)
    values |= _content(name, tables.get("content", {}))
    cautions = tables.get("text", {}).get("cautions", [])
    if not isinstance(cautions, list):
        raise ReportTemplateError(name, "text.cautions", "must be a list of texts")
    values["cautions"] = tuple(_text(name, "text.cautions", caution) for caution in cautions)
    values["order"] = tuple((key, str(value)) for key, value in tables.get("order", {}).items())
    return ReportTemplate(**values)


def _site(name: str, site: dict[str, Any], folder: Path | None) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if "page_size" in site:
        if site["page_size"] not in ("A4", "Letter"):
            raise ReportTemplateError(name, "site.page_size", 'must be "A4" or "Letter"')
        values["page_size"] = site["page_size"]
    if "torque_unit" in site:
        if site["torque_unit"] not in TORQUE_UNITS:
            raise ReportTemplateError(name, "site.torque_unit", f"must be one of {', '.join(TORQUE_UNITS)}")
        values["torque_unit"] = site["torque_unit"]
    if site.get("logo"):
        values["logo_png"] = _logo(name, _text(name, "site.logo", site["logo"]), folder)
    return values


def _content(name: str, content: dict[str, Any]) -> dict[str, Any]:
    for key, value in content.items():
        if isinstance(value, bool) or not isinstance(value, int) or value < 0:
            raise ReportTemplateError(name, f"content.{key}", "must be a whole number, 0 or more")
    return dict(content)


def _text(name: str, key: str, value: object) -> str:
    if not isinstance(value, str):
        raise ReportTemplateError(name, key, "must be text")
    return value


def _logo(name: str, file_name: str, folder: Path | None) -> bytes:
    """The logo's bytes; only a PNG file in the template's own folder is taken."""
    if folder is None or Path(file_name).name != file_name:
        raise ReportTemplateError(name, "site.logo", "must be the name of a PNG file beside the template")
    file = folder / file_name
    try:
        if file.is_symlink():
            raise ReportTemplateError(name, "site.logo", "must be a plain file, no link")
        data = read_bytes(file, _LARGEST_LOGO_BYTES)
    except (OSError, ValueError) as error:
        raise ReportTemplateError(name, "site.logo", f"cannot be read ({error})") from None
    if not _is_png(data):
        raise ReportTemplateError(name, "site.logo", "is not a PNG picture, or a damaged one")
    width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
    if not 0 < width * height <= _LARGEST_LOGO_POINTS:
        raise ReportTemplateError(name, "site.logo", f"has {width} by {height} points; make it smaller")
    return data


def _is_png(data: bytes) -> bool:
    """Whether pieces with sound checks lead from the signature to the end (PNG specification, 5.3)."""
    at, kinds = len(_PNG_SIGNATURE), []
    while data.startswith(_PNG_SIGNATURE) and at + 12 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        piece, check = data[at + 4 : at + 8 + length], data[at + 8 + length : at + 12 + length]
        if zlib.crc32(piece).to_bytes(4, "big") != check:
            return False
        kinds.append(piece[:4])
        at += 12 + length
    return kinds[:1] == [b"IHDR"] and kinds[-1] == b"IEND"
