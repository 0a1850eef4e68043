"""The link to the rig box: greeting, identity, its own limits, and silence.

Reads frames and the host's monotonic clock, gives frames to send and findings. Any doubt keeps the permit off.
"""

from scuffwatch.model.channel import GroupLayout
from scuffwatch.model.finding import Finding
from scuffwatch.service import causes
from scuffwatch.wire.protocol import CountLimit, Hello, HelloRequest, Limits, Status, encode, limits_id_of

ASK_AGAIN_S = 0.5
"""Greeting and limits are sent again this often until they are answered."""


class Link:
    """What is known of the rig box at the other end.

    Args:
        identity: the name it must give.
        channels: names it must have.
        max_silence_s: silence of the deciding group after which the link is lost, s of host time.

    What survives a call: the last hello, when data last came, which limits were sent.
    """

    def __init__(self, identity: str, channels: tuple[str, ...], max_silence_s: float) -> None:
        self._identity = identity
        self._channels = channels
        self.max_silence_s = max_silence_s
        self.hello: Hello | None = None
        self.status: Status | None = None
        self.fault: Finding | None = None
        self.entries: tuple[CountLimit, ...] = ()
        self.up = False
        self._heard_mono_s = float("-inf")
        self._asked_mono_s = float("-inf")

    @property
    def limits_confirmed(self) -> bool:
        """Say whether the rig box holds the limits made for it."""
        return bool(self.entries) and self.status is not None and self.status.limits_id == limits_id_of(self.entries)

    def age_s(self, t_mono_s: float) -> float:
        """Give how long ago data last came, s."""
        return t_mono_s - self._heard_mono_s

    def greet(self, hello: Hello, t_rig_s: float) -> None:
        """Take a hello; another rig box, or one without a configured channel, is a standing fault."""
        self.hello = hello
        missing = tuple(name for name in self._channels if name not in _names(hello.groups))
        if hello.identity != self._identity:
            self.fault = causes.wrong_identity(hello.identity, self._identity, t_rig_s)
        elif missing:
            self.fault = causes.channels_missing(missing, t_rig_s)
        else:
            self.fault = None
        self._asked_mono_s = float("-inf")

    def heard(self, t_mono_s: float) -> bool:
        """Note that data came; true where the link has just come up."""
        self._heard_mono_s = t_mono_s
        came_up = not self.up and self.hello is not None and self.fault is None
        self.up = self.up or came_up
        return came_up

    def went_silent(self, t_mono_s: float) -> bool:
        """Say whether the link has just been lost by silence."""
        lost = self.up and self.age_s(t_mono_s) > self.max_silence_s
        self.up = self.up and not lost
        return lost

    def closed(self) -> bool:
        """Note that the device has gone; true where the link was up."""
        was_up, self.up = self.up, False
        self.hello = None
        self.status = None
        return was_up

    def requests(self, t_mono_s: float) -> bytes:
        """Give what must be asked of the rig box now, or nothing."""
        if t_mono_s - self._asked_mono_s < ASK_AGAIN_S:
            return b""
        if self.hello is None:
            asks = encode(HelloRequest())
        elif self.fault is None and self.entries and not self.limits_confirmed:
            asks = encode(Limits(limits_id_of(self.entries), self.entries))
        else:
            return b""
        self._asked_mono_s = t_mono_s
        return asks


def _names(groups: tuple[GroupLayout, ...]) -> set[str]:
    return {name for group in groups for name in group.channels}
