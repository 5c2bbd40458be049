"""The line about the pinned references, and the session."""

from __future__ import annotations

import html

import numpy as np
from PySide6.QtCore import QObject, Signal

from app.display.messages import count_words, grouped, tr
from app.session.session import Session
from app.views.reasons.reference_strip import ReferenceStrip
from app.wiring.follow import at_once, changes_of_sight


class ReferenceLink(QObject):
    """Says what is pinned for the joint that is looked at, or for all joints."""

    outside_wanted = Signal(str)  #: (joint): the link was followed; the joint it counts, empty for all.

    def __init__(self, session: Session, strip: ReferenceStrip) -> None:
        super().__init__(strip)
        self.session = session
        self.strip = strip
        at_once(self.refresh, session.current_changed, session.decisions_changed, *changes_of_sight(session))
        strip.linkActivated.connect(self._follow)

    def refresh(self) -> None:
        """Say it as it is now."""
        references, joint = self.session.decisions.references, self.session.current_joint
        if not references:
            self.strip.set_line("", "")
            return
        words, about = self._pinned(joint)
        said = f"{html.escape(words)}; {self._outside(joint)}{self._band_elsewhere(joint)}"
        self.strip.set_line(said, about)

    def _pinned(self, joint: str) -> tuple[str, str]:
        references = self.session.decisions.references
        if joint in references:
            one = references[joint]
            words = tr("reference of {0}: {1}", joint, one.words())
            return words, one.name if one.name != joint else ""
        if len(references) == 1:
            (one,) = references.values()
            return tr("reference of {0}: {1}", one.joint, one.words()), ""
        n = count_words(sum(len(one.trace_ids) for one in references.values()), "trace", "traces")
        dates = sorted({one.pinned_at[:10] for one in references.values()})
        words = tr("{0} references: {1}", len(references), n)
        return words + tr(", pinned {0}", " – ".join(dates[:1] + dates[1:][-1:])), ""

    def _outside(self, current: str) -> str:
        session = self.session
        outside = session.outside_reference()
        if outside is None or len(outside) != len(session.visible):
            return html.escape(tr("the others are being judged against it"))
        joint, shown = session.columns.get("joint"), session.visible
        references = session.decisions.references
        if joint is not None:
            names = [current] if current in references else list(references)
            shown = shown & np.isin(joint.values, names)
        n = int((outside & shown).sum())
        words = html.escape(tr("{0} of {1} shown outside", grouped(n), grouped(int(shown.sum()))))
        return f'<a href="outside">{words}</a>' if n else words

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
        joint = self.session.current_joint
        if link == "band":
            self.session.set_view(alignment="final")
        elif link == "outside":
            self.outside_wanted.emit(joint if joint in self.session.decisions.references else "")
