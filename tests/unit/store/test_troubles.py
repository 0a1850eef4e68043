"""Troubles: each part rests by itself, longer each time, and says so once."""

from scuffwatch.store.troubles import Troubles

FULL = OSError("disk full")


def test_each_failure_doubles_the_rest_up_to_its_limit_and_work_ends_it() -> None:
    troubles = Troubles(("journal", "run"), 1.0, 5.0)
    rests_s, t_s = [], 0.0
    for _ in range(5):
        troubles.failed("run", FULL, t_s, busy=False)
        rest_s = next(rest for rest in range(10) if troubles.may_try("run", t_s + rest))
        rests_s.append(rest_s)
        t_s += rest_s
    assert rests_s == [1, 2, 4, 5, 5]
    assert troubles.may_try("journal", 0.0)
    assert troubles.over("run")
    troubles.failed("run", FULL, t_s, busy=False)
    assert troubles.may_try("run", t_s + 1.0)


def test_a_failure_is_said_once_until_the_part_has_worked() -> None:
    troubles = Troubles(("run",), 1.0, 5.0)
    assert not troubles.over("run")
    assert troubles.failed("run", FULL, 0.0, busy=False)
    assert not troubles.failed("run", OSError("read-only"), 1.0, busy=False)
    assert troubles.stands("run")
    assert troubles.says == ("Recording failed (run): read-only.",)
    assert troubles.over("run")
    assert troubles.says == ()
    assert troubles.failed("run", FULL, 2.0, busy=False)


def test_a_busy_file_is_asked_again_soon_however_often() -> None:
    troubles = Troubles(("run",), 1.0, 60.0)
    for t_s in range(0, 40, 10):
        troubles.failed("run", FULL, float(t_s), busy=True)
        assert not troubles.may_try("run", t_s + 0.9)
        assert troubles.may_try("run", t_s + 1.0)
