"""A site's template: what it changes, and what it is refused for."""

from __future__ import annotations

import zlib
from pathlib import Path

import numpy as np
import pytest

from analysis.report.svg_plot import png_bytes
from analysis.report.template import ReportTemplate, ReportTemplateError, load_template, template_from_text


def test_the_template_that_comes_with_the_program_changes_nothing() -> None:
    assert load_template() == ReportTemplate()


def test_everything_that_a_site_may_change(tmp_path: Path) -> None:
    logo = png_bytes(np.full((4, 6), 200, np.uint8))
    (tmp_path / "logo.png").write_bytes(logo)
    (tmp_path / "site.toml").write_text(
        """
[site]
organisation = "Pallet trucks, hall 3"
title = "Tightening of {joint}"
footer = "internal"
logo = "logo.png"
page_size = "Letter"
torque_unit = "ft·lbf"
[order]
Order = 4711
Line = "Mast"
[text]
opening = "For the weekly review."
closing = "Kept for ten years."
cautions = ["Ask before reuse."]
[content]
most_evidence_pages = 3
""",
        "utf-8",
    )
    template = load_template(tmp_path / "site.toml")
    assert template.logo_png == logo
    assert template.order == (("Order", "4711"), ("Line", "Mast"))
    assert (template.page_size, template.torque_unit, template.most_evidence_pages) == ("Letter", "ft·lbf", 3)
    assert template.cautions == ("Ask before reuse.",)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("[site]\nlogos = 'a.png'", "site.logos"),
        ("[sight]\n", "sight"),
        ("[site]\npage_size = 'A5'", "site.page_size"),
        ("[site]\ntorque_unit = 'furlong'", "site.torque_unit"),
        ("[text]\nopening = 3", "text.opening"),
        ("[text]\ncautions = 'one'", "text.cautions"),
        ("[content]\nmost_listed = -1", "content.most_listed"),
        ("[content]\nmost_listed = true", "content.most_listed"),
        ("site = 3", "site"),
        ("[site", "file"),
        ("[site]\nlogo = '../secret.png'", "site.logo"),
        ("[site]\nlogo = '/etc/passwd'", "site.logo"),
        ("[site]\nlogo = 'absent.png'", "site.logo"),
    ],
)
def test_a_mistake_is_named_by_its_key(text: str, key: str, tmp_path: Path) -> None:
    with pytest.raises(ReportTemplateError) as caught:
        template_from_text(text, "site.toml", tmp_path)
    assert caught.value.key == key
    assert "site.toml" in str(caught.value)


def test_a_logo_must_be_a_picture_in_the_templates_own_folder(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(b"GIF89a")
    with pytest.raises(ReportTemplateError, match="not a PNG"):
        template_from_text("[site]\nlogo = 'logo.png'", "t", tmp_path)
    secret = tmp_path / "elsewhere" / "x.png"
    secret.parent.mkdir()
    secret.write_bytes(png_bytes(np.zeros((1, 1), np.uint8)))
    (tmp_path / "link.png").symlink_to(secret)
    with pytest.raises(ReportTemplateError, match="plain file"):
        template_from_text("[site]\nlogo = 'link.png'", "t", tmp_path)


def test_a_damaged_or_enormous_logo_is_told(tmp_path: Path) -> None:
    sound, logo = png_bytes(np.zeros((4, 6), np.uint8)), tmp_path / "logo.png"
    for data in (sound[:8], sound[:-3], sound[:-12], sound[:40] + b"!" + sound[41:]):
        logo.write_bytes(data)
        with pytest.raises(ReportTemplateError, match="damaged"):
            template_from_text("[site]\nlogo = 'logo.png'", "t", tmp_path)
    header = b"IHDR" + (70_000).to_bytes(4, "big") * 2 + sound[24:29]
    enormous = sound[:12] + header + zlib.crc32(header).to_bytes(4, "big") + sound[33:]
    logo.write_bytes(enormous)
    with pytest.raises(ReportTemplateError, match="70000 by 70000 points"):
        template_from_text("[site]\nlogo = 'logo.png'", "t", tmp_path)


def test_an_unreadable_template_says_so(tmp_path: Path) -> None:
    with pytest.raises(ReportTemplateError, match="cannot be read"):
        load_template(tmp_path / "absent.toml")
