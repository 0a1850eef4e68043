"""Every route: headers, hosts, methods, origins. Requirements are those of the security table (CSP, OWASP ASVS 3)."""

import itertools
import json
import re
import time
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from fake_archive import FakeArchive

from scuffwatch.control.messages import Reply

COMMAND = {"X-Scuffboard": "1", "Content-Type": "application/json"}
GET_PATHS = (
    "/", "/wall", "/bench", "/alarms", "/settings", "/rig", "/rig/status", "/runs", "/runs/2026-03-11-rig2-03",
    "/runs/2026-03-11-rig2-03/export", "/runs/2026-03-11-rig2-03/envelope?channel=motor_current_a&t0=0&t1=10",
    "/runs/2026-03-11-rig2-03/verify", "/last-test", "/rigs", "/history", "/viewers", "/static/js/wall.js", "/nothing",
    "/runs/nothing",
)  # fmt: skip
COMMANDS = ("open_run", "close_run", "mark", "note", "observe", "acknowledge", "stop_request", "tare")
FIELDS = {
    "note": {"text": "x"},
    "observe": {"what": "smoke"},
    "open_run": {"kind": "setup"},
    "tare": {"channel": "normal_load_n"},
}
# The policy of the security table, with `font-src 'self'` for the one face the pages bring.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)


def expect_headers(answer: Any, *, static: bool = False) -> None:
    assert answer.headers["Content-Security-Policy"] == POLICY
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["Cache-Control"] == ("no-cache" if static else "no-store")
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("path", GET_PATHS)
def test_every_answer_carries_the_policy(client: Any, path: str) -> None:
    with client.get(path) as answer:
        silent = ("/rig/status", "/runs/2026-03-11-rig2-03/verify")  # no simulated rig, and no file of the record
        assert answer.status_code == (404 if "nothing" in path else 503 if path in silent else 200)
        expect_headers(answer, static=path.startswith("/static"))


def test_the_list_of_paths_above_names_every_route(client: Any) -> None:
    rules = {rule.rule for rule in client.application.url_map.iter_rules() if "GET" in rule.methods}
    known = {re.sub(r"/runs/[^/?]+", "/runs/<name>", path.partition("?")[0]) for path in GET_PATHS}
    known = {"/static/<path:filename>" if path.startswith("/static") else path for path in known}
    assert rules - known == {"/live"}  # a stream: tested with the hub


def test_a_fault_of_ours_is_a_page_with_the_policy_and_no_trace(make_app: Any) -> None:
    class Broken(FakeArchive):
        def runs(self) -> Any:
            raise RuntimeError("secret of the house")

    for accept in ("text/html", "application/json"):
        answer = make_app(Broken()).test_client().get("/runs", headers={"Accept": accept})
        assert answer.status_code == 500
        assert b"secret" not in answer.data
        assert b"Traceback" not in answer.data
        expect_headers(answer)


@pytest.mark.parametrize(
    ("host", "status"),
    [("localhost", 200), ("127.0.0.1:8180", 200), ("LOCALHOST:1", 200), ("evil.example", 421),
     ("localhost.evil.example", 421),
     ("", 400), ("a b", 400), ("localhost:99999999", 400), ("127.0.0.1@evil.example", 400)],
)  # fmt: skip
def test_only_names_of_this_server_are_answered(client: Any, host: str, status: int) -> None:
    answer = client.get("/bench", environ_overrides={"HTTP_HOST": host})
    assert answer.status_code == status
    expect_headers(answer)


CROSS_SITE: tuple[dict[str, str], ...] = (
    {"Origin": "http://evil.example"},
    {"Origin": "null"},
    {"Origin": "http://localhost:9"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"X-Scuffboard": ""},
)


@pytest.mark.parametrize(("name", "spoiled"), list(itertools.product((*COMMANDS, "rig"), CROSS_SITE)))
def test_a_command_from_elsewhere_is_refused(client: Any, desk: Any, name: str, spoiled: dict[str, str]) -> None:
    path = "/rig/do" if name == "rig" else f"/command/{name}"
    answer = client.post(path, headers={**COMMAND, **spoiled}, data="{}")
    assert answer.status_code == 403
    assert desk.commands == []


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_from_a_page_is_sent_once_with_who_asked(client: Any, desk: Any, name: str) -> None:
    same = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    body = {**FIELDS.get(name, {}), "page": "bench"}
    answer = client.post(f"/command/{name}", headers={**COMMAND, **same}, data=json.dumps(body))
    assert (answer.status_code, answer.json) == (200, {"ok": True, "says": "Done."})
    [(sent, _, actor)] = desk.commands
    assert sent == name
    assert actor.startswith("bench page at 127.0.0.1")
    assert ("unauthenticated" in actor) == (name == "stop_request")
    expect_headers(answer)


def test_a_page_cannot_name_itself(client: Any, desk: Any) -> None:
    client.post("/command/mark", headers=COMMAND, data=json.dumps({"page": "the safety officer's"}))
    assert desk.commands[0][2] == "unnamed page at 127.0.0.1"


@pytest.mark.parametrize("body", ["", "[]", "nonsense", '{"x":', '{"page": 3, "extra": [1]}'])
def test_a_stop_request_needs_nothing_to_be_right(client: Any, desk: Any, body: str) -> None:
    assert client.post("/command/stop_request", headers=COMMAND, data=body).status_code == 200
    assert [name for name, _, _ in desk.commands] == ["stop_request"]


@pytest.mark.parametrize(
    ("name", "body", "status"),
    [("note", "[]", 400), ("note", "{}", 422), ("note", '{"text": 7}', 422), ("observe", '{"what": "love"}', 422),
     ("open_run", '{"kind": "test", "loads_n": ["a"]}', 422), ("open_run", '{"kind": "test", "dwell_s": -1}', 422),
     ("mark", '{"more": 1}', 422), ("permit", "{}", 404), ("reset", "{}", 404), ("start", "{}", 404)],
)  # fmt: skip
def test_a_command_that_is_none_is_refused_in_words(client: Any, desk: Any, name: str, body: str, status: int) -> None:
    answer = client.post(f"/command/{name}", headers=COMMAND, data=body)
    assert answer.status_code == status
    assert answer.json["ok"] is False
    assert answer.json["says"]
    assert desk.commands == []


def test_what_the_core_refuses_is_said(client: Any, desk: Any) -> None:
    desk.reply = Reply(ok=False, says="Mark refused: no run is open.")
    answer = client.post("/command/mark", headers=COMMAND, data="{}")
    assert (answer.status_code, answer.json["says"]) == (409, "Mark refused: no run is open.")


def test_a_core_that_is_not_there_is_said(tmp_path: Path, desk: Any, make_app: Any) -> None:
    from scuffboard.core_link import command_sender

    desk.send = command_sender(tmp_path / "command.sock")
    answer = make_app().test_client().post("/command/stop_request", headers=COMMAND, data="{}")
    assert answer.status_code == 503
    assert "Nothing has been sent" in answer.json["says"]


def test_a_read_only_server_still_takes_the_stop_request(make_app: Any, desk: Any) -> None:
    client = make_app(read_only=True).test_client()
    refused = {name: client.post(f"/command/{name}", headers=COMMAND, data="{}").status_code for name in COMMANDS}
    assert refused == {**dict.fromkeys(COMMANDS, 403), "stop_request": 200}


def test_a_body_too_long_is_refused(client: Any, desk: Any) -> None:
    answer = client.post("/command/note", headers=COMMAND, data=json.dumps({"text": "x" * 40_000}))
    assert answer.status_code == 413
    assert desk.commands == []


def test_reading_changes_nothing(client: Any, desk: Any) -> None:
    for path in GET_PATHS:
        client.get(path).close()
        client.head(path).close()
    for name in COMMANDS:
        assert client.get(f"/command/{name}").status_code == 405
    assert desk.commands == []


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
@pytest.mark.parametrize("path", ["/bench", "/command/stop_request", "/runs", "/live"])
def test_other_methods_are_refused(client: Any, method: str, path: str) -> None:
    assert client.open(path, method=method, headers=COMMAND).status_code == 405


@pytest.mark.parametrize("path", ["/live", "/history", "/runs/2026-03-11-rig2-03/export"])
def test_another_site_cannot_read(client: Any, path: str) -> None:
    assert client.get(path, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403


@pytest.mark.parametrize(
    "name",
    ["..", "../journal", "%2e%2e%2fetc%2fpasswd", "2026-03-11-rig2-03/..", "2026-03-11-rig2-03%00", "C:\\", "a" * 5000],
)
def test_no_name_from_outside_is_a_run(client: Any, name: str) -> None:
    assert client.get(f"/runs/{name}").status_code in (404, 308)


@pytest.mark.parametrize(
    "query",
    ["", "channel=motor_current_a", "channel=motor_current_a&t0=5&t1=5", "channel=motor_current_a&t0=nan&t1=5",
     "channel=motor_current_a&t0=0&t1=1e300", "channel=motor_current_a&t0=0&t1=5&points=many"],
)  # fmt: skip
def test_a_plot_that_cannot_be_drawn_is_refused(client: Any, query: str) -> None:
    assert client.get(f"/runs/2026-03-11-rig2-03/envelope?{query}").status_code == 400


def test_a_plot_leaves_a_hole_where_nothing_was_recorded_and_is_bounded(client: Any) -> None:
    base = "/runs/2026-03-11-rig2-03/envelope?channel=motor_current_a"
    plot = client.get(f"{base}&t0=1000&t1=1200&points=100").json
    hole = [mean is None for mean in plot["mean"]]
    assert any(hole)
    assert not all(hole)
    assert len(client.get(f"{base}&t0=0&t1=100&points=999999999").json["t_s"]) == 4000
    assert client.get("/runs/2026-03-11-rig2-03/envelope?channel=oil_price&t0=0&t1=9").status_code == 404


def test_the_download_is_a_zip_named_by_the_server_without_formulas(make_app: Any) -> None:
    answer = make_app(FakeArchive(text="=1+1")).test_client().get("/runs/2026-03-11-rig2-03/export")
    assert answer.headers["Content-Disposition"] == 'attachment; filename="2026-03-11-rig2-03.zip"'
    with zipfile.ZipFile(BytesIO(answer.data)) as bundle:
        events = bundle.read("events.csv").decode()
        assert {"run.json", "stages.csv", "events.csv"} <= set(bundle.namelist())
    assert "'=1+1" in events
    assert ",=1+1" not in events


def test_the_next_test_starts_from_the_last(client: Any) -> None:
    plan = client.get("/last-test").json
    assert plan["lubricant"] == "HEES-46"
    assert plan["loads_n"][:2] == [80.0, 160.0]


def test_help_starts_fast_because_nothing_heavy_is_loaded() -> None:
    import subprocess
    import sys

    code = (
        "import sys, scuffboard.main as m; m.parser();"
        "print([x for x in ('flask', 'numpy', 'waitress') if x in sys.modules])"
    )
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"
    )


def test_the_climb_is_seeded_from_the_record_up_to_now(make_app: Any, desk: Any) -> None:
    client = make_app().test_client()
    give_up_s = time.monotonic() + 10.0
    while not (history := client.get("/history").json)["stages"]:
        assert time.monotonic() < give_up_s
        time.sleep(0.05)
    assert sorted(map(int, history["stages"])) == list(range(1, 8))
    last = history["stages"]["7"]["rows"]
    assert last[-1][0] < 130.0  # nothing of what is still to come
    hole_in_stage_4 = [b[0] - a[0] for a, b in itertools.pairwise(history["stages"]["4"]["rows"])]
    assert max(hole_in_stage_4) > 2.5 * history["stages"]["4"]["step_s"]
