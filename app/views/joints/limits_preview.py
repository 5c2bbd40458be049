"""What an import of limits would change, shown before anything is changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPlainTextEdit, QWidget

from analysis.catalogue.units import DisplayUnits
from analysis.joint.definition_keys import KEYS
from app.display.messages import count_words, tr
from app.display.spacing import SMALL_WINDOW
from app.views.parts.layouts import column
from app.views.parts.plain_label import PlainLabel

if TYPE_CHECKING:
    from analysis.joint.limits_import import LimitChange, LimitsImport


class LimitsPreview(QDialog):
    """Old and new values of each joint, and the rows that cannot be used; accepted, they are taken."""

    def __init__(
        self, found: LimitsImport, file: str, units: DisplayUnits, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Limits from {0}", file))
        self.resize(*SMALL_WINDOW)
        self.lead = PlainLabel(
            tr(
                "{0} would change; as before: {1}.",
                count_words(len(found.changes), "value", "values"),
                found.unchanged,
            )
        )
        self.lead.setWordWrap(True)
        self.text = QPlainTextEdit(preview_text(found, units))
        self.text.setReadOnly(True)
        self.text.setAccessibleName(tr("Changes"))
        buttons = QDialogButtonBox.StandardButton
        self.buttons = QDialogButtonBox(buttons.Ok | buttons.Cancel)
        self.take = self.buttons.button(buttons.Ok)
        self.take.setText(tr("Apply these values"))
        self.take.setEnabled(bool(found.changes))
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        column(self.lead, self.text, self.buttons, on=self)


def preview_text(found: LimitsImport, units: DisplayUnits) -> str:
    """A line for each value, then the rows that were left out with the reason."""
    lines = [change_words(change, units) for change in found.changes]
    if found.problems:
        lines += ["", tr("Left out")]
        lines += [problem.sentence() for problem in found.problems]
    return "\n".join(lines) or tr("Nothing to change.")


def change_words(change: LimitChange, units: DisplayUnits) -> str:
    """Such as "hub: Torque limits: 58 … 72 → 60 … 70 N·m"."""
    key = KEYS[change.key]
    old = tr("not given") if change.old is None else _words(change.old, key.unit, units)
    new = _words(change.new, key.unit, units)
    return f"{change.joint}: {tr(key.title)}: {old} → {new} {units.symbol(key.unit)}".rstrip()


def _words(value: Any, unit: str, units: DisplayUnits) -> str:
    values = value if isinstance(value, tuple) else (value,)
    return " … ".join(units.given(float(one), unit) for one in values)
