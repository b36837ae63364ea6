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


NELSON = {"two_of_three": 3, "four_of_five": 5, "one_side": 9, "trend": 6, "alternating": 14,
          "stratification": 15, "mixture": 8}
WESTERN_ELECTRIC = {"two_of_three": 3, "four_of_five": 5, "one_side": 8}


def marked(z: list[float], points: dict[str, int]) -> list[set[str]]:
    """The signals of each point under limits at 3 and rules with these numbers of points."""
    look = {
        "two_of_three": lambda t, n: _r_of_m(z, t, 2, 2, n),
        "four_of_five": lambda t, n: _r_of_m(z, t, 1, 4, n),
        "one_side": lambda t, n: _one_side(z, t, n),
        "trend": lambda t, n: _trend(z, t, n),
        "alternating": lambda t, n: _alternating(z, t, n),
        "stratification": lambda t, n: _stratification(z, t, n),
        "mixture": lambda t, n: _mixture(z, t, n),
    }
    signals = [{"outside_limits"} if abs(v) > 3 else set() for v in z]
    for name, n in points.items():
        for t, found in enumerate(signals):
            if look[name](t, n):
                found.add(name)
    return signals
