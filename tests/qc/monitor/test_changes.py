"""When a change has ended: soon after it was mended, and hardly ever while it goes on."""

import numpy as np

from qc.monitor.changes import END_GAIN, _back_gain

JOB_VARIANCE = 0.09
PER_SLOT = 0.25  # usual faults in a slot


def stretch(rng, *, raised, mended):
    """Seen and usual faults, summed, of a rise of three times and of what came after; the jobs of
    a slot have their own luck."""
    ratio = np.r_[np.full(raised, 3.0), np.ones(mended)]
    luck = rng.gamma(1 / JOB_VARIANCE, JOB_VARIANCE, len(ratio))
    return np.cumsum(rng.poisson(PER_SLOT * ratio * luck).astype(float)), np.cumsum(
        np.full(len(ratio), PER_SLOT))


def ended(rng, *, raised, mended):
    """The slot at which it is first called ended, looked at in each; None if it is not."""
    seen, usual = stretch(rng, raised=raised, mended=mended)
    for now in range(10, len(seen)):
        if _back_gain(seen[: now + 1], usual[: now + 1], JOB_VARIANCE).max() >= END_GAIN:
            return now
    return None


def test_a_change_that_goes_on_is_hardly_ever_called_ended():
    rng = np.random.default_rng(1)
    calls = [ended(rng, raised=150, mended=0) for _ in range(200)]
    assert sum(call is not None for call in calls) <= 10


def test_the_end_of_a_change_is_seen():
    rng = np.random.default_rng(2)
    calls = [ended(rng, raised=100, mended=120) for _ in range(100)]
    after = [call - 100 for call in calls if call is not None and call >= 100]
    assert len(after) >= 85
    assert np.median(after) * PER_SLOT <= 15  # usual faults that come meanwhile


def test_the_end_is_dated_where_it_was():
    rng = np.random.default_rng(3)
    off = []
    for _ in range(100):
        seen, usual = stretch(rng, raised=100, mended=100)
        off.append(int(_back_gain(seen, usual, JOB_VARIANCE).argmax()) - 99)
    assert abs(np.median(off)) <= 4
