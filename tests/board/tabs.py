"""Pages in the browser: opened, waited for, read, and held to be quiet about themselves."""

import time
from typing import Any

WALL = {"width": 1920, "height": 1080}
TABLET = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}
LINES = ("permit", "cause", "run", "value", "data")
IS_LIVE = "document.documentElement.dataset.standing === 'live'"
DEMOTED = (
    "document.documentElement.dataset.standing !== 'live' "
    "&& document.querySelector('#permit .far').textContent.startsWith('–')"
)


def until(page: Any, true: str, timeout_s: float = 10.0) -> None:
    """Wait until an expression is true on the page; asked from outside, for the page's own policy forbids `eval`."""
    give_up_s = time.monotonic() + timeout_s
    while not page.evaluate(f"Boolean({true})"):
        assert time.monotonic() < give_up_s, true
        page.wait_for_timeout(15)


class Tabs:
    """Opens pages, and keeps what they asked for and complained about."""

    def __init__(self, chromium: Any) -> None:
        self._chromium = chromium
        self._contexts: list[Any] = []
        self.requests: list[str] = []
        self.complaints: list[str] = []

    def context(self, size: dict[str, int], **more: Any) -> Any:
        made = self._chromium.new_context(viewport=size, **more)
        made.on("request", lambda request: self.requests.append(request.url))
        made.on("console", self._console)
        made.on("weberror", lambda error: self.complaints.append(str(error.error)))
        self._contexts.append(made)
        return made

    def _console(self, message: Any) -> None:
        if message.type == "error" and "status of" not in message.text and "net::ERR" not in message.text:
            self.complaints.append(message.text)

    def open(self, url: str, size: dict[str, int] = WALL, *, live: bool = True, **more: Any) -> Any:
        page = self.context(size, **more).new_page()
        page.goto(url)
        if live:
            until(page, IS_LIVE, timeout_s=10.0)
        return page

    def close(self) -> None:
        for context in self._contexts:
            context.close()


def far(page: Any, line: str) -> str:
    return str(page.inner_text(f"#{line} .far")).strip()


def expect_demoted(page: Any) -> None:
    shown = [far(page, line) for line in LINES]
    assert all(text.startswith("–") for text in shown[:4]), shown
    assert shown[4].startswith(("STALE", "LOST"))


def seen_after(pages: list[Any]) -> float:
    """Wait until every page says that it knows nothing; give how long the slowest took, s."""
    begun_s = time.monotonic()
    for page in pages:
        until(page, DEMOTED, timeout_s=20.0)
    took_s = time.monotonic() - begun_s
    for page in pages:
        expect_demoted(page)
    return took_s
