"""The files that the user named, or that lie below a folder that the user named."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator
from functools import cached_property
from pathlib import Path

from analysis.errors import ReadError, ReadProblem

#: Bytes that a sniffer may look at. Enough for a long preamble and some hundred samples (own choice).
HEAD_BYTES = 65_536
#: Bytes that an import preview reads: some whole traces of usual length (own choice).
BEGINNING_BYTES = 400_000
#: Files up to this size are read in one go, digest included; above, the digest reads beside the parser (own
#: choice).
SMALL_FILE_BYTES = 1_000_000
_DIGEST_BLOCK_BYTES = 4_194_304


class SourceFile:
    """One file: where it is, and what has been read of it so far.

    Parameters
    ----------
    path : str
        As the user named it, or the named folder followed by the way down.
    index : int
        Place in the list of files; traces refer to it.
    """

    def __init__(self, path: str, index: int = 0) -> None:
        self.path = path
        self.index = index
        self.layout = ""

    @property
    def shown_path(self) -> str:
        """The path as text: bytes of a name that this system cannot decode show as replacement characters."""
        return os.fsencode(self.path).decode("utf-8", "replace")

    @property
    def stem(self) -> str:
        """File name without its ending."""
        return Path(self.shown_path).stem

    @property
    def ending(self) -> str:
        """Ending of the name with its dot, lower case."""
        return Path(self.path).suffix.lower()

    @cached_property
    def size(self) -> int:
        """Bytes on disk."""
        try:
            return os.stat(self.path).st_size
        except OSError as error:
            raise ReadError(unreadable(self.path, error)) from None

    @property
    def is_small(self) -> bool:
        """Small enough to be read in one go."""
        return self.size <= SMALL_FILE_BYTES

    @cached_property
    def data(self) -> bytes:
        """All bytes of the file; kept, so only for small files."""
        try:
            with open(self.path, "rb") as stream:
                return stream.read()
        except OSError as error:
            raise ReadError(unreadable(self.path, error)) from None

    @cached_property
    def head(self) -> bytes:
        """The first `HEAD_BYTES` bytes."""
        if self.is_small:
            return self.data[:HEAD_BYTES]
        try:
            with open(self.path, "rb") as stream:
                return stream.read(HEAD_BYTES)
        except OSError as error:
            raise ReadError(unreadable(self.path, error)) from None

    @cached_property
    def digest(self) -> str:
        """``sha256:`` and the digest of the file's bytes."""
        digest = hashlib.sha256()
        if self.is_small:
            digest.update(self.data)
        else:
            try:
                with open(self.path, "rb") as stream:
                    while block := stream.read(_DIGEST_BLOCK_BYTES):
                        digest.update(block)
            except OSError as error:
                raise ReadError(unreadable(self.path, error)) from None
        return "sha256:" + digest.hexdigest()

    @property
    def beginning(self) -> bytes:
        """The first `BEGINNING_BYTES` bytes."""
        if self.is_small or "data" in self.__dict__:
            return self.data[:BEGINNING_BYTES]
        try:
            with open(self.path, "rb") as stream:
                return stream.read(BEGINNING_BYTES)
        except OSError as error:
            raise ReadError(unreadable(self.path, error)) from None

    def keep_beginning(self) -> None:
        """Go on as if the file ended after the last whole line of its beginning; for trials only."""
        beginning = self.beginning
        self.__dict__["data"] = beginning[: beginning.rfind(b"\n") + 1]
        self.__dict__["size"] = len(self.data)

    def forget(self) -> None:
        """Give the bytes back; digest and size stay."""
        for name in ("data", "head", "text", "table"):
            self.__dict__.pop(name, None)

    def problem(
        self, line: int | None, found: str, expected: str, advice: str, *, fatal: bool = True
    ) -> ReadProblem:
        """A `ReadProblem` of this file."""
        return ReadProblem(self.shown_path, line, found, expected, advice, fatal)


def unreadable(path: str, error: OSError) -> ReadProblem:
    """The problem of a file that the operating system does not hand out."""
    return ReadProblem(
        path,
        None,
        f"a file that cannot be opened ({error.strerror or error})",
        "a file that can be read",
        "check the path and the permission to read it",
    )


def find_files(
    paths: Iterable[str | os.PathLike[str]], endings: frozenset[str]
) -> tuple[list[SourceFile], list[ReadProblem]]:
    """The files behind the named paths: a named file as it is, a folder with all that lies below it.

    Below a folder only the known `endings` are taken, in order of name; hidden entries, and links that lead
    out of the folder, are left alone. A file that is reached twice is read once.

    Returns
    -------
    files : list of SourceFile
    problems : list of ReadProblem
        Paths that do not exist; per folder a note on what was left alone.
    """
    found: dict[str, str] = {}
    problems: list[ReadProblem] = []
    for path in [os.fspath(path) for path in paths]:
        if os.path.isdir(path):
            below, notes = _below(path, endings)
            problems += notes
            if not below:
                problems.append(_nothing_below(path, endings))
        elif os.path.isfile(path):
            below = [path]
        else:
            below = []
            problems.append(_no_file(path))
        for name in below:
            found.setdefault(os.path.abspath(name), name)
    return [SourceFile(name, index) for index, name in enumerate(found.values())], problems


def _no_file(path: str) -> ReadProblem:
    """The problem of a named path that is neither a file nor a folder; a pipe would be waited on for ever."""
    if os.path.lexists(path):
        return unreadable(path, OSError(0, "neither a file nor a folder, or a link that leads nowhere"))
    return unreadable(path, FileNotFoundError(2, "no such file or folder"))


def _below(folder: str, endings: frozenset[str]) -> tuple[list[str], list[ReadProblem]]:
    taken: list[str] = []
    left: dict[str, int] = {}
    problems: list[ReadProblem] = []
    root = os.path.realpath(folder)
    for entry in _walk(folder, problems):
        why = _left_alone(entry, endings, root)
        if why:
            left[why] = left.get(why, 0) + 1
        else:
            taken.append(entry.path)
    if left:
        counts = ", ".join(f"{count} x {what}" for what, count in sorted(left.items()))
        problems.append(
            ReadProblem(
                folder, None, f"files that are no recordings by their names ({counts})",
                "recordings", "name such a file itself to have it read all the same", fatal=False,
            )
        )  # fmt: skip
    return taken, problems


def _walk(folder: str, problems: list[ReadProblem]) -> Iterator[os.DirEntry[str]]:
    """All that lies below a folder but is no folder itself; a folder that does not open goes to the
    problems."""
    try:
        entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except OSError as error:
        problems.append(unreadable(folder, error))
        return
    for entry in entries:
        if entry.name.startswith("."):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _walk(entry.path, problems)
        else:
            yield entry


def leads_out(path: str, folder: str) -> bool:
    """Whether a path below a folder is a link to something that is not."""
    return os.path.islink(path) and not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder))


def _left_alone(entry: os.DirEntry[str], endings: frozenset[str], root: str) -> str:
    """Why an entry of a folder is not read; empty where it is."""
    ending = os.path.splitext(entry.name)[1].lower()
    if leads_out(entry.path, root):
        return "links out of the folder"
    if entry.is_symlink() and os.path.isdir(entry.path):
        return "links to a folder"
    if ending not in endings:
        return ending or "no ending"
    if os.path.isfile(entry.path):
        return ""
    return "links that lead nowhere" if entry.is_symlink() else "pipes or devices"


def _nothing_below(folder: str, endings: frozenset[str]) -> ReadProblem:
    return ReadProblem(
        folder, None, "a folder without recordings", f"files ending in {' '.join(sorted(endings))}",
        "choose the folder that holds the recordings",
    )  # fmt: skip
