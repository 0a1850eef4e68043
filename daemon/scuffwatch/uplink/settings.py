"""Settings of the uplink: where rows, messages and alerts go. A file of its own: the core never reads it.

Reads TOML text, gives a frozen `UplinkSettings` or a `ConfigError` that lists every problem at once. Secrets never
stand in it: it names files that only their owner may read.
"""

import stat
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from scuffwatch.model.errors import ConfigError
from scuffwatch.model.settings_file import Section, check, read_text

Name = Annotated[str, Field(min_length=1, max_length=32, pattern=r"^[A-Za-z0-9][A-Za-z0-9 _.-]*$")]
Clock = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]
PRIORITIES = "TWN"
LOOPBACK = ("127.0.0.1", "localhost", "::1")


class Uplink(Section):
    """The uplink itself."""

    rig: Name = Field(description="name of this rig in topics, tags and messages; the one in the rig file")
    rate_hz: Literal[1, 2, 5, 10] = Field(
        default=2, description="rows a second of a run; 2 brings a sample home in 2 s"
    )
    idle: bool = Field(default=True, description="whether the hours without a run are sent, a row a second")
    metrics_port: int = Field(
        default=9180, ge=0, le=65535, description="port of /metrics on this computer only; 0 is off"
    )


class TimeSeries(Section):
    """A time-series store with the v2 write API. Without this section nothing is sent to one."""

    url: str = Field(pattern=r"^https?://", description="address of the store")
    org: str = Field(default="", max_length=64, description="organisation, where the store knows any")
    bucket: str = Field(default="rigs", min_length=1, max_length=64, description="bucket, where the store knows any")
    token_file: str = Field(default="", description="file with the token, mode 0600; empty where none is asked for")
    ca_file: str = Field(default="", description="certificates to verify the store with, where not the system's")
    timeout_s: float = Field(default=10, ge=0.1, le=120, description="longest wait for an answer")
    batch_rows: int = Field(default=1000, ge=1, le=5000, description="most rows in one request")
    rewind_s: float = Field(
        default=300, ge=0, le=86400, description="rows accepted this long before a restart of the store are sent again"
    )
    full_rate_max_rows_per_s: int = Field(
        default=0,
        ge=0,
        le=20_000,
        description="send every sample of runs that are over, too, at most so many rows a second; 0 is off",
    )


class Mqtt(Section):
    """A broker that speaks MQTT 5. Without this section nothing is published."""

    host: str = Field(min_length=1, max_length=253, description="name or address of the broker")
    port: int = Field(default=8883, ge=1, le=65535, description="port of the broker")
    tls: bool = Field(default=True, description="false only for a broker on this computer")
    ca_file: str = Field(default="", description="certificates to verify the broker with, where not the system's")
    credentials_file: str = Field(default="", description="file with one line USER:PASSWORD, mode 0600")
    base_topic: str = Field(
        default="scuffwatch", pattern=r"^[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*$", description="first part of every topic"
    )
    keepalive_s: int = Field(default=5, ge=2, le=60, description="the broker tells others after 1.5 times this silence")
    timeout_s: float = Field(default=5, ge=0.5, le=60, description="longest wait for an acknowledgement")
    values_every_s: float = Field(default=1, ge=0.2, le=60, description="how often the values are published")
    heartbeat_s: float = Field(default=5, ge=1, le=60, description="how often the state is published, changed or not")
    event_expiry_s: int = Field(
        default=604800, ge=60, description="how long the broker keeps an event for a subscriber"
    )

    @model_validator(mode="after")
    def _secret_only_under_tls(self) -> "Mqtt":
        if not self.tls and self.host not in LOOPBACK:
            raise ValueError("tls = false is for a broker on this computer only")
        return self


class Channel(Section):
    """One way to reach people."""

    url_file: str = Field(default="", description="file with one apprise address (mailto://…), mode 0600")
    log_file: str = Field(default="", description="instead: append the messages to this file")
    priorities: str = Field(default="TWN", pattern=r"^[TWN]{1,3}$", description="priorities that go this way")
    after_s: float = Field(default=0, ge=0, le=86400, description="only if nobody has acknowledged for this long")
    repeat_s: float = Field(default=600, ge=0, le=86400, description="sent again so often until acknowledged; 0 never")
    repeats: int = Field(default=3, ge=0, le=100, description="at most so many repeats")

    @model_validator(mode="after")
    def _one_way(self) -> "Channel":
        if bool(self.url_file) == bool(self.log_file):
            raise ValueError("give either url_file or log_file")
        return self


class Alerts(Section):
    """Who is told what, and when."""

    quiet_from: Clock = Field(default="22:00", description="start of the quiet hours, local time")
    quiet_to: Clock = Field(default="06:00", description="end of the quiet hours, local time")
    quiet_priorities: str = Field(default="N", pattern=r"^[WN]{0,2}$", description="priorities kept back meanwhile")
    core_silent_s: float = Field(default=5, ge=1, le=60, description="silence of the core after which people are told")
    test_every_days: float = Field(default=31, ge=1, le=366, description="a channel not proved for so long is an alarm")
    hot_degc: float = Field(
        default=60, ge=20, le=200, description="above this a pin or bath is called hot in a message"
    )
    timeout_s: float = Field(default=10, ge=1, le=60, description="longest wait for a channel to accept a message")


class UplinkSettings(Section):
    """All settings of the uplink of one rig."""

    uplink: Uplink
    timeseries: TimeSeries | None = None
    mqtt: Mqtt | None = None
    alerts: Alerts = Alerts()
    channels: dict[str, Channel] = Field(default_factory=dict)


def load(path: Path) -> UplinkSettings:
    """Read an uplink file.

    Raises:
        ConfigError: it cannot be read, or with every problem in it, one sentence each.
    """
    return parse(read_text(path), path.name)


def parse(text: str, name: str) -> UplinkSettings:
    """Check the text of an uplink file; see `load`. `name` is the file name used in sentences."""
    return check(UplinkSettings, text, name)


def secret(path: str, what: str) -> str:
    """Give the only line of a file that nobody but its owner may read; empty where no path is given.

    Raises:
        ConfigError: it cannot be read, or others may read it.
    """
    if not path:
        return ""
    file = Path(path)
    try:
        mode = stat.S_IMODE(file.stat().st_mode)
        text = file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no text in UTF-8"
        raise ConfigError((f"{what}: {path} cannot be read: {why}. Nothing has been started.",)) from error
    if mode & 0o077:
        do = f"Run: chmod 600 {path}"
        raise ConfigError((f"{what}: {path} has mode {mode:04o}, others may read it. Nothing has been started. {do}",))
    if not text or "\n" in text:
        raise ConfigError((f"{what}: {path} must hold one line. Nothing has been started.",))
    return text
