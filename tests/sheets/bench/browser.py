"""A browser without a window, spoken to through two pipes; it asks nothing of the network."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any

FOUND = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = ("--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage")


class Browser:
    """One page. `events` are all that it said since it was opened."""

    def __init__(self) -> None:
        assert FOUND is not None
        self._folder = tempfile.mkdtemp()
        into_read, self._write = os.pipe()
        self._read, from_write = os.pipe()

        def fds() -> None:
            os.dup2(into_read, 3)
            os.dup2(from_write, 4)

        self._process = subprocess.Popen(
            [FOUND, *ARGUMENTS, f"--user-data-dir={self._folder}", "about:blank"], preexec_fn=fds,
            pass_fds=(3, 4, into_read, from_write), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(into_read)
        os.close(from_write)
        self._buffer = b""
        self._number = 0
        self._session: str | None = None
        self.events: list[dict[str, Any]] = []
        target = next(one for one in self.call("Target.getTargets")["targetInfos"] if one["type"] == "page")
        self._session = self.call("Target.attachToTarget", targetId=target["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._write)
        os.close(self._read)
        shutil.rmtree(self._folder, ignore_errors=True)  # its helpers may still be writing there

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """What the browser answers; what it says of itself before is kept."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while (answer := self._next()).get("id") != self._number:
            self.events.append(answer)
        assert "error" not in answer, answer
        return dict(answer["result"])

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            part = os.read(self._read, 1 << 20)
            assert part, "the browser is gone"
            self._buffer += part
        text, _, self._buffer = self._buffer.partition(b"\0")
        return dict(json.loads(text))

    def wait_for(self, event: str) -> None:
        while not any(one.get("method") == event for one in self.events):
            self.events.append(self._next())

    def open(self, file: Path, width: int = 1280) -> None:
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=1000, deviceScaleFactor=1, mobile=False)
        self.events.clear()
        self.call("Page.navigate", url=file.as_uri())
        self.wait_until_there()

    def reload(self) -> None:
        self.events.clear()
        self.call("Page.reload")
        self.wait_until_there()

    def wait_until_there(self) -> None:
        """Whole, its script run: on a busy machine the event of the page before may come late, and be taken for this
        one's."""
        self.wait_for("Page.loadEventFired")
        while self.evaluate("document.readyState") != "complete":
            time.sleep(0.02)

    def evaluate(self, code: str) -> Any:
        """The value of an expression in the page."""
        result = self.call("Runtime.evaluate", expression=code, returnByValue=True)
        assert "exceptionDetails" not in result, result
        return result["result"].get("value")

    def pdf(self) -> bytes:
        return base64.b64decode(self.call("Page.printToPDF", preferCSSPageSize=True)["data"])
