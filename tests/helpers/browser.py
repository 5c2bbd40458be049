"""A real browser without a window, spoken to over a pair of pipes: what a page asked for, said and looks
like."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Any

#: Names under which the browser is installed.
NAMES = ("chromium", "chromium-browser", "google-chrome")
_SECONDS = 120.0


def find_browser() -> str | None:
    """Path of an installed browser; None where there is none."""
    return next(filter(None, map(shutil.which, NAMES)), None)


class Browser:
    """One page of a browser that is ended with the block."""

    def __init__(self, program: str, profile: Path) -> None:
        self.console: list[str] = []
        self.asked_for: list[str] = []
        self._number = 0
        self._rest = b""
        read_end, self._to = os.pipe()
        self._from, write_end = os.pipe()
        flags = [
            "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--hide-scrollbars",
            "--remote-debugging-pipe", f"--user-data-dir={profile}",
        ]  # fmt: skip
        # The browser listens on its third open file and answers on its fourth.
        placed = f'exec "$0" "$@" 3<&{read_end} 4>&{write_end}'
        self._process = subprocess.Popen(
            ["bash", "-c", placed, program, *flags],
            pass_fds=(read_end, write_end),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(read_end)
        os.close(write_end)
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.close(self._to)  # the browser ends with the pipe
        try:
            self._process.wait(20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(20)
        os.close(self._from)

    def open(self, page: Path, width: int, height: int) -> None:
        """Load a file at a size in CSS pixels, as a phone below 600 of them, and wait until it is there."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
            mobile=width < 600,
        )  # fmt: skip
        self.call("Page.navigate", url=page.as_uri())
        until = time.monotonic() + _SECONDS
        while self.value("document.readyState") != "complete" and time.monotonic() < until:
            time.sleep(0.05)

    def value(self, expression: str) -> Any:
        """What an expression gives in the page."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def picture(self) -> bytes:
        """The page as it is seen, as PNG."""
        return base64.b64decode(self.call("Page.captureScreenshot", format="png")["data"])

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One command and its answer; what the page does meanwhile is kept."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if hasattr(self, "_session"):
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            heard = self._next()
            if heard.get("id") == self._number:
                assert "error" not in heard, heard
                result: dict[str, Any] = heard["result"]
                return result
            self._keep(heard)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            got = os.read(self._from, 1 << 20)
            assert got, "the browser ended"
            self._rest += got
        one, _, self._rest = self._rest.partition(b"\0")
        message: dict[str, Any] = json.loads(one)
        return message

    def _keep(self, event: dict[str, Any]) -> None:
        about = event.get("params", {})
        if event.get("method") == "Network.requestWillBeSent":
            self.asked_for.append(about["request"]["url"])
        elif event.get("method") == "Log.entryAdded":
            self.console.append(about["entry"]["text"])
        elif event.get("method") == "Runtime.consoleAPICalled":
            self.console.append(json.dumps(about["args"]))
        elif event.get("method") == "Runtime.exceptionThrown":
            self.console.append(json.dumps(about["exceptionDetails"]))
