"""Format libraries in a process of their own: where damaged bytes bring one down, only that process ends.

The libraries for HDF5 and ASAM MDF are native code that some damaged files make write or read where they must
not. The file is then listed like any other damaged file, and the next one starts a new process.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import struct
import subprocess
import sys
import threading
from typing import IO, Any

from analysis.errors import ReadError, ReadProblem
from analysis.reading.curve_groups import CurveGroup, GroupedContent
from analysis.reading.plain_message import from_bytes, to_bytes
from analysis.reading.source_file import SourceFile

#: A file that takes longer is given up (own choice: minutes for gigabytes, and an end for damaged ones that
#: never do).
LONGEST_SECONDS = 300.0
_LENGTH = struct.Struct("<Q")
#: Bytes that the process may always take (own choice: the libraries alone need less than a tenth of it).
_LEAST_BOUND = 4 * 2**30
#: Word with which a bundle starts itself as the reading process (`resources/packaging/bundle_start.py`).
READ_APART = "--read-apart"


class _Worker:
    """The process, started when it is first needed; serves one request at a time."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None

    def ask(self, module: str, path: str, index: int) -> GroupedContent | ReadProblem | None:
        """The groups of a file, or its problem; None where the process ended over it."""
        with self._lock:
            process = self._running()
            limit = threading.Timer(LONGEST_SECONDS, process.kill)
            limit.start()
            try:
                assert process.stdin is not None
                assert process.stdout is not None
                _send(process.stdin, [module, path, index])
                answer = _answer(_receive(process.stdout))
            except (OSError, EOFError):
                self._end()
                return None
            finally:
                limit.cancel()
            return answer

    def close(self) -> None:
        """End the process; the next request starts another."""
        with self._lock:
            self._end()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None:
            self._process = subprocess.Popen(
                _command(),
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            )  # fmt: skip
        return self._process

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        for pipe in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                if pipe is not None:
                    pipe.close()
        process.kill()
        process.wait()


def _command() -> list[str]:
    """How the process is started; a bundle has no interpreter beside the program and starts itself."""
    if getattr(sys, "frozen", False):
        return [sys.executable, READ_APART]
    return [sys.executable, "-c", "from analysis.reading.isolated import serve; serve()"]


_worker = _Worker()


def read_groups_apart(file: SourceFile, module: str) -> GroupedContent:
    """What ``module.groups_here`` makes of the file, from a process of its own.

    Raises
    ------
    ReadError
        Where the file is damaged, or so damaged that the process ended over it.
    """
    answer = _worker.ask(module, file.path, file.index)
    if answer is None:
        raise ReadError(
            file.problem(
                None, "content that brought the format's library down, or never came to an end",
                "a sound file", "export the file again",
            )
        )  # fmt: skip
    if isinstance(answer, ReadProblem):
        raise ReadError(answer)
    return answer


def close() -> None:
    """End the process, where one runs."""
    _worker.close()


def _bound_memory() -> None:
    """No damaged header makes this process take more than half of the machine's memory."""
    try:
        import resource
    except ImportError:  # Windows has no such bound
        return
    with contextlib.suppress(ValueError, OSError):
        whole = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        resource.setrlimit(resource.RLIMIT_DATA, (max(whole // 2, _LEAST_BOUND), resource.RLIM_INFINITY))


def serve() -> None:
    """What the process does: answer requests from standard input until it closes."""
    _bound_memory()
    requests, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # libraries that print must not disturb the answers
    with contextlib.suppress(EOFError):
        while True:
            module, path, index = _receive(requests)
            try:
                content = importlib.import_module(module).groups_here(SourceFile(path, index))
                groups = [[g.name, g.columns, g.units, g.attributes] for g in content.groups]
                answer = {"groups": groups, "said": content.said}
            except ReadError as error:
                answer = {"problem": vars(error.problem)}
            _send(answers, answer)


def _answer(message: dict[str, Any]) -> GroupedContent | ReadProblem:
    if "problem" in message:
        return ReadProblem(**message["problem"])
    return GroupedContent([CurveGroup(*group) for group in message["groups"]], message["said"])


def _send(stream: IO[bytes], value: Any) -> None:
    data = to_bytes(value)
    stream.write(_LENGTH.pack(len(data)))
    stream.write(data)
    stream.flush()


def _receive(stream: IO[bytes]) -> Any:
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        raise EOFError
    (length,) = _LENGTH.unpack(head)
    data = stream.read(length)
    if len(data) < length:
        raise EOFError
    return from_bytes(data)
