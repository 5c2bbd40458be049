"""Help for every figure, rule and cause: words, formula, source, and which picture shows it; no widgets."""

from __future__ import annotations

from analysis.catalogue.causes import CAUSES
from analysis.catalogue.figures import FIGURES
from analysis.catalogue.method import STEPS
from analysis.catalogue.rules import RULES
from analysis.figure_text import titled
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
_METHOD = tuple(
    Topic(
        f"method {step.title.lower()}",
        "How points are found",
        step.title,
        f"{step.words}\n\nStep {number} of {len(STEPS)}. The constants stand with units and sources on the "
        "last pages of a report, under method.",
        step.formula,
        step.picture,
        "Method of this program; bisquare: Beaton and Tukey 1974.",
    )
    for number, step in enumerate(STEPS, 1)
)
_COLUMNS = Topic(
    "columns",
    "Points and figures",
    "Every column of the results",
    "\n\n".join(f"{titled(figure.title, figure.unit)}: {figure.help}" for figure in FIGURES),
)
TOPICS: tuple[Topic, ...] = (
    *read_topics("window.md"),
    *read_topics("points.md"),
    _COLUMNS,
    *read_topics("point_rules.md"),
    *_METHOD,
    *_RULES,
    *read_topics("clamp_force.md"),
    *read_topics("shift.md"),
    *read_topics("studies.md"),
    *read_topics("recordings.md"),
    *_CAUSES,
)
TOPIC_OF: dict[str, Topic] = {topic.name: topic for topic in TOPICS}
