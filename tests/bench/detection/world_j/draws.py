"""Draws whole values from ranges written beside their fields. Reads random numbers, gives frozen dataclasses."""

from dataclasses import field, fields
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Give a draw between low and high, evenly on a logarithmic scale, in their unit."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def even(low: float, high: float) -> Any:
    """Say that a field is drawn evenly between low and high."""
    return field(metadata={"draw": lambda rng: float(rng.uniform(low, high))})


def log(low: float, high: float) -> Any:
    """Say that a field is drawn between low and high, evenly on a logarithmic scale."""
    return field(metadata={"draw": lambda rng: log_uniform(rng, low, high)})


def draw(rng: np.random.Generator, kind: type[T]) -> T:
    """Give a value of a dataclass all of whose fields say their range."""
    return kind(*(one.metadata["draw"](rng) for one in fields(kind)))  # type: ignore[arg-type]
