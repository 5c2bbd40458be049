"""Features of traces as they are compared with each other: on one scale, what is not steady left out."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.measured import Measured, SecondLook
from analysis.shift.outliers import OutlierTable
from analysis.shift.population import ComparedTraces
from analysis.verdict.evidence import CauseEvidence
from analysis.verdict.features import (
    FeatureTables,
    feature_uncertainty,
    measure_features,
    rounding_spread,
    to_compared_scale,
    typical_features,
    without_cut_rundowns,
)
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.rise_match import RiseMatch, match_rises
from analysis.verdict.rise_signs import RiseSigns, joint_medians
from analysis.verdict.rules import RuleTable


@dataclass(frozen=True, eq=False)
class ComparedFeatures:
    """Features of the traces as measured, what they are scaled by, and as they are compared."""

    measured: Measured
    rows: JointRows
    signs: RiseSigns
    features: FloatArray
    usual_nm: FloatArray
    traces: ComparedTraces

    def match(self, span_deg: FloatArray, pinned: Container[str] = ()) -> RiseMatch:
        """Each rise against the usual one of its joint.

        Parameters
        ----------
        span_deg : ndarray, shape (n,)
            As the rises reach back.
        pinned : container of str
            Joints of which a reference says what is usual: their rises are not held against each other.
        """
        curves, first_deg = self.measured.curves, self.measured.quantities.first_angle_deg
        traces = self.traces
        left_out = np.array([*(name in pinned for name in traces.joints), True])
        codes = np.where(left_out[traces.codes], -1, traces.codes)
        return match_rises(traces.rises, span_deg, curves, first_deg, codes, traces.trusted)

    def evidence(self, rules: RuleTable, outliers: OutlierTable, match: RiseMatch) -> CauseEvidence:
        """What causes are found by."""
        return CauseEvidence(
            curves=self.measured.curves,
            quantities=self.measured.quantities,
            signs=self.signs,
            rules=rules,
            rows=self.rows,
            features=self.features,
            compared=self.traces.features,
            z=outliers.z,
            centre=outliers.centre,
            spread=outliers.spread,
            typical=typical_features(outliers.centre, self.usual_nm),
            limit=outliers.limit,
            match=match,
        )


def compare_features(
    measured: Measured, rows: JointRows, seen: SecondLook, signs: RiseSigns, trusted: NDArray[np.bool_]
) -> ComparedFeatures:
    """What is not steady is not compared with steady tightenings, nor says what is usual among them."""
    curves = measured.curves
    own = measure_features(FeatureTables(curves, measured.quantities, signs))
    own[measured.operations.apart] = np.nan
    features, usual_nm = without_cut_rundowns(own, rows.codes), scale_torques(curves, rows)
    traces = ComparedTraces(
        features=to_compared_scale(features, usual_nm),
        uncertainty=feature_uncertainty(curves, features),
        rounding=rounding_spread(features, usual_nm, rows.codes),
        rises=seen.rises,
        codes=rows.codes,
        joints=rows.names,
        trusted=trusted,
    )
    return ComparedFeatures(measured, rows, signs, features, usual_nm, traces)


def scale_torques(curves: CurveTable, rows: JointRows) -> FloatArray:
    """Target torque of each trace's joint, its median final torque where none is known; shape (n,)."""
    targets = np.array([np.nan if d is None else d.target_torque_nm for d in rows.definitions] + [np.nan])
    target_nm = targets[rows.codes]
    return np.where(np.isnan(target_nm), joint_medians(curves.final_torque_nm, rows.codes), target_nm)
