"""Section solids through the cache.

A solid that was just made carries more than its vertices and facets: which facets came from which primitive,
and a tolerance. Those decide how a later union is simplified. So every solid goes through its stored form,
also when it is made anew or nothing is kept: a run from the cache and one without it write the same bytes.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from chassis_gen.cache.store import Keeper

if TYPE_CHECKING:
    from chassis_gen.shapes.body import Body
    from chassis_gen.shapes.recipe import Recipe


def mesh_of(recipe: Recipe, chord: float, keeper: Keeper) -> Body:
    """Return a recipe's faceted solid.

    Args:
        recipe: the recipe; its name doesn't count.
        chord: chord tolerance, mm.
        keeper: the cache.

    Raises:
        GeometryError: when no solid can be made of it.
    """
    from chassis_gen.shapes import mesh

    data = keeper.kept("mesh", (recipe.steps, chord), lambda: body_bytes(mesh.make(recipe, chord)))
    return body_of(data, chord, recipe.name)


def body_bytes(body: Body) -> bytes:
    """Return a body's vertices and facets as an npz file."""
    import numpy as np

    vertices, faces = body.arrays()
    stream = io.BytesIO()
    np.savez(stream, vertices=vertices, faces=faces)
    return stream.getvalue()


def body_of(data: bytes, chord: float, label: str) -> Body:
    """Return the body of an npz file.

    Args:
        data: made by `body_bytes`.
        chord: chord tolerance of its round walls, mm.
        label: what it is for, shown in an error.

    Raises:
        GeometryError: when the facets don't enclose a solid.
    """
    import numpy as np

    from chassis_gen.shapes.body import from_arrays

    with np.load(io.BytesIO(data), allow_pickle=False) as arrays:
        return from_arrays(arrays["vertices"], arrays["faces"], chord, label)


def exact_of(recipe: Recipe, keeper: Keeper) -> Any:
    """Return a recipe's exact solid.

    Args:
        recipe: the recipe; its name doesn't count.
        keeper: the cache.

    Raises:
        GeometryError: when no solid can be made of it.
        InputError: when the exact kernel is missing.
    """
    from chassis_gen.shapes import brep

    data = keeper.kept("exact", recipe.steps, lambda: brep.shape_bytes(brep.make(recipe)))
    return brep.shape_of(data)
