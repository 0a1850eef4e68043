"""The simulated rig as a process: real time, a pty, a panel, and a witness that is told of every pulse.

Reads the clock, bytes from the host and requests at the panel; gives bytes and pulses. The lease is counted in real
milliseconds whatever the speed. A rig that cannot keep up says so in its status; it never stretches time in silence.
"""

import contextlib
import math
import select
import socket
import struct
import time
from collections import deque
from pathlib import Path

from scuffwatch.sim.cable import Cable
from scuffwatch.sim.faults import ON_A_SENSOR, Fault, Sent
from scuffwatch.sim.machine import Machine, scenario_named
from scuffwatch.sim.own_clock import OwnClock
from scuffwatch.sim.panel import Json, Panel
from scuffwatch.sim.scenario import SCENARIOS
from scuffwatch.wire.protocol import ResetCause

BATCH_S = 0.020
"""Rig time that is let pass at once: one data block."""
BEHIND_MAX_S = 0.1
"""Further behind than this, in real time, the lost time is given up and counted."""
IDLE_S = 0.005
PATIENCE_S = 0.3
"""Faster than real time, the rig waits this long for a host that does not take its bytes; then it drops them. At real
time it never waits, as a real one does not."""
WITNESS = struct.Struct("<cqq")
_OK: Json = {"ok": True}


class Shell:
    """One simulated rig in real time.

    Args:
        machine: the rig.
        link, panel: paths of the cable's link and of the panel's socket.
        speed: rig seconds in one real second.
        witness: socket of the witness, or None.
        excuse_pauses: whether time stands still while the computer leaves this process standing (`own_clock`).
    """

    def __init__(
        self,
        machine: Machine,
        link: Path,
        panel: Path,
        speed: float,
        witness: Path | None = None,
        *,
        excuse_pauses: bool = False,
    ) -> None:
        self._machine = machine
        self._speed = speed
        self._cable = Cable(link)
        self._panel = Panel(panel, self._act)
        self._witness: socket.socket | None = None
        if witness is not None:
            self._witness = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
            self._witness.setblocking(False)
            self._witness.connect(str(witness))
        self._clock = OwnClock(excuse_pauses)
        self._began_mono_s = self._base_mono_s = self._clock.now_mono_s()
        self._behind_s = 0.0
        self._batch = max(1, round(BATCH_S * machine.rate_hz))
        self._waiting: deque[Sent] = deque(maxlen=1000)
        self._taken_mono_s = self._began_mono_s
        self._stopping = False

    def stop(self) -> None:
        """End the loop after this turn."""
        self._stopping = True

    def run(self) -> None:
        """Run until stopped."""
        try:
            while not self._stopping:
                self._turn()
        finally:
            self._cable.pull()
            self._panel.close()
            if self._witness is not None:
                self._witness.close()

    def _turn(self) -> None:
        self._clock.begin_turn()
        self._pulse()
        self._send()
        now_mono_s = self._clock.now_mono_s()
        if now_mono_s >= self._due_mono_s() and not self._holds_back(now_mono_s):
            self._machine.advance(self._batch, now_mono_s)
            self._give_up_lost_time(now_mono_s)
            if self._machine.cable_pulled:
                self._machine.cable_pulled = False
                self._cable.pull()
            self._pulse()
            self._send()
        self._wait()

    def _holds_back(self, now_mono_s: float) -> bool:
        """Say whether time must wait for the host: only faster than real time, and not for long."""
        if self._speed <= 1.0 or (not self._waiting and self._cable.taken):
            self._taken_mono_s = now_mono_s
            return False
        return now_mono_s - self._taken_mono_s < PATIENCE_S

    def _due_mono_s(self) -> float:
        """Give when the next block's time is over."""
        steps = self._machine.steps + self._batch
        return self._base_mono_s + steps / self._machine.rate_hz / self._speed

    def _give_up_lost_time(self, now_mono_s: float) -> None:
        lost_s = now_mono_s - self._due_mono_s()
        if lost_s > BEHIND_MAX_S:
            self._base_mono_s += lost_s
            self._behind_s += lost_s

    def _pulse(self) -> None:
        now_mono_s = self._clock.now_mono_s()
        if self._machine.pulse(now_mono_s):
            self._tell_witness(b"P", self._machine.edges)

    def _send(self) -> None:
        self._waiting.extend(self._machine.frames(self._clock.now_mono_s()))
        patient = self._speed > 1.0 and self._clock.now_mono_s() - self._taken_mono_s < PATIENCE_S
        while self._waiting and not (patient and not self._cable.taken):
            raw, block = self._waiting.popleft()
            if self._cable.write(raw) and block >= 0:
                self._tell_witness(b"B", block)
        self._machine.node.frames_dropped = self._cable.frames_dropped

    def _wait(self) -> None:
        due_mono_s = min(self._due_mono_s(), self._machine.due_mono_s())
        timeout_s = min(max(0.0, due_mono_s - self._clock.now_mono_s()), IDLE_S)
        waiting: list[Cable | socket.socket] = [*self._panel.waiting_on()]
        if self._cable.plugged:
            waiting.append(self._cable)
        ready, _, _ = select.select(waiting, [], [], timeout_s)
        if not ready:
            return
        if self._cable in ready and (data := self._cable.read()):
            self._machine.receive(data, self._clock.now_mono_s())
        self._panel.serve(ready)

    def _tell_witness(self, kind: bytes, number: int) -> None:
        if self._witness is not None:
            with contextlib.suppress(OSError):  # a witness that is gone or slow must not hold the rig up
                self._witness.send(WITNESS.pack(kind, time.monotonic_ns(), number))

    # --- the panel ----------------------------------------------------------------------------------------

    def _act(self, request: Json) -> Json:
        do = str(request.get("do"))
        machine = self._machine
        if do == "status":
            return self._status()
        if do == "press_reset":
            machine.reset.press(machine.t_s, float(request["hold_s"]) * self._speed)
        elif do == "press_mark":
            machine.mark.press(machine.t_s, 0.3)
        elif do == "start_motor":
            return {
                "ok": machine.start_motor(),
                "says": "started" if machine.starter.running else "no supply: no permit",
            }
        elif do == "stop_motor":
            machine.starter.stop()
        elif do in ("guard", "emergency_stop"):
            machine.set_input(do, bool(request["closed"]))
        elif do == "extraction":
            machine.set_input(do, bool(request["on"]))
        elif do == "bath":
            machine.set_input(do, bool(request["up"]))
        elif do == "cable":
            self._cable.plug() if request["plugged"] else self._cable.pull()
        elif do == "restart_rig_box":
            machine.restart_node(ResetCause.BROWN_OUT)
        elif do == "scenario":
            machine.load(scenario_named(str(request["name"])), int(request.get("seed", 1)))
        else:
            return self._switch(do, request)
        return _OK

    def _switch(self, do: str, request: Json) -> Json:
        """Switch a fault of wire, sensor, contactor or starter."""
        if do != "fault":
            return {"ok": False, "says": f"no such act: {do}"}
        name, on = str(request["name"]), bool(request["on"])
        if name == "welded":
            self._machine.contactor.welded = on
        elif name == "restarts":
            self._machine.starter.restarts = on
        elif (fault := Fault(name)) in ON_A_SENSOR:
            self._machine.sensor_faults.switch(fault, str(request["channel"]), on)
        else:
            self._machine.wire_faults.switch(fault, on, request.get("amount"))
        return _OK

    def _status(self) -> Json:
        machine, moments = self._machine, self._machine.moments
        real_s = time.monotonic() - self._began_mono_s
        block_mono_s = machine.node.latch.lease_block_mono_s
        after_s, started_t_s = moments.open_after_block_s, moments.started_t_s
        return {
            "ok": True,
            "scenario": machine.play.scenario.name,
            "seed": machine.play.seed,
            "rate_hz": machine.rate_hz,
            "scenarios": list(SCENARIOS),
            "speed": self._speed,
            "speed_reached": round(machine.t_s / real_s, 2) if real_s > 0 else 0.0,
            "behind_s": round(self._behind_s, 3),
            "excused_s": round(self._clock.excused_s, 3),
            "frames_dropped": self._cable.frames_dropped,
            "cable_plugged": self._cable.plugged,
            "t_rig_s": machine.t_s,
            "started_t_s": started_t_s,
            "since_start_s": None if started_t_s is None else machine.play.rig.t_s,
            "stage": machine.play.stage,
            "finished": machine.play.stopped_by_plan and machine.play.rig.speed_rpm == 0.0,
            "motor_running": machine.starter.running,
            "ring_speed_rpm": round(machine.play.rig.speed_rpm, 1),
            "contactor_closed": machine.contactor.closed,
            "node_permit": machine.node.latch.permit.name.lower(),
            "node_cause": machine.node.latch.cause.name.lower(),
            "guard_closed": machine.closed("guard"),
            "emergency_stop_closed": machine.closed("emergency_stop"),
            "extraction_on": machine.closed("extraction"),
            "bath_up": machine.closed("bath"),
            "permit_off_t_s": moments.permit_off_t_s,
            "contactor_open_t_s": moments.contactor_open_t_s,
            "contactor_open_after_block_ms": None if after_s is None else round(after_s * 1000, 1),
            "stalled_t_s": moments.stalled_t_s,
            "ring_stopped_t_s": moments.ring_stopped_t_s,
            "lease_block_mono_s": block_mono_s if math.isfinite(block_mono_s) else None,
            "leases_refused": machine.node.latch.leases_refused,
            "limits_refused": machine.node.limits_refused,
            "wire_hits": {fault.value: hits for fault, hits in machine.wire_faults.hits.items()},
            "bad_channels": machine.sensor_faults.on,
        }
