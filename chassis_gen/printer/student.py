"""Quantiles of Student's t distribution for whole degrees of freedom, by its finite series."""

from __future__ import annotations

import math


def two_sided_share(t: float, freedom: int) -> float:
    """Return the share of Student's t distribution between -t and t.

    Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3 (odd) and 26.7.4 (even).

    Args:
        t: limit, at least 0.
        freedom: degrees of freedom, at least 1.
    """
    angle = math.atan2(t, math.sqrt(freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    term = cosine if freedom % 2 else 1.0
    total = term if freedom > 1 else 0.0
    for k in range(3 if freedom % 2 else 2, freedom - 1, 2):
        term *= cosine * cosine * (k - 1) / k
        total += term
    return (2 / math.pi) * (angle + sine * total) if freedom % 2 else sine * total


def two_sided_limit(share: float, freedom: int) -> float:
    """Return the limit t such that a share of Student's t distribution lies between -t and t.

    Args:
        share: above 0 and below 1.
        freedom: degrees of freedom, at least 1.
    """
    low, high = 0.0, 1.0
    while two_sided_share(high, freedom) < share:
        low, high = high, 2 * high
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if two_sided_share(middle, freedom) < share else (low, middle)
    return high
