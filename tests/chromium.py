"""A real browser for tests of the page: headless Chromium, driven over two pipes by its DevTools protocol.

Nothing to install beside a browser: the protocol's messages are JSON, each ended by a zero byte, on file descriptors
3 and 4 (Chromium's switch --remote-debugging-pipe).
"""

import base64
import fcntl
import json
import os
import select
import shutil
import subprocess
import time
from contextlib import contextmanager
from pathlib import Path

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
SWITCHES = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--remote-debugging-pipe",
)  # fmt: skip
WAIT_S = 60.0


class Page:
    """One page: messages out and in, what it said on its console, and what it asked of the network."""

    def __init__(self, out: int, into: int) -> None:
        self._out, self._into, self._rest = out, into, b""
        self._count, self._session = 0, None
        self.complaints: list[str] = []
        self.requests: list[str] = []

    def attach(self) -> None:
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.send("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.send(f"{domain}.enable")

    def send(self, method: str, **params):
        """Send a command and return its result; what happens in between is put down."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._count:
                assert "error" not in answer, answer["error"]
                return answer["result"]

    def _next(self, wait_s: float = WAIT_S) -> dict:
        end = time.monotonic() + wait_s
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._into], [], [], max(0.0, end - time.monotonic()))
            assert ready, "the browser doesn't answer"
            read = os.read(self._into, 1 << 20)
            assert read, "the browser is gone"
            self._rest += read
        raw, _, self._rest = self._rest.partition(b"\0")
        message = json.loads(raw)
        self._note(message.get("method"), message.get("params", {}))
        return message

    def _note(self, method, params) -> None:
        if method == "Runtime.exceptionThrown":
            self.complaints.append(json.dumps(params["exceptionDetails"]))
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert"):
            self.complaints.append(json.dumps(params["args"]))
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.complaints.append(json.dumps(params["entry"]))
        elif method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])

    def open(self, path: Path, width: int = 1280, height: int = 900, choice: str = "") -> None:
        self.send(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )  # fmt: skip
        self.send("Page.navigate", url=path.as_uri() + choice)
        self.until("document.readyState === 'complete' && location.protocol === 'file:'")

    def run(self, code: str):
        """Return the value of an expression."""
        found = self.send("Runtime.evaluate", expression=code, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found["exceptionDetails"]
        return found["result"].get("value")

    def until(self, code: str):
        """Wait until an expression holds, and return its value."""
        end = time.monotonic() + WAIT_S
        while not (found := self.run(code)):
            assert time.monotonic() < end, code
            time.sleep(0.02)
        return found

    def click(self, x: float, y: float) -> None:
        for kind in ("mousePressed", "mouseReleased"):
            self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def key(self, key: str, text: str = "") -> None:
        codes = {
            "Tab": 9,
            "Enter": 13,
            "Escape": 27,
            "ArrowLeft": 37,
            "ArrowUp": 38,
            "ArrowRight": 39,
            "ArrowDown": 40,
        }
        more = {"windowsVirtualKeyCode": codes[key]} if key in codes else {}
        for kind in ("keyDown", "keyUp"):
            letter = {"text": text or "\r"} if kind == "keyDown" and (text or key == "Enter") else {}
            self.send("Input.dispatchKeyEvent", type=kind, key=key, **more, **letter)

    def type(self, text: str) -> None:
        self.send("Input.insertText", text=text)

    def picture(self, path: Path, *, whole: bool = False) -> None:
        shot = self.send("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(shot["data"]))

    def pdf(self, path: Path) -> None:
        """Print to a file, paper as the page asks."""
        printed = self.send("Page.printToPDF", preferCSSPageSize=True, transferMode="ReturnAsStream")
        with path.open("wb") as stream:
            while True:
                part = self.send("IO.read", handle=printed["stream"])
                data = part["data"]
                stream.write(base64.b64decode(data) if part.get("base64Encoded") else data.encode())
                if part["eof"]:
                    break


@contextmanager
def browser(profile: Path):
    """Give a page of a browser with a profile of its own; nothing is left running."""
    (low, out), (into, high) = os.pipe(), os.pipe()
    # 3 and 4 are what the browser reads and writes: a shell puts the pipes there, from higher numbers
    to_read, to_write = (fcntl.fcntl(each, fcntl.F_DUPFD, 10) for each in (low, high))
    command = f'exec "$@" 3<&{to_read} 4>&{to_write}'
    process = subprocess.Popen(
        ["/bin/bash", "-c", command, "browser", BROWSER, *SWITCHES, f"--user-data-dir={profile}"],
        pass_fds=(to_read, to_write), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    for each in (low, high, to_read, to_write):
        os.close(each)
    page = Page(out, into)
    try:
        page.attach()
        yield page
    finally:
        process.kill()
        process.wait()
        os.close(out)
        os.close(into)
