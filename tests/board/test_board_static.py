"""What is served as files: colours in one place, no code in pages, vendored files as published."""

import hashlib
import re
from pathlib import Path

import pytest

import scuffboard

ROOT = Path(scuffboard.__file__).parent
STATIC = ROOT / "static"
OWN_CSS = sorted((STATIC / "css").glob("*.css"))
OWN_JS = sorted((STATIC / "js").glob("*.js"))
TEMPLATES = sorted((ROOT / "templates").glob("*.html"))
COLOUR = re.compile(r"#[0-9a-f]{3,8}\b(?![\w-]*\s*[{,.:>])|\b(?:rgba?|hsla?|oklch|lab|lch|hwb)\(", re.IGNORECASE)
NAMED = re.compile(r":\s*[^;{}]*\b(?:red|yellow|blue|green|orange|white|black|grey|gray)\b", re.IGNORECASE)
SIGNAL_WORDS = re.compile(r"\b(?:DANGER|WARNING|CAUTION|NOTICE)\b")


def without_comments(text: str) -> str:
    return re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)


@pytest.mark.parametrize("path", OWN_CSS, ids=lambda p: p.name)
def test_colours_stand_in_the_tokens_alone(path: Path) -> None:
    text = without_comments(path.read_text())
    if path.name == "tokens.css":
        assert len(COLOUR.findall(text)) > 50
        return
    assert COLOUR.findall(text) == []
    assert NAMED.findall(text) == []


@pytest.mark.parametrize("path", OWN_JS, ids=lambda p: p.name)
def test_scripts_hold_no_colour_parse_no_html_and_ask_nobody_else(path: Path) -> None:
    text = path.read_text()
    assert re.findall(r"[\"'`]#[0-9a-f]{3,8}[\"'`]", text, re.IGNORECASE) == []
    banned = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|DOMParser|srcdoc"
    assert re.findall(banned, text) == []
    assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)", text) == []
    if path.name != "theme.js":
        assert re.findall(r"\bwindow\.\w+ ?=", text) == []


def test_red_yellow_and_blue_are_asked_for_by_rank_alone() -> None:
    tokens = without_comments((STATIC / "css" / "tokens.css").read_text())
    for name, hexes in re.findall(r"--([\w-]+):\s*#([0-9a-f]{6})\b", tokens, re.IGNORECASE):
        red, green, blue = (int(hexes[i : i + 2], 16) for i in (0, 2, 4))
        spread = max(red, green, blue) - min(red, green, blue)
        if spread > 60:  # a saturated colour
            assert re.match(r"trip|warn|act|focus|calm", name), name


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.name)
def test_pages_hold_no_script_and_no_style(path: Path) -> None:
    text = path.read_text()
    assert re.findall(r"\bstyle\s*=|<style|\bon\w+\s*=\s*[\"']|javascript:|\|\s*safe\b", text) == []
    for tag in re.findall(r"<script\b[^>]*>", text):
        assert "src=" in tag or 'type="application/json"' in tag
    assert SIGNAL_WORDS.findall(text) == []


@pytest.mark.parametrize(
    "path", [p for p in TEMPLATES if p.name in ("wall.html", "bench.html", "stop.html")], ids=lambda p: p.name
)
def test_the_stop_request_is_called_software_beside_the_real_one(path: Path) -> None:
    text = path.read_text()
    assert "Emergency stop:" in text
    assert "red button at the rig" in text
    if path.name == "stop.html":
        assert "(software)" in text


def test_vendored_files_are_as_published() -> None:
    folder = STATIC / "vendor" / "uplot-1.6.32"
    sums = dict(reversed(line.split()) for line in (folder / "SHA256SUMS").read_text().splitlines())
    assert set(sums) == {"LICENSE", "uPlot.iife.min.js", "uPlot.min.css"}
    assert {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in sums} == sums
    assert "MIT" in (folder / "LICENSE").read_text()


def test_the_face_brings_its_licence() -> None:
    fonts = STATIC / "fonts"
    assert len(list(fonts.glob("*.woff2"))) == 2
    assert "SIL OPEN FONT LICENSE" in (fonts / "OFL.txt").read_text().upper()
