"""Debian's Chromium, started so that it talks to nobody."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


@contextmanager
def browser() -> Iterator[Any]:
    """Give a browser; closed at the end of the block."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        try:
            yield chromium
        finally:
            chromium.close()
