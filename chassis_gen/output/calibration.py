"""The figure that shows readings and fitted lines; matplotlib draws it, where it is installed."""

from __future__ import annotations

import io
from collections.abc import Sequence

from msgspec import Struct

from chassis_gen.printer.calibrate import Calibration, Line
from chassis_gen.problems import InputError, Problem


class Panel(Struct, frozen=True):
    """One kind's readings.

    Args:
        title: the kind, in words.
        points: drawn size and reading less drawn size of each, mm.
        outliers: the same of readings too large to be chance.
        scale: of the fitted line.
        offset: of the fitted line, mm.
    """

    title: str
    points: Sequence[tuple[float, float]]
    outliers: Sequence[tuple[float, float]]
    scale: float
    offset: float


def panels(found: Calibration) -> tuple[Panel, ...]:
    """Return one panel per kind that was measured.

    Args:
        found: the calibration.
    """
    return tuple(
        Panel(kind.replace("_", " "), _points(line, False), _points(line, True), line.scale, line.offset)
        for kind, line in found.lines.items()
    )


def _points(line: Line, outliers: bool) -> list[tuple[float, float]]:
    rows = [
        (r.reading.feature.nominal, r.reading.value or 0.0) for r in line.residuals if r.outlier is outliers
    ]
    return [(nominal, value - nominal) for nominal, value in rows]


def calibration_png(panels: Sequence[Panel], title: str) -> bytes:
    """Return a PNG picture of what prints differ by over their drawn size, with the fitted lines.

    Args:
        panels: one per kind.
        title: over the picture.

    Raises:
        InputError: code ``missing-library``, without matplotlib.
    """
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError:
        message = "a figure needs matplotlib, which isn't installed"
        allowed = 'pip install "chassis-gen[figures]", or leave --figure out'
        raise InputError([Problem("missing-library", message, key="--figure", allowed=allowed)]) from None
    figure = Figure(figsize=(3.4 * len(panels), 3.2), layout="constrained")
    FigureCanvasAgg(figure)
    figure.suptitle(title)
    for axes, p in zip(figure.subplots(1, len(panels), squeeze=False)[0], panels, strict=True):
        xs = [x for x, _ in (*p.points, *p.outliers)]
        ends = (min(xs), max(xs))
        axes.plot(ends, [(p.scale - 1.0) * x + p.offset for x in ends], color="tab:blue")
        for points, colour in ((p.points, "black"), (p.outliers, "tab:red")):
            axes.scatter([x for x, _ in points], [y for _, y in points], s=14, color=colour, zorder=3)
        axes.axhline(0.0, color="0.7", linewidth=0.8)
        axes.set(title=p.title, xlabel="drawn, mm", ylabel="printed less drawn, mm")
    picture = io.BytesIO()
    figure.savefig(picture, format="png", dpi=120, metadata={"Software": None})
    return picture.getvalue()
