"""How a computed run length is held against a simulated one."""

from __future__ import annotations

import numpy as np

from qc.stats.runlength.result import RunLength
from tests.reference.run_lengths import Simulated

ERRORS = 4.0
"""Standard errors allowed; seeds are fixed, so a test that passes goes on passing."""


def agrees_with(run: RunLength, slow: Simulated) -> None:
    """Mean, standard deviation and percentiles within the errors of the simulation."""
    assert abs(run.arl - slow.mean) < ERRORS * slow.mean_error
    assert abs(run.sdrl - slow.sd) < ERRORS * slow.sd_error
    for one in run.percentiles:
        error = ERRORS * np.sqrt(one.share * (1 - one.share) / len(slow.lengths))
        assert slow.share_by(one.points) > one.share - error
        assert slow.share_by(one.points - 1) < one.share + error
