"""What a plant's library says of the joints that were taken from it, shown before they are taken anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPlainTextEdit, QWidget

from app.display.messages import count_words, tr
from app.display.spacing import SMALL_WINDOW
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel

if TYPE_CHECKING:
    from analysis.joint import JointDefinition
    from analysis.joint.library_changes import ChangedJoint


class LibraryPreview(QDialog):
    """The joints that changed, each with its values; accepted, they are taken anew."""

    def __init__(
        self,
        changed: Sequence[ChangedJoint],
        known: Mapping[str, JointDefinition],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Changed in the library"))
        self.resize(*SMALL_WINDOW)
        what = count_words(len(changed), "joint was", "joints were")
        words = (
            "{0} taken from a library that has changed since. Nothing is judged by this joints file "
            "before the changes are taken over."
        )
        self.lead = PlainLabel(tr(words, what))
        self.lead.setWordWrap(True)
        self.text = QPlainTextEdit("\n\n".join(changed_words(one, known.get(one.name)) for one in changed))
        self.text.setReadOnly(True)
        self.text.setAccessibleName(tr("Changes"))
        buttons = QDialogButtonBox.StandardButton
        self.buttons = QDialogButtonBox(buttons.Ok | buttons.Cancel)
        self.take = self.buttons.button(buttons.Ok)
        self.take.setText(tr("Take over and judge"))
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        column(self.lead, self.text, self.buttons, on=self)


def changed_words(one: ChangedJoint, before: JointDefinition | None = None) -> str:
    """A head line, then a line for each value: all of them where it is not known what they were."""
    library = one.library
    head = tr("{0}: taken from revision {1}; revision {2} of {3} says now:", one.name, one.revision,
              library.revision, library.path.name)  # fmt: skip
    lines = [f"  {key} = {value}" for key, value in one.now(before).items()]
    if one.own:
        lines.append(tr("  Values of this file that stay above it: {0}", ", ".join(one.own)))
    return "\n".join([head, *lines])
