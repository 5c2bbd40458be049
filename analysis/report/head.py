"""Head and foot of every page, and names within a report."""

from __future__ import annotations

import datetime
import hashlib
import re

from analysis import __version__
from analysis.report.content import Head
from analysis.report.template import ReportTemplate


def anchor_of(name: str) -> str:
    """A prefix for anchors that is legible, safe in HTML, and different for different names.

    Examples
    --------
    >>> anchor_of("Wheel hub"), anchor_of("wheel-hub")
    ('wheel-hub-0f67', 'wheel-hub-991f')
    """
    legible = re.sub("[^a-z0-9]+", "-", name.lower()).strip("-") or "no-joint"
    return f"{legible}-{hashlib.sha256(name.encode()).hexdigest()[:4]}"


def head_of(template: ReportTemplate, title: str, now: datetime.datetime) -> Head:
    """Head and foot of every page from the site's template."""
    return Head(
        title=template.title.replace("{joint}", title),
        organisation=template.organisation,
        order=template.order,
        logo_png=template.logo_png,
        made_at=now,
        version=__version__,
        footer=template.footer,
        page_size=template.page_size,
    )
