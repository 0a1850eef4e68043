"""Ledger: produced = stored + explicitly marked gap, for each group and node epoch, from sample indices.

Reads what is stored and what is marked, gives the account. Nothing is estimated.
"""

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Account:
    """One group in one epoch.

    Attributes:
        group, epoch: whose account.
        first_index, next_index: first sample, and the one after the last.
        stored, marked: samples of each channel in chunks, and in gap marks of known length.
    """

    group: int
    epoch: int
    first_index: int
    next_index: int
    stored: int
    marked: int

    @property
    def produced(self) -> int:
        """Give the samples the node numbered."""
        return self.next_index - self.first_index

    @property
    def balances(self) -> bool:
        """Say whether every sample is accounted for."""
        return self.produced == self.stored + self.marked


class Ledger:
    """The accounts of one run while it is written."""

    def __init__(self, accounts: tuple[Account, ...] = ()) -> None:
        self._accounts = {(account.group, account.epoch): account for account in accounts}

    @property
    def accounts(self) -> tuple[Account, ...]:
        """Give all accounts, by group and epoch."""
        return tuple(self._accounts[key] for key in sorted(self._accounts))

    def next_index(self, group: int, epoch: int) -> int | None:
        """Give the sample that should come next, or None before the first."""
        account = self._accounts.get((group, epoch))
        return None if account is None else account.next_index

    def store(self, group: int, epoch: int, first_index: int, n: int) -> None:
        """Enter stored samples that follow on what is entered."""
        account = self._account(group, epoch, first_index)
        self._put(replace(account, next_index=first_index + n, stored=account.stored + n))

    def mark(self, group: int, epoch: int, first_index: int, n: int) -> None:
        """Enter a marked gap of known length that follows on what is entered."""
        account = self._account(group, epoch, first_index)
        self._put(replace(account, next_index=first_index + n, marked=account.marked + n))

    def _account(self, group: int, epoch: int, first_index: int) -> Account:
        blank = Account(group, epoch, first_index, first_index, 0, 0)
        return self._accounts.get((group, epoch), blank)

    def _put(self, account: Account) -> None:
        self._accounts[account.group, account.epoch] = account
