"""Is a window's count more than luck? Likelihood ratios and tail probabilities.

The expectation of a window is a mean with a relative variance: the uncertainty of the usual
rates, what is known of the level's own past, and the clumping of faults in jobs and lots. The
count is then gamma-Poisson, and neither an uncertain baseline nor honest clumping raises alarms.

Source
------
Generalised likelihood ratio over all start times: Willsky & Jones (1976), IEEE Trans. Automatic
Control 21, 108-112; Lai (1995), J. Royal Statistical Society B 57, 613-658. Expectation-based scan
statistics: Neill (2009), Int. J. Forecasting 25, 498-517; Kulldorff (1997), Communications in
Statistics 26, 1481-1496.
"""

from __future__ import annotations

import numpy as np
from scipy.special import betainc, gammaln, xlogy

from qc.monitor.evidence import Floats


def log_likelihood_ratio(count: Floats, mean: Floats, relative_variance: Floats) -> Floats:
    """Gain in log likelihood from the best fitting factor on the mean, if that is above 1.

    Arrays broadcast. 0 where the count is not above the mean.
    """
    shape = 1.0 / np.maximum(relative_variance, 1e-9)
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = xlogy(count, count / mean) - (count + shape) * np.log(
            (count + shape) / (mean + shape)
        )
    return np.where((count > mean) & (mean > 0), gain, 0.0)


def upper_tail(count: Floats, mean: Floats, relative_variance: Floats) -> Floats:
    """Probability of this count or more, count >= 1, when nothing has changed."""
    shape = 1.0 / np.maximum(relative_variance, 1e-9)
    mean = np.maximum(mean, 1e-12)
    return betainc(np.maximum(count, 1e-9), shape, mean / (mean + shape))


def gamma_poisson_log_likelihood(count: Floats, mean: Floats, shape: Floats | float) -> Floats:
    """Log probability of counts whose Poisson mean varies as a gamma of this shape.

    Shapes broadcast; mean > 0, shape > 0. The result is the negative binomial log mass.
    """
    return (
        gammaln(count + shape) - gammaln(shape) - gammaln(count + 1.0)
        + shape * np.log(shape / (shape + mean)) + count * np.log(mean / (shape + mean))
    )
