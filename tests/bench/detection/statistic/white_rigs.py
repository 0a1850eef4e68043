"""`WhiteBank` over many rigs at once, to the same bits: what the campaigns of the statistic run on."""

from copy import deepcopy

import numpy as np
from numpy.typing import NDArray

from scuffwatch.detect.cusum import CusumParams, bank_params, near_rigs, update_rigs
from scuffwatch.detect.whiten import WhiteBankParams, raised_thresholds, shift_left

Array = NDArray[np.float64]
_MEMBERS = 6


class WhiteRigs:
    """Every attribute is (rigs,) float64 but `sums`, `ks`, `hs`: (members, rigs). Residuals must be finite."""

    def __init__(self, params: WhiteBankParams, rigs: int) -> None:
        self.params = params
        self.last: Array | None = None
        self.learned, self.next_at = np.zeros(rigs), np.full(rigs, float(params.learn_first))
        self.level, self.square, self.lagged = np.zeros(rigs), np.ones(rigs), np.zeros(rigs)
        self.spread, self.phi, self.scale = np.ones(rigs), np.zeros(rigs), np.ones(rigs)
        self.sums, self.ks = np.zeros((_MEMBERS, rigs)), np.full((_MEMBERS, rigs), 1e9)
        self.hs, self.near = np.full((_MEMBERS, rigs), 1e9), np.zeros(rigs)

    def copy(self) -> "WhiteRigs":
        return deepcopy(self)

    def keep(self, rigs: NDArray[np.bool_]) -> None:
        """Go on with some of the rigs only."""
        for name in ("last", "learned", "next_at", "level", "square", "lagged", "spread", "phi", "scale", "near"):
            setattr(self, name, getattr(self, name)[rigs])
        self.sums, self.ks, self.hs = self.sums[:, rigs], self.ks[:, rigs], self.hs[:, rigs]

    def reset(self, rigs: NDArray[np.bool_] | slice = slice(None)) -> None:
        self.sums[:, rigs] = 0.0
        self.near[rigs] = 0.0

    def update(self, x: Array) -> Array:
        deviation = x - self.level
        if self.last is None:
            left = deviation / self.spread
        else:
            before = self.last - self.level
            left = (deviation - self.phi * before) / self.scale
            self._learn(deviation, before, self.near < self.params.freeze_at)
        self.last = x
        due = self.learned >= self.next_at
        if due.any():
            for rig in np.flatnonzero(due):
                self._make(int(rig))
        update_rigs(self.sums, left, self.ks, -self.params.clip, self.params.clip)
        self.near = near_rigs(self.sums, self.hs)
        return self.near

    def _learn(self, deviation: Array, before: Array, learn: NDArray[np.bool_]) -> None:
        self.learned = self.learned + learn
        weight = np.where(learn, 1.0 / np.clip(self.learned, 1.0, self.params.whiten.memory), 0.0)
        self.lagged += weight * (deviation * before - self.lagged)
        if self.params.whiten.learns_level:
            self.level = self.level + weight * deviation
        self.square += weight * (deviation * deviation - self.square)
        seen = self.learned > 0
        square = np.maximum(self.square, self.params.whiten.spread_min * self.params.whiten.spread_min)
        phi = np.minimum(np.maximum(self.lagged / square, 0.0), self.params.whiten.phi_max)
        self.phi = np.where(seen, phi, self.phi)
        if self.params.whiten.learns_level:
            self.spread = np.where(seen, np.sqrt(square), self.spread)
        self.scale = self.spread * np.sqrt(1.0 - self.phi * self.phi)

    def _make(self, rig: int) -> None:
        whiten, phi = self.params.whiten, float(self.phi[rig])
        learned = min(int(self.learned[rig]), whiten.memory)
        self.next_at[rig] = self.learned[rig] + max(1, learned // 2)
        plain: CusumParams = bank_params(self.params.arl, shift_left(phi), self.params.clip)
        hs = raised_thresholds(plain, phi, learned, whiten.learns_level)
        if len(hs) != int((self.hs[:, rig] < 1e9).sum()):
            self.sums[:, rig] = 0.0
        self.ks[: len(hs), rig], self.hs[: len(hs), rig] = plain.ks, hs
        self.ks[len(hs) :, rig] = self.hs[len(hs) :, rig] = 1e9
