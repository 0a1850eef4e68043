"""Status: how the uplink stands, as one object; a file for the rig's own processes and OpenMetrics for others.

Reads the parts of the uplink, gives JSON and text. The file is written anew every second and replaced as a whole: one
that has grown old says that the uplink is dead.
"""

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scuffwatch.uplink.alerts import ChannelState, silent
from scuffwatch.uplink.ledger import Totals

if TYPE_CHECKING:
    from scuffwatch.uplink.mqtt import BrokerState
    from scuffwatch.uplink.timeseries import SendState

VERSION = 1
STATUS_FILE = "status.json"
OLD_S = 10.0
"""A status older than this is that of a dead uplink."""
UNAVAILABLE_SAID = 20
"""At most so many runs are named that cannot be read; all of them are counted."""


@dataclass(frozen=True, slots=True)
class Status:
    """How the uplink stands.

    Attributes:
        rig: its name.
        t_wall_utc_s, t_boot_s: when this was made: UTC, and the clock that counts from the kernel's boot, s.
        started_utc_s: when the uplink started, s UTC.
        core_age_s: age of the core's last snapshot, s.
        timeseries, mqtt: state and account of each destination; None where it is not configured.
        channels: the alert channels.
        faults: what went wrong inside, by thread.
        full_rate: state and account of the samples of closed runs; None where they are not sent.
        unavailable_runs: one sentence for each closed run whose samples cannot even be counted.
    """

    rig: str
    t_wall_utc_s: float
    t_boot_s: float
    started_utc_s: float
    core_age_s: float
    timeseries: "tuple[SendState, Totals] | None"
    mqtt: "tuple[BrokerState, Totals] | None"
    channels: tuple[ChannelState, ...]
    faults: dict[str, str]
    full_rate: "tuple[SendState, Totals] | None" = None
    unavailable_runs: tuple[str, ...] = ()

    @property
    def alerts_silent(self) -> str:
        """Give why nobody away from the rig can be reached, or an empty string."""
        return silent(list(self.channels))


def as_json(status: Status) -> dict[str, Any]:
    """Give the object of the status file."""
    return {
        "v": VERSION,
        "rig": status.rig,
        "pid": os.getpid(),
        "t_wall_utc_s": round(status.t_wall_utc_s, 3),
        "t_boot_s": round(status.t_boot_s, 3),
        "started_utc_s": round(status.started_utc_s, 3),
        "core_age_s": round(status.core_age_s, 2),
        "timeseries": _destination(status.timeseries),
        "timeseries_full_rate": _full_rate(status),
        "mqtt": _destination(status.mqtt),
        "alerts": {
            "silent": bool(status.alerts_silent),
            "says": status.alerts_silent,
            "channels": [asdict(channel) for channel in status.channels],
        },
        "faults": status.faults,
    }


def _destination(pair: "tuple[SendState | BrokerState, Totals] | None") -> dict[str, Any] | None:
    if pair is None:
        return None
    state, totals = pair
    return {**asdict(state), **asdict(totals), "queued": totals.queued}


def _full_rate(status: Status) -> dict[str, Any] | None:
    told = _destination(status.full_rate)
    runs = status.unavailable_runs
    return told and {**told, "unavailable_runs": len(runs), "unavailable_says": runs[:UNAVAILABLE_SAID]}


def write(status: Status, folder: Path) -> None:
    """Replace the status file.

    Raises:
        OSError: the disk does not take it.
    """
    folder.mkdir(parents=True, exist_ok=True)
    fresh = folder / f"{STATUS_FILE}.new"
    fresh.write_text(json.dumps(as_json(status), ensure_ascii=False) + "\n", encoding="utf-8")
    fresh.replace(folder / STATUS_FILE)


def openmetrics(status: Status) -> str:
    """Give the status in the OpenMetrics text format."""
    lines: list[str] = []
    told = {"timeseries": status.timeseries, "timeseries_full_rate": status.full_rate, "mqtt": status.mqtt}
    pairs = {name: pair for name, pair in told.items() if pair is not None}
    for count, kind, help_ in (
        ("produced", "counter", "rows and events counted in the record"),
        ("sent", "counter", "accepted by the destination"),
        ("resent", "counter", "sent once more after a restart of the destination"),
        ("queued", "gauge", "still to be sent"),
        ("quarantined", "gauge", "put aside with a reason"),
    ):
        values = {f'destination="{name}"': int(getattr(pair[1], count)) for name, pair in pairs.items()}
        lines += _family(f"scuffwatch_uplink_rows_{count}", kind, help_, values)
    ups = {f'destination="{name}"': int(pair[0].up) for name, pair in pairs.items()}
    lines += _family("scuffwatch_uplink_destination_up", "gauge", "whether the destination answers", ups)
    if status.timeseries is not None:
        state = status.timeseries[0]
        lag_s = status.t_wall_utc_s - state.newest_ms / 1000 if state.newest_ms else float("nan")
        lines += _family("scuffwatch_uplink_lag_seconds", "gauge", "age of the newest row accepted", {"": lag_s})
        lines += _family("scuffwatch_uplink_requests", "counter", "requests to the store", {"": state.requests})
        lines += _family("scuffwatch_uplink_rewinds", "counter", "restarts of the store seen", {"": state.rewinds})
    if status.full_rate is not None:
        runs = {"": len(status.unavailable_runs)}
        lines += _family("scuffwatch_uplink_runs_unavailable", "gauge", "closed runs that cannot be read", runs)
    if status.mqtt is not None:
        made = {"": status.mqtt[0].connections}
        lines += _family("scuffwatch_uplink_broker_connections", "counter", "connections made", made)
    lines += _alert_families(status)
    lines += _family("scuffwatch_uplink_core_age_seconds", "gauge", "age of the last snapshot", {"": status.core_age_s})
    started = {"": status.started_utc_s}
    lines += _family("process_start_time_seconds", "gauge", "when the uplink started", started)
    return "\n".join([*lines, "# EOF"]) + "\n"


def _alert_families(status: Status) -> list[str]:
    def by_channel(of: Any) -> dict[str, float]:
        return {f'channel="{_label(channel.name)}"': of(channel) for channel in status.channels}

    quiet = {"": int(bool(status.alerts_silent))}
    return [
        *_family("scuffwatch_alert_channel_up", "gauge", "last try worked", by_channel(lambda c: int(not c.failing))),
        *_family("scuffwatch_alert_waiting", "gauge", "messages not delivered", by_channel(lambda c: c.waiting)),
        *_family("scuffwatch_alert_proved_seconds", "gauge", "last accepted", by_channel(lambda c: c.proved_utc_s)),
        *_family("scuffwatch_alerts_silent", "gauge", "whether nobody away can be reached", quiet),
        *_family("scuffwatch_uplink_faults", "gauge", "threads that met a fault", {"": len(status.faults)}),
    ]


def _family(name: str, kind: str, help_: str, values: Mapping[str, float]) -> list[str]:
    sample = f"{name}_total" if kind == "counter" else name
    lines = [f"# TYPE {name} {kind}", f"# HELP {name} {help_}"]
    return [*lines, *(f"{sample}{f'{{{labels}}}' if labels else ''} {value!r}" for labels, value in values.items())]


def _label(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
