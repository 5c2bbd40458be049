"""The help: a list of topics, and a page with words, formula, picture and source; and the list of keys."""

from __future__ import annotations

import html

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QTextDocument
from PySide6.QtWidgets import (
    QDialog,
    QLineEdit,
    QTextBrowser,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)

from app.display.look import Look
from app.display.messages import tr
from app.display.spacing import TEXT_WINDOW, WIDE_WINDOW
from app.views.help.pictures import picture
from app.views.help.topic import Topic
from app.views.help.topics import TOPIC_OF, TOPICS
from app.views.parts.buttons import closing
from app.views.parts.layouts import block, column, row, split


class HelpWindow(QDialog):
    """Stays beside the window; links elsewhere open their topic here."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.setWindowTitle(tr("Help"))
        self.resize(*TEXT_WINDOW)
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Search the help"))
        self.search.setAccessibleName(tr("Search the help"))
        self.search.textChanged.connect(self._sift)
        self.list = QTreeWidget()
        self.list.setHeaderHidden(True)
        self.list.setAccessibleName(tr("Topics"))
        self.page = QTextBrowser()
        self.page.setAccessibleName(tr("Topic"))
        self._items: dict[str, QTreeWidgetItem] = {}
        groups: dict[str, QTreeWidgetItem] = {}
        for topic in TOPICS:
            if topic.group not in groups:
                groups[topic.group] = QTreeWidgetItem(self.list, [tr(topic.group)])
                groups[topic.group].setExpanded(True)
                groups[topic.group].setFlags(Qt.ItemFlag.ItemIsEnabled)
            item = QTreeWidgetItem(groups[topic.group], [tr(topic.title)])
            item.setData(0, Qt.ItemDataRole.UserRole, topic.name)
            self._items[topic.name] = item
        self.list.currentItemChanged.connect(self._open_item)
        parts = split(block(self.search, self.list), self.page, sizes=(250, 600))
        column((parts, 1), row(None, closing(self)), on=self)
        self.open_topic("first steps")

    def open_topic(self, name: str) -> None:
        """Show a topic; one that does not exist shows the first steps."""
        topic = TOPIC_OF.get(name) or TOPIC_OF["first steps"]
        item = self._items[topic.name]
        if self.list.currentItem() is not item:
            self.list.setCurrentItem(item)
        else:
            self._show(topic)

    def set_look(self, look: Look) -> None:
        """Pictures in other colours."""
        self.look = look
        item = self.list.currentItem()
        if item is not None:
            self._open_item(item)

    def _open_item(self, item: QTreeWidgetItem | None, _before: object = None) -> None:
        name = item.data(0, Qt.ItemDataRole.UserRole) if item is not None else None
        if name:
            self._show(TOPIC_OF[str(name)])

    def _show(self, topic: Topic) -> None:
        document = self.page.document()
        image = picture(topic.picture, self.look) if topic.picture else None
        self.page.clear()
        if image is not None:
            document.addResource(QTextDocument.ResourceType.ImageResource.value, QUrl("picture"), image)
        self.page.setHtml(topic_html(topic, self.look.faint, image is not None))

    def _sift(self, words: str) -> None:
        wanted = words.strip().lower()
        for topic in TOPICS:
            text = " ".join((topic.title, topic.text, topic.formula)).lower()
            self._items[topic.name].setHidden(bool(wanted) and wanted not in text)


def topic_html(topic: Topic, faint: str, pictured: bool) -> str:
    """One topic as rich text."""
    parts = [f"<h2>{html.escape(tr(topic.title))}</h2>"]
    if pictured:
        parts.append('<p><img src="picture" width="460" height="220"/></p>')
    parts += [f"<p>{html.escape(part)}</p>" for part in tr(topic.text).split("\n\n")]
    if topic.formula:
        formula = "<br/>".join(html.escape(line) for line in topic.formula.split("\n"))
        parts.append(f"<p><b>{tr('Formula')}</b><br/>{formula}</p>")
    if topic.source:
        parts.append(f'<p style="color:{faint}">{tr("Source")}: {html.escape(topic.source)}</p>')
    return "".join(parts)


class KeysWindow(QDialog):
    """Every action with its keys."""

    def __init__(self, lines: list[tuple[str, str, str, str]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Keys"))
        self.resize(*WIDE_WINDOW)
        self.list = QTreeWidget()
        self.list.setHeaderLabels([tr("Action"), tr("Keys"), tr("What it does")])
        self.list.setAccessibleName(tr("Keys"))
        groups: dict[str, QTreeWidgetItem] = {}
        for menu, text, keys, tip in lines:
            if menu not in groups:
                groups[menu] = QTreeWidgetItem(self.list, [tr(menu)])
                groups[menu].setExpanded(True)
            QTreeWidgetItem(groups[menu], [tr(text), keys, tr(tip)])
        curves = QTreeWidgetItem(self.list, [tr("Curves")])
        curves.setExpanded(True)
        for extra in _PLOT_KEYS:
            QTreeWidgetItem(curves, [tr(part) for part in extra])
        for section in range(3):
            self.list.resizeColumnToContents(section)
        column((self.list, 1), row(None, closing(self)), on=self)


#: Wide enough for the longest tip; fits the smallest screen.
_PLOT_KEYS = (
    ("Move the view", "←  →  ↑  ↓", "While the curves have the keyboard"),
    ("Zoom", "+  −", "Or the wheel"),
    ("Show everything", "Home", ""),
    ("Cursors", "A, B", "Arrow keys move the cursor, Shift in larger steps"),
)
