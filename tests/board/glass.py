"""What is measured on a drawn page: letter heights in minutes of arc, contrast, layout shift, accessibility."""

import math
from pathlib import Path
from typing import Any

CAP_RATIO = 0.740  # cap height of the face in em, OS/2 sCapHeight 1480 of 2000 units


def probe(name: str) -> str:
    """Give the source of a function that is run on a page."""
    return (Path(__file__).parent / "probes" / f"{name}.js").read_text()


TEXTS = probe("texts")


WCAG = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")

SHIFT = probe("shift")


def arcminutes(font_px: float, width_mm: float, width_px: float, distance_mm: float) -> float:
    """Give the visual angle of a capital letter, minutes of arc (ISO 9241-303's definition: 2 atan of half height)."""
    return 2.0 * math.degrees(math.atan(font_px * CAP_RATIO * width_mm / width_px / (2.0 * distance_mm))) * 60.0


def axe_violations(page: Any, rules: tuple[str, ...] = ()) -> list[str]:
    """Give what axe-core finds against WCAG 2.2 A and AA and its best practices, or against some rules alone."""
    import axe_playwright_python

    if not page.evaluate("'axe' in window"):
        page.evaluate((Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text())
    only = {"type": "rule", "values": rules} if rules else {"type": "tag", "values": WCAG}
    found = page.evaluate("only => axe.run(document, {runOnly: only, resultTypes: ['violations']})", only)
    return [f"{v['id']}: {v['nodes'][0]['html'][:120]}" for v in found["violations"]]
