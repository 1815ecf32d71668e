"""The share of prints that fit by drawing prints at random: a second way to the figure of `checks.fits`.

Where every tolerance is normal the share has a closed form of its own. Where one is uniform, as a bought
tube's bore is, the convolution in `checks.fits` is held against a seeded simulation in the report.
"""

from __future__ import annotations

import math

from chassis_gen.plan.model import Fit
from chassis_gen.plan.printing import SIGMAS_IN_RANGE

DRAWS = 200_000
SEED = 20


def is_normal(fit: Fit) -> bool:
    """Return whether every tolerance of a fit is normal."""
    return not any(u > 0 for u in fit.uniform_terms)


def simulated_share(fit: Fit, draws: int = DRAWS, seed: int = SEED) -> float:
    """Return the share of drawn prints whose clearance lies in the required range, 0 to 1.

    The standard error is sqrt(p (1 - p) / draws): 0.05 % at a share of 95 %.

    Args:
        fit: the fit.
        draws: how many prints are drawn.
        seed: of the random numbers; the same seed gives the same share.
    """
    import numpy as np

    random = np.random.default_rng(seed)
    sigma = math.sqrt(math.fsum(t * t for t in fit.tolerance_terms)) / SIGMAS_IN_RANGE
    clearance = fit.as_printed + sigma * random.standard_normal(draws)
    for half in fit.uniform_terms:
        clearance += random.uniform(-half, half, draws)
    low, high = fit.required
    return float(np.count_nonzero((clearance >= low) & (clearance <= high))) / draws
