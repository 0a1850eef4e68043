"""Records in memory, shaped as the store's reader gives them: what the pages read, without a file."""

import math
import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from stand_in_core import DWELL_S, LOADS_N, RUN_NAME, T0_UTC_S, TRACKS, value

from scuffwatch.model.channel import IntegerType
from scuffwatch.model.event import ChannelRecord, ClockTriple, Event, EventKind, GapMark
from scuffwatch.model.finding import Evidence, Finding, FindingKind, Level
from scuffwatch.model.run import Outcome, RunHeader, RunKind, RunResult, StageRecord
from scuffwatch.store.reader import Account, Envelope, RunSummary, TripRecord

Floats = npt.NDArray[np.float64]

TRIP_S = 8 * DWELL_S + 161.005
GAP_S = (1080.0, 1104.0)
LIMITS = "[limits]\nfriction_coefficient_warn = 0.15\nfriction_coefficient_max = 0.25\nmotor_current_max_a = 8.0\n"


def finding(kind: FindingKind, says: str, t_s: float, value: float, limit: float) -> Finding:
    """Give a trip finding with one line of evidence."""
    evidence = Evidence("friction_coefficient", value, limit, "")
    return Finding(kind, Level.TRIP, t_s, ("friction_coefficient",), (evidence,), says)


FIRST_OUT = finding(FindingKind.SCUFFING_ONSET, "Scuffing onset: friction 0.265, limit 0.250.", TRIP_S, 0.265, 0.25)
FOLLOWER = finding(FindingKind.OVERLOAD, "Motor current high: 8.4 A, limit 8.0 A.", TRIP_S + 0.43, 8.4, 8.0)


def seen(text: str = "") -> list[dict[str, Any]]:
    """Give what the detectors said, as events keep it: a warning by two kinds of evidence, then the trip by three."""

    def said(level: str, t_s: float, says: str, *evidence: tuple[str, float, float, str]) -> dict[str, Any]:
        items = [dict(zip(("name", "value", "limit", "unit"), item, strict=True)) for item in evidence]
        return {"kind": "scuffing_onset", "level": level, "t_rig_s": t_s, "channels": ["friction_force_n"],
                "evidence": items, "says": text or says}  # fmt: skip

    def course(end_s: float, **last: int) -> dict[str, Any]:
        """Give a course that grows towards its last values, percent; nothing is known of the first 20 s."""
        shares = {
            name: [None if i < 40 else round(percent * math.exp((i - 119) / 25.0)) for i in range(120)]
            for name, percent in last.items()
        }
        return {"course": {"every_s": 0.5, "t_end_rig_s": end_s, "share_percent": shares}}

    rise = ("friction_rise_ratio", 1.31, 1.2, "")
    sound = ("sound_change_db", -7.0, 6.0, "dB")
    return [
        said("warn", TRIP_S - 40.0, "Scuffing may begin: friction 1.31 × usual, warning at 1.20.", rise, sound)
        | course(TRIP_S - 40.0, friction_rise_ratio=140, burst_count=60, sound_change_db=115, unrest_ratio=30),
        said("trip", TRIP_S, "Scuffing: friction 2.70 × usual, limit 1.60.",
             ("friction_rise_ratio", 2.7, 1.6, ""), sound, ("pin_heating_k_s", 1.9, 0.8, "K/s"))
        | course(TRIP_S - 0.2, friction_rise_ratio=200, burst_count=90, sound_change_db=118, unrest_ratio=45,
                 pin_heating_k_s=220),
    ]  # fmt: skip


@dataclass
class FakeReader:
    """One invented run: scuffed at stage 9, or under way at stage 7."""

    header: RunHeader
    live: bool
    result: RunResult | None
    note: str = ""
    t_open_rig_s: float = 0.0
    t_open_utc_s: float = T0_UTC_S
    settings_toml: str = LIMITS

    @property
    def channels(self) -> tuple[ChannelRecord, ...]:
        """Give the recorded channels; friction force stands for the cell."""
        names = [*(n for n in TRACKS if n != "friction_coefficient"), "friction_force_n"]
        plain = (0, 0, 0, 0.0, 500.0)
        ranges = {name: TRACKS.get(name, plain)[3:5] for name in names}
        return tuple(
            ChannelRecord(name, 0, i, 100.0, IntegerType.INT16, (0.0, 1.0), 0.0, *ranges[name], "2026-01")
            for i, name in enumerate(names)
        )

    def stages(self) -> tuple[StageRecord, ...]:
        """Give the stages run so far."""
        noise, rows = random.Random(3), []
        last = 9
        for n in range(1, last + 1):
            end_s = math.nan if self.live and n == last else TRIP_S if n == 9 else n * DWELL_S
            mu, mu_end = (value("friction_coefficient", n, f, noise) for f in (0.5, 0.95))
            pin = value("pin_temperature_degc", n, 1.0, noise)
            rows.append(StageRecord(n, (n - 1) * DWELL_S, end_s, 80.0 * n, mu, mu_end, pin, math.nan, 66.5 + n, n < 9))
        return tuple(rows)

    def events(self) -> tuple[Event, ...]:
        """Give the events of the run, one of them a note with the text under test."""
        rows = [
            (EventKind.RUN_OPENED, 0.0, "bench page at 127.0.0.1", "Run opened."),
            (EventKind.PERMITTED, 2.0, "", "Permitted by reset at the rig."),
            (EventKind.OBSERVATION, 2400.0, "bench page at 127.0.0.1", "Squeal."),
            (EventKind.NOTE, 2410.0, self.note or "bench", self.note or "Slight smoke at the pin."),
        ]
        if not self.live:
            rows += [
                (EventKind.TRIPPED, TRIP_S, "", FIRST_OUT.says),
                (EventKind.RUN_CLOSED, TRIP_S + 5.0, "", "Run closed."),
            ]
        made = [(kind, t_s, actor, says, {}) for kind, t_s, actor, says in rows]
        if not self.live:
            made += [(EventKind.FINDING, f["t_rig_s"], "", f["says"], f) for f in seen(self.note)]
        return tuple(
            Event(i, kind, t_s, t_s, T0_UTC_S + t_s, self.header.name, actor, says, data)
            for i, (kind, t_s, actor, says, data) in enumerate(sorted(made, key=lambda row: row[1]), 1)
        )

    def gaps(self) -> tuple[GapMark, ...]:
        """Give the one gap."""
        return (GapMark(0, 0, 108_000, 2400, GAP_S[0], "lost on the wire"),)

    def ledger(self) -> tuple[Account, ...]:
        """Give the balance."""
        return (Account(0, 0, 0, 1_548_000, 1_533_600, 14_400),)

    def clock(self) -> tuple[ClockTriple, ...]:
        """Give the clocks of the start."""
        return (ClockTriple(0, 0.0, 0.0, T0_UTC_S, "boot"),)

    def trips(self) -> tuple[TripRecord, ...]:
        """Give the trip record."""
        if self.live:
            return ()
        clocks = (TRIP_S, TRIP_S, T0_UTC_S + TRIP_S)
        return (TripRecord(FIRST_OUT, (FOLLOWER,), *clocks, 0, 0, 0, TRIP_S - 60, TRIP_S + 30, False, (), (), (), ""),)

    def last_t_rig_s(self) -> float:
        """Give the time of the last sample."""
        return 6 * DWELL_S + 108.0 if self.live else TRIP_S + 5.0

    def envelopes(self, names: tuple[str, ...], t0_s: float, t1_s: float, points: int) -> dict[str, Envelope]:
        """Give several envelopes on one grid."""
        return {name: self.envelope(name, t0_s, t1_s, points) for name in names}

    def envelope(self, channel: str, t0_s: float, t1_s: float, points: int) -> Envelope:
        """Give invented values with a hole where the gap is."""
        t_s = np.linspace(t0_s, t1_s, points)
        noise = random.Random(hash((channel, round(t0_s))) & 0xFFFF)
        name = "friction_coefficient" if channel == "friction_force_n" else channel
        mean = np.array([self._mean(name, float(t), noise) for t in t_s])
        if channel == "friction_force_n":
            mean = mean * 80.0 * np.clip(t_s // DWELL_S + 1, 1, 9)
        spread = 0.01 * np.nanmax(np.abs(mean)) if np.isfinite(mean).any() else 0.0
        return Envelope(t_s, mean - spread, mean, mean + spread, "1 s")

    def _mean(self, name: str, t_s: float, noise: random.Random) -> float:
        if GAP_S[0] <= t_s <= GAP_S[1] or t_s < 0.0:
            return math.nan
        stage = min(9, int(t_s // DWELL_S) + 1)
        if not self.live and t_s > TRIP_S:
            return {"motor_current_a": 0.0, "ring_speed_rpm": 0.0, "friction_coefficient": math.nan}.get(name, 100.0)
        scuff = (
            min(0.2, (t_s - TRIP_S + 1.0) * 0.2)
            if TRIP_S - 1.0 < t_s <= TRIP_S and name == "friction_coefficient"
            else 0.0
        )
        return value(name, stage, (t_s % DWELL_S) / DWELL_S, noise) + scuff


class FakeArchive:
    """Two runs: one scuffed yesterday, one under way; every text can be replaced to test what pages do with it."""

    def __init__(self, text: str = "", live_name: str = RUN_NAME) -> None:
        lubricant = text or "HEES-46"
        plan: dict[str, Any] = {"treat_rate_percent": 4.0, "bath_volume_ml": 15.0, "ring": text or "7, track 3",
                                "pin": text or "22-B", "loads_n": tuple(LOADS_N), "dwell_s": DWELL_S}  # fmt: skip
        live = RunHeader(live_name, RunKind.TEST, lubricant, **plan)
        ended = RunHeader("2026-03-11-rig2-03", RunKind.TEST, lubricant, simulated=True, **plan)
        setup = RunHeader("2026-03-11-rig2-02", RunKind.SETUP)
        first_out = text or FIRST_OUT.says
        result = RunResult(Outcome.SCUFFED, first_out, TRIP_S)
        self._readers = {
            live.name: FakeReader(live, True, None, text),
            ended.name: FakeReader(ended, False, result, text),
        }
        self._summaries = (
            RunSummary(live, None, T0_UTC_S, 1908.0, 6, "", False, False, "", True),
            RunSummary(
                ended, Outcome.SCUFFED, T0_UTC_S - 86_400.0, TRIP_S + 5.0, 9, first_out, True, True, text, False
            ),
            RunSummary(setup, Outcome.STOPPED, T0_UTC_S - 90_000.0, 304.0, 0, "", False, False, "", False),
        )

    def runs(self) -> tuple[RunSummary, ...]:
        """Give the list, newest first."""
        return self._summaries

    @contextmanager
    def open_run(self, name: str) -> Iterator[FakeReader]:
        """Give one run."""
        yield self._readers[name]
