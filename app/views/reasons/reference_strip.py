"""What is pinned as reference, always in sight: number of traces, date, and how many fall outside."""

from __future__ import annotations

import html

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from app.display.messages import count_words, grouped, tr
from app.session.session import Session


class ReferenceStrip(QLabel):
    """One line with links; empty where no reference is pinned.

    Signals
    -------
    outside_wanted(joint)
        The link was followed; the joint it counts, empty for all.
    """

    outside_wanted = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.setObjectName("areaRemark")
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.LinksAccessibleByMouse | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )
        self.setAccessibleName(tr("Reference"))
        # It takes what room there is and never makes the window wider.
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.linkActivated.connect(self._follow)
        for signal in (
            session.current_changed,
            session.results_changed,
            session.decisions_changed,
            session.visible_changed,
            session.traces_changed,
            session.view_changed,
        ):
            signal.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Say what is pinned for the joint that is looked at, or for all joints."""
        references = self.session.decisions.references
        joint = self._joint()
        self.setVisible(bool(references))
        if joint in references:
            words = tr("reference of {0}: {1}", joint, references[joint].words())
            about = references[joint].name if references[joint].name != joint else ""
        elif len(references) == 1:
            (only,) = references.values()
            words, about = tr("reference of {0}: {1}", only.joint, only.words()), ""
        else:
            dates = sorted({one.pinned_at[:10] for one in references.values()})
            words = tr("{0} references: {1}", len(references), self._all_traces())
            words += tr(", pinned {0}", " – ".join(dates[:1] + dates[1:][-1:])) if dates else ""
            about = ""
        self.setToolTip(about)
        said = f"{html.escape(words)}; {self._outside()}{self._band_elsewhere(joint)}"
        self.setText(said if references else "")

    def _all_traces(self) -> str:
        n = sum(len(one.trace_ids) for one in self.session.decisions.references.values())
        return count_words(n, "trace", "traces")

    def _joint(self) -> str:
        session = self.session
        column = session.columns.get("joint")
        row = session.current_row
        return str(column.values[row]) if column is not None and 0 <= row < len(column.values) else ""

    def _outside(self) -> str:
        session = self.session
        outside = session.outside_reference()
        if outside is None or len(outside) != len(session.visible):
            return html.escape(tr("the others are being judged against it"))
        joint, shown = session.columns.get("joint"), session.visible
        references = session.decisions.references
        if joint is not None:
            chosen = self._joint()
            names = [chosen] if chosen in references else list(references)
            shown = shown & np.isin(joint.values, names)
        n = int((outside & shown).sum())
        words = tr("{0} of {1} shown outside", grouped(n), grouped(int(shown.sum())))
        return f'<a href="outside">{html.escape(words)}</a>' if n else html.escape(words)

    def _band_elsewhere(self, joint: str) -> str:
        """A link to the alignment at which the band of a reference shows whose traces are not all open."""
        session = self.session
        reference = session.decisions.references.get(joint)
        if reference is None or session.view.alignment == "final":
            return ""
        if set(reference.trace_ids) <= set(session.traces.trace_ids):
            return ""
        return f'; <a href="band">{html.escape(tr("band: align at the final point"))}</a>'

    def _follow(self, link: str) -> None:
        if link == "band":
            self.session.set_view(alignment="final")
        elif link == "outside":
            joint = self._joint()
            self.outside_wanted.emit(joint if joint in self.session.decisions.references else "")
