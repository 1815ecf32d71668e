"""From readings in a tube's bore to its stretches: mean, ovality and taper, each with its plus-minus."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct

from chassis_gen.params.readings import DECIMALS, Averaged, averaged, read_numbers, refuse

_QUARTER_SLACK = 15.0
"""How far two angles may be from a quarter turn apart and still show the ovality between them, degrees (chosen)."""


class BoreForm(Struct, frozen=True):
    """A stretch of bore as it was measured.

    Args:
        z0: station where it begins, mm.
        z1: where it ends, mm.
        diameter: mean round the bore at mid-length, mm.
        tolerance: plus-minus of the mean round the bore anywhere in the stretch, mm.
        ovality: largest less smallest diameter across one place, mm.
        taper: mean diameter at its far end less at its near end, mm.
        turns: True when it was read at more than one angle.
        depths: how many depths were read.
        taper_range: plus-minus of the taper, mm.
        doubt: what the readings can't tell, or empty.
    """

    z0: float
    z1: float
    diameter: float
    tolerance: float
    ovality: float
    taper: float
    turns: bool
    depths: int
    taper_range: float = 0.0
    doubt: str = ""


def read_bores(
    options: Sequence[str], shoulders: Sequence[float], length: float, accuracy: float
) -> tuple[BoreForm, ...]:
    """Return the stretches of bore from texts such as ``0@90=40.02,40.03`` (depth @ angle = readings).

    Args:
        options: the texts.
        shoulders: stations where a further stretch begins, mm.
        length: of the segment, mm.
        accuracy: plus-minus of the instrument, mm.

    Raises:
        InputError: a text can't be read, a depth lies outside the tube, or a stretch has no reading.
    """
    read: dict[tuple[float, float], Averaged] = {}
    for option in options:
        place, sign, text = option.partition("=")
        depth_text, at, angle_text = place.partition("@")
        if not (sign and depth_text.strip() and text.strip()):
            refuse("usage", "depth, angle and readings are wanted", f'"{option}"', "--bore 20@90=40.02,40.03")
        depth = read_numbers(depth_text.strip(), "a depth", 0, length)[0]
        angle = read_numbers(angle_text.strip() or "0", "an angle", -360, 360, "deg")[0] if at else 0.0
        if (depth, angle % 180.0) in read:
            refuse(
                "duplicate-name",
                "one place in the bore is given twice",
                f'"{option}"',
                "all its readings in one --bore",
            )
        read[depth, angle % 180.0] = averaged(
            read_numbers(text, f"the bore at depth {depth:g}", 5, 300), accuracy
        )
    edges = [0.0, *sorted(shoulders), length]
    if any(b <= a for a, b in itertools.pairwise(edges)):
        refuse(
            "out-of-range",
            "a shoulder lies outside the tube, or two are one",
            ", ".join(f"{s:g}" for s in shoulders),
            f"between 0 and {length:g} mm",
        )
    return tuple(_stretch(read, a, b, b == length) for a, b in itertools.pairwise(edges))


def _stretch(read: Mapping[tuple[float, float], Averaged], z0: float, z1: float, last: bool) -> BoreForm:
    here = {k: a for k, a in read.items() if z0 <= k[0] < z1 or (last and k[0] == z1)}
    if not here:
        refuse("readings", "a stretch of bore has no reading", f"{z0:g} to {z1:g} mm", f"--bore {z0:g}@0=...")
    depths = sorted({d for d, _ in here})
    angles = sorted({a for _, a in here})
    form = _form(here, depths, angles, z0, z1)
    rows = [[a.mean for (d, _), a in here.items() if d == depth] for depth in depths]
    ovality = max(form.ovality, *(max(row) - min(row) for row in rows))
    return BoreForm(
        z0, z1, round(form.mean, DECIMALS), round(form.tolerance, DECIMALS), round(ovality, DECIMALS),
        round(form.taper, DECIMALS) + 0.0, len(angles) > 1, len(depths), round(form.taper_range, DECIMALS), form.doubt,
    )  # fmt: skip


class _Form(Struct, frozen=True):
    """Mean at mid-length, its plus-minus, ovality and taper of a stretch, mm."""

    mean: float
    tolerance: float
    ovality: float
    taper: float
    taper_range: float = 0.0
    doubt: str = ""


def _form(
    here: Mapping[tuple[float, float], Averaged],
    depths: Sequence[float],
    angles: Sequence[float],
    z0: float,
    z1: float,
) -> _Form:
    """Return the form that fits the readings best: a mean, a taper along the axis and an ellipse round it.

    Least squares of D = mean + taper (z - middle) / length + p cos 2a + q sin 2a; a slightly oval bore follows
    cos 2(a - a0) to first order. From two angles only their difference is known, half of it either way. The
    plus-minus is the greatest of a reading's own, of what the fit leaves over, and of the fitted mean at middle
    and ends (reading's x sqrt(x' (X'X)^-1 x), JCGM 100:2008, H.3).
    """
    import numpy as np

    length = z1 - z0
    columns: list[Any] = [lambda z, a: 1.0]
    if len(depths) > 1:
        columns.append(lambda z, a: (z - (z0 + z1) / 2) / length)
    if len(angles) == 2:
        columns.append(lambda z, a: 0.5 if a == angles[0] else -0.5)
    elif len(angles) > 2:
        columns += [lambda z, a: math.cos(2 * math.radians(a)), lambda z, a: math.sin(2 * math.radians(a))]
    x = np.array([[c(z, a) for c in columns] for z, a in here])
    y = np.array([a.mean for a in here.values()])
    own = max(a.tolerance for a in here.values())
    if np.linalg.matrix_rank(x, tol=1e-6) < len(columns):
        return _unseparated(list(here), y.tolist(), own, depths, length)
    found = np.linalg.solve(x.T @ x, x.T @ y)
    spread = np.linalg.inv(x.T @ x)
    left = float(np.abs(y - x @ found).max())
    tapered = len(depths) > 1
    places = [[1.0, at] if tapered else [1.0] for at in (-0.5, 0.0, 0.5)]
    n = len(places[0])
    fitted = max(math.sqrt(float(np.array(p) @ spread[:n, :n] @ np.array(p))) for p in places)
    turned = [float(v) for v in found[n:]]
    doubt = ""
    if len(angles) == 2 and abs(angles[1] - angles[0] - 90.0) > _QUARTER_SLACK:
        doubt = (
            f"read at {angles[0]:g} and {angles[1]:g} deg only, which show a part of the ovality: "
            "read a quarter turn apart"
        )
    return _Form(
        float(found[0]),
        max(own, left, own * fitted),
        abs(turned[0]) if len(turned) == 1 else 2 * math.hypot(*turned) if turned else 0.0,
        float(found[1]) if tapered else 0.0,
        own * math.sqrt(float(spread[1, 1])) if tapered else 0.0,
        doubt,
    )


def _unseparated(
    places: Sequence[tuple[float, float]],
    means: Sequence[float],
    own: float,
    depths: Sequence[float],
    length: float,
) -> _Form:
    """Return the form where depth and angle changed together: all difference as ovality, and as wide a plus-minus.

    Were it all taper, the ends of the stretch would differ from the mean by half of it; the plus-minus covers that.
    """
    apart = max(means) - min(means)
    if_taper = apart / (depths[-1] - depths[0]) * length / 2
    read = ", ".join(f"{z:g}@{a:g}" for z, a in places)
    doubt = (
        f"depth and angle changed together ({read}), so that ovality and taper can't be told apart: taken as ovality, "
        "with a plus-minus that covers a taper as well; read one depth at two angles and one angle at two depths"
    )
    return _Form(math.fsum(means) / len(means), max(own, apart / 2, if_taper), apart, 0.0, 0.0, doubt)


def check_wall(outside: float, bores: Sequence[BoreForm]) -> None:
    """Raise when a bore is as wide as the outside of the tube.

    Args:
        outside: mean outside diameter, mm.
        bores: from `read_bores`.

    Raises:
        InputError: naming the first stretch where it is.
    """
    for b in bores:
        widest = b.diameter + (b.ovality + abs(b.taper)) / 2
        if widest >= outside:
            refuse("readings", f"the bore from station {b.z0:g} to {b.z1:g} is as wide as the tube's outside",
                   f"bore up to {widest:.2f}, outside {outside:.2f} mm", "a bore below the outside diameter")  # fmt: skip
