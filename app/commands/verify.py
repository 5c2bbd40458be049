"""``tautograph verify``: whether a log of records, and the recordings it stands on, are what they were."""

from __future__ import annotations

from pathlib import Path

from app.commands.inputs import input_paths
from app.commands.progress import Console
from app.commands.record_arguments import VerifyArguments
from app.commands.run import CommandError

UNCHANGED, CHANGED = 0, 1


def verify_command(arguments: VerifyArguments) -> int:
    """Carry out ``tautograph verify``; returns the exit code."""
    from analysis.parts.record_log import changed_recordings, read_log

    if not arguments.log.is_file():
        raise CommandError(f"{arguments.log}: there is no such file")
    log = read_log(arguments.log)
    found = [f"{arguments.log}, {problem}" for problem in log.problems]
    print(f"{len(log.records)} records, last digest {log.head}")
    if arguments.inputs:
        changed, absent = changed_recordings(log, _digests(arguments.inputs))
        found += [f"recording {name}: its angles or torques are not those of the record" for name in changed]
        if absent:
            print(f"{len(absent)} recordings are not in what was named: {', '.join(absent[:5])} ...")
    for one in found:
        print(f"changed: {one}")
    print("changed" if found else "unchanged")
    return CHANGED if found else UNCHANGED


def _digests(inputs: list[str]) -> dict[str, str]:
    from analysis.parts.digests import trace_digest
    from analysis.reading import read_paths

    paths: list[Path] = input_paths(inputs, [], None)
    reading = read_paths(paths)
    Console().problems(reading.problems)
    traces = reading.traces
    return {name: trace_digest(traces, row) for row, name in enumerate(traces.trace_ids)}
