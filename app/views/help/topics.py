"""Help for every figure, rule and cause: words, formula, source, and which picture shows it; no widgets."""

from __future__ import annotations

from analysis.catalogue.causes import CAUSES
from analysis.catalogue.figures import FIGURES
from analysis.catalogue.rules import RULES
from app.views.help.pages import read_topics
from app.views.help.topic import Topic

_PICTURES = {"torque": "final", "angle": "rate", "prevailing": "prevailing", "yield": "yield"}
_RULES = tuple(
    Topic(
        f"rule {rule.name}",
        "Rules",
        rule.title,
        rule.help,
        rule.formula,
        _PICTURES.get(rule.name, ""),
        rule.source,
    )
    for rule in RULES
)
_CAUSES = tuple(
    Topic(
        f"cause {cause.name}",
        "Causes",
        cause.name.replace("-", " ").capitalize(),
        f"{cause.help}\n\nCheck next: {cause.next_check}",
        picture=f"cause {cause.name}",
        source=cause.source[0].upper() + cause.source[1:] + ".",
    )
    for cause in CAUSES
)
_COLUMNS = Topic(
    "columns",
    "Points and figures",
    "Every column of the results",
    "\n\n".join(
        f"{figure.title}{f' ({figure.unit})' if figure.unit else ''}: {figure.help}" for figure in FIGURES
    ),
)
TOPICS: tuple[Topic, ...] = (
    *read_topics("window.md"),
    *read_topics("points.md"),
    _COLUMNS,
    *read_topics("point_rules.md"),
    *_RULES,
    *read_topics("clamp_force.md"),
    *read_topics("shift.md"),
    *read_topics("studies.md"),
    *read_topics("recordings.md"),
    *_CAUSES,
)
TOPIC_OF: dict[str, Topic] = {topic.name: topic for topic in TOPICS}
