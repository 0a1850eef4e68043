"""The bank: every detector of one rig, built in one place and asked in one order.

Reads slices and the contactor's state, gives one result a slice. Last room before the guard.
"""

import math
from dataclasses import dataclass

from scuffwatch.detect.blind import blind_to
from scuffwatch.detect.heat import HeatForecast, HeatParams
from scuffwatch.detect.interference import Interference
from scuffwatch.detect.limits import HardLimit, LimitParams
from scuffwatch.detect.lost_current import LostCurrent
from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.nearness import Near
from scuffwatch.detect.opening import Opening
from scuffwatch.detect.scuffing import ScuffWatch
from scuffwatch.detect.scuffing_params import ScuffParams
from scuffwatch.detect.sensor_fault import SensorFaults, SensorParams
from scuffwatch.detect.slow_spikes import SlowSpikes
from scuffwatch.detect.stage import NO_STAGE, StageNow, StageParams, StageTracker
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.detect.unwatched import Unwatched
from scuffwatch.model.block import Slice, hot_value
from scuffwatch.model.channel import BATH_TEMPERATURE, PIN_TEMPERATURE, Quality
from scuffwatch.model.finding import Finding, FindingKind
from scuffwatch.model.run import StageRecord

_RUNNING = MotorState.RUNNING


@dataclass(frozen=True, slots=True)
class BankParams:
    """Parameters of all detectors.

    Attributes:
        limits: hard limits.
        sensors: channels that must speak.
        motor: None where neither speed nor current is measured: then nothing tells stall, start or stop.
        heat: temperatures to look ahead on.
        scuffing: None where neither friction nor current is measured.
        stage: how stages are told apart.
    """

    limits: tuple[LimitParams, ...] = ()
    sensors: tuple[SensorParams, ...] = ()
    motor: MotorParams | None = None
    heat: tuple[HeatParams, ...] = ()
    scuffing: ScuffParams | None = None
    stage: StageParams = StageParams()  # noqa: RUF009 - frozen, and holds nothing that is not


@hot_value
class BankResult:
    """What all detectors say of one slice.

    Attributes:
        new: findings that became true in it, the motor's first, then limits that wait for its start, scuffing, other
            limits, sensors, heat, a lost current, stage.
        standing: trips and warnings that are true now.
        ring_turning: whether the ring turns; None where it is not known.
        trip_channels_good: whether no channel that must be there is missing or BAD. UNCERTAIN passes: a slice of which
            some samples were lost still decides.
    """

    new: tuple[Finding, ...]
    standing: tuple[Finding, ...]
    ring_turning: bool | None
    trip_channels_good: bool


class Bank:
    """Ask every detector about every slice.

    Args:
        params: see `BankParams`.

    What survives a call: the detectors' state, the stages of the run.

    Raises:
        ValueError: a limit waits for the motor to start and there is no motor to watch.
    """

    def __init__(self, params: BankParams) -> None:
        if params.motor is None and any(limit.after_start for limit in params.limits):
            raise ValueError("a limit counts only after the start, and no motor is watched")
        self._params = params
        self._run_limits: tuple[LimitParams, ...] = ()
        self._run_heat: tuple[HeatParams, ...] = ()
        self._make()
        self._stage_params = params.stage
        self._last: Slice | None = None
        self._stages: StageTracker | None = None
        self._stages_taken = 0

    def _make(self) -> None:
        params = self._params
        self._motor = MotorWatch(params.motor) if params.motor is not None else None
        self._scuffing = ScuffWatch(params.scuffing) if params.scuffing is not None else None
        self._start_limits = [HardLimit(limit) for limit in params.limits if limit.after_start]
        self._sensors = SensorFaults(params.sensors)
        self._interference, self._opening = Interference(), Opening()
        self._slow_spikes = SlowSpikes()
        motor, scuffing = params.motor, params.scuffing
        self._unwatched = Unwatched(knows_cell=scuffing is None or scuffing.mechanics.knows_load_cell)
        self._lost_current = LostCurrent(motor.turning_above_rpm) if motor is not None else None
        self._detectors: list[HardLimit | SensorFaults | HeatForecast] = [
            *(HardLimit(limit) for limit in (*params.limits, *self._run_limits) if not limit.after_start),
            self._sensors,
            *(HeatForecast(heat) for heat in (*params.heat, *self._run_heat)),
        ]
        self._beside_heat = [one for one in self._detectors if not _judges_heat(one)]

    def update(self, s: Slice, contactor_closed: bool | None = None) -> BankResult:
        """Take the next slice.

        Args:
            s: slice with the derived channels.
            contactor_closed: state of the contactor that the permit holds; None where it is not known.
        Returns:
            What the detectors say of it.
        """
        believed, lost = not self._interference.update(s), self._lost_current
        came = s = self._opening.believed(s)
        s = self._slow_spikes.believed(s, not believed)
        self._last = s = s if lost is None else lost.believed(s)
        new: tuple[Finding, ...] = ()
        motor, turning = self._motor, None
        if motor is not None:
            if believed or contactor_closed is False:
                new = motor.update(s, contactor_closed)
            turning = motor.ring_turning
            if turning is not None:
                self._sensors.is_at_rest = not turning
            self._sensors.is_starting = motor.state is not _RUNNING
            self._sensors.resting = motor.resting
            if self._start_limits:
                armed = motor.armed
                for limit in self._start_limits:
                    new += limit.update(s, armed)
        if self._scuffing is not None and believed:
            new += self._scuffing.update(s, motor is None or motor.state is _RUNNING)
            if contactor_closed is not False and not self._unwatched.has_been_watched:
                self._unwatched.take(s, watches=self._scuffing.watches, turning=turning)
        # A temperature that jumps as none can is beyond no limit, and on no way to it, however few values there are.
        for detector in self._detectors if believed else self._beside_heat:
            new += detector.update(came if detector is self._sensors else s)
        if lost is not None and motor is not None:
            new += lost.update(came, motor.state is _RUNNING, motor.off_current_a)
        if self._stages is not None:
            new += self._stages.update(s, turning)
        return BankResult(new, self.standing, turning, self._sensors.trip_channels_good)

    @property
    def standing(self) -> tuple[Finding, ...]:
        """Give the trips and warnings that are true now."""
        standing = self._motor.standing if self._motor is not None else ()
        if self._lost_current is not None:
            standing += self._lost_current.standing
        if self._scuffing is not None:
            standing += self._scuffing.standing
        for limit in self._start_limits:
            standing += limit.standing
        for detector in self._detectors:
            standing += detector.standing
        return standing

    @property
    def nearness(self) -> tuple[Near, ...]:
        """Give how near each kind of scuffing evidence is to its limit; a kind without a channel is left out."""
        return () if self._scuffing is None or self._last is None else self._scuffing.nearness(self._last)

    @property
    def ring_turning(self) -> bool | None:
        """Say whether the ring turns; None where it is not known."""
        return self._motor.ring_turning if self._motor is not None else None

    def reset(self) -> None:
        """Begin anew: the guard has become permitted. Stages go on."""
        if self._motor is not None:
            self._motor.reset()
        if self._lost_current is not None:
            self._lost_current.reset()
        if self._scuffing is not None:
            self._scuffing.reset()
        for detector in (*self._start_limits, *self._detectors):
            detector.reset()

    @property
    def blind_to(self) -> tuple[str, ...]:
        """Give the kinds of finding that no channel can show now."""
        return tuple(kind.value for kind in self._blind_to())

    def _blind_to(self) -> tuple[FindingKind, ...]:
        s = self._last
        if s is None:
            return ()
        good = {name for name, channel in s.channels.items() if channel.quality is not Quality.BAD}
        if self._motor is not None:
            good.update(self._motor.resting)
        temperatures = {PIN_TEMPERATURE, BATH_TEMPERATURE}
        has_limit = any(limit.channel in temperatures and limit.channel in good for limit in self._params.limits)
        knows_held = self._motor is not None and self._motor.knows_held_current
        found = blind_to(good, s.duration_s, has_limit, knows_held_current=knows_held)
        unseen = self._unwatched.is_told and FindingKind.SCUFFING_ONSET not in found
        return (FindingKind.SCUFFING_ONSET, *found) if unseen else found

    # --- stages of the open run ---------------------------------------------------------------------------

    def start_run(
        self,
        loads_n: tuple[float, ...] = (),
        dwell_s: float = math.nan,
        *,
        limits: tuple[LimitParams, ...] = (),
        heat: tuple[HeatParams, ...] = (),
    ) -> None:
        """Begin to tell stages, with detectors that know nothing yet; outside a run there are no stages.

        So a run's findings follow from its own record alone.

        Args:
            loads_n: load of each stage of the plan, N; may be empty.
            dwell_s: planned dwell, s; NaN where there is none.
            limits, heat: what this run's lubricant adds; it stays in the bath until the next run.
        """
        self._run_limits, self._run_heat = limits, heat
        self._make()
        self._stages = StageTracker(self._stage_params, loads_n, dwell_s)
        self._stages_taken = 0

    def finish_run(self, t_rig_s: float) -> tuple[StageRecord, ...]:
        """End the run's last stage and give all its stages, in order; nothing where no run is open."""
        stages, self._stages = self._stages, None
        return stages.finish(t_rig_s) if stages is not None else ()

    def mark(self) -> None:
        """Take the word of the mark button: weight is on. It counts with the next slice."""
        if self._stages is not None:
            self._stages.mark()

    @property
    def stage(self) -> StageNow:
        """Give the stage that lasts."""
        return self._stages.current if self._stages is not None else NO_STAGE

    def take_closed_stages(self) -> tuple[StageRecord, ...]:
        """Give the stages of the open run that have ended since the last call."""
        if self._stages is None:
            return ()
        closed = tuple(self._stages.closed[self._stages_taken :])
        self._stages_taken += len(closed)
        return closed


def _judges_heat(detector: HardLimit | SensorFaults | HeatForecast) -> bool:
    if isinstance(detector, HardLimit):
        return detector.channel in (PIN_TEMPERATURE, BATH_TEMPERATURE)
    return isinstance(detector, HeatForecast)


def make_bank(params: BankParams) -> Bank:
    """Give the bank of one rig."""
    return Bank(params)
