"""1500 recordings of a thread-forming screw in plastic, all as one population; the station's verdict is
the judge."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.stats import spearmanr
from sklearn.metrics import roc_auc_score

from analysis.joint.definition import JointDefinition
from analysis.pipeline import analyse
from analysis.reading import read_paths


def test_score_ranks_the_stations_verdict_and_flags_rise_with_reuse(open_traces: Path) -> None:
    traces = read_paths([open_traces / "thread_forming_plastic.parquet"]).traces
    assert len(traces) == 1500
    name = traces.column("joint")[0]
    analysis = analyse(traces, {name: JointDefinition(name, 1.4, torque_limits_nm=(1.2, 1.6))})
    bad = ~np.array(traces.column("station_ok"), np.bool_)
    uses = np.array(traces.column("use_count"))
    verdict = np.array(analysis.results()["verdict"].to_pylist())
    flagged = np.isin(verdict, ["suspect", "not ok"])
    area = roc_auc_score(bad, analysis.results()["outlier_score"].to_numpy())
    by_use = np.array([(flagged[uses == use].mean(), bad[uses == use].mean()) for use in np.unique(uses)])
    rank = spearmanr(by_use[:, 0], by_use[:, 1]).statistic
    precision, recall = bad[flagged].mean(), flagged[bad].mean()
    print(
        f"\nplastic set: area {area:.3f}, rank over uses {rank:.3f}, flagged {flagged.mean():.3f}, "
        f"precision {precision:.2f}, recall {recall:.2f}"
    )
    assert area >= 0.93
    assert rank >= 0.9
    assert len(by_use) == 25
