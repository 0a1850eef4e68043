"""A run in words: how it ended, when, with what.

Reads the values of the record, gives sentences and numbers as the pages write them.
"""

import math
from datetime import UTC, datetime, timedelta, timezone

from scuffwatch.model.run import Outcome, RunHeader, RunKind, StageRecord

NBSP = "\u00a0"
NOTHING = "–"

_ENDED = {
    Outcome.HELD: "held",
    Outcome.SCUFFED: "scuffed",
    Outcome.STALLED: "stalled",
    Outcome.JAMMED: "jammed",
    Outcome.OVERHEATED: "overheated",
    Outcome.STOPPED: "stopped",
    Outcome.SENSOR_FAULT: "sensor fault",
    Outcome.POWER_LOSS: "power loss",
}


def ended_word(outcome: Outcome | None) -> str:
    """Give one or two words for a table."""
    return "under way" if outcome is None else _ENDED[outcome]


def outcome_sentence(
    outcome: Outcome | None, header: RunHeader, stages: tuple[StageRecord, ...], t_end_s: float, first_out: str
) -> str:
    """Give the title of a run's page: how it ended, at which stage and load, and what had held until then."""
    where = _where(header, stages, t_end_s, outcome)
    held = _held(stages)
    if outcome is None:
        return f"Under way{where}."
    if outcome is Outcome.HELD:
        load = _load(header, stages[-1].number) if stages else ""
        return f"Held {load or 'to the end'}. Not scuffed."
    if outcome is Outcome.POWER_LOSS:
        return f"Ended by power loss{where}. {held}".strip()
    if outcome in (Outcome.STOPPED, Outcome.SENSOR_FAULT):
        why = f": {_lower(first_out).rstrip('.')}" if first_out else ""
        return f"Stopped{where}{why}. Not scuffed up to then."
    word = _ENDED[outcome].capitalize()
    return f"{word}{where}. {held}".strip()


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _where(header: RunHeader, stages: tuple[StageRecord, ...], t_end_s: float, outcome: Outcome | None) -> str:
    if not stages:
        return " in the setup run" if header.kind is RunKind.SETUP else " before stage 1"
    last = stages[-1]
    load = _load(header, last.number)
    place = f" at stage {last.number}{f', {load}' if load else ''}"
    into_s = (last.t_end_s if math.isfinite(last.t_end_s) else t_end_s) - last.t_start_s
    if outcome is None or outcome is Outcome.POWER_LOSS or not math.isfinite(into_s) or into_s < 0:
        return place
    return f"{place}, {minutes_words(into_s)} into the dwell"


def _load(header: RunHeader, number: int) -> str:
    return f"{header.loads_n[number - 1]:g}{NBSP}N" if 0 < number <= len(header.loads_n) else ""


def _held(stages: tuple[StageRecord, ...]) -> str:
    numbers = [stage.number for stage in stages if stage.held]
    if not numbers:
        return ""
    return f"Stage {numbers[0]} held." if len(numbers) == 1 else f"Stages {numbers[0]} to {numbers[-1]} held."


def minutes_words(duration_s: float) -> str:
    """Give a duration as `2 min 41 s`."""
    minutes, seconds = divmod(round(duration_s), 60)
    return f"{minutes}{NBSP}min {seconds}{NBSP}s" if minutes else f"{seconds}{NBSP}s"


def m_ss(duration_s: float) -> str:
    """Give a duration as `m:ss`, or a dash."""
    if not math.isfinite(duration_s):
        return NOTHING
    minutes, seconds = divmod(round(duration_s), 60)
    return f"{minutes}:{seconds:02d}" if minutes < 60 else f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"


def fixed(value: float, digits: int) -> str:
    """Give a number with fixed decimals and a true minus, or a dash where there is none."""
    if not math.isfinite(value):
        return NOTHING
    return f"{value:.{digits}f}".replace("-", "−")


def grouped(count: int) -> str:
    """Give a long number in groups of three."""
    return f"{count:,}".replace(",", NBSP)


def local(t_utc_s: float, utc_offset_s: float) -> datetime:
    """Give the rig's local time of a wall-clock stamp."""
    return datetime.fromtimestamp(t_utc_s, UTC).astimezone(timezone(timedelta(seconds=utc_offset_s)))


def date_words(t_utc_s: float, utc_offset_s: float) -> str:
    """Give `12 March 2026, 13:28:05 UTC+01:00`, or a dash where the time is not known."""
    if not math.isfinite(t_utc_s):
        return NOTHING
    there = local(t_utc_s, utc_offset_s)
    return f"{there.day} {there:%B %Y, %H:%M:%S} {offset_words(utc_offset_s)}"


def offset_words(utc_offset_s: float) -> str:
    """Give `UTC+01:00`."""
    sign = "−" if utc_offset_s < 0 else "+"
    minutes = round(abs(utc_offset_s) / 60)
    return f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}"


def lubricant_words(header: RunHeader) -> str:
    """Give the lubricant with its treat rate by volume."""
    if header.kind is RunKind.SETUP:
        return "setup run"
    rate = header.treat_rate_percent
    dose = f" + {rate:g}{NBSP}%{NBSP}v/v" if math.isfinite(rate) and rate > 0 else ""
    return (header.lubricant or "lubricant not named") + dose


def specimen_words(header: RunHeader) -> tuple[str, ...]:
    """Give ring, pin and bath, as far as they were stated."""
    bath = header.bath_volume_ml
    return tuple(
        words
        for words in (
            header.ring and f"ring {header.ring}",
            header.pin and f"pin {header.pin}",
            f"bath {bath:g}{NBSP}mL" if math.isfinite(bath) else "",
        )
        if words
    )
