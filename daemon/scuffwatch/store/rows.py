"""Rows: the model's values as rows of the schema, and back. The one place where columns meet fields.

Reads values or rows, gives rows or values. Imports no numpy, so that a list of runs is there at once.
"""

import json
from typing import Any

from scuffwatch.model.channel import IntegerType
from scuffwatch.model.event import ChannelRecord, ClockTriple, Event, EventKind
from scuffwatch.model.run import StageRecord
from scuffwatch.store.storage import SqlValue
from scuffwatch.store.text import clean, number, real, to_json

Row = tuple[SqlValue, ...]


def event_row(event: Event, number_: int, core_start: int) -> Row:
    """Give the row of an event without its hash."""
    return (
        number_,
        event.kind.value,
        real(event.t_rig_s),
        float(event.t_mono_s),
        float(event.t_wall_utc_s),
        clean(event.run),
        clean(event.actor),
        clean(event.says),
        to_json(event.data),
        core_start,
        event.sequence,
    )


def event_of(row: Any) -> Event:
    """Give the event of a row; `sequence` is the lasting number the store gave."""
    return Event(
        sequence=row[0],
        kind=EventKind(row[1]),
        t_rig_s=number(row[2]),
        t_mono_s=row[3],
        t_wall_utc_s=row[4],
        run=row[5],
        actor=row[6],
        says=row[7],
        data=json.loads(row[8]),
    )


def stage_row(stage: StageRecord) -> Row:
    """Give the row of a stage."""
    return (
        stage.number,
        real(stage.t_start_s),
        real(stage.t_end_s),
        real(stage.normal_load_n),
        real(stage.friction_coefficient),
        real(stage.friction_coefficient_end),
        real(stage.pin_temperature_degc),
        real(stage.bath_temperature_degc),
        real(stage.sound_level_db),
        int(stage.held),
    )


def stage_of(row: Any) -> StageRecord:
    """Give the stage of a row."""
    return StageRecord(
        number=row[0],
        t_start_s=number(row[1]),
        t_end_s=number(row[2]),
        normal_load_n=number(row[3]),
        friction_coefficient=number(row[4]),
        friction_coefficient_end=number(row[5]),
        pin_temperature_degc=number(row[6]),
        bath_temperature_degc=number(row[7]),
        sound_level_db=number(row[8]),
        held=bool(row[9]),
    )


def channel_row(record: ChannelRecord, id_: int | None, from_t_rig_s: float, t_wall_utc_s: float) -> Row:
    """Give the row of a channel that is calibrated so from a time on."""
    return (
        id_,
        record.name,
        record.group,
        record.position,
        float(record.rate_hz),
        record.integer_type.value,
        to_json(record.coefficients),
        float(record.tare),
        real(record.range_low),
        real(record.range_high),
        clean(record.calibration_id),
        real(from_t_rig_s),
        float(t_wall_utc_s),
    )


def channel_of(row: Any) -> tuple[ChannelRecord, float]:
    """Give the channel of a row and the time from which it is valid, s."""
    record = ChannelRecord(
        name=row[1],
        group=row[2],
        position=row[3],
        rate_hz=row[4],
        integer_type=IntegerType(row[5]),
        coefficients=tuple(json.loads(row[6])),
        tare=row[7],
        range_low=number(row[8]),
        range_high=number(row[9]),
        calibration_id=row[10],
    )
    return record, number(row[11])


def clock_row(triple: ClockTriple, id_: int) -> Row:
    """Give the row of a clock triple."""
    return (
        id_,
        triple.epoch,
        real(triple.t_rig_s),
        float(triple.t_mono_s),
        float(triple.t_wall_utc_s),
        triple.boot_id,
    )


def clock_of(row: Any) -> ClockTriple:
    """Give the clock triple of a row."""
    return ClockTriple(row[1], number(row[2]), row[3], row[4], row[5])
