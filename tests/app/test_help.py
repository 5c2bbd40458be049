"""The help: every rule with formula, picture and source; every choice of the settings has its page."""

from __future__ import annotations

import typing

import numpy as np
import pytest
from PySide6.QtGui import QImage

from analysis.catalogue.units import DisplayUnits
from analysis.settings import CurveSettings, Settings
from app.commands.arguments import analyse_parser
from app.display.look import DARK, LIGHT
from app.views.frame.preferences_window import PreferencesWindow
from app.views.help.pages import read_topics
from app.views.help.pictures import picture
from app.views.help.topics import TOPIC_OF, TOPICS
from app.views.help.window import HelpWindow

#: Words on a picture need the fonts of an application.
pytestmark = pytest.mark.usefixtures("qapp")

HINTS = typing.get_type_hints(CurveSettings)
SNUG_RULES, YIELD_RULES = typing.get_args(HINTS["snug_rule"]), typing.get_args(HINTS["yield_rule"])


#: Help topic of each choice of `CurveSettings.snug_rule` and `CurveSettings.yield_rule`.
TOPIC_OF_RULE = {
    "slope-ratio": "snug by slope ratio",
    "threshold-torque": "snug by threshold torque",
    "elastic-line": "snug by elastic line",
    "half-slope": "yield by half slope",
    "two-thirds-slope": "yield by two thirds",
    "offset": "yield by offset",
}
RULE_TOPICS, OPERATION_TOPICS = read_topics("point_rules.md"), read_topics("recordings.md")


def test_prose_is_read_as_it_is_written():
    topic = TOPIC_OF["yield onset"]
    assert (topic.group, topic.title, topic.picture) == ("Points and figures", "Yield onset", "yield")
    assert topic.text.startswith("The first angle after the straight stretch")
    assert "\n" not in topic.text
    assert [line[:7] for line in topic.formula.split("\n")] == ["half sl", "offset:"]
    assert topic.source.endswith("definition of this program.")
    assert all(topic.text and topic.group and topic.title for topic in TOPICS)


def pixels(image: QImage) -> np.ndarray:
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.width(), 4)[..., :3]


def test_topics_are_named_once():
    assert len(TOPIC_OF) == len(TOPICS)


@pytest.mark.parametrize("rule", [*SNUG_RULES, *YIELD_RULES])
def test_every_rule_that_can_be_chosen_has_formula_picture_and_source(rule):
    topic = TOPIC_OF[TOPIC_OF_RULE[rule]]
    assert topic in RULE_TOPICS
    assert topic.formula
    assert topic.source
    assert f"--{'snug' if rule in SNUG_RULES else 'yield'}-rule" in topic.text
    assert picture(topic.picture, LIGHT) is not None


@pytest.mark.parametrize("topic", OPERATION_TOPICS, ids=lambda topic: topic.name)
def test_stages_blows_and_loosening_are_documented(topic):
    assert topic.formula
    assert topic.source
    assert picture(topic.picture, LIGHT) is not None


def test_every_picture_that_a_topic_names_is_drawn_within_its_frame():
    for topic in TOPICS:
        if not topic.picture:
            continue
        for look in (LIGHT, DARK):
            image = picture(topic.picture, look, 1.0)
            assert image is not None, topic.name
            drawn = pixels(image)
            changed = (drawn != drawn[-1, -1]).any(axis=2)
            assert changed.mean() > 0.005, topic.name
            # Words that run out of the picture would colour its right or left edge.
            assert not changed[:, -2:].any(), topic.name
            assert not changed[30:, :2].any(), topic.name


def test_pictures_of_rules_differ():
    names = [topic.picture for topic in (*RULE_TOPICS, *OPERATION_TOPICS)]
    assert len({pixels(picture(name, LIGHT, 1.0)).tobytes() for name in names}) == len(names)


def test_the_help_window_shows_each_rule(qtbot):
    window = HelpWindow(LIGHT)
    qtbot.addWidget(window)
    for topic in (*RULE_TOPICS, *OPERATION_TOPICS):
        window.open_topic(topic.name)
        shown = window.page.toPlainText()
        assert topic.title in shown
        assert topic.formula.split("\n")[0] in shown
        assert topic.source in shown
        assert "picture" in window.page.toHtml()


def test_preferences_offer_every_rule_and_give_it_back(qtbot):
    window = PreferencesWindow("Tester", Settings(), DisplayUnits("N·m"))
    qtbot.addWidget(window)
    offered = [
        tuple(box.itemData(k) for k in range(box.count())) for box in (window.snug_rule, window.yield_rule)
    ]
    assert offered == [SNUG_RULES, YIELD_RULES]
    for rule in SNUG_RULES:
        window.snug_rule.setCurrentIndex(window.snug_rule.findData(rule))
        window.snug_threshold.setValue(12.0)
        assert window.settings.curve.snug_rule == rule
        assert window.settings.curve.snug_threshold_nm == (12.0 if rule == "threshold-torque" else None)
        assert window.snug_threshold.isEnabled() == (rule == "threshold-torque")
    for rule in YIELD_RULES:
        window.yield_rule.setCurrentIndex(window.yield_rule.findData(rule))
        assert window.settings.curve.yield_rule == rule
        assert window.yield_offset.isEnabled() == (rule == "offset")


def test_the_command_line_offers_every_rule():
    for option, rules in (("--snug-rule", SNUG_RULES), ("--yield-rule", YIELD_RULES)):
        for rule in rules:
            command = ["shift.parquet", "--joints", "j.toml", "--results", "r.csv", option, rule]
            arguments = analyse_parser().parse_args(command)
            assert getattr(arguments, option[2:].replace("-", "_")) == rule
