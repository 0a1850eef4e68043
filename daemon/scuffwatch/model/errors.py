"""Errors: what went wrong, whose turn it is, with the numbers as fields.

Reads nothing. Three branches: the operator can act, a technician must change the configuration, or it is our fault.
Text is made at the edge by `sentence()`.
"""


class ScuffwatchError(Exception):
    """Root of all errors this project raises on purpose."""

    def sentence(self) -> str:
        """Give the sentence a person reads: what, against which limit, what has been done, what to do next."""
        return str(self)


class OperatorError(ScuffwatchError):
    """Somebody at the bench can put it right."""


class RigNotConnected(OperatorError):
    """The rig box does not answer, or another one does.

    Args:
        port: device path.
        why: one clause.
        do: what to do next, one sentence.
    """

    def __init__(self, port: str, why: str, do: str) -> None:
        super().__init__(port, why, do)
        self.port, self.why, self.do = port, why, do

    def sentence(self) -> str:
        """Give the sentence a person reads."""
        return f"Rig box at {self.port}: {self.why}. The motor permit stays off. {self.do}"


class CommandRefused(OperatorError):
    """A command cannot be done now.

    Args:
        what: the command.
        why: one clause with value and limit.
        do: what to do next, one sentence.
    """

    def __init__(self, what: str, why: str, do: str) -> None:
        super().__init__(what, why, do)
        self.what, self.why, self.do = what, why, do

    def sentence(self) -> str:
        """Give the sentence a person reads."""
        return f"{self.what} refused: {self.why}. Nothing has been changed. {self.do}"


class RecordUnreadable(OperatorError):
    """A run file or the journal cannot be read as a record."""


class DiskFull(OperatorError):
    """There is no room left for samples."""


class ConfigError(ScuffwatchError):
    """The configuration must be changed.

    Args:
        problems: every problem found, one sentence each; never empty.
    """

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def sentence(self) -> str:
        """Give all problems, one a line."""
        return "\n".join(self.problems)


class InternalError(ScuffwatchError):
    """We broke a rule of our own; the trip it causes is right, the reason is ours."""


class LocalProtocolError(InternalError):
    """We tried to build a frame the protocol does not allow."""
