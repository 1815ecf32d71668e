"""What a section may know before its station is known: printer terms, fit classes, parts, material, rules."""

from __future__ import annotations

from collections.abc import Callable

from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.params.finish import FinishTable
from chassis_gen.parts.catalogue import catalogue, find_part, overridden
from chassis_gen.parts.model import Part
from chassis_gen.plan.finish import Coat, Finish, single_coat
from chassis_gen.plan.fitting import Fitter, adjustment
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.noted import known_bases
from chassis_gen.plan.printing import fit_classes, least_wall, printer_terms
from chassis_gen.plan.sums import Term
from chassis_gen.plan.tube import Tube
from chassis_gen.problems import InputError, nearest_name
from chassis_gen.sections.base import Material, Rules, Setting
from chassis_gen.tables.fits import printer_rules
from chassis_gen.tables.materials import all_materials, find_material

DEFAULT_WALL = 1.6
"""Wall that a section draws where nothing else decides, mm: four 0.4 mm lines (no source)."""


def make_setting(inputs: BuildInputs, tube: Tube, gathering: Gathering) -> Setting:
    """Return the setting that all sections share.

    Args:
        inputs: the build's files.
        tube: the tube.
        gathering: takes what is wrong with bearing, material and part sizes.
    """
    b = inputs.build
    printer = inputs.build.build.printer
    classes = fit_classes(inputs.printer, printer)
    if b.bearing.fit not in classes:
        rejection = Rejection(
            "unknown-name",
            f'"{b.bearing.fit}" is no fit class',
            ", ".join(classes),
            nearest_name(b.bearing.fit, classes),
        )
        gathering.reject(inputs, ("bearing", "fit"), rejection)
    adjustments: dict[str, tuple[Term, ...]] = {}
    for row in b.adjustment:
        adjustments[row.dimension] = (*adjustments.get(row.dimension, ()), adjustment(row.add, row.why))
    for name, terms in inputs.trial.items():
        adjustments[name] = (*adjustments.get(name, ()), *terms)
    try:
        m = find_material(b.build.material)
    except InputError as error:
        gathering.add(inputs.located(("build", "material"), error))
        # whatever is printed: the build is rejected, and what else is wrong with it is told with that
        m = all_materials()[0]
    p = inputs.printer
    rules = printer_rules()
    nozzle = p.nozzle if p else rules["nozzle_diameter"].value
    return Setting(
        fitter=Fitter(
            classes,
            printer_terms(inputs.printer, printer),
            _finish(b.finish),
            adjustments,
            known_bases(inputs),
        ),
        find_part=_part_finder(inputs, gathering),
        rules=Rules(
            nozzle=nozzle,
            layer=p.layer if p else nozzle / 2,
            least_wall=least_wall(p),
            wall=max(DEFAULT_WALL, 4 * nozzle),
        ),
        material=Material(m.name, m.density.value, m.snap_strain.value, m.layer_factor.value),
        openings={o.name: o for o in tube.openings},
        smallest_bore=min(x.diameter for x in tube.bores),
    )


def _finish(table: FinishTable) -> Finish:
    """Return the coats of a build, one by one where they are given so."""
    coats = tuple(Coat(c.name, c.thickness) for c in table.coat) or single_coat(table.coating).coats
    return Finish(coats, "outside" in table.surfaces, "inside" in table.surfaces, table.mask)


def _part_finder(inputs: BuildInputs, gathering: Gathering) -> Callable[[str], Part]:
    """Return the part look-up with the build's own sizes put over the catalogue's."""
    known = {**catalogue(), **inputs.parts}
    changed: dict[str, Part] = {}
    for name, sizes in inputs.build.part.items():
        try:
            changed[name] = overridden(find_part(name, inputs.parts), sizes)
        except InputError as error:
            for p in error.problems:
                key = next((k for k in sizes if k in (p.key or "") or k in p.message), None)
                path: KeyPath = ("part", name, key) if key else ("part", name)
                gathering.reject(inputs, path, Rejection(p.code, p.message, p.allowed, p.nearest))
    return lambda name: find_part(name, {**known, **changed})
