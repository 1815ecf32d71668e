"""Nothing mirrored, nothing shifted: features of the written meshes stand where the parameter file says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.builds.support import checked, circle, first_walls, hits, onward, outward, written

WITHIN = 0.02
ALONG = np.array([0.0, 0.0, 1.0])

TUBE = """\
[build]
title = "places"
material = "PETG"

[tube]
chassis_offset = 3.3
chassis_end = 157

[[tube.segment]]
length = 170
bores = [{{ from_mouth = 0, diameter = 40 }}]

[[tube.opening]]
name = "button"
from_mouth = {station}
clock_deg = {clock}
diameter = 12.2
"""

BUTTON = (
    TUBE
    + """
[[section]]
kind = "end_plate"
name = "near plate"
holes = [{{ kind = "clearance", thread = "M3", count = 1, circle_diameter = 21, first_clock_deg = 25 }}]
clock_deg = {plate}

[[section]]
kind = "lead_bay"
name = "near bay"

[[section]]
kind = "switch_block"
name = "block"
part = "panel button 12 mm"
at_opening = "button"

[[section]]
kind = "lead_bay"
name = "far bay"

[[section]]
kind = "end_plate"
name = "far plate"
"""
)

PLACES = [(40.4, 0.0), (57.77, 37.0), (78.0, 90.0), (91.3125, 200.0), (117.2, 315.0)]


@pytest.mark.parametrize(("station", "clock"), PLACES)
def test_the_button_s_bore_stands_under_its_opening_and_its_flat_on_the_side_of_growing_clocks(
    station: float, clock: float, tmp_path: Path
) -> None:
    result = checked(tmp_path, BUTTON.format(station=station, clock=clock, plate=clock))
    assert result.verdict == "pass"
    mesh = written(result)
    up, round_ = outward(clock), onward(clock)
    # From far outside along the opening's axis nothing is met before the other side of the room.
    axis = np.array([0.0, 0.0, station])
    assert hits(mesh, axis + 100.0 * up, -up)[0] > 100.0
    # The head's recess is a full circle, the bore below it one with a flat; both at heights where they are whole.
    seat = result.plan.parts[0]
    plane = float(np.dot(seat.frame.origin, up))
    recess = first_walls(mesh, axis + (plane + 0.6) * up, round_, ALONG)
    x, z, radius = circle(recess)
    assert (x, z) == pytest.approx((0.0, 0.0), abs=WITHIN)
    # The catalogue's head with a clearance, and no more than half a millimetre of it, per side.
    assert seat.part.size("head_diameter") / 2 < radius < seat.part.size("head_diameter") / 2 + 0.5
    bore = first_walls(mesh, axis + (plane - 1.5) * up, round_, ALONG)
    distances = np.hypot(*bore.T)
    x, z, radius = circle(bore[distances > distances.max() - 0.05])
    assert (x, z) == pytest.approx((0.0, 0.0), abs=WITHIN)
    # The anti-turn flat lies toward the part's +x (its kind's frame), and +x along growing clocks.
    nearest = bore[np.argmin(distances)]
    assert nearest[0] == pytest.approx(bore[:, 0].max(), abs=1e-6)
    assert abs(bore[:, 0].min()) - bore[:, 0].max() == pytest.approx(seat.part.size("flat_depth"), abs=0.02)
    assert seat.part.size("flat_depth") > 0.2


@pytest.mark.parametrize("plate", [0.0, 37.0, 200.0])
def test_a_hole_of_a_plate_stands_at_its_clock_counted_from_the_section_s_top(
    plate: float, tmp_path: Path
) -> None:
    mesh = written(checked(tmp_path, BUTTON.format(station=80, clock=90, plate=plate)))
    # The plate begins at the chassis's near end, station 3.3, and is some millimetres thick.
    middle = 10.5 * outward(plate + 25.0) + [0.0, 0.0, 3.3 + 1.5]
    wall = first_walls(mesh, middle, np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))
    # A lying hole has a roof at 45 degrees, so its upper half is no circle.
    x, y, radius = circle(wall[wall[:, 1] < 0.0])
    assert (x, y) == pytest.approx((0.0, 0.0), abs=WITHIN)
    # M3 passes: 3.2 to 3.6 mm over all classes of ISO 273, and the uncalibrated printer's term.
    assert 1.5 < radius < 2.0


CRADLE = (
    TUBE
    + """
[[section]]
kind = "cell_cradle"
name = "cell"
part = "cell 14500"
directions = ["{direction}"]
clock_deg = {clock}
station = 40

[[section]]
kind = "lead_bay"
name = "far bay"

[[section]]
kind = "end_plate"
name = "far plate"
"""
)


@pytest.mark.parametrize(
    ("direction", "clock"), [("plus_far", 90.0), ("plus_near", 90.0), ("plus_far", 37.0)]
)
def test_the_cell_s_side_is_open_and_the_plus_is_engraved_where_its_pole_points(
    direction: str, clock: float, tmp_path: Path
) -> None:
    text = CRADLE.format(station=20, clock=clock, direction=direction)
    text = text.replace("chassis_offset = 3.3", "chassis_offset = 40")
    result = checked(tmp_path, text)
    mesh = written(result)
    cradle = result.plan.sections[0]
    up, round_ = outward(clock), onward(clock)
    # Looking down from the section's top, a ray meets no arm before the seat's floor; from below it meets the base.
    middle = np.array([0.0, 0.0, cradle.z0 + (cradle.z1 - cradle.z0) * 0.3])
    assert hits(mesh, middle + 50.0 * up, -up)[0] > 50.0
    assert hits(mesh, middle - 50.0 * up, up)[0] < 50.0
    # A plus is sunk into the end wall all along and all across, a minus along one of both only.
    walls = {"near": cradle.z0 + 1.2, "far": cradle.z1 - 1.2}
    sunk = {end: _strokes(mesh, z, up, round_) for end, z in walls.items()}
    plus, minus = ("far", "near") if direction == "plus_far" else ("near", "far")
    assert sunk[plus] == (True, True)
    assert sunk[minus] in ((True, False), (False, True))


def _strokes(mesh: object, z: float, up: np.ndarray, round_: np.ndarray) -> tuple[bool, bool]:
    """Return whether the surface over a place is sunk a millimetre aside round the tube, and 0.65 along it."""

    def depth(aside: float, along: float) -> float:
        start = 50.0 * up + aside * round_ + [0.0, 0.0, z + along]
        return float(hits(mesh, start, -up)[0])

    whole = depth(4.0, 0.0)
    return (
        all(depth(a, 0.0) > whole - 0.25 + 0.3 for a in (-1.0, 1.0)),
        all(depth(0.0, a) > whole - 0.25 + 0.3 for a in (-0.65, 0.65)),
    )
