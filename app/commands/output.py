"""Files that a command writes: none in place of an input, and one for each joint where that was asked for."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from urllib.parse import quote

from analysis.errors import TautographError

#: Stands in a file's name for traces without a joint; no joint's own name can give it, for + is written %2B.
NO_JOINT_PART = "+none"


class OutputError(TautographError):
    """An output that would destroy what it is made from."""


def refuse_overwriting(outputs: Iterable[Path], inputs: Iterable[Path]) -> None:
    """See to it that no output takes the place of a recording, or of a file that says how to judge.

    Raises OutputError.
    """
    kept = {path.resolve() for path in inputs}
    for path in outputs:
        if path.resolve() in kept:
            raise OutputError(f"{path}: is one of the files that are read, and would be lost; name another")


def path_for_joint(path: Path, joint: str | None) -> Path:
    """The output's name with the joint's put in before the ending.

    Characters that a file's name may not have are written as in a web address; different joints therefore
    never share a file.

    Examples
    --------
    >>> path_for_joint(Path("night.parquet"), "mast bolt/left").name, path_for_joint(Path("a.csv"), None).name
    ('night.mast%20bolt%2Fleft.parquet', 'a.+none.csv')
    """
    part = NO_JOINT_PART if joint is None else quote(joint, safe="")
    return path.with_name(f"{path.stem}.{part}{path.suffix}")
