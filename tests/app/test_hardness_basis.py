"""The basis of hardness: chosen under Preferences, and beside every hard, medium and soft that is shown."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtWidgets import QTextBrowser
from pytestqt.qtbot import QtBot

from analysis.catalogue.units import DisplayUnits
from analysis.settings import CurveSettings, Settings
from app.main_window import MainWindow
from app.texts.why_text import why_one
from app.views.frame.preferences_window import PreferencesWindow


def test_the_basis_is_chosen_in_the_preferences(qtbot: QtBot) -> None:
    dialog = PreferencesWindow("", Settings(), DisplayUnits())
    qtbot.addWidget(dialog)
    assert dialog.settings == Settings()
    dialog.hardness_basis.setCurrentIndex(dialog.hardness_basis.findData("10-100 %"))
    assert dialog.settings.curve == CurveSettings(hardness_basis="10-100 %")


def test_the_basis_stands_beside_the_word(window: MainWindow, judged: Callable[[MainWindow], None]) -> None:
    window.menus.files.open_sample()
    judged(window)
    columns = window.session.columns
    assert columns["hardness"].title == "Hardness (snug-to-final)"
    row = int(np.flatnonzero(columns["hardness"].values == "hard")[0])
    page = QTextBrowser()
    page.setHtml(why_one(window.session, row, "#888888"))
    assert "hard (snug-to-final)" in page.toPlainText()
