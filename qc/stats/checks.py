"""Checks of arguments, shared by the statistics: each raises ValueError naming what and why."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import blocks

Floats = npt.NDArray[np.float64]
Numbers = Any
"""A float for scalar input, a float64 array for array input."""


def floats(name: str, values: npt.ArrayLike, *, copy: bool | None = None) -> Floats:
    """As float64, copied only where needed unless told; ValueError names what is no number."""
    try:
        return np.array(values, dtype=np.float64, copy=copy)
    except (TypeError, ValueError) as error:
        raise ValueError(f"{name} holds what is not a number: {error}") from error


def finite_array(name: str, values: npt.ArrayLike, *, at_least: int = 1) -> Floats:
    """A one-dimensional float64 copy of ``values``, finite and of at least this many values."""
    array = floats(name, values, copy=True)
    if array.ndim != 1:
        raise ValueError(f"{name} has {array.ndim} dimensions; it must be one-dimensional")
    if len(array) < at_least:
        raise ValueError(f"{name} has {len(array)} values; it needs at least {at_least}")
    if not np.isfinite(array).all():
        at = int(np.argmin(np.isfinite(array)))
        raise ValueError(f"{name} is {array[at]} at position {at + 1}; it must be a finite number")
    return array


def given_values(name: str, values: npt.ArrayLike, *, at_least: int = 1) -> Floats:
    """As `finite_array`, not copied where they are float64 already: for what is only read."""
    array = floats(name, values)
    enough = array.ndim == 1 and len(array) >= at_least
    if enough and all(np.isfinite(array[at]).all() for at in blocks(len(array))):
        return array
    return finite_array(name, array, at_least=at_least)


def refuse_where(name: str, values: Floats, wrong: npt.NDArray[np.bool_], allowed: str) -> None:
    """ValueError for the first wrong value, with its position where there are several."""
    if np.any(wrong):
        at = int(np.argmax(np.atleast_1d(wrong)))
        place = f" at position {at + 1}" if np.ndim(values) else ""
        value = float(np.atleast_1d(values)[at])
        raise ValueError(f"{name} is {value:g}{place}; allowed: {allowed}")


def whole_counts(name: str, values: npt.ArrayLike, *, low: int = 0) -> Floats:
    """Counts of any shape as float64; ValueError unless whole, finite and at least ``low``."""
    array = floats(name, values)
    if _sound_counts(array, low):  # the usual case in three passes, none of them kept
        return array
    wrong = ~np.isfinite(array) | (array < low) | (array != np.floor(array))
    refuse_where(name, array, wrong, f"whole numbers from {low}")
    return array


def whole_array(name: str, values: npt.ArrayLike, *, low: int = 0) -> Floats:
    """A one-dimensional float64 copy of counts: whole, finite, at least ``low``, at least one."""
    array = floats(name, values, copy=True)
    if array.ndim == 1 and len(array) and _sound_counts(array, low):
        return array
    return whole_counts(name, finite_array(name, array), low=low)


def given_counts(name: str, values: npt.ArrayLike, *, low: int = 0) -> npt.NDArray[Any]:
    """One-dimensional counts as they came, not copied: integers stay integers.

    Whole, finite, at least ``low``, at least one; for what is only read, and may be large.
    """
    array = _as_given(name, values)
    if array.ndim == 1 and len(array):
        whole = array.dtype.kind in "iu"
        if array.min() >= low if whole else _sound_counts(array, low):
            return array
    return whole_array(name, array, low=low)


def given_amounts(
    name: str, values: npt.ArrayLike, *, at_least: int = 1, zero: bool = False
) -> npt.NDArray[Any]:
    """One-dimensional finite numbers above 0 (or from ``zero``) as they came, not copied."""
    array = _as_given(name, values)
    if array.ndim == 1 and len(array) >= at_least:
        low, high = array.min(), array.max()
        if (low > 0 or (zero and low == 0)) and high < np.inf:
            return array
    found = finite_array(name, array, at_least=at_least)
    wrong = found < 0 if zero else found <= 0
    refuse_where(name, found, wrong, "numbers from 0" if zero else "numbers above 0")
    return found


def _as_given(name: str, values: npt.ArrayLike) -> npt.NDArray[Any]:
    if isinstance(values, np.ndarray) and values.dtype.kind in "iu":
        return values
    return floats(name, values)


def _sound_counts(array: Floats, low: int) -> bool:
    flat = array.reshape(-1)
    return flat.size > 0 and all(_sound(flat[at], low) for at in blocks(flat.size))


def _sound(part: Floats, low: int) -> bool:
    inside = part.min() >= low and part.max() < np.inf
    return bool(inside and (np.floor(part) == part).all())


def positive(name: str, value: float) -> float:
    """A finite number above 0."""
    if not (np.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value:g}; it must be a finite number above 0")
    return float(value)


def finite(name: str, value: float) -> float:
    """A finite number."""
    if not np.isfinite(value):
        raise ValueError(f"{name} is {value}; it must be a finite number")
    return float(value)


def inside_unit(name: str, value: float) -> float:
    """A share strictly between 0 and 1."""
    if not 0 < value < 1:
        raise ValueError(f"{name} is {value:g}; it must be inside (0, 1)")
    return float(value)


def varies(values: Floats) -> bool:
    """Whether values differ by more than the last bits of one number computed in two ways."""
    low, high = float(values.min()), float(values.max())
    return high - low > 1e-13 * max(abs(low), abs(high))


def same_length(name: str, array: Floats, other_name: str, other: Floats) -> None:
    """ValueError unless both arrays have one value for each point."""
    if len(array) != len(other):
        raise ValueError(
            f"{name} has {len(array)} values and {other_name} {len(other)}; they must be as many"
        )


def read_only(array: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """The same array, closed to writing."""
    array.flags.writeable = False
    return array
