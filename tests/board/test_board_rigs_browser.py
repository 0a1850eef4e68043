"""The page of all rigs as a browser draws it: what, how large, how soon it admits not to know, in what order."""

import json
import random
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from board_server import Board, serving, settings_for
from glass import SHIFT, TEXTS, arcminutes, axe_violations
from many_rigs import NIGHT, SHOP, Shop, said
from stand_in_core import StandInCore
from tabs import PHONE, TABLET, WALL, Tabs, until
from test_board_browser import CORPUS, expect_no_markup

from scuffwatch.store.names import rig_slug

pytestmark = pytest.mark.browser

LIST_IS = "document.documentElement.dataset.list === '{}'".format
FIRST_IS = "document.querySelector('.t-name').textContent === '{}'".format
TILES = """() => [...document.querySelectorAll(".tile:not(.is-more)")].map((tile) => ({
  name: tile.querySelector(".t-name").textContent, look: tile.className.match(/is-(\\w+)/)[1],
  permit: tile.querySelector(".t-permit").textContent, cause: tile.querySelector(".t-cause .t-words").textContent,
  run: tile.querySelector(".t-run").textContent, age: tile.querySelector(".t-age").textContent,
  simulated: tile.classList.contains("simulated"), flashes: tile.classList.contains("unack"),
  fill: getComputedStyle(tile).backgroundColor,
  box: (({ left, top, right, bottom }) => [left, top, right, bottom])(tile.getBoundingClientRect()),
}))"""
CUT = """() => [...document.querySelectorAll(".t-permit, .t-name")]
  .filter((word) => word.scrollWidth > word.clientWidth).map((word) => word.textContent)"""
DEMOTED = "[...document.querySelectorAll('.t-permit')].every((word) => word.textContent === '–\\u2009–')"
DASHES, CROSSES = "–\u2009–", "×\u2009×"
RED = "rgb(165, 15, 26)"
LOOKS = {
    "rig 2": ("trip", "TRIPPED", "Scuffing onset"), "rig 5": ("warn", "PERMITTED", "Friction bursts"),
    "rig 6": ("gone", DASHES, "uplink gone"), "rig 8": ("nodata", DASHES, "core silent"),
    "rig 9": ("bad", CROSSES, "BAD permit"), "rig 10": ("answered", "TRIPPED", "Scuffing onset"),
    "rig 1": ("plain", "PERMITTED", "No alarm"), "rig 3": ("plain", "PERMITTED", "No alarm"),
    "rig 4": ("plain", "TRIPPED", "before the run"), "rig 7": ("plain", "Watch only", "No alarm"),
}  # fmt: skip


@contextmanager
def shop_of(
    folder: Path, core: StandInCore, states: Sequence[str], name: Any = "rig {}".format
) -> Iterator[tuple[Shop, Board]]:
    """Give a shop and a server over its list."""
    path = folder / "rigs.json"
    with Shop(path, states, name) as shop, serving(core, settings_for(folder, rigs_path=path)) as board:
        yield shop, board


@pytest.fixture(scope="module")
def core(tmp_path_factory: pytest.TempPathFactory) -> Iterator[StandInCore]:
    with StandInCore(tmp_path_factory.mktemp("core")) as made:
        yield made


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory, core: StandInCore) -> Iterator[Board]:
    """Give a server over a shop in which every rig is in another state."""
    with shop_of(tmp_path_factory.mktemp("night"), core, NIGHT) as (_, board):
        yield board


def open_rigs(tabs: Tabs, board: Board, size: dict[str, int] = WALL, theme: str = "day") -> Any:
    page = tabs.open(f"{board.url}/rigs?theme={theme}", size)
    until(page, LIST_IS("live"))
    return page


def names(page: Any) -> list[str]:
    return [tile["name"] for tile in page.evaluate(TILES)]


def far(page: Any) -> str:
    return " ".join(page.inner_text("#call .far").split())


def test_each_state_of_a_rig_looks_and_reads_different_also_in_the_hand(night: Board, tabs: Tabs) -> None:
    page = open_rigs(tabs, night)
    tiles = page.evaluate(TILES)
    assert {tile["name"]: (tile["look"], tile["permit"], tile["cause"]) for tile in tiles} == LOOKS
    assert names(page) == [f"rig {n}" for n in (2, 5, 6, 8, 9, 10, 1, 3, 4, 7)]
    assert [tile["name"] for tile in tiles if tile["simulated"]] == ["rig 3"]
    assert [tile["name"] for tile in tiles if tile["flashes"]] == ["rig 2", "rig 5"]
    assert [tile["name"] for tile in tiles if tile["fill"] == RED] == ["rig 2"]
    assert tiles[0]["run"] == "2026-03-12-rig2-01"
    assert far(page) == "rig 2 Scuffing onset"
    assert page.inner_text("#call .beside").split("\n") == ["and 5 more", "of 10 rigs"]
    assert page.inner_text("#near").startswith("rig 2: Scuffing onset: friction 0.265, limit 0.250")
    assert page.locator("button, input, form").count() == 0
    page.set_viewport_size(PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    for text in page.evaluate(TEXTS):
        assert arcminutes(text["px"], 68.0, PHONE["width"], 350.0) >= 16.0, text
    assert page.locator("#near").bounding_box()["y"] < 200.0  # the sentence stands above the tiles
    assert axe_violations(page) == []


def test_ten_rigs_are_large_and_dark_enough_and_nothing_jumps(night: Board, tabs: Tabs) -> None:
    page = open_rigs(tabs, night)
    assert page.evaluate(SHIFT, 600) == 0
    for theme in ("day", "night"):
        page.evaluate(f"document.documentElement.dataset.theme = '{theme}'")
        texts = page.evaluate(TEXTS)
        assert len(texts) > 50
        for text in texts:
            # the head 22' at 5 m on a 531 mm picture; the tiles 16' at 1.5 m there (ISO 9241-3, NUREG-0700)
            least, distance_mm = (22.0, 5000.0) if text["far"] else (16.0, 1500.0)
            assert arcminutes(text["px"], 531.0, 1920.0, distance_mm) >= least, text
            assert text["contrast"] >= 7.0, text
        words = [text for text in texts if text["text"] in ("TRIPPED", "PERMITTED", DASHES)]
        assert min(arcminutes(word["px"], 952.0, 1920.0, 4000.0) for word in words) >= 16.0  # 43 inches at 4 m
        assert page.evaluate(CUT) == []
        assert axe_violations(page, () if theme == "day" else ("color-contrast",)) == []


def test_of_a_hundred_rigs_and_more_the_one_that_trips_comes_in_sight_first_and_the_rest_is_counted(
    tmp_path: Path, core: StandInCore, tabs: Tabs
) -> None:
    with shop_of(tmp_path, core, [*["healthy"] * 97, "watch_only", "simulated", *["healthy"] * 31]) as (shop, board):
        page = open_rigs(tabs, board)
        assert names(page) == [f"rig {n}" for n in range(1, 100)]
        assert page.inner_text("#more").split() == ["31", "more", "no", "alarm"]
        assert (far(page), "130 rigs" in page.inner_text("#call .beside")) == ("No alarm", True)
        px = min(text["px"] for text in page.evaluate(TEXTS))
        assert arcminutes(px, 531.0, 1920.0, 1200.0) >= 16.0
        shop.says("rig 130", "tripped")
        until(page, FIRST_IS("rig 130"))
        assert far(page) == "rig 130 Scuffing onset"
        assert names(page)[1:] == [f"rig {n}" for n in range(1, 99)]
        for size in (WALL, TABLET):
            page.set_viewport_size(size)
            until(page, f"document.getElementById('rigs').offsetWidth === {size['width']}")
            page.wait_for_timeout(110)  # the page measures itself anew ten times a second
            for left, top, right, bottom in (tile["box"] for tile in page.evaluate(TILES)):
                assert 0 <= left < right <= size["width"]
                assert 0 <= top < bottom <= size["height"]
            assert page.evaluate(CUT) == []
            assert page.evaluate("document.documentElement.scrollHeight") <= size["height"]


@pytest.mark.timed
@pytest.mark.parametrize("rounds", [1, pytest.param(50, marks=[pytest.mark.long, pytest.mark.timeout(600)])])
def test_a_silent_rig_a_list_that_stands_still_and_a_server_gone_are_told_apart_and_seen_within_two_seconds(
    tmp_path: Path, core: StandInCore, tabs: Tabs, rounds: int
) -> None:
    noise, took_s = random.Random(53), list[float]()
    with shop_of(tmp_path, core, SHOP) as (shop, board):
        page = open_rigs(tabs, board)
        shop.mute.add("rig 3")
        shop.wall.take("scuffwatch/rig3/state", said("rig 3", "healthy"), time.monotonic() - 14.5)
        until(page, "document.querySelectorAll('.is-stale').length === 1")
        assert far(page) == "rig 3 not heard"
        until(page, FIRST_IS("rig 3"))
        before = names(page)
        assert before == ["rig 3", "rig 1", "rig 2", *(f"rig {n}" for n in range(4, 11))]
        while len(took_s) < rounds:
            shop.frozen = False
            until(page, LIST_IS("live"))
            page.wait_for_timeout(noise.uniform(0, 500))
            shop.frozen, begun_s = True, time.monotonic()
            until(page, f"({DEMOTED}) && ({LIST_IS('stale')})")
            took_s.append(time.monotonic() - begun_s)
        took_s.sort()
        print(f"{rounds} lists standing still seen after p50 {took_s[rounds // 2]:.2f} s, worst {took_s[-1]:.2f} s")
        assert took_s[-1] <= 2.0, took_s[-5:]
        assert far(page).startswith("STALE")
        assert page.inner_text("#near").startswith(
            "The list of rigs stands still. Is scuffwatch uplink --wall running?"
        )
        tiles = page.evaluate(TILES)
        assert [tile["name"] for tile in tiles] == before
        assert {tile["look"] for tile in tiles} == {"stale"}
        assert {tile["cause"] for tile in tiles} == {"last PERMITTED", "last TRIPPED", "last Watch only"}
        assert all(tile["age"].startswith("STALE ") for tile in tiles)
        assert axe_violations(page) == []
        shop.frozen = False
        until(page, LIST_IS("live"))
    begun_s = time.monotonic()
    until(page, f"({DEMOTED}) && !document.getElementById('noconn').hidden")
    assert time.monotonic() - begun_s <= 2.0
    assert far(page).startswith("LOST")
    assert "Look at the rigs." in page.inner_text("#noconn")


def test_a_page_opened_on_a_dead_list_never_looks_alive(tmp_path: Path, core: StandInCore, tabs: Tabs) -> None:
    path = tmp_path / "rigs.json"
    shop = Shop(path, SHOP)
    with serving(core, settings_for(tmp_path, rigs_path=path)) as board:
        page = tabs.open(f"{board.url}/rigs", WALL)
        until(page, LIST_IS("problem"))
        assert page.inner_text("#says").startswith(f"The list of rigs {path} is not there.")
        assert axe_violations(page) == []
        shop.speak()
        shop.write()
        until(page, "document.querySelectorAll('.tile').length === 10")
        for _ in range(3):
            assert page.evaluate(DEMOTED)
            page.wait_for_timeout(60)
        assert not page.locator("#says").is_visible()
        assert page.inner_text("#near").startswith("The list of rigs has not been seen to move.")
        path.unlink()
        until(page, LIST_IS("problem"))
        assert (far(page), page.evaluate(DEMOTED)) == ("NO LIST", True)
        assert page.inner_text("#near").startswith(f"The list of rigs {path} is not there.")
        shop.problem = "The broker at 127.0.0.1:8883 cannot be reached: refused."
        shop.write()
        until(page, "document.querySelector('#call .far').textContent === 'NO BROKER'")
        assert "cannot be reached: refused. Look at the rigs." in page.inner_text("#near")
        assert page.evaluate(DEMOTED)
        path.unlink()
        with Shop(path, []):
            until(page, LIST_IS("live"))
            assert far(page) == "0 rigs"
            assert page.locator(".tile").count() == 0


def test_no_text_from_the_broker_becomes_markup(tmp_path: Path, core: StandInCore, tabs: Tabs) -> None:
    hostile = [text for text in CORPUS if text.strip()]
    names_of = {n: f"{n} {hostile[n * 25]}" for n in range(1, 21)}
    with shop_of(tmp_path, core, ["tripped"] * 20, names_of.__getitem__) as (shop, board):
        shop.mute = set(names_of.values())
        for n, name in names_of.items():
            told = json.loads(said(name, "tripped"))
            told |= {"first_out": hostile[n * 23], "first_out_kind": hostile[n * 7]}
            told["run"]["name"] = told["alarms"][0]["says"] = hostile[n * 19]
            shop.wall.take(f"scuffwatch/{rig_slug(name)}/state", json.dumps(told).encode(), time.monotonic())
        page = open_rigs(tabs, board)
        page.evaluate("void (window.canary = () => { window.canaried = true; })")
        assert page.locator(".tile").count() == 20
        expect_no_markup(page)
        assert "canary()" in page.inner_text("#tiles")
        assert page.evaluate("document.querySelectorAll('.tile *:not(svg, svg *, h2, b, p, span, div)').length") == 0
        assert page.evaluate("document.documentElement.scrollWidth") <= WALL["width"]
