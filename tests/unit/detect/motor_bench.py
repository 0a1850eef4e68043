"""A motor watch and the rows it is given, for tests of single situations."""

from collections.abc import Iterable

from slice_makers import make

from scuffwatch.detect.motor_params import MotorParams
from scuffwatch.detect.stall import MotorState, MotorWatch
from scuffwatch.model.block import ChannelSlice
from scuffwatch.model.finding import Finding, FindingKind, Level

SPEED, CURRENT, MU, LOAD = "ring_speed_rpm", "motor_current_a", "friction_coefficient", "normal_load_n"
Row = dict[str, ChannelSlice | float]


class Bench:
    """A watch and the rows it has been given."""

    def __init__(self, **params: float | Level) -> None:
        given = {"speed_set_rpm": 600.0, "no_load_current_a": 0.6, **params}
        self.watch = MotorWatch(MotorParams(**given))  # type: ignore[arg-type]
        self.index = 0
        self.found: list[tuple[int, Finding]] = []

    def feed(self, rows: Iterable[Row], contactor_closed: bool | None = None, **place: float | int) -> int:
        first = self.index
        for row in rows:
            for finding in self.watch.update(make(self.index, row, **place), contactor_closed):  # type: ignore[arg-type]
                self.found.append((self.index, finding))
            place = {key: value for key, value in place.items() if key == "epoch"}
            self.index += 1
        return first

    def start(self, contactor_closed: bool | None = None, **without: bool) -> None:
        rows = [row_of(600.0 * min(1.0, k / 50), 6.0, **without) for k in range(50)]
        rows += [row_of(595.0, 2.0, **without)] * 400
        self.feed(rows, contactor_closed)
        assert self.watch.state is MotorState.RUNNING
        assert self.found == []

    @property
    def kinds(self) -> list[FindingKind]:
        return [finding.kind for _, finding in self.found]


def row_of(
    speed_rpm: float, current_a: float, mu: float = 0.1, *, no_speed: bool = False, no_current: bool = False
) -> Row:
    row: Row = {MU: mu, SPEED: speed_rpm, CURRENT: current_a}
    if no_speed:
        del row[SPEED]
    if no_current:
        del row[CURRENT]
    return row
