"""Where a new joint comes from: nothing, the library, another file, or a joint that is there."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QInputDialog, QMenu, QWidget

from analysis.errors import JointDefinitionError
from analysis.joint import JointsDocument
from app.display.messages import tr

#: Target of a joint that begins empty: a definition needs one, and the user puts the right one in.
_EMPTY_TARGET_NM = 10.0


class JointSource(QMenu):
    """The menu of the button "New"."""

    wanted = Signal(str, object)  #: (name, values)
    refused = Signal(str)  #: (reason)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._button = parent
        self.addAction(tr("Empty …"), lambda: self.ask_name({"target_torque_nm": _EMPTY_TARGET_NM}))
        self.addAction(tr("From the library …"), self._ask_library)
        self.addAction(tr("From another joints file …"), self._ask_file)

    @property
    def _form(self) -> QWidget:
        """The window that questions are asked over."""
        return self._button.window()

    def ask_name(self, values: Mapping[str, Any]) -> None:
        """Ask what a joint with these values is called; `wanted` tells."""
        name, taken = QInputDialog.getText(
            self._form, tr("New joint"), tr("Short name, as the recordings give it")
        )
        if taken and name.strip():
            self.wanted.emit(name.strip(), values)

    def _ask_library(self) -> None:
        """A joint of the library that comes with the program, to begin with."""
        lead = tr("Torque and friction are defaults: confirm them for your parts, and set the limits.")
        text = (resources.files("resources") / "joint_library" / "hex_bolts.toml").read_text("utf-8")
        self._ask_of(JointsDocument.from_text(text), tr("Joint library"), lead)

    def _ask_file(self) -> None:
        """A joint of another file: the plant's own library."""
        path, _ = QFileDialog.getOpenFileName(
            self._form, tr("Another joints file"), "", tr("Joints files (*.toml)")
        )
        if not path:
            return
        try:
            other = JointsDocument.load(path)
        except JointDefinitionError as error:
            self.refused.emit(str(error))
            return
        self._ask_of(other, Path(path).name, tr("Everything that the file says of the joint is taken over."))

    def _ask_of(self, other: JointsDocument, title: str, lead: str) -> None:
        """Which joint of another document, and what it is called here."""
        words = [f"{name} – {joint.title}" for name, joint in other.joints.items()]
        chosen, taken = QInputDialog.getItem(self._form, title, lead, words, 0, False)
        if taken:
            self.ask_name(other.values(other.names[words.index(chosen)]))
