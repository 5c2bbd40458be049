"""Format libraries in a process of their own, with a budget of time and memory.

These libraries are native code that some damaged files bring down, and a few bytes can make any of them work
for hours or take all memory. The file is then listed like any other damaged file, and the next one starts a
new process. It ends with whoever reads: at a stop, at the end of reading, and when its parent is gone.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path
from typing import IO, Any

from analysis.errors import ReadError, ReadProblem
from analysis.reading.channel_groups import CurveGroup, GroupedContent
from analysis.reading.plain_message import from_bytes, to_bytes
from analysis.reading.source_file import SourceFile

#: Seconds of work that any file may take, and how many more for its size (own choice: the slowest of the
#: libraries reads ten times as fast). The clock may show this many times more, on a machine with other work.
LEAST_SECONDS, BYTES_A_SECOND, CLOCK_TO_WORK = 8.0, 5e6, 4.0
#: Bytes that a file may take beyond what the library itself takes, and how many more for its size (own
#: choice: numbers unpacked, and copied twice on their way).
LEAST_BYTES, BYTES_FOR_ONE = 400 * 2**20, 24
_LENGTH = struct.Struct("<Q")
#: Seconds between two looks after the parent and the clock.
_LOOK_EVERY_S = 0.25
#: Word with which a bundle starts itself as the reading process (`resources/packaging/bundle_start.py`).
READ_APART = "--read-apart"
#: Modules come from where this program and its libraries lie, never from the current folder.
_START = "import sys; sys.path[:] = sys.argv[1:]; from {} import serve; serve()"


def seconds_for(size: int) -> float:
    """Seconds of work that a file of so many bytes may take."""
    return LEAST_SECONDS + size / BYTES_A_SECOND


class _Worker:
    """The process, started when it is first needed; serves one request at a time."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._folder = ""

    def ask(self, module: str, path: str, index: int) -> GroupedContent | ReadProblem | None:
        """The groups of a file, or its problem; None where the process ended over it."""
        with self._lock:
            process = self._running()
            size = os.stat(path).st_size if os.path.isfile(path) else 0
            limit = threading.Timer(CLOCK_TO_WORK * seconds_for(size), process.kill)
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

    def stop(self) -> None:
        """End the process whatever it does; who waits for it gets no answer."""
        process = self._process
        if process is not None:
            process.kill()

    def close(self) -> None:
        """End the process; the next request starts another."""
        with self._lock:
            self._end()

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is not None:
            self._end()
        if self._process is None:
            # What the libraries write meanwhile goes into a folder that goes with the process.
            self._folder = tempfile.mkdtemp(prefix="tautograph-")
            self._process = subprocess.Popen(
                process_command(READ_APART, "analysis.reading.isolated"),
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, cwd=self._folder,
                env=os.environ | dict.fromkeys(("TMPDIR", "TEMP", "TMP"), self._folder) | _NO_PLUGINS,
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
        shutil.rmtree(self._folder, ignore_errors=True)


#: Keeps the library for HDF5 from loading code that a file asks for.
_NO_PLUGINS = {"HDF5_PLUGIN_PRELOAD": "::"}


def process_command(word: str, module: str) -> list[str]:
    """How the `serve` of a module is started; a bundle has no interpreter and starts itself."""
    if getattr(sys, "frozen", False):
        return [sys.executable, word]
    return [sys.executable, "-I", "-c", _START.format(module), *import_places()]


def import_places() -> list[str]:
    """Where modules come from: the program's own folder, then the others but the current one."""
    root = Path(__file__).resolve().parents[2]
    here = os.path.realpath(os.getcwd()) if _has_folder() else ""
    places = [os.path.abspath(place) for place in sys.path if place]
    return [str(root), *(place for place in places if os.path.realpath(place) not in (here, str(root)))]


def _has_folder() -> bool:
    try:
        os.getcwd()
    except OSError:  # the current folder was removed
        return False
    return True


_worker = _Worker()


def read_groups_apart(file: SourceFile, module: str) -> GroupedContent:
    """What ``module.groups_here`` makes of the file, from a process of its own.

    Raises
    ------
    ReadError
        Where the file is damaged, or so damaged that the process ended over it.
    """
    answer = _worker.ask(module, os.path.abspath(file.path), file.index)
    if answer is None:
        raise ReadError(
            file.problem(
                None, "content that brought the format's library down, or took all the time or memory it may",
                "a sound file", "export the file again",
            )
        )  # fmt: skip
    if isinstance(answer, ReadProblem):
        raise ReadError(replace(answer, path=file.shown_path))
    return answer


def close() -> None:
    """End the process, where one runs."""
    _worker.close()


def stop() -> None:
    """End the process at once, whatever file it is at."""
    _worker.stop()


class _Budget:
    """What the process may take for one file; it ends itself where its system cannot end it."""

    def __init__(self) -> None:
        self.ends_at = float("inf")
        self._parent = os.getppid()
        threading.Thread(target=self._watch, daemon=True).start()

    def _watch(self) -> None:
        while os.getppid() == self._parent and time.monotonic() < self.ends_at:
            time.sleep(_LOOK_EVERY_S)
        shutil.rmtree(tempfile.gettempdir(), ignore_errors=True)
        os._exit(1)

    def begin(self, size: int) -> None:
        """From now on; the library has been loaded."""
        self.ends_at = time.monotonic() + CLOCK_TO_WORK * seconds_for(size)
        try:
            import resource
        except ImportError:  # Windows has no such bounds
            return
        with contextlib.suppress(ValueError, OSError):
            used = time.process_time()
            hard = resource.getrlimit(resource.RLIMIT_CPU)[1]
            resource.setrlimit(resource.RLIMIT_CPU, (int(used + seconds_for(size)) + 1, hard))
        with contextlib.suppress(ValueError, OSError, StopIteration):
            hard = resource.getrlimit(resource.RLIMIT_DATA)[1]
            bound = _data_bytes() + LEAST_BYTES + BYTES_FOR_ONE * size
            resource.setrlimit(resource.RLIMIT_DATA, (bound, hard))

    def end(self) -> None:
        """Between two files there is no end."""
        self.ends_at = float("inf")


def _data_bytes() -> int:
    """Bytes of data that this process has now."""
    with open("/proc/self/status", encoding="ascii") as status:
        return 1024 * int(next(line for line in status if line.startswith("VmData:")).split()[1])


def serve() -> None:
    """What the process does: answer requests from standard input until it closes."""
    budget = _Budget()
    requests, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # libraries that print must not disturb the answers
    with contextlib.suppress(EOFError):
        while True:
            module, path, index = _receive(requests)
            try:
                reader = importlib.import_module(module)
                importlib.import_module(reader.LIBRARY)
                file = SourceFile(path, index)
                budget.begin(file.size)
                content = reader.groups_here(file)
                groups = [[g.name, g.columns, g.units, g.attributes] for g in content.groups]
                answer = {"groups": groups, "said": content.said}
            except ReadError as error:
                answer = {"problem": vars(error.problem)}
            _send(answers, answer)
            budget.end()


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
