"""A stand-in for the core: the real sockets, scripted snapshots, no rig.

Serves `live.sock` and `command.sock` with the control room's own endpoint. Invented values of an invented workshop
that rebuilds hydraulic pumps and screens biodegradable oils. Also runs by itself, for looking at pages:

    python tests/board/stand_in_core.py FOLDER --state warning
"""

import argparse
import math
import random
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scuffwatch.control.endpoint import Endpoint, Inbox, SnapshotSource
from scuffwatch.control.messages import Reply, kind_of
from scuffwatch.control.snapshot import encode

Json = dict[str, Any]

RUN_NAME = "2026-03-12-rig2-01"
T0_UTC_S = 1_773_318_485.0  # 12 March 2026, 13:28:05 UTC+01:00
UTC_OFFSET_S = 3600
LOADS_N = [80.0 * n for n in range(1, 13)]
DWELL_S = 300.0
TRACKS = {
    "friction_coefficient": ("Friction coefficient", "", 3, 0.0, 0.4, 0.15, 0.25),
    "motor_current_a": ("Motor current", "A", 2, 0.0, 10.0, 6.0, 8.0),
    "sound_level_db": ("Sound level", "dB", 1, 50.0, 100.0, 84.0, None),
    "pin_temperature_degc": ("Pin temperature", "°C", 1, 0.0, 200.0, 140.0, 160.0),
    "ring_speed_rpm": ("Ring speed", "r/min", 0, 0.0, 2000.0, None, None),
    "normal_load_n": ("Normal load", "N", 1, 0.0, 1000.0, None, 1100.0),
}
STATES = (
    "healthy", "warning", "tripped", "acknowledged", "ready", "before", "no_run", "simulated", "sensor", "rig_silent",
    "watch_only", "unrecorded", "store_error", "store_behind", "off_plan", "setup", "zero",
)  # fmt: skip


def value(name: str, stage: int, f: float, noise: random.Random) -> float:
    """Give an invented value of a channel at share `f` of a stage's dwell."""
    load_n = 80.0 * stage
    run_in = 0.022 * math.exp(-f * 9.0)
    mu0 = 0.094 + 0.0011 * stage + max(0, stage - 7) * 0.003
    mu = mu0 + run_in + noise.gauss(0.0, 0.0012)
    if name == "friction_coefficient":
        return mu
    if name == "motor_current_a":
        return 1.15 + mu * load_n * 0.039 + noise.gauss(0.0, 0.03)
    if name == "sound_level_db":
        return 66.5 + 0.55 * stage + 80.0 * run_in + noise.gauss(0.0, 0.5)
    if name == "pin_temperature_degc":
        after, before = (38.0 + 0.85 * mu0 * 80.0 * n for n in (stage, stage - 1))
        return before + (after - before) * (1.0 - math.exp(-f * 3.2)) + noise.gauss(0.0, 0.2)
    if name == "ring_speed_rpm":
        return 1200.0 + noise.gauss(0.0, 2.0)
    return load_n + noise.gauss(0.0, 0.4)


def channels(stage: int, f: float, noise: random.Random) -> Json:
    """Give the channels of a healthy snapshot."""
    return {
        name: {
            "value": value(name, max(stage, 1), f, noise), "unit": unit, "quality": "good", "reason": "none",
            "age_s": 0.01, "warn": warn, "trip": trip, "low": low, "high": high, "digits": digits, "label": label,
            "derived": name == "friction_coefficient",
        }
        for name, (label, unit, digits, low, high, warn, trip) in TRACKS.items()
    }  # fmt: skip


def nearness(friction: float, bursts: float = 0.0, sound_db: float = 0.4) -> list[Json]:
    """Give how near each kind of evidence is: friction and bursts as shares of their limits, sound in dB."""
    rows = (
        ("friction_rise_ratio", 1.22**friction, 1.22, "", friction),
        ("burst_count", round(3 * bursts), 3.0, "", bursts),
        ("once_per_turn_ratio", 1.1, 3.7, "", 0.07),
        ("sound_change_db", sound_db, 4.0, "dB", sound_db / 4.0),
        ("unrest_ratio", 1.1, 2.5, "", 0.1),
        ("pin_heating_k_s", 0.02, 0.4, "K/s", 0.05),
    )
    return [
        {"name": name, "value": seen, "limit": limit, "unit": unit, "share": share, "state": "known"}
        for name, seen, limit, unit, share in rows
    ]


def unknown(rows: list[Json], state: str) -> list[Json]:
    """Give the same rows without values."""
    return [{**row, "value": None, "share": None, "state": state} for row in rows]


ALARM_OF = {"scuffing_onset": "scuffing", "link_lost": "rig_box"}


def finding(kind: str, says: str, t_rig_s: float) -> Json:
    """Give a finding of trip level."""
    evidence = {"name": "friction_coefficient", "value": 0.265, "limit": 0.25, "unit": ""}
    return {
        "kind": kind, "alarm": ALARM_OF.get(kind, ""), "level": "trip",
        "t_rig_s": t_rig_s, "t_wall_utc_s": T0_UTC_S + t_rig_s,
        "channels": ["friction_coefficient"], "says": says, "evidence": [evidence],
    }  # fmt: skip


def alarm(key: str, short: str, priority: str, state: str, says: str, action: str, t_rig_s: float) -> Json:
    """Give one row of the alarm list."""
    return {
        "key": key, "short_name": short, "priority": priority, "state": state, "says": says,
        "consequence": "Scar and ring track are lost; hot oil stays under load.", "action": action,
        "respond_within_s": 600.0, "since_utc_s": T0_UTC_S + t_rig_s, "t_rig_s": t_rig_s,
    }  # fmt: skip


SCUFFING_SAYS = "Scuffing onset: friction 0.265, limit 0.250, and sound +13 dB."
DISK_SAYS = ("Disk 9 % free, warning at 10 %.", "Export and remove old runs.")
BROKER_SAYS = ("Broker not reachable; 412 messages are waiting here.", "Look at the broker when convenient.")
NEEDS = (
    ("no_cause", "No cause present"), ("at_rest", "Ring at rest for 2 s"), ("acknowledged", "Trip acknowledged"),
    ("prestart", "Pre-start checks passed"), ("run_open", "A run is open"), ("reset", "Reset pressed at the rig"),
)  # fmt: skip


def needs(met: int) -> list[Json]:
    """Give what the permit needs, the first `met` of them met."""
    return [{"key": key, "says": says, "met": i < met} for i, (key, says) in enumerate(NEEDS)]


class Script:
    """Makes snapshots of one state; `change(snapshot)` may alter each of them before it is sent."""

    def __init__(self, state: str = "healthy") -> None:
        self.state = state
        self.stage, self.elapsed_s = 7, 108.0
        self.noise = random.Random(5)
        self.started_s = time.monotonic()
        self.sequence = 2_148_311
        self.change: Callable[[Json], None] = lambda snapshot: None

    def snapshot(self) -> Json:
        """Give the next snapshot."""
        self.sequence += 1
        run_s = time.monotonic() - self.started_s
        stage = 9 if self.state in ("warning", "tripped", "acknowledged", "unrecorded") else self.stage
        elapsed_s = (161.0 if stage == 9 else self.elapsed_s) + run_s
        t_rig_s = (stage - 1) * DWELL_S + elapsed_s
        made = self._plain(stage, elapsed_s, t_rig_s)
        getattr(self, f"_{self.state}", lambda snapshot, t_rig_s: None)(made, t_rig_s)
        self.change(made)
        return made

    def _plain(self, stage: int, elapsed_s: float, t_rig_s: float) -> Json:
        return {
            "v": 1, "seq": self.sequence, "rig": "rig 2", "simulated": False, "t_wall_utc_s": T0_UTC_S + t_rig_s,
            "t_rig_s": t_rig_s, "utc_offset_s": UTC_OFFSET_S, "core_started_utc_s": T0_UTC_S - 900.0,
            "permit": {
                "state": "permitted", "since_utc_s": T0_UTC_S, "acknowledged": True, "first_out": None,
                "followers": [], "needs": [], "recorded": True, "lease_left_ms": 130.0,
            },
            "link": {
                "up": True, "identity": "rig box 2", "age_s": 0.02, "frames_lost": 0, "frame_errors": 0,
                "node_permit": "permitted", "node_cause": None,
            },
            "interlocks": [
                {"key": key, "name": name, "state": "closed"}
                for key, name in (
                    ("guard", "Guard"), ("emergency_stop", "Emergency stop"), ("extraction", "Extraction"),
                    ("bath", "Bath"), ("contactor", "Motor contactor"),
                )
            ],
            "alarms": [],
            "run": {
                "name": RUN_NAME, "kind": "test", "lubricant": "HEES-46", "treat_rate_percent": 4.0,
                "bath_volume_ml": 15.0, "ring": "7, track 3", "pin": "22-B", "loads_n": LOADS_N, "dwell_s": DWELL_S,
                "opened_utc_s": T0_UTC_S, "stage": stage, "stage_elapsed_s": elapsed_s,
                "t_stage_start_rig_s": (stage - 1) * DWELL_S, "interrupted": False, "resume_left_s": None,
            },
            "channels": channels(stage, elapsed_s / DWELL_S, self.noise),
            "nearness": nearness(0.18),
            "loop": {"late_ms_p999": 0.4, "slices": self.sequence},
            "store": {
                "recording": True, "queue_s": 0.1, "dropped": 0, "error": "", "free_bytes": 20_000_000_000,
                "last_recorded_event": 41, "last_event": 41,
            },
        }  # fmt: skip

    def _warning(self, s: Json, t_rig_s: float) -> None:
        s["channels"]["friction_coefficient"]["value"] = 0.137 + self.noise.gauss(0.0, 0.001)
        s["nearness"] = nearness(0.84, 1.1, 3.1)
        says = "Friction bursts: 6 in 95 s, warning at 3 in 120 s."
        action = "Stay near. Do not add weight."
        s["alarms"] = [alarm("friction_bursts", "Friction bursts", "W", "unacknowledged", says, action, 2431.0)]

    def _tripped(self, s: Json, t_rig_s: float, *, acknowledged: bool = False) -> None:
        trip_s = 8 * DWELL_S + 161.005
        follower = finding("overload", "Motor current high: 8.4 A, limit 8.0 A.", trip_s + 0.43)
        s["permit"] = {
            "state": "tripped", "since_utc_s": T0_UTC_S + trip_s, "acknowledged": acknowledged,
            "first_out": finding("scuffing_onset", SCUFFING_SAYS, trip_s), "followers": [follower],
            "needs": needs(3 if acknowledged else 2), "recorded": True, "lease_left_ms": None,
        }  # fmt: skip
        state = "latched, acknowledged" if acknowledged else "latched, unacknowledged"
        action = "Let the ring stop. Lift the weights. Find the cause, then reset at the rig."
        s["alarms"] = [
            alarm("scuffing", "Scuffing onset", "T", state, SCUFFING_SAYS, action, trip_s),
            alarm("disk", "Disk filling", "W", "unacknowledged", *DISK_SAYS, trip_s + 26.0),
            alarm("uplink", "Broker away", "N", "acknowledged", *BROKER_SAYS, 1475.0),
        ]  # fmt: skip
        s["link"].update(node_permit="latched", node_cause="lease 0")
        s["interlocks"][4]["state"] = "open"
        self._at_rest(s)

    def _acknowledged(self, s: Json, t_rig_s: float) -> None:
        self._tripped(s, t_rig_s, acknowledged=True)

    def _at_rest(self, s: Json) -> None:
        for name, at_rest in (("motor_current_a", 0.0), ("ring_speed_rpm", 0.0), ("sound_level_db", 54.2)):
            s["channels"][name]["value"] = at_rest
        s["channels"]["friction_coefficient"].update(value=None, quality="bad", reason="missing")
        s["nearness"] = unknown(s["nearness"], "not sliding")

    def _before(self, s: Json, t_rig_s: float) -> None:
        s["permit"] = {
            "state": "tripped", "since_utc_s": T0_UTC_S - 900.0, "acknowledged": True,
            "first_out": finding("start_up", "The core has started.", 0.0), "followers": [], "needs": needs(2),
            "recorded": True, "lease_left_ms": None,
        }  # fmt: skip
        s["run"].update(stage=0, stage_elapsed_s=0.0, t_stage_start_rig_s=None)
        s["interlocks"][4]["state"] = "open"
        self._at_rest(s)

    def _ready(self, s: Json, t_rig_s: float) -> None:
        self._before(s, t_rig_s)
        s["permit"]["needs"] = needs(5)

    def _no_run(self, s: Json, t_rig_s: float) -> None:
        self._before(s, t_rig_s)
        s["permit"]["needs"] = needs(4)
        s["run"] = None

    def _simulated(self, s: Json, t_rig_s: float) -> None:
        s["simulated"] = True

    def _sensor(self, s: Json, t_rig_s: float) -> None:
        s["channels"]["sound_level_db"].update(value=None, quality="bad", reason="over range")
        s["channels"]["pin_temperature_degc"].update(
            value=None, quality="bad", reason="never received", warn=None, trip=None
        )
        s["channels"]["motor_current_a"].update(quality="uncertain", reason="gap")
        s["channels"]["normal_load_n"].update(value=None, quality="bad", reason="too old")
        kinds = ("friction_rise_ratio", "burst_count", "once_per_turn_ratio", "unrest_ratio")
        s["nearness"] = unknown([row for row in s["nearness"] if row["name"] in kinds], "learning")
        says = "Sound level bad: over range, limit 110.0 dB."
        s["alarms"] = [alarm("sound_bad", "Sound bad", "W", "acknowledged", says, "Check the microphone.", 2000.0)]

    def _rig_silent(self, s: Json, t_rig_s: float) -> None:
        s["link"].update(up=False, age_s=4.2 + time.monotonic() - self.started_s)
        s["permit"].update(
            state="tripped", acknowledged=False,
            first_out=finding("link_lost", "Rig box silent: no frame for 0.31 s, limit 0.25 s.", t_rig_s - 4.0),
        )  # fmt: skip
        for channel in s["channels"].values():
            channel.update(value=None, quality="bad", reason="too old", age_s=4.2)
        s["nearness"] = unknown(s["nearness"], "stale")
        for lock in s["interlocks"]:
            lock["state"] = "unknown"

    def _watch_only(self, s: Json, t_rig_s: float) -> None:
        s["permit"].update(state="watch_only", lease_left_ms=None)
        s["interlocks"] = []

    def _unrecorded(self, s: Json, t_rig_s: float) -> None:
        self._tripped(s, t_rig_s)
        s["permit"]["recorded"] = False

    def _store_error(self, s: Json, t_rig_s: float) -> None:
        s["store"].update(recording=False, error="no space left on the disk.", dropped=17)

    def _store_behind(self, s: Json, t_rig_s: float) -> None:
        s["store"].update(queue_s=4.2)

    def _off_plan(self, s: Json, t_rig_s: float) -> None:
        s["channels"]["normal_load_n"]["value"] = 61.3

    def _setup(self, s: Json, t_rig_s: float) -> None:
        s["run"].update(
            kind="setup", lubricant="", treat_rate_percent=None, bath_volume_ml=None, ring="", pin="", loads_n=[],
            dwell_s=None, stage=0, stage_elapsed_s=time.monotonic() - self.started_s, t_stage_start_rig_s=None,
        )  # fmt: skip

    def _zero(self, s: Json, t_rig_s: float) -> None:
        s["channels"]["friction_coefficient"]["value"] = 0.0


class StandInCore:
    """Both sockets of a core in this process. `frozen` stops the snapshots, as a hung core would."""

    def __init__(self, folder: Path, state: str = "healthy", period_s: float = 0.1) -> None:
        self.live_path, self.command_path = folder / "live.sock", folder / "command.sock"
        self.script = Script(state)
        self.frozen = False
        self.commands: list[tuple[str, Any]] = []
        self.reply = Reply(ok=True, says="Done.")
        self.published_s = 0.0
        self._period_s = period_s
        self._source, self._inbox = SnapshotSource(), Inbox()
        self._endpoint = Endpoint(self.live_path, self.command_path, self._source, self._inbox)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="stand-in core", daemon=True)

    def __enter__(self) -> "StandInCore":
        self._endpoint.start()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self._endpoint.stop()

    def publish(self) -> float:
        """Send one snapshot now; give the host monotonic time just before, s."""
        now_s = time.monotonic()
        self._source.publish(encode(self.script.snapshot(), now_s))
        return now_s

    def _run(self) -> None:
        next_s = 0.0
        while not self._stop.wait(0.01):
            while (ticket := self._inbox.take()) is not None:
                self.commands.append((kind_of(ticket.command).name, ticket.command))
                ticket.answer(self.reply)
            if not self.frozen and time.monotonic() >= next_s:
                next_s = time.monotonic() + self._period_s
                self.published_s = self.publish()


def main() -> None:
    """Serve until interrupted."""
    parser = argparse.ArgumentParser(description="Stand in for the core.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--state", choices=STATES, default="healthy")
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    with StandInCore(given.folder, given.state):
        threading.Event().wait()


if __name__ == "__main__":
    main()
