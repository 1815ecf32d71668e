"""Rigid frames: where a primitive or a part stands in the tube's coordinates.

The tube's axes: +z runs along the axis from the mouth going in (the *station*), +x is clock 0 and
+y clock 90 (the top). Seen from the mouth looking in, clock angles run clockwise.
"""

from __future__ import annotations

import math

from msgspec import Struct

Vec3 = tuple[float, float, float]


class Frame(Struct, frozen=True):
    """A right-handed rigid frame.

    Args:
        origin: position of the frame's origin, mm.
        x_axis: unit vector of the frame's x axis.
        y_axis: unit vector of the frame's y axis.
        z_axis: unit vector of the frame's z axis.
    """

    origin: Vec3 = (0.0, 0.0, 0.0)
    x_axis: Vec3 = (1.0, 0.0, 0.0)
    y_axis: Vec3 = (0.0, 1.0, 0.0)
    z_axis: Vec3 = (0.0, 0.0, 1.0)

    def point(self, p: Vec3) -> Vec3:
        """Return a local point in the outer coordinates, mm."""
        o, a, b, c = self.origin, self.x_axis, self.y_axis, self.z_axis
        return tuple(o[i] + p[0] * a[i] + p[1] * b[i] + p[2] * c[i] for i in range(3))  # type: ignore[return-value]

    def vector(self, v: Vec3) -> Vec3:
        """Return a local direction in the outer coordinates."""
        a, b, c = self.x_axis, self.y_axis, self.z_axis
        return tuple(v[0] * a[i] + v[1] * b[i] + v[2] * c[i] for i in range(3))  # type: ignore[return-value]

    def __matmul__(self, inner: Frame) -> Frame:
        """Return the frame `inner`, given in this frame, in the outer coordinates."""
        return Frame(
            self.point(inner.origin),
            self.vector(inner.x_axis),
            self.vector(inner.y_axis),
            self.vector(inner.z_axis),
        )

    def moved(self, d: Vec3) -> Frame:
        """Return the frame shifted by an outer vector, mm."""
        o = self.origin
        return Frame((o[0] + d[0], o[1] + d[1], o[2] + d[2]), self.x_axis, self.y_axis, self.z_axis)

    def matrix_rows(self) -> tuple[tuple[float, float, float, float], ...]:
        """Return the 3 x 4 matrix (rotation columns, then origin) as rows."""
        o, a, b, c = self.origin, self.x_axis, self.y_axis, self.z_axis
        return tuple((a[i], b[i], c[i], o[i]) for i in range(3))


IDENTITY = Frame()


def _exact(value: float) -> float:
    """Return a sine or cosine with the rounding noise of quarter turns removed."""
    nearest = round(value * 2.0) / 2.0
    return nearest if abs(value - nearest) < 1e-15 else value


def unit(clock_deg: float) -> tuple[float, float]:
    """Return (cos, sin) of a clock angle in degrees, exact at quarter turns."""
    a = math.radians(clock_deg % 360.0)
    return _exact(math.cos(a)), _exact(math.sin(a))


def turn_between(clock_deg: float, other_deg: float) -> float:
    """Return by how much one clock turns to another the shorter way, from -180 to below 180 degrees."""
    return (other_deg - clock_deg + 180.0) % 360.0 - 180.0


def shifted(x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Frame:
    """Return an unrotated frame at (x, y, z), mm."""
    return Frame((x, y, z))


def clocked(clock_deg: float, station: float = 0.0) -> Frame:
    """Return a frame turned about the tube's axis so that its +x points to a clock angle.

    Args:
        clock_deg: clock of the frame's +x axis, degrees.
        station: z of the origin, mm.
    """
    c, s = unit(clock_deg)
    return Frame((0.0, 0.0, station), (c, s, 0.0), (-s, c, 0.0), (0.0, 0.0, 1.0))


def topped(clock_deg: float, station: float = 0.0) -> Frame:
    """Return a frame turned about the tube's axis so that its +y (its top) points to a clock angle.

    Args:
        clock_deg: clock of the frame's +y axis, degrees; 90 gives no turn.
        station: z of the origin, mm.
    """
    return clocked(clock_deg - 90.0, station)


def radial(clock_deg: float, station: float, radius: float = 0.0) -> Frame:
    """Return a frame whose +z points outward at a clock angle and whose +y runs along the tube (+z).

    Its +x then points the way clock angles grow.

    Args:
        clock_deg: clock of the frame's +z axis, degrees.
        station: station of the origin, mm.
        radius: distance of the origin from the tube's axis, mm.
    """
    c, s = unit(clock_deg)
    return Frame((radius * c, radius * s, station), (-s, c, 0.0), (0.0, 0.0, 1.0), (c, s, 0.0))


def reversed_axis(frame: Frame) -> Frame:
    """Return the frame turned half round its own y axis: its +z points the other way."""
    return Frame(frame.origin, negated(frame.x_axis), frame.y_axis, negated(frame.z_axis))


def negated(v: Vec3) -> Vec3:
    """Return a vector that points the other way."""
    return (-v[0], -v[1], -v[2])
