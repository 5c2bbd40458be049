"""What the curves are compared with, and how estimates were read: reference band, expected fan, evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject

from analysis.catalogue.sentences import as_text
from analysis.curve.estimate import Estimate
from analysis.shift.curve_band import curve_band
from app.display.messages import count_words, tr
from app.items.band_item import ExpectedFan, ReferenceBand
from app.session.session import Session
from app.session.state import Reference
from app.views.curves.view import CurveView
from app.wiring.follow import at_once

if TYPE_CHECKING:
    from analysis.pipeline import Analysis


class OverlayLink(QObject):
    """Draws for the joint of the trace that is looked at."""

    def __init__(self, session: Session, curves: CurveView, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.curves = curves
        self.fan_wanted = False
        self._explained: tuple[int, str] = (-1, "")
        self._band_key: tuple[object, ...] = ()
        at_once(
            self.refresh,
            session.current_changed,
            session.results_changed,
            session.view_changed,
            session.decisions_changed,
        )

    def refresh(self) -> None:
        """Band, fan and evidence as they are wanted now."""
        self._show_reference()
        self._show_fan()
        row, name = self._explained
        if name and row == self.session.current_row:
            self.explain(name)
        elif name:
            self._explained = (-1, "")

    def switch_fan(self, on: bool) -> None:
        """Show the joint's expected slopes, or not."""
        self.fan_wanted = on
        self._show_fan()
        if on and self._fan() is None:
            self.session.messages.note(self._why_no_fan())

    def _joint(self) -> str:
        session = self.session
        column = session.columns.get("joint")
        if column is None or not len(column.values):
            return ""
        if 0 <= session.current_row < len(column.values):
            return str(column.values[session.current_row])
        references = list(session.decisions.references)
        return references[0] if len(references) == 1 else ""

    def _show_reference(self) -> None:
        session = self.session
        joint = self._joint()
        reference = session.decisions.references.get(joint)
        if reference is None or session.analysis is None or session.view.axis_x != "angle":
            self._band_key = ()
            self.curves.set_reference(None)
            return
        key = (reference, session.view.alignment, session.analysis, session.view.axis_y)
        if key == self._band_key:
            return
        self._band_key = key
        if session.view.axis_y != "torque":
            self.curves.set_reference(None)
            return
        self.curves.set_reference(self._band(joint, reference, session.analysis))

    def _band(self, joint: str, reference: Reference, analysis: Analysis) -> ReferenceBand | None:
        """The band of the members that are open; else the one that was kept with the reference.

        The latter is known back from the final point only, so that it shows at that alignment.
        """
        session, alignment = self.session, self.session.view.alignment
        known = set(session.traces.trace_ids)
        rows = [session.traces.row_of(t) for t in reference.trace_ids if t in known]
        words = count_words(len(reference.trace_ids), "trace", "traces")
        label = tr("reference of {0}: {1}, 5 to 95 %, pinned {2}", joint, words, reference.pinned_at[:10])
        figures = reference.figures
        if len(rows) == len(reference.trace_ids) or figures is None:
            band = curve_band(session.traces, analysis.curves, np.array(rows, np.int64), alignment)
            if band is None:
                return None
            return ReferenceBand(band.from_deg, band.low_nm, band.median_nm, band.high_nm, alignment, label)
        return ReferenceBand(
            figures.angle_deg, figures.low_nm, figures.median_nm, figures.high_nm, "final", label
        )

    def _show_fan(self) -> None:
        self.curves.set_expected_fan(self._fan() if self.fan_wanted else None)

    def _expectation(self) -> object:
        from analysis.joint.expected import expected_fan

        session = self.session
        analysis = session.analysis
        joint = analysis.joints.get(self._joint()) if analysis is not None else None
        if analysis is None or joint is None or session.current_row < 0:
            return tr("Choose a trace of a known joint to see the slopes that are expected of it.")
        prevailing = float(analysis.curves.prevailing_torque_nm[session.current_row])
        return expected_fan(joint, prevailing_nm=prevailing if prevailing == prevailing else 0.0)

    def _fan(self) -> ExpectedFan | None:
        from analysis.joint.expected import ExpectedFan as Expected

        expected = self._expectation()
        if not isinstance(expected, Expected):
            return None
        low, high = expected.slope_range_nm_per_deg
        units = self.session.units
        return ExpectedFan(
            low,
            high,
            expected.prevailing_nm,
            expected.target_nm,
            tr("expected of the joint"),
            (
                tr("expected {0} to {1}", *(units.text(slope, "N·m/deg") for slope in (low, high)))
                + f" {units.symbol('N·m/deg')}",
                expected.basis,
            ),
        )

    def _why_no_fan(self) -> str:
        expected = self._expectation()
        return str(expected) if isinstance(expected, str) else ""

    def explain(self, name: str) -> None:
        """Draw how one estimate of the trace that is looked at was read."""
        from analysis.curve import explain_curve

        session = self.session
        if session.analysis is None or session.current_row < 0:
            return
        row = session.current_row
        estimates = explain_curve(session.analysis.curves, row, session.settings.curve)
        estimate = estimates.get(name) or self._by_operation(row, name) or self._by_force(row, name)
        if estimate is None:
            return
        if not len(self.curves.plot.geometry_now.placed(np.array([row]))):
            # Without the point that the curves are laid at it would not be seen.
            session.set_view(alignment="start")
            self.fit_selected()
        self._explained = (row, name)
        self.curves.explain(row, {name: estimate})
        said = estimate.evidence.sentence if estimate.evidence is not None else estimate.reason
        session.messages.note(f"{tr(name).capitalize()}: {as_text(said, session.units)}")

    def _by_operation(self, row: int, name: str) -> Estimate | None:
        """Stages, pulses or breakaway of the trace."""
        from analysis.account.audits import explain_done

        analysis = self.session.analysis
        if analysis is None:
            return None
        return explain_done(analysis, self.session.traces[row], row).get(name)

    def _by_force(self, row: int, name: str) -> Estimate | None:
        """A place that was read from the measured clamp force."""
        from analysis.joint.force_zones import ForceZones, explain_force

        analysis = self.session.analysis
        if analysis is None:
            return None
        zones = analysis.engineering.zones(row, analysis.joint_rows.name_of(row))
        return explain_force(zones).get(name) if isinstance(zones, ForceZones) else None

    def show_place(self, angle_deg: float) -> None:
        """Put cursor A at an angle of the trace that is looked at, and bring it into sight."""
        row = self.session.current_row
        if row < 0:
            return
        x = self.curves.plot.geometry_now.x_of_angle(row, angle_deg)
        self.curves.set_cursors_visible(True)
        self.curves.cursor_control.move("A", x)
        left, right, bottom, top = self.curves.view_range()
        if not left <= x <= right:
            half = (right - left) / 2.0
            self.curves.set_view_range((x - half, x + half, bottom, top))

    def fit_selected(self) -> None:
        """Fit the view to the selected curves."""
        extent = self.curves.plot.geometry_now.extent(self.session.selected_rows())
        if extent is None:
            return
        left, right, bottom, top = extent
        wide, high = 0.05 * (right - left) or 1.0, 0.08 * (top - bottom) or 1.0
        self.curves.set_view_range((left - wide, right + wide, bottom - high, top + high))
