import io
import zipfile

import lib3mf
import numpy as np
import pytest

from chassis_gen.output.threemf import threemf_bytes
from tests.output.support import result


def pieces() -> list:
    solids = result().solids
    assert solids is not None
    return [(name, body, "PETG") for name, body in solids.pieces.items()]


@pytest.fixture(scope="module")
def data() -> bytes:
    return threemf_bytes(pieces(), "Small build")


def read(data: bytes):
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(data)
    assert reader.GetWarningCount() == 0
    return model


def meshes(model) -> list:
    objects = model.GetMeshObjects()
    found = []
    while objects.MoveNext():
        found.append(objects.GetCurrentMeshObject())
    return found


def test_a_strict_reader_finds_each_piece_closed_with_its_name(data: bytes) -> None:
    found = meshes(read(data))
    assert [m.GetName() for m in found] == ["chassis", "cap"]
    assert all(m.IsManifoldAndOriented() for m in found)


def test_the_unit_is_the_millimetre_and_the_material_has_its_name(data: bytes) -> None:
    model = read(data)
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    groups = model.GetBaseMaterialGroups()
    assert groups.MoveNext()
    group = groups.GetCurrentBaseMaterialGroup()
    names = [group.GetName(i) for i in group.GetAllPropertyIDs()]
    assert names == ["PETG"]
    assert all(m.GetObjectLevelProperty()[0] == group.GetResourceID() for m in meshes(model))


def test_volumes_are_those_of_the_solids(data: bytes) -> None:
    for mesh, (_, body, _) in zip(meshes(read(data)), pieces(), strict=True):
        points = np.array([tuple(v.Coordinates) for v in mesh.GetVertices()])
        faces = np.array([tuple(t.Indices) for t in mesh.GetTriangleIndices()])
        a, b, c = (points[faces[:, k]] for k in range(3))
        volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0
        assert volume == pytest.approx(body.volume, rel=1e-5)


def test_the_same_pieces_give_the_same_bytes_and_others_give_others(data: bytes) -> None:
    assert threemf_bytes(pieces(), "Small build") == data
    assert threemf_bytes(pieces(), "Other build") != data


def test_the_archive_carries_one_fixed_date(data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert archive.testzip() is None
