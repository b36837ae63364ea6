"""Supplementary rules the slow way: look at every point and the ones before it."""

from __future__ import annotations


def _r_of_m(z: list[float], t: int, line: float, needed: int, window: int) -> bool:
    newest = z[max(0, t - window + 1):t + 1]
    above = z[t] > line and sum(v > line for v in newest) >= needed
    below = z[t] < -line and sum(v < -line for v in newest) >= needed
    return above or below


def _last(z: list[float], t: int, length: int) -> list[float] | None:
    return z[t - length + 1:t + 1] if t + 1 >= length else None


def _one_side(z: list[float], t: int, length: int) -> bool:
    run = _last(z, t, length)
    return run is not None and (all(v > 0 for v in run) or all(v < 0 for v in run))


def _trend(z: list[float], t: int, length: int) -> bool:
    run = _last(z, t, length)
    if run is None:
        return False
    pairs = list(zip(run, run[1:], strict=False))
    return all(b > a for a, b in pairs) or all(b < a for a, b in pairs)


def _alternating(z: list[float], t: int, length: int) -> bool:
    run = _last(z, t, length)
    if run is None:
        return False
    steps = [b - a for a, b in zip(run, run[1:], strict=False)]
    return all(s * r < 0 for s, r in zip(steps, steps[1:], strict=False))


def _stratification(z: list[float], t: int, length: int) -> bool:
    run = _last(z, t, length)
    return run is not None and all(-1 < v < 1 for v in run)


def _mixture(z: list[float], t: int, length: int) -> bool:
    run = _last(z, t, length)
    if run is None or not all(abs(v) > 1 for v in run):
        return False
    return any(v > 0 for v in run) and any(v < 0 for v in run)


def nelson(z: list[float]) -> list[set[str]]:
    """The signals of each point under the eight tests of Nelson (1984)."""
    return [_named({
        "outside_limits": abs(z[t]) > 3, "one_side": _one_side(z, t, 9), "trend": _trend(z, t, 6),
        "alternating": _alternating(z, t, 14), "two_of_three": _r_of_m(z, t, 2, 2, 3),
        "four_of_five": _r_of_m(z, t, 1, 4, 5), "stratification": _stratification(z, t, 15),
        "mixture": _mixture(z, t, 8),
    }) for t in range(len(z))]


def western_electric(z: list[float]) -> list[set[str]]:
    """The signals of each point under the four tests of Western Electric (1956)."""
    return [_named({
        "outside_limits": abs(z[t]) > 3, "two_of_three": _r_of_m(z, t, 2, 2, 3),
        "four_of_five": _r_of_m(z, t, 1, 4, 5), "one_side": _one_side(z, t, 8),
    }) for t in range(len(z))]


def _named(hits: dict[str, bool]) -> set[str]:
    return {name for name, hit in hits.items() if hit}
