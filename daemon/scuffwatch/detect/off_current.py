"""At or below which current a motor is off, where nobody has stated what it draws without load.

Reads current and speed, gives a current. A motor on a small rig may run on a tenth of an ampere: what is nothing to a
larger one is then all it draws, and nothing would watch its contact.
"""

from scuffwatch.detect.motor_params import OFF_SHARE, MotorParams
from scuffwatch.detect.smooth import Usual

_LEARNED_S, _EVEN_S = 2.0, 2.0
_EVEN_SHARE = 0.03
"""A ring that coasts loses more between a mean of half a second and one of two: a time constant of less than 50 s."""
_SIGMAS, _ABOVE_ZERO_TIMES = 5.0, 2.0
"""A current that is not so far out of its noise, and above what it was beside a ring that stood, may be no motor's."""


class OffCurrent:
    """Learn it once, from the first two seconds in which the tachometer shows an even speed; stated, it stays as it is.

    Without a tachometer from two seconds in which the contact rubs, after two in which it did not.

    Args:
        params: see `MotorParams`.

    What survives a call: what the current is beside a ring that stands and beside one that turns, and the limit.

    Attributes:
        a: the current, A; only ever less than `MotorParams.off_current_a`.
    """

    def __init__(self, params: MotorParams) -> None:
        self.a = params.off_current_a
        self.is_known = params.no_load_current_a > 0.0
        self._turning_rpm = params.turning_above_rpm
        self._now_rpm, self._even_rpm = Usual(_EVEN_S / 4.0), Usual(_EVEN_S)
        self._zero_a, self._on_a = Usual(_LEARNED_S), Usual(_LEARNED_S)

    def learn(self, current_a: float, sigma_a: float, speed_rpm: float, dt_s: float, *, rubs: bool) -> None:
        """Take a slice of a motor whose limit is not known yet; NaN where either is not measured.

        Args:
            current_a: magnitude of the current, A.
            sigma_a: its noise, A.
            speed_rpm: of the ring.
            dt_s: length of the slice, s.
            rubs: whether friction is measured, and is that of a contact that slides.
        """
        if speed_rpm != speed_rpm:
            self._learn_by_friction(current_a, sigma_a, dt_s, rubs)
            return
        if speed_rpm <= self._turning_rpm:
            self._zero_a.learn(current_a, dt_s)
            for mean in (self._now_rpm, self._even_rpm, self._on_a):
                mean.forget()
            return
        self._now_rpm.learn(speed_rpm, dt_s)
        self._even_rpm.learn(speed_rpm, dt_s)
        if not abs(self._now_rpm.value - self._even_rpm.value) <= _EVEN_SHARE * self._even_rpm.value:
            self._on_a.forget()
            self._even_rpm.seed(self._now_rpm.value, self._now_rpm.memory_s)
            return
        self._on_a.learn(current_a, dt_s)
        if self._on_a.learned_s >= _LEARNED_S:
            self._settle(sigma_a)

    def _learn_by_friction(self, current_a: float, sigma_a: float, dt_s: float, rubs: bool) -> None:
        """Take a slice without a tachometer: a contact that did not rub, and does now, is on a ring that turns."""
        if not rubs:
            self._zero_a.learn(current_a, dt_s)
            self._on_a.forget()
        elif self._zero_a.learned_s >= _LEARNED_S:
            self._on_a.learn(current_a, dt_s)
            if self._on_a.learned_s >= _LEARNED_S:
                self._settle(sigma_a)

    def _settle(self, sigma_a: float) -> None:
        on_a, zero_a = self._on_a.value, self._zero_a.value if self._zero_a.learned_s >= _LEARNED_S else 0.0
        if on_a - zero_a < _SIGMAS * sigma_a or on_a < _ABOVE_ZERO_TIMES * zero_a:
            self._on_a.forget()
            return
        self.a = min(self.a, zero_a + OFF_SHARE * (on_a - zero_a))
        self.is_known = True
