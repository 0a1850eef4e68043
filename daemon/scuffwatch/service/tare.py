"""When a zero may be taken.

Reads the core's state, gives the value to subtract or refuses with the reason.
"""

from typing import TYPE_CHECKING

from scuffwatch.guard.values import PermitState
from scuffwatch.model.channel import Quality, unit_of
from scuffwatch.model.errors import CommandRefused

if TYPE_CHECKING:
    from scuffwatch.service.core import Core

SHARE_MAX = 0.05
"""A zero further from 0 than this share of the channel's range is a fault of the sensor, not a zero."""


def checked_value(core: "Core", channel: str) -> float:
    """Give the present value of a channel as a zero.

    Raises:
        CommandRefused: see `Core.tare`.
    """
    what = f"Zero of {channel}"
    configured = core.settings.channels.get(channel)
    if configured is None:
        raise CommandRefused(what, "the rig has no such channel", f"It has {', '.join(core.settings.channels)}.")
    if core.guard.permit is not PermitState.TRIPPED or core.chain.bank.ring_turning is not False:
        raise CommandRefused(what, "the motor is permitted or the ring is not known to be at rest", "Stop the motor.")
    seen = core.last_slice.channels.get(channel) if core.last_slice and core.link.up else None
    if seen is None or seen.quality is Quality.BAD:
        raise CommandRefused(what, "there is no good value", "Look at the sensor and its cable.")
    low, high = configured.range
    limit = SHARE_MAX * (high - low)
    if abs(configured.tare + seen.mean) > limit:
        unit = unit_of(channel)
        zero = configured.tare + seen.mean
        why = f"it would be {zero:.4g} {unit}, limit ±{limit:.4g} {unit} ({SHARE_MAX:.0%} of range)"
        raise CommandRefused(what, why, "Unload the sensor; if it is unloaded, have it looked at.")
    return seen.mean
