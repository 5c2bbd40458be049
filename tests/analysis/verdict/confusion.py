"""The confusion table of causes: what was seeded against what was named."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from analysis.catalogue.causes import CAUSE_NAMES
from analysis.catalogue.verdicts import VERDICTS
from analysis.pipeline import Analysis

GOOD = "good"
#: Torque and angle may not tell these apart; saying so is right.
AMBIGUOUS = ("low-friction", "high-friction", "softer-joint", "stiffer-joint")


@dataclass(frozen=True)
class Confusion:
    """Shares over the seeded kinds and the good traces, and the table as text."""

    faults_not_ok: float
    weakest_kind: float
    good_not_ok: float
    right_cause: float
    exact_cause: float
    text: str


def confusion_of(analysis: Analysis, truth: pa.Table) -> Confusion:
    """Judge an analysis by the truth of the same traces, in the same order."""
    assert truth["trace_id"].to_pylist() == list(analysis.traces.trace_ids)
    seeded = np.array([cause or GOOD for cause in truth["cause"].to_pylist()])
    named = np.array([CAUSE_NAMES[code] if code >= 0 else "-" for code in analysis.causes.likeliest])
    caught = analysis.verdict != VERDICTS.index("ok")
    lines = [f"{'seeded':22}{'n':>4}{'not ok':>9}{'right':>8}{'exact':>8}  named"]
    rows = []
    for kind in sorted(set(seeded) - {GOOD}):
        of = seeded == kind
        exact = named[of] == kind
        right = exact | ((kind in AMBIGUOUS) & (named[of] == "friction-or-stiffness"))
        rows.append((caught[of].mean(), right.mean(), exact.mean()))
        names = ", ".join(f"{name} {count}" for name, count in Counter(named[of].tolist()).most_common())
        lines.append(f"{kind:22}{of.sum():4}{rows[-1][0]:9.2f}{rows[-1][1]:8.2f}{rows[-1][2]:8.2f}  {names}")
    by_kind = np.array(rows)
    good = seeded == GOOD
    lines.append(f"{GOOD:22}{good.sum():4}{caught[good].mean():9.4f}")
    return Confusion(
        float(caught[~good].mean()),
        float(by_kind[:, 0].min()),
        float(caught[good].mean()),
        float(by_kind[:, 1].mean()),
        float(by_kind[:, 2].mean()),
        "\n".join(lines),
    )
