"""Texts that look like markup, forms, formulas or commands, or steer how what follows is shown."""

from __future__ import annotations

from html.parser import HTMLParser

#: What no page, picture or line may hold of what a recording says: it would steer how the rest is shown.
STEERING = "\x00\x07\x1b\x7f\x9b\u202a\u202e\u2066\u2069"
HOSTILE = f"<img src=/dev/zero onerror=a()>{{0.__class__}}{{value:99}}{{&amp;\"'%s\n{STEERING}\u200fz"
LONG = "=x" * 20_000


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def foreign_markup(page: str) -> list[str]:
    """Tags and attributes of a page that only a hostile text can have put there."""
    reader = _Tags()
    reader.feed(page)
    return [
        f"{tag} {name}"
        for tag, attributes in reader.found
        for name, value in attributes.items()
        if name.startswith("on") or ("/dev/" in (value or "") and name in ("src", "href"))
    ]
