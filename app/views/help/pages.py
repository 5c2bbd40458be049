"""The help's prose: Markdown files of the package, read into topics.

A file holds one group, or several: ``# Group``, then for each topic ``## Title [name]``, ``![](picture)``,
paragraphs, the formula as an indented block, the source as a quotation.
"""

from __future__ import annotations

import importlib.resources
import re
from collections.abc import Iterator

from app.views.help.topic import Topic

_HEADING = re.compile(r"## (.+) \[(.+)\]")
_PICTURE = re.compile(r"!\[\]\((.+)\)")


def read_topics(file: str) -> tuple[Topic, ...]:
    """The topics of a file of ``resources/help``, in its order."""
    text = (importlib.resources.files("resources") / "help" / file).read_text("utf-8")
    return tuple(_topics(text))


def _topics(text: str) -> Iterator[Topic]:
    group = ""
    for section in re.split(r"\n(?=##? )", text):
        head, _, body = section.strip().partition("\n")
        if found := _HEADING.fullmatch(head):
            yield _topic(found[2], group, found[1], body)
        else:
            group = head.removeprefix("# ")


def _topic(name: str, group: str, title: str, body: str) -> Topic:
    parts: dict[str, list[str]] = {"text": [], "formula": [], "picture": [], "source": []}
    for block in re.split(r"\n{2,}", body.strip("\n")):
        lines = block.split("\n")
        if found := _PICTURE.fullmatch(block):
            parts["picture"].append(found[1])
        elif block.startswith("    "):
            parts["formula"].append("\n".join(line.strip() for line in lines))
        elif block.startswith(">"):
            parts["source"].append(" ".join(line.removeprefix(">").strip() for line in lines))
        else:
            parts["text"].append(" ".join(lines))
    return Topic(
        name,
        group,
        title,
        "\n\n".join(parts["text"]),
        formula="\n".join(parts["formula"]),
        picture="".join(parts["picture"]),
        source=" ".join(parts["source"]),
    )
