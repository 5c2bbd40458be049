"""Ranked causes of one trace with evidence for and against."""

from __future__ import annotations

import numpy as np

from analysis.verdict.case import TraceCase
from analysis.verdict.finding import CAUSES, Cause
from analysis.verdict.sign_words import NEXT_CHECKS, SIGN_SENTENCES, source_of

#: Causes with less weight than this are not shown.
SHOWN_WEIGHT = 0.05


def causes_of(case: TraceCase) -> list[Cause]:
    """Explanations of one trace, likeliest first; none where nothing calls for one."""
    if case.causes.likeliest[case.row] < 0:
        return []
    weights = case.causes.weights[case.row]
    order = np.argsort(-weights, kind="stable")
    return [
        Cause(
            name=CAUSES[index],
            weight=float(weights[index]),
            evidence_for=(SIGN_SENTENCES[CAUSES[index]],),
            evidence_against=(),
            next_check=NEXT_CHECKS[CAUSES[index]],
            source=source_of(CAUSES[index]),
        )
        for index in order.tolist()
        if weights[index] >= SHOWN_WEIGHT
    ]
