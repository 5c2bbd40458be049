"""How many files of each kind were tried in all runs over one corpus, stopped ones too."""

from __future__ import annotations

import json
import os
import time
from collections import Counter
from pathlib import Path

from analysis.whole_file import write_whole

#: A stopped run loses the counts of this time, seconds.
_EVERY_S = 5.0


class Totals:
    """One run's part, in a file of its own in the corpus, so that runs beside it are no trouble."""

    def __init__(self, corpus: Path | None) -> None:
        self.corpus = corpus
        self._file = f"totals-{time.time_ns():x}-{os.getpid()}.json"
        self._kept_at = time.monotonic()

    def keep(self, tried: Counter[str], *, now: bool = False) -> None:
        """Write down what this run has tried, now and then."""
        if self.corpus is not None and (now or time.monotonic() - self._kept_at > _EVERY_S):
            self._kept_at = time.monotonic()
            write_whole(self.corpus / self._file, json.dumps(dict(sorted(tried.items()))).encode())

    def of_all_runs(self) -> Counter[str]:
        """What was written down by every run over this corpus, kind by kind."""
        total: Counter[str] = Counter()
        for file in self.corpus.glob("totals-*.json") if self.corpus is not None else ():
            total.update(json.loads(file.read_text("utf-8")))
        return total
