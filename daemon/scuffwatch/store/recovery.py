"""Recovery: puts the record in order before anybody reads it, and says what was found.

Reads the data folder at start, gives the open journal with one sentence for everything that was not as a clean end
leaves it. Nothing is deleted but half-made files of our own.
"""

from dataclasses import dataclass, field
from pathlib import Path

from scuffwatch.model.errors import RecordUnreadable
from scuffwatch.model.run import Outcome, RunResult
from scuffwatch.store import mark, names, run_file
from scuffwatch.store.journal import Journal, open_journal
from scuffwatch.store.settling import settle_and_close
from scuffwatch.store.storage import Storage, cannot_open, closed_on_error, is_damaged
from scuffwatch.store.text import header_from_json, number

_RUNS_COMPARED = 3
_NAMED_AT_MOST = 5


@dataclass(slots=True)
class Recovered:
    """What a start found.

    Attributes:
        journal: open, with the chain's end known.
        says: one sentence for each thing that was not in order.
        ended: runs ended by power loss that this start found.
        unmerged: closed runs still to be merged.
        run_names: every run name in use.
    """

    journal: Journal
    says: list[str] = field(default_factory=list)
    ended: list[str] = field(default_factory=list)
    unmerged: list[str] = field(default_factory=list)
    run_names: set[str] = field(default_factory=set)


def recover(storage: Storage, data_dir: Path) -> Recovered:
    """Put journal and runs in order."""
    found = _sound_journal(storage, data_dir)
    with closed_on_error(found.journal):
        _put_all_in_order(storage, data_dir, found)
    return found


def _put_all_in_order(storage: Storage, data_dir: Path, found: Recovered) -> None:
    unclean_t_wall_utc_s = found.journal.unclean_start()
    if unclean_t_wall_utc_s is not None:
        found.says.append("The core ended without closing the record: power loss or kill. What was committed is here.")
    _compare_mark(storage, data_dir, found)
    _runs(storage, data_dir, found)


def _sound_journal(storage: Storage, data_dir: Path) -> Recovered:
    path = data_dir / names.JOURNAL
    try:
        journal = open_journal(storage, data_dir)
        with closed_on_error(journal):
            if journal.sound():
                return _compared_chain(journal)
        journal.close()
    except storage.errors as error:
        if not is_damaged(error):
            raise
    aside = _free_name(storage, path, ".damaged")
    for ending in ("-wal", "-shm"):
        log = path.with_name(path.name + ending)
        if storage.exists(log):
            storage.replace(log, aside.with_name(aside.name + ending))
    storage.replace(path, aside)
    says = f"The journal was damaged. It is kept as {aside.name}; a new one was made from the run files."
    return Recovered(open_journal(storage, data_dir), [says])


def _compared_chain(journal: Journal) -> Recovered:
    broken = journal.first_broken()
    if broken is None:
        return Recovered(journal)
    return Recovered(journal, [f"The journal was changed from outside: event {broken} does not follow on the last."])


def _free_name(storage: Storage, path: Path, ending: str) -> Path:
    serial = 1
    while storage.exists(path.with_name(f"{path.name}{ending}{serial}")):
        serial += 1
    return path.with_name(f"{path.name}{ending}{serial}")


def _compare_mark(storage: Storage, data_dir: Path, found: Recovered) -> None:
    journal, seen = found.journal, mark.read(storage, data_dir)
    if seen is None:
        return
    there = journal.hash_at(seen.number)
    if seen.number > journal.number:
        _flag_older(found, seen.number)
    elif there is not None and there != seen.hash:
        found.says.append(f"The journal is another one than this folder had: event {seen.number} is not the same.")


def _flag_older(found: Recovered, number_: int) -> None:
    last = found.journal.number
    found.says.append(
        f"The journal is older than this folder had: events {last + 1} to {number_} are missing. "
        "It was put back from a copy, or its log was lost. Numbers go on behind the missing ones."
    )
    found.journal.skip_to(number_)


def _runs(storage: Storage, data_dir: Path, found: Recovered) -> None:
    folder = data_dir / names.RUNS_FOLDER
    known = found.journal.runs()
    files, foreign = [], []
    for file in storage.names(folder):
        if file.endswith((names.MERGE_SUFFIX, names.MERGE_SUFFIX + "-journal")):
            storage.remove(folder / file)
        elif file.endswith(names.RUN_SUFFIX) and names.parts(file.removesuffix(names.RUN_SUFFIX)) is not None:
            files.append(file.removesuffix(names.RUN_SUFFIX))
        elif names.parts(file.partition(names.RUN_SUFFIX)[0]) is None:
            foreign.append(file)
    _name_foreign(foreign, found)
    found.run_names = set(known) | set(files)
    newest = set(sorted(files)[-_RUNS_COMPARED:])
    for name in files:
        outcome, merged = known.get(name, (None, False))
        if outcome is None or not merged or name in newest:
            _one_run(storage, data_dir, name, name in known, outcome, found)
    for name, (outcome, _) in known.items():
        if outcome is None and name not in files:
            found.journal.end_without_outcome(name, float("nan"), (), "Its file is missing.")
            found.says.append(f"Run {name} was open, and its file is missing.")


def _name_foreign(files: list[str], found: Recovered) -> None:
    if files:
        more = f" and {len(files) - _NAMED_AT_MOST} more" if len(files) > _NAMED_AT_MOST else ""
        named = ", ".join(files[:_NAMED_AT_MOST]) + more
        found.says.append(f"Not a run of this program, and left alone in folder {names.RUNS_FOLDER}: {named}.")


def _one_run(storage: Storage, data_dir: Path, name: str, known: bool, outcome: str | None, found: Recovered) -> None:
    path = run_file.run_path(data_dir, name)
    try:
        file = run_file.open_run_file(storage, path)
    except RecordUnreadable as error:
        found.says.append(error.sentence())
        return
    except ValueError as error:
        aside = _free_name(storage, path, ".unfinished")
        storage.replace(path, aside)
        found.says.append(f"Run {name} could not be opened ({error}). Its file is kept as {aside.name}.")
        return
    except storage.errors as error:
        if outcome is not None and cannot_open(error):
            found.says.append(f"The file of run {name} cannot be opened: {error}. It was left as it is.")
            return
        if not is_damaged(error):
            raise
        if outcome is None and known:
            found.journal.end_without_outcome(name, float("nan"), (), f"Its file is damaged: {error}.")
        found.says.append(f"The file of run {name} is damaged: {error}.")
        return
    with closed_on_error(file):
        try:
            _put_in_order(name, file, known, outcome, found)
        except (KeyError, ValueError) as error:
            says = f"The header of run {name} cannot be read: {error!r}."
            if outcome is None and known:
                found.journal.end_without_outcome(name, float("nan"), (), says)
            found.says.append(says)
    settle_and_close(storage, path, file)


def _put_in_order(name: str, file: run_file.RunFile, known: bool, outcome: str | None, found: Recovered) -> None:
    journal = found.journal
    if file.last_event() > journal.number:
        _flag_older(found, file.last_event())
    text, t_open_rig_s, t_open_utc_s = file.header_json()
    if not known:
        journal.open_run(header_from_json(text), t_open_rig_s, t_open_utc_s)
        found.says.append(f"Run {name} was not in the journal and has been entered from its file.")
    if outcome is None or not known:
        if file.has_outcome():
            _, first_out, t_end_s, t_wall_utc_s, interrupted = file.result_row()
            ended = Outcome(str(file.result_row()[0]))
            result = RunResult(ended, str(first_out), number(t_end_s), file.stages(), bool(interrupted))  # type: ignore[arg-type]
            journal.close_run(name, result, float(t_wall_utc_s), file.digest())  # type: ignore[arg-type]
        else:
            t_last_s, stages = file.recover(journal.events_of(name))
            says = f"Its last sample is at {t_last_s:.3f} s."
            journal.end_without_outcome(name, t_last_s, stages, says)
            found.ended.append(name)
            found.says.append(f"Run {name} was ended by power loss. {says}")
    if file.is_merged():
        journal.set_merged(name)
    else:
        found.unmerged.append(name)
