"""One run: all samples of one closed run to the time-series store by order of a person, while no uplink runs.

Reads settings and a data folder, sends until all is done or told to stop. It uses the ledger of the full-rate upload:
what was begun goes on, what has been sent is not sent again, and an uplink that runs later knows of it.
"""

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

from scuffwatch.model.errors import CommandRefused
from scuffwatch.store.names import plain
from scuffwatch.store.reader import Archive
from scuffwatch.uplink.app import FOLDER, boot_id, boot_s, hold
from scuffwatch.uplink.closed_runs import ClosedRuns
from scuffwatch.uplink.full_rate import BATCH_MAX_ROWS, NAME, rules
from scuffwatch.uplink.ledger import Ledger, Totals
from scuffwatch.uplink.post import InfluxPost
from scuffwatch.uplink.settings import TimeSeries, secret
from scuffwatch.uplink.tail import stream_parts
from scuffwatch.uplink.timeseries import Sender

Progress = Callable[[Totals, str], None]
TOLD_EVERY_S = 0.5


def send_run(
    given: TimeSeries, rig: str, data_dir: Path, name: str, stop: threading.Event, progress: Progress
) -> Totals:
    """Send one run as fast as the store takes it; give its account.

    Args:
        given: the store.
        rig: name of the rig, for the tags.
        data_dir: the data folder.
        name: of the run.
        stop: set to end early; what is left is sent another time.
        progress: told the account of the run and what the store says, now and then.
    Raises:
        ConfigError: the token cannot be read.
        RecordUnreadable: no such run, or its file cannot be read.
        CommandRefused: the run is not over, or an uplink works for this folder.
    """
    token, name = secret(given.token_file, "[timeseries] token_file"), plain(name)
    _refuse_unfinished(Archive(data_dir), name)
    held = hold(data_dir / FOLDER)
    ledger = Ledger(data_dir / FOLDER / f"{NAME}.sqlite", boot_id(), boot_s())
    post = InfluxPost(given.url, given.org, given.bucket, token, given.timeout_s, given.ca_file, "ns")
    try:
        runs = ClosedRuns(Archive(data_dir), rig, time.time, frozenset({name}))
        sender = Sender(runs, ledger, post, rules(given.batch_rows, BATCH_MAX_ROWS, given.rewind_s))
        told_s = 0.0
        while not stop.is_set():
            pause_s = sender.turn()
            account = _account(ledger, name)
            if not account.queued and not ledger.stretches():
                break
            if boot_s() - told_s > TOLD_EVERY_S:
                told_s = boot_s()
                progress(account, sender.state.says)
            stop.wait(pause_s)
        return _account(ledger, name)
    finally:
        post.close()
        ledger.close()
        if held >= 0:
            os.close(held)


def _refuse_unfinished(archive: Archive, name: str) -> None:
    over = archive.run(name).outcome is not None
    if over:
        with archive.open_run(name) as reader:
            over = reader.stands_alone
    if not over:
        raise CommandRefused("Upload", f"run {name} is not over, or not put in order yet", "Try again after its end.")


def _account(ledger: Ledger, name: str) -> Totals:
    mine = [one for stream, one in ledger.streams().items() if stream_parts(stream)[0] == name]
    return Totals(
        sum(one.produced for one in mine),
        sum(one.sent for one in mine),
        sum(one.quarantined for one in mine),
        sum(one.resent for one in mine),
    )
