"""The gauge plate as a recipe: holes, slots, pegs, steps, walls and posts, each with its number engraved.

The plate lies on the bed: x along its length, y across it, z up from the bed, origin at its front left corner.
Everything is drawn at its nominal size, so that a reading less the nominal is what the printer did.

                                      82 (width)
    | 41..45 lying holes      31..33 pegs        |
    | 34 disc   36 octagon    61..66 walls       |
    |                         51..55 steps       |
    | 71 post          72 post  26 slot  73 post |
    | 21..25 slots                               | 81 (length)
    | 11..16 standing holes                      |
                                     83 (width at the foot)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from msgspec import Struct

from chassis_gen.plan.model import OVERLAP
from chassis_gen.printer.features import (
    DISC,
    LYING_HOLES,
    OCTAGON,
    PLATE_LENGTH,
    PLATE_THICKNESS,
    PLATE_WIDTH,
    POST_HEIGHT,
    STEPS,
    Feature,
    gauge_features,
)
from chassis_gen.printer.marks import HEIGHT, mark, mark_width
from chassis_gen.shapes.frame import Frame, Vec3
from chassis_gen.shapes.primitives import Box, Cylinder, Prism
from chassis_gen.shapes.recipe import Recipe, Step, add, cut

MARGIN, GAP, ROW_GAP = 4.0, 3.0, 2.5
MARK_DEPTH = 0.6
"""Depth of the engraving, mm: three layers of 0.2 mm (common practice, no source)."""

_LABEL_ROOM = HEIGHT + 1.5
_CELL = mark_width("00")
_TALL = 6.0
_BLOCK_DEPTH, _BLOCK_HEIGHT = 8.0, 13.0
_SLOT_DEPTH = 8.0
_STEP = 8.0
_POST = 5.0
_WALL_LENGTH = 7.0


class _Spot(Struct, frozen=True):
    """Where a feature stands: its left end and its lower end above the label, mm."""

    x: float
    y: float

    @property
    def label_y(self) -> float:
        """Return where the number before the feature begins, mm."""
        return self.y - _LABEL_ROOM


def gauge_recipe() -> Recipe:
    """Return the gauge plate's recipe: what is added first, then every hole, slot and number."""
    steps = (*_plate(), *_holes_row(), *_slots_row(), *_posts_row(), *_shapes_row(), *_block_row())
    ordered = sorted(steps, key=lambda s: s.operation)
    return Recipe("gauge", tuple(ordered))


def _rows() -> tuple[float, ...]:
    """Return the y of each row's features, above its numbers, front row first, mm."""
    depths = (10.0, _SLOT_DEPTH, _SLOT_DEPTH, OCTAGON - _LABEL_ROOM, _BLOCK_DEPTH)
    starts, y = [], MARGIN - 1.0
    for depth in depths:
        starts.append(y + _LABEL_ROOM)
        y += _LABEL_ROOM + depth + ROW_GAP
    return tuple(starts)


def _numbered(row: int) -> list[Feature]:
    return [f for f in gauge_features().values() if f.number.startswith(str(row))]


def _spots(
    features: Iterable[Feature], x: float, y: float, gap: float
) -> Iterator[tuple[Feature, _Spot, float]]:
    """Yield features side by side with their place and width, mm; none is narrower than its number."""
    for f in features:
        width = max(f.nominal, _CELL)
        yield f, _Spot(x, y), width
        x += width + gap


def _label(number: str, middle: float, y: float, top: float = PLATE_THICKNESS) -> tuple[Step, ...]:
    return cut(f"number {number}", *mark(number, middle - mark_width(number) / 2, y, top, MARK_DEPTH))


def _plate() -> tuple[Step, ...]:
    rows = _rows()
    right = PLATE_LENGTH - MARGIN - _CELL / 2
    return (
        *add("plate", Box((0.0, 0.0, 0.0), (PLATE_LENGTH, PLATE_WIDTH, PLATE_THICKNESS))),
        *_label("81", right, rows[1] - _LABEL_ROOM),
        *_label("82", right, PLATE_WIDTH - MARGIN - HEIGHT),
        *_label("83", right, rows[0] - _LABEL_ROOM),
    )


def _holes_row() -> Iterator[Step]:
    for f, spot, width in _spots(_numbered(1), MARGIN, _rows()[0], GAP):
        middle = spot.x + width / 2
        frame = Frame((middle, spot.y + 5.0, 0.0))
        yield from cut(
            f"hole {f.number}", Cylinder(f.nominal / 2, -OVERLAP, PLATE_THICKNESS + OVERLAP, frame)
        )
        yield from _label(f.number, middle, spot.label_y)


def _slots_row() -> Iterator[Step]:
    features = [f for f in _numbered(2) if f.number != "26"]
    for f, spot, width in _spots(features, MARGIN, _rows()[1], GAP):
        yield from _slot(f, spot.x + width / 2, spot)


def _slot(f: Feature, middle: float, spot: _Spot) -> Iterator[Step]:
    half = f.nominal / 2
    low = (middle - half, spot.y, -OVERLAP)
    yield from cut(
        f"slot {f.number}", Box(low, (middle + half, spot.y + _SLOT_DEPTH, PLATE_THICKNESS + OVERLAP))
    )
    yield from _label(f.number, middle, spot.label_y)


def _posts_row() -> Iterator[Step]:
    y, centre = _rows()[2], PLATE_LENGTH / 2
    ends = (MARGIN + _POST / 2, PLATE_LENGTH - MARGIN - _POST / 2)
    for f, middle in zip(_numbered(7), (ends[0], centre, ends[1]), strict=True):
        low = (middle - _POST / 2, y, PLATE_THICKNESS - OVERLAP)
        yield from add(f"post {f.number}", Box(low, (middle + _POST / 2, y + _POST, POST_HEIGHT)))
        yield from _label(f.number, middle, y - _LABEL_ROOM)
    slot = gauge_features()["26"]
    yield from _slot(slot, (centre + _POST / 2 + ends[1] - _POST / 2) / 2, _Spot(0.0, y))


def _shapes_row() -> Iterator[Step]:
    y, top = _rows()[3] - _LABEL_ROOM, PLATE_THICKNESS + _TALL
    x, middle_y = MARGIN + DISC / 2, y + OCTAGON / 2
    base = PLATE_THICKNESS - OVERLAP
    yield from add("disc", Cylinder(DISC / 2, base, top, Frame((x, middle_y, 0.0))))
    yield from _label("34", x + 5.0, middle_y - HEIGHT / 2, top)
    yield from _label("35", x, middle_y + 4.0, top)
    x += DISC / 2 + 4.0 + OCTAGON / 2
    yield from add("octagon", Prism(_octagon(OCTAGON), base, top, (), Frame((x, middle_y, 0.0))))
    for number, dx, dy in (("36", 7.5, 0.0), ("37", 0.0, 9.0), ("38", 5.5, 4.75), ("39", 5.5, -4.75)):
        yield from _label(number, x + dx, middle_y + dy - HEIGHT / 2, top)
    x += OCTAGON / 2 + 4.0
    yield from _stairs(x, y)
    yield from _walls(x, y + _STEP + ROW_GAP + _LABEL_ROOM)


def _walls(x: float, y: float) -> Iterator[Step]:
    for f, spot, width in _spots(_numbered(6), x, y, GAP - 0.5):
        middle, half = spot.x + width / 2, f.nominal / 2
        low = (middle - half, y, PLATE_THICKNESS - OVERLAP)
        yield from add(
            f"wall {f.number}", Box(low, (middle + half, y + _WALL_LENGTH, PLATE_THICKNESS + _TALL))
        )
        yield from _label(f.number, middle, spot.label_y)


def _octagon(flats: float) -> tuple[tuple[float, float], ...]:
    """Return a regular octagon over its flats, two of them square to x."""
    radius = flats / 2 / math.cos(math.pi / 8)
    turns = (math.pi / 8 + k * math.pi / 4 for k in range(8))
    return tuple((radius * math.cos(t), radius * math.sin(t)) for t in turns)


def _stairs(x: float, y: float) -> Iterator[Step]:
    base = PLATE_THICKNESS - OVERLAP
    outline = [(0.0, base), (len(STEPS) * _STEP, base)]
    for k in reversed(range(len(STEPS))):
        outline += [((k + 1) * _STEP, STEPS[k]), (k * _STEP, STEPS[k])]
    # The profile's own y stands up; extruding it runs toward the front.
    frame = Frame((x, y + _STEP, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))
    yield from add("steps", Prism(tuple(outline), 0.0, _STEP, (), frame))
    for k, f in enumerate(_numbered(5)):
        yield from _label(f.number, x + (k + 0.5) * _STEP, y + (_STEP - HEIGHT) / 2, f.nominal)


def _block_row() -> Iterator[Step]:
    y, base = _rows()[4], PLATE_THICKNESS - OVERLAP
    length = sum(max(d, _CELL) for d in LYING_HOLES) + GAP * (len(LYING_HOLES) + 1)
    top = PLATE_THICKNESS + _BLOCK_HEIGHT
    yield from add("block", Box((MARGIN, y, base), (MARGIN + length, y + _BLOCK_DEPTH, top)))
    for f, spot, width in _spots(_numbered(4), MARGIN + GAP, y, GAP):
        middle = spot.x + width / 2
        bore = Cylinder(
            f.nominal / 2, -OVERLAP, _BLOCK_DEPTH + OVERLAP, _lying((middle, y, PLATE_THICKNESS + 6.5))
        )
        yield from cut(f"lying hole {f.number}", bore)
        yield from _label(f.number, middle, spot.label_y)
    pegs = [f for f in _numbered(3) if f.number in ("31", "32", "33")]
    for f, spot, width in _spots(pegs, MARGIN + length + 2 * GAP, y, GAP):
        middle = spot.x + width / 2
        frame = Frame((middle, y + _BLOCK_DEPTH / 2, 0.0))
        yield from add(f"peg {f.number}", Cylinder(f.nominal / 2, base, PLATE_THICKNESS + _TALL, frame))
        yield from _label(f.number, middle, spot.label_y - 1.0)


def _lying(origin: Vec3) -> Frame:
    """Return a frame whose z axis runs along y."""
    return Frame(origin, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
