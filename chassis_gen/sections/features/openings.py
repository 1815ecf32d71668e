"""What a section says of the tube opening over it."""

from __future__ import annotations

import math

from chassis_gen.findings import Remedy


def wider_opening(wanted: float) -> Remedy:
    """Return what to do where an opening is too narrow.

    Args:
        wanted: its diameter, mm.
    """
    return Remedy(None, None, f"drill the opening to {math.ceil(wanted * 10 - 1e-6) / 10:g} mm, or wider")
