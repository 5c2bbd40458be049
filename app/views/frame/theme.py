"""A look applied to the whole program.

Palette, one small style sheet, the bundled font where none is there.
"""

from __future__ import annotations

import importlib.resources
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFontDatabase, QPalette
from PySide6.QtWidgets import QApplication

from app.display.look import DARK, LIGHT, Look

_SHEET = """
QLabel#areaTitle {{ font-weight: 600; }}
QLabel#areaRemark {{ color: {faint}; }}
QLabel#areaSentence {{ color: {faint}; padding: 12px; }}
QLabel#quiet {{ color: {faint}; }}
QWidget#topLine, QWidget#bottomLine {{ background: {panel}; }}
QWidget#arrivalStrip {{ background: {background}; border-top: 2px solid {focus};
border-bottom: 1px solid {grid}; }}
QToolButton#chip {{ border: 1px solid {grid}; border-radius: 9px; padding: 1px 8px; background:
{background}; }}
QToolButton#chip:hover, QToolButton#chip:focus {{ border: 2px solid {focus}; padding: 0px 7px; }}
QTableView {{ gridline-color: {grid}; selection-background-color: {selection}; selection-color:
{foreground}; }}
QComboBox {{ combobox-popup: 0; border: 1px solid {faint}; border-radius: 3px; padding: 2px 4px;
min-height: 1.25em; background: {background}; }}
QComboBox:hover {{ border-color: {focus}; }}
QComboBox:focus, QComboBox:on {{ border: 2px solid {focus}; padding: 1px 3px; }}
QComboBox:disabled {{ color: {faint}; background: {panel}; border-color: {grid}; }}
QComboBox::drop-down {{ border: none; width: 18px; }}
QComboBox::down-arrow {{ image: url("{icons}/arrow-down.svg"); width: 10px; height: 6px; }}
QDialogButtonBox {{ dialogbuttonbox-buttons-have-icons: 0; }}
QTableView:focus, QTextBrowser:focus, QPlainTextEdit:focus, QLineEdit:focus,
QListWidget:focus, QScrollArea:focus,
QTreeWidget:focus {{ border: 2px solid {focus}; }}
QLineEdit, QPlainTextEdit, QAbstractSpinBox {{ border: 1px solid {faint}; border-radius: 3px; background:
{background}; }}
QLineEdit {{ padding: 2px 4px; }}
QAbstractSpinBox {{ padding-left: 3px; }}
QLineEdit:focus {{ border: 2px solid {focus}; padding: 1px 3px; }}
QLineEdit:disabled, QAbstractSpinBox:disabled {{ color: {faint}; background: {panel}; border-color: {grid}; }}
QAbstractSpinBox QLineEdit, QAbstractSpinBox QLineEdit:focus,
QComboBox QLineEdit, QComboBox QLineEdit:focus {{ border: none; padding: 0px; }}
QAbstractSpinBox:focus {{ border: 2px solid {focus}; }}
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button {{ border: none; width: 16px; }}
QAbstractSpinBox::up-arrow {{ image: url("{icons}/arrow-up.svg"); width: 8px; height: 5px; }}
QAbstractSpinBox::down-arrow {{ image: url("{icons}/arrow-down.svg"); width: 8px; height: 5px; }}
QCheckBox::indicator, QMenu::indicator {{ width: 12px; height: 12px; border: 1px solid {faint};
border-radius: 2px; background: {background}; }}
QCheckBox::indicator:focus, QCheckBox::indicator:hover {{ border-color: {focus}; }}
QCheckBox::indicator:checked, QMenu::indicator:checked {{ image: url("{icons}/tick-{look}.svg"); }}
QMenu::indicator {{ left: 7px; }}
QMenu::indicator:exclusive {{ border-color: transparent; background: transparent; }}
QMenu::item {{ padding: 3px 22px 3px 27px; }}
QMenu::item:selected {{ background: {selection}; }}
QMenu::item:disabled {{ color: {faint}; }}
QMenu, QComboBox QAbstractItemView {{ border: 1px solid {faint}; }}
QMenu::separator {{ height: 1px; background: {grid}; margin: 3px 6px; }}
QPushButton {{ border: 1px solid {faint}; padding: 4px 11px; border-radius: 3px; background: {background}; }}
QPushButton:hover {{ border-color: {focus}; }}
QPushButton:pressed {{ background: {selection}; }}
QPushButton:disabled {{ color: {faint}; border-color: {grid}; }}
QPushButton:flat {{ border-color: transparent; background: transparent; }}
QPushButton:focus {{ border: 2px solid {focus}; padding: 3px 10px; }}
QAbstractSpinBox {{ min-height: 1.3em; }}
QLineEdit[refused="true"] {{ border: 2px solid {refused}; }}
QLabel#refusal {{ color: {refused}; }}
QSplitter::handle {{ background: {grid}; }}
QToolTip {{ color: {foreground}; background: {panel}; border: 1px solid {grid}; }}
"""
_ICONS = Path(str(importlib.resources.files("resources") / "icons"))


def choose_look(wanted: str, app: QApplication) -> Look:
    """The look for "light", "dark" or "system"."""
    if wanted == "system":
        dark = app.styleHints().colorScheme() == Qt.ColorScheme.Dark
        return DARK if dark else LIGHT
    return DARK if wanted == "dark" else LIGHT


#: Property of the application that has its style.
_STYLED = "hasItsStyle"


def selection_colour(look: Look) -> str:
    """The background of selected rows: the focus colour, thinned, so that text keeps its contrast."""
    back, hue = QColor(look.background), QColor(look.focus)
    share = 0.28
    mixed = [round(b * (1 - share) + h * share) for b, h in zip(_rgb(back), _rgb(hue), strict=True)]
    return QColor(*mixed).name()


def _rgb(colour: QColor) -> tuple[int, int, int]:
    return colour.red(), colour.green(), colour.blue()


def apply_look(app: QApplication, look: Look) -> None:
    """Colour every widget."""
    # Once: a style that is replaced is deleted, and who has asked a widget for its style points to it still.
    if app.property(_STYLED) is None:
        app.setStyle("Fusion")
        app.setProperty(_STYLED, True)
    app.setPalette(palette_of(look))
    app.setStyleSheet(
        _SHEET.format(
            icons=_ICONS.as_posix(),
            look=look.name,
            faint=look.faint,
            panel=look.panel,
            grid=look.grid,
            background=look.background,
            foreground=look.foreground,
            focus=look.focus,
            selection=selection_colour(look),
            refused=look.refused,
        )
    )


def palette_of(look: Look) -> QPalette:
    """The look as a palette; every role that Fusion reads is set."""
    role = QPalette.ColorRole
    palette = QPalette()
    for which, colour in (
        (role.Window, look.panel),
        (role.WindowText, look.foreground),
        (role.Base, look.background),
        (role.AlternateBase, look.panel),
        (role.Text, look.foreground),
        (role.PlaceholderText, look.faint),
        (role.Button, look.panel),
        (role.ButtonText, look.foreground),
        (role.BrightText, look.foreground),
        (role.ToolTipBase, look.panel),
        (role.ToolTipText, look.foreground),
        (role.Highlight, selection_colour(look)),
        (role.HighlightedText, look.foreground),
        (role.Link, look.focus),
        (role.LinkVisited, look.focus),
        (role.Light, look.background),
        (role.Midlight, look.grid),
        (role.Mid, look.grid),
        (role.Dark, look.faint),
        (role.Shadow, look.grid),
        (role.Accent, look.focus),
    ):
        palette.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor(look.faint))
    return palette


def load_fonts() -> list[str]:
    """Make the bundled fonts known; gives the families that came in."""
    families: list[str] = []
    folder = importlib.resources.files("resources") / "fonts"
    if not folder.is_dir():
        return families
    for entry in folder.iterdir():
        if entry.name.endswith((".ttf", ".otf")):
            number = QFontDatabase.addApplicationFontFromData(entry.read_bytes())
            families.extend(QFontDatabase.applicationFontFamilies(number))
    return families
