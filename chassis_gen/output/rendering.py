"""The process that draws: reads scenes from its input and writes PNG pictures to its output, both pickled.

Only `chassis_gen.output.pictures` runs it. Without the graphics library it answers with the reason.
"""

from __future__ import annotations

import pickle
import struct
import sys
import zlib
from collections.abc import Sequence
from typing import Any

import numpy as np

from chassis_gen.output.scene import Colour, Item, Scene, View

BACKGROUND: Colour = (0.965, 0.965, 0.955)
EDGE: Colour = (0.13, 0.15, 0.18)
_CREASE_DEG = 28.0
_SUPERSAMPLING = 2


def drawn(scenes: Sequence[Scene]) -> list[bytes] | str | None:
    """Return a PNG picture of each scene, why there is none, or None when what was drawn stays empty.

    Args:
        scenes: what to show, and where from.
    """
    try:
        import vtkmodules.vtkRenderingOpenGL2  # noqa: F401
        from vtkmodules import vtkRenderingCore
        from vtkmodules.vtkCommonCore import vtkObject
    except ImportError as error:
        return (
            f"no pictures can be drawn ({error}); they need vtk, which comes with cadquery, and the system "
            f"libraries libGL.so.1 and libX11.so.6 (Debian packages libgl1 and libx11-6)"
        )
    vtkObject.GlobalWarningDisplayOff()
    made = [_picture(vtkRenderingCore, scene) for scene in scenes]
    whole = [picture for picture in made if picture is not None]
    return whole if len(whole) == len(made) else None


def _picture(core: Any, scene: Scene) -> bytes | None:
    window = core.vtkRenderWindow()
    window.SetOffScreenRendering(1)
    window.SetMultiSamples(0)
    window.SetAlphaBitPlanes(1)
    window.SetSize(*(_SUPERSAMPLING * n for n in scene.view.size))
    renderer = _renderer(core, scene.items)
    window.AddRenderer(renderer)
    _aim(renderer, scene.view, scene.items)
    pixels = _pixels(window)
    return None if pixels is None else _png(pixels)


def _renderer(core: Any, items: Sequence[Item]) -> Any:
    renderer = core.vtkRenderer()
    renderer.SetBackground(*BACKGROUND)
    renderer.SetUseDepthPeeling(1)
    renderer.SetMaximumNumberOfPeels(5)
    renderer.SetOcclusionRatio(0.0)
    renderer.RemoveAllLights()
    renderer.AutomaticLightCreationOff()
    for place, strength in (((-0.5, 0.9, 1.0), 0.78), ((0.9, 0.2, 0.8), 0.32), ((0.0, -1.0, 0.4), 0.16)):
        light = core.vtkLight()
        light.SetLightTypeToCameraLight()
        light.SetPosition(*place)
        light.SetFocalPoint(0.0, 0.0, 0.0)
        light.SetIntensity(strength)
        renderer.AddLight(light)
    for item in items:
        for actor in _actors(core, item):
            renderer.AddActor(actor)
    return renderer


def _actors(core: Any, item: Item) -> list[Any]:
    from vtkmodules.vtkFiltersCore import vtkFeatureEdges, vtkPolyDataNormals

    data = _poly_data(item)
    smooth = vtkPolyDataNormals()
    smooth.SetInputData(data)
    smooth.SetFeatureAngle(_CREASE_DEG)
    smooth.SplittingOn()
    faces = _actor(core, smooth, item.colour)
    faces.GetProperty().SetOpacity(item.opacity)
    faces.GetProperty().SetAmbient(1.0 if item.flat else 0.30)
    faces.GetProperty().SetDiffuse(0.0 if item.flat else 0.9)
    faces.GetMapper().SetResolveCoincidentTopologyToPolygonOffset()
    faces.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(1.0, 1.0)
    if not item.edges:
        return [faces]
    creases = vtkFeatureEdges()
    creases.SetInputData(data)
    creases.SetFeatureAngle(_CREASE_DEG)
    creases.NonManifoldEdgesOff()
    creases.ColoringOff()
    lines = _actor(core, creases, EDGE)
    lines.GetProperty().SetLineWidth(1.3 * _SUPERSAMPLING)
    lines.GetProperty().LightingOff()
    lines.GetProperty().SetOpacity(1.0 if item.opacity >= 1.0 else 0.45)
    return [faces, lines]


def _actor(core: Any, source: Any, colour: Colour) -> Any:
    mapper = core.vtkPolyDataMapper()
    mapper.SetInputConnection(source.GetOutputPort())
    mapper.ScalarVisibilityOff()
    actor = core.vtkActor()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*colour)
    return actor


def _untyped(name: str) -> Any:
    """Return a function of the library's array bridge, which carries no types."""
    from vtkmodules.util import numpy_support

    return getattr(numpy_support, name)


def _poly_data(item: Item) -> Any:
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    points = vtkPoints()
    points.SetData(_untyped("numpy_to_vtk")(np.ascontiguousarray(item.points, dtype=np.float64), deep=1))
    faces = np.asarray(item.faces, dtype=np.int64)
    rows = np.hstack([np.full((len(faces), 1), 3, dtype=np.int64), faces]).ravel()
    cells = vtkCellArray()
    cells.SetCells(len(faces), _untyped("numpy_to_vtkIdTypeArray")(rows, deep=1))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(cells)
    return data


def _aim(renderer: Any, view: View, items: Sequence[Item]) -> None:
    """Point the camera so that everything just fits, seen without perspective."""
    eye = np.array(view.toward_eye) / np.linalg.norm(view.toward_eye)
    right = np.cross(view.up, eye)
    right /= np.linalg.norm(right)
    up = np.cross(eye, right)
    points = np.concatenate([np.asarray(i.points, dtype=np.float64)[np.unique(i.faces)] for i in items])
    seen = points @ np.array([right, up, eye]).T
    low, high = seen.min(axis=0), seen.max(axis=0)
    middle = (low + high) / 2
    focus = middle[0] * right + middle[1] * up + middle[2] * eye
    reach = float(np.linalg.norm(high - low)) + 10.0
    camera = renderer.GetActiveCamera()
    camera.ParallelProjectionOn()
    camera.SetFocalPoint(*focus)
    camera.SetPosition(*(focus + reach * eye))
    camera.SetViewUp(*up)
    width, height = view.size
    camera.SetParallelScale(1.07 * max((high[1] - low[1]) / 2, (high[0] - low[0]) / 2 * height / width))
    camera.SetClippingRange(0.1, 2.0 * reach)


def _pixels(window: Any) -> Any:
    """Return what was rendered, rows from the top, brought down to its final size; None when it is empty."""
    from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

    window.Render()
    grab = vtkWindowToImageFilter()
    grab.SetInput(window)
    grab.ReadFrontBufferOff()
    grab.ShouldRerenderOff()
    grab.Update()
    image = grab.GetOutput()
    width, height, _ = image.GetDimensions()
    scalars = image.GetPointData().GetScalars()
    if scalars is None or width < _SUPERSAMPLING or height < _SUPERSAMPLING:
        return None
    raw = _untyped("vtk_to_numpy")(scalars).reshape(height, width, -1)[::-1, :, :3].astype(np.uint16)
    if int(np.ptp(raw)) == 0:
        return None
    n = _SUPERSAMPLING
    total = sum(raw[i::n, j::n] for i in range(n) for j in range(n))
    return ((total + n * n // 2) // (n * n)).astype(np.uint8)


def _png(pixels: Any) -> bytes:
    """Return pixels as a PNG file of 8-bit colours (W3C, Portable Network Graphics, sections 5 and 11)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    height, width, _ = pixels.shape
    # Each row begins with the number of its filter; 2 stores the difference to the row above.
    differences = np.diff(pixels.astype(np.int16), axis=0, prepend=0).astype(np.uint8).reshape(height, -1)
    rows = np.hstack([np.full((height, 1), 2, dtype=np.uint8), differences])
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(rows.tobytes(), 6)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


if __name__ == "__main__":
    sys.stdout.buffer.write(pickle.dumps(drawn(pickle.loads(sys.stdin.buffer.read()))))
