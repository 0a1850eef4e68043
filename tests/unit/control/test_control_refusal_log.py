"""The log of refused lines: a few in full, then a number a minute."""

import logging

import pytest

from scuffwatch.control.inbox import Peer
from scuffwatch.control.refusal_log import IN_FULL, RefusalLog


def test_the_rest_is_a_number_once_a_minute(caplog: pytest.LogCaptureFixture) -> None:
    log = RefusalLog(logging.getLogger("scuffwatch.control.test"), 100.0)
    for _ in range(IN_FULL + 37):
        log.refused(Peer(1000, 1000, 7), "Mark refused:\nno.")
    log.sweep(159.9)
    assert len(caplog.messages) == IN_FULL
    assert caplog.messages[0] == "command line from uid 1000, gid 1000, pid 7: Mark refused:\\nno."
    log.sweep(160.0)
    log.sweep(220.0)
    assert caplog.messages[IN_FULL:] == ["37 more command lines refused in 60 s"]
    log.refused(Peer(1000, 1000, 7), "Mark refused.")
    assert len(caplog.messages) == IN_FULL + 2
