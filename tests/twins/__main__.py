"""Compares the compiled fit with its twin on 304 synthetic traces; ends with 1 where one differs.

Run from the project's folder: ``python -m tests.twins``.
"""

from __future__ import annotations

import argparse
import sys

from analysis.curve import find_points
from tests.twins.comparing import agreement
from tests.world import make_cases


def main() -> int:
    """Print how many traces agree, and the figures of those that do not."""
    parser = argparse.ArgumentParser(prog="python -m tests.twins", description=__doc__)
    parser.add_argument("--traces", type=int, default=38, help="traces of each of the eight cases (38)")
    parser.add_argument("--seed", type=int, default=41)
    chosen = parser.parse_args()
    traces, _ = make_cases(chosen.seed, chosen.traces)
    found = agreement(traces, find_points(traces))
    print(found.text())
    return 1 if found.different else 0


if __name__ == "__main__":
    sys.exit(main())
