"""The signs of scuffing on the bench and their course on the run page, as a browser draws them."""

from collections.abc import Iterator
from typing import Any

import pytest
from board_server import Board, serving, settings_for
from glass import axe_violations, probe
from stand_in_core import StandInCore, nearness
from tabs import PHONE, TABLET, Tabs, until

pytestmark = pytest.mark.browser

RUN_PATH = "/runs/2026-03-11-rig2-03"
CELLS = """() => [...document.querySelectorAll('#signs .sign')].map((cell) => ({
  name: cell.dataset.sign, says: cell.querySelector('.sr').textContent, how: cell.querySelector('.how').textContent,
  bold: getComputedStyle(cell.querySelector('b')).fontWeight === '600',
  bar: Number(cell.querySelector('.bar-fill')?.getAttribute('width') ?? -1), cut: cell.scrollWidth > cell.clientWidth,
}))"""
PLACES = """() => ['signs', 'climb', 'acts', 'heads'].map((id) => {
  const box = document.getElementById(id).getBoundingClientRect(); return [id, box.top, box.height]; })"""
HUES = """() => [...document.querySelectorAll('#signs, #signs *')].flatMap((node) => {
  const s = getComputedStyle(node); return [s.color, s.backgroundColor, s.fill, s.stroke]; })
  .filter((text) => text.startsWith('rgb')).map((text) => text.match(/[0-9.]+/g).map(Number))
  .filter(([r, g, b, a]) => a !== 0 && Math.max(r, g, b) - Math.min(r, g, b) > 20)"""
INKED = """(label) => {
  const row = [...document.querySelectorAll('.plotrow')].find((node) => node.textContent.includes(label));
  const canvas = row.querySelector('canvas'), { width, height } = canvas;
  const pixels = canvas.getContext('2d').getImageData(width * 0.2, 0, width * 0.6, height).data;
  let dark = 0;
  for (let i = 0; i < pixels.length; i += 4) if (pixels[i + 3] > 200 && pixels[i] < 70) dark += 1;
  return dark; }"""


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Board]:
    folder = tmp_path_factory.mktemp("board")
    with StandInCore(folder) as core, serving(core, settings_for(folder)) as made:
        yield made


@pytest.fixture(autouse=True)
def healthy(board: Board) -> None:
    board.core.script.state, board.core.frozen = "healthy", False
    board.core.script.change = lambda snapshot: None


def into(page: Any, board: Board, state: str) -> None:
    """Bring the core into a state and wait until the page has drawn a frame of it."""
    board.core.script.state = state
    sequence = board.core.script.sequence
    until(page, f"window.seenSequence > {sequence + 1}")


def cells(page: Any) -> dict[str, dict[str, Any]]:
    return {cell["name"]: cell for cell in page.evaluate(CELLS)}


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_each_kind_stands_beside_its_limit_in_grey_and_nothing_moves(
    board: Board, tabs: Tabs, size: dict[str, int]
) -> None:
    page = tabs.open(f"{board.url}/bench?theme=day", size)
    page.evaluate(probe("count_frames"))
    shown = cells(page)
    assert shown["friction_rise_ratio"]["says"] == "Friction: 1.04 times usual, counts from 1.22"
    assert shown["burst_count"]["how"] == "0 of 3"
    assert not any(cell["bold"] for cell in shown.values())
    places = page.evaluate(PLACES)
    into(page, board, "sensor")
    shown = cells(page)
    assert [cell["how"] for cell in shown.values()] == [
        "learning",
        "learning",
        "learning",
        "no value",
        "learning",
        "no channel",
    ]
    assert not any(cell["cut"] for cell in shown.values())
    if size is TABLET:
        assert page.evaluate(PLACES) == places
        assert page.evaluate("document.documentElement.scrollHeight") == size["height"]
    into(page, board, "warning")
    shown = cells(page)
    assert [name for name, cell in shown.items() if cell["bold"]] == [
        "friction_rise_ratio", "burst_count", "sound_change_db",
    ]  # fmt: skip
    assert 100 < shown["burst_count"]["bar"] <= 150  # 100 is the limit
    assert page.evaluate(HUES) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    into(page, board, "tripped")
    assert {cell["how"] for cell in cells(page).values()} == {"not sliding"}
    assert not any(cell["cut"] for cell in cells(page).values())


def test_what_is_stale_is_demoted_like_any_other_value(board: Board, tabs: Tabs) -> None:
    page = tabs.open(f"{board.url}/bench", TABLET)
    page.evaluate(probe("count_frames"))
    into(page, board, "rig_silent")
    assert {cell["how"] for cell in cells(page).values()} == {"–\u2009–"}
    into(page, board, "healthy")
    assert cells(page)["burst_count"]["how"] == "0 of 3"
    board.core.frozen = True
    until(page, "document.documentElement.dataset.standing === 'stale'")
    assert {(cell["how"], cell["bar"]) for cell in cells(page).values()} == {("–\u2009–", -1)}
    assert axe_violations(page) == []


def test_no_signs_are_drawn_without_a_run_or_from_a_core_that_tells_none(board: Board, tabs: Tabs) -> None:
    page = tabs.open(f"{board.url}/bench", TABLET)
    page.evaluate(probe("count_frames"))
    assert page.locator("#signs").is_visible()
    into(page, board, "no_run")
    assert not page.locator("#signs").is_visible()
    board.core.script.change = lambda snapshot: snapshot.pop("nearness")
    into(page, board, "healthy")
    assert not page.locator("#signs").is_visible()
    board.core.script.change = lambda snapshot: snapshot.update(nearness=nearness(9.0))
    into(page, board, "healthy")
    assert cells(page)["friction_rise_ratio"]["bar"] == 150


def test_the_course_is_drawn_also_for_a_kind_that_never_spoke(board: Board, tabs: Tabs) -> None:
    page = tabs.open(f"{board.url}{RUN_PATH}?zoom=minute&theme=day", live=False)
    until(page, "document.querySelectorAll('.plotrow').length > 8")
    until(page, "document.querySelector('#plothint').innerText.includes('lines for the minute before it')")
    until(page, f"({INKED})('Variability evidence') > 200")
    assert "dashes: short friction bursts" in page.inner_text("#plots")
