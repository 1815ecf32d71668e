"""What a board rests on instead of ledges: posts at its holes with pegs in them, or four at its corners."""

from __future__ import annotations

import math

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.board_tray_layout import Tray
from chassis_gen.sections.features.seat import REST
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Step, add

POST_LENGTH = 4.0
POST_WALL = 1.2


def hole_places(part: Part) -> tuple[tuple[float, float], ...]:
    """Return where a board has holes, in its own frame, mm.

    Args:
        part: the board.
    """
    if not part.has("hole_diameter"):
        return ()
    x, y = part.size("hole_pitch_x") / 2, part.size("hole_pitch_y") / 2
    return tuple((i * x, j * y) for i in (-1.0, 1.0) for j in (-1.0, 1.0))


def _hole_edge(part: Part) -> float:
    """Return how far a hole's centre lies from the nearer of both edges of the board, mm."""
    return (
        min(part.size("width") - part.size("hole_pitch_x"), part.size("length") - part.size("hole_pitch_y"))
        / 2
    )


def _post_radius(part: Part) -> float:
    return part.size("hole_diameter") / 2 + POST_WALL


def _free_margin(tray: Tray) -> float:
    """Return the free stretch under the board between a hole's centre and what stands out below, mm."""
    part = tray.part
    if part.size("height_below") == 0:
        return math.inf
    return part.size("margin_below") - _hole_edge(part) - tray.fitted.play


def post_room(tray: Tray) -> float:
    """Return how far posts at the holes stay from what stands out below the board, mm; negative: into it."""
    return _free_margin(tray) - _post_radius(tray.part)


def on_holes(tray: Tray) -> bool:
    """Return whether the board rests on posts at its holes."""
    return tray.params.hold == "standoffs" and bool(hole_places(tray.part))


def peg_diameter(tray: Tray) -> Dimension | None:
    """Return the pegs' diameter where holes are there and no components fill them in the model."""
    if not on_holes(tray):
        return None
    part, size = tray.part, tray.part.sizes["hole_diameter"]
    if _free_margin(tray) - size.value / 2 < 0:
        return None
    if part.size("height_above") and part.size("margin_above") < _hole_edge(part) + size.value / 2:
        return None
    name, note = f"{tray.ctx.name}.peg_diameter", "pegs through the board's holes"
    return tray.ctx.setting.fitter.outer(name, size, "free", note, part.name)


def posts(tray: Tray, peg: Dimension | None) -> tuple[Step, ...]:
    """Return the posts that the board rests on, with their pegs, or none where it rests on ledges.

    Args:
        tray: where the board lies.
        peg: diameter of the pegs, or None.
    """
    if tray.params.hold != "standoffs":
        return ()
    return add("standoff", *(_posts_at_holes(tray, peg) if on_holes(tray) else _corner_blocks(tray)))


def _posts_at_holes(tray: Tray, peg: Dimension | None) -> list[Cylinder]:
    low, board = tray.floor - OVERLAP - tray.seat, tray.board_frame
    frames = [board @ shifted(x, y, -REST) for x, y in hole_places(tray.part)]
    solids = [Cylinder(_post_radius(tray.part), low, 0.0, f) for f in frames]
    if peg:
        top = tray.part.size("thickness") + 0.5
        solids += [Cylinder(peg.total / 2, -0.5, top, f) for f in frames]
    return solids


def _corner_blocks(tray: Tray) -> list[Box]:
    inner, half, height = tray.fitted.room_width.total / 2, tray.half, (tray.floor - OVERLAP, tray.seat)
    near, far = tray.stop_near, tray.stop_far
    return [
        tray.box(x, height, z)
        for x in ((-half - OVERLAP, -inner), (inner, half + OVERLAP))
        for z in ((near - OVERLAP, near + POST_LENGTH), (far - POST_LENGTH, far + OVERLAP))
    ]
