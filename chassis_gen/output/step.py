"""STEP: exact solids with part names, for exchange with other design programs.

cadquery is loaded here and in the exact kernel alone, and only when a STEP file is really written.
"""

from __future__ import annotations

import itertools
import re
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from chassis_gen.problems import InputError, Problem

SCHEMA = "AP242DIS"
"""The kernel's word for AP242, ISO 10303-242."""
FIXED_TIME = "1970-01-01T00:00:00"
_OCCURRENCE = re.compile(rb"(NEXT_ASSEMBLY_USAGE_OCCURRENCE\()'\d*'")


def exact_kernel() -> Any:
    """Return the exact kernel's module, loaded.

    Raises:
        InputError: code ``kernel-missing``, when it or a system library that it needs is not installed.
    """
    try:
        from chassis_gen.shapes import brep
    except ImportError as error:
        raise InputError(
            [
                Problem(
                    "kernel-missing",
                    f"no STEP files can be written: {error}",
                    allowed="install them, or build with --no-step",
                )
            ]
        ) from None
    return brep


def step_bytes(shapes: Sequence[tuple[str, Any]], title: str) -> bytes:
    """Return exact solids as a STEP file (AP242, mm); the same solids give the same bytes.

    One solid is written as one product; several as an assembly under the title, each with its name.

    Args:
        shapes: name and exact solid of each, standing as assembled.
        title: name of the assembly and of the file.

    Raises:
        InputError: when the kernel is missing, or it can't write the file.
    """
    exact_kernel()
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Controller, STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs
    from OCP.TCollection import TCollection_HAsciiString

    # These settings hold for the whole process, so they are set anew each time.
    STEPCAFControl_Controller.Init_s()
    Interface_Static.SetCVal_s("write.step.schema", SCHEMA)
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    writer = STEPCAFControl_Writer()
    writer.SetNameMode(True)
    writer.SetColorMode(False)
    writer.SetLayerMode(False)
    writer.SetPropsMode(False)
    if not writer.Transfer(_document(shapes, title), STEPControl_AsIs):
        raise InputError([Problem("cannot-write", f"the exact kernel can't turn {title} into STEP")])
    header = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
    header.SetTimeStamp(TCollection_HAsciiString(FIXED_TIME))
    header.SetName(TCollection_HAsciiString(_ascii(title)))
    header.SetAuthorValue(1, TCollection_HAsciiString(""))
    header.SetOrganizationValue(1, TCollection_HAsciiString(""))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "made.step"
        if writer.Write(str(path)) != IFSelect_RetDone or not path.is_file():
            raise InputError([Problem("cannot-write", f"the exact kernel can't write {title} as STEP")])
        return _renumbered(path.read_bytes())


def _document(shapes: Sequence[tuple[str, Any]], title: str) -> Any:
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    def named(label: Any, name: str) -> None:
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(_ascii(name)))

    document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    assembly = tool.NewShape() if len(shapes) > 1 else None
    if assembly is not None:
        named(assembly, title)
    for name, shape in shapes:
        label = tool.AddShape(_one_solid(shape).wrapped, False)
        named(label, name)
        if assembly is not None:
            named(tool.AddComponent(assembly, label, TopLoc_Location()), name)
    tool.UpdateAssemblies()
    return document


def _one_solid(shape: Any) -> Any:
    """Return the solid of a compound that holds just one, so that it is written as one part."""
    solids = shape.Solids()
    return solids[0] if len(solids) == 1 else shape


def _ascii(text: str) -> str:
    """Return text in the basic alphabet of ISO 10303-21; other letters become question marks."""
    return text.encode("ascii", "replace").decode("ascii")


def _renumbered(data: bytes) -> bytes:
    """Return the file with its assembly occurrences, which count on through a process, counted from 1."""
    count = itertools.count(1)
    return _OCCURRENCE.sub(lambda m: m.group(1) + b"'%d'" % next(count), data)
