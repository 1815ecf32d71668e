"""Taking parts and tubes in: readings and models in, files in profiles/ out; asks only at a terminal."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from chassis_gen.cli.groups import prompted
from chassis_gen.cli.session import PASS, Session
from chassis_gen.cli.text import table, terminal_width
from chassis_gen.problems import InputError, Problem

if TYPE_CHECKING:
    from chassis_gen.params.readings import Averaged
    from chassis_gen.params.workspace import SharedKind
    from chassis_gen.parts.model import ExactMesh, Part
    from chassis_gen.shapes.envelope import Envelope
    from chassis_gen.shapes.models import Model


def write_shared(
    session: Session, kind: SharedKind, name: str, values: Mapping[str, Any], head: str, model: Any
) -> str:
    """Write a file in profiles/ with values put into what is there, and return its name as shown.

    Args:
        session: the run.
        kind: the folder under ``profiles/``.
        name: the file's name without ``.toml``.
        values: as `chassis_gen.params.merging.merged_text` takes them.
        head: comment at the top of a new file.
        model: the pydantic model that the file must be, before anything is written.

    Raises:
        InputError: the file that would be written isn't sound, or it can't be written.
    """
    from chassis_gen.params.merging import merged_text
    from chassis_gen.params.reading import Source, parse_model, read_text
    from chassis_gen.params.writing import write_text_atomically

    path = session.workspace.new_shared_file(kind, name)
    file = f"profiles/{kind}/{name}.toml"
    before = (
        read_text(path, session.root)[1]
        if path.exists()
        else "".join(f"# {line}\n" for line in head.splitlines())
    )
    text = merged_text(before, values)
    parse_model(Source(file, text, tomllib.loads(text)), model)
    path.parent.mkdir(parents=True, exist_ok=True)
    write_text_atomically(path, text)
    return file


class Measuring(Struct, frozen=True):
    """Measuring one part.

    Args:
        session: the run.
        name: the part's.
    """

    session: Session
    name: str

    def part(
        self,
        kind: str | None,
        like: str | None,
        sizes: Sequence[str],
        mass_g: float | None,
        title: str | None,
        source: str | None,
        accuracy: float | None,
    ) -> int:
        """Write the part file and say what was written.

        Args:
            kind: part kind, or None.
            like: part that has the sizes which aren't measured, or None.
            sizes: options of the form ``size=readings``.
            mass_g: mass, g, or None.
            title: one line, or None.
            source: who measured, or None.
            accuracy: plus-minus of the caliper, mm, or None for the usual.
        """
        from chassis_gen.params.readings import checked_accuracy, named
        from chassis_gen.parts.measured import measured_values, read_sizes
        from chassis_gen.parts.partfile import PartFile

        before = self._base(like)
        base_kind = kind or (before.kind if before else None)
        if base_kind is None:
            raise InputError([Problem("missing-key", "a new part needs a kind, or a part that it is like",
                                      allowed="--kind or --like", key="--kind")])  # fmt: skip
        given = dict(named(sizes, "--size", "rim_diameter=32.1,32.0,32.2"))
        if not given:
            given = self._asked(base_kind)
        found = read_sizes(base_kind, given, checked_accuracy(accuracy))
        values = measured_values(self.name, base_kind, found, before, mass_g, title, source)
        head = f"Measured with chassis-gen parts measure {self.name}. Lengths in mm."
        file = write_shared(self.session, "parts", self.name, values, head, PartFile)
        document = {
            "status": "written",
            "part": self.name,
            "file": file,
            "sizes": {
                n: {
                    "mean": a.mean,
                    "spread": a.spread,
                    "tolerance": a.tolerance,
                    "readings": list(a.readings),
                }
                for n, a in found.items()
            },
        }
        self.session.show(document, lambda: _sizes_text(file, found))
        return PASS

    def _base(self, like: str | None) -> Part | None:
        from chassis_gen.cli.parts import own_parts
        from chassis_gen.parts.catalogue import find_part

        own = own_parts(self.session)
        if like is not None:
            return find_part(like, own)
        return own.get(self.name)

    def _asked(self, kind: str) -> dict[str, str]:
        """Return readings that are typed at a terminal, size by size.

        Raises:
            InputError: nothing was given and nobody can be asked.
        """
        from chassis_gen.parts.kinds import find_kind

        found = {}
        for rule in find_kind(kind).rules:
            text = prompted(f"{rule.name} ({rule.meaning}), {rule.unit}", self.session.wants_json)
            if text is None:
                example = f"--size {rule.name}=32.1,32.0,32.2"
                raise InputError([Problem("missing-key", "no size is given", key="--size", allowed=example)])
            if text:
                found[rule.name] = text
        return found


def _sizes_text(file: str, found: Mapping[str, Averaged]) -> str:
    rows = [
        (n, f"{a.mean:.3f}", f"{a.spread:.3f}", f"{a.tolerance:.3f}", ", ".join(f"{r:g}" for r in a.readings))
        for n, a in found.items()
    ]
    header = ("size", "mean", "spread", "+-", "readings")
    return f"{table(header, rows, terminal_width(), (1, 2, 3))}\n\nWritten to {file}. Lengths in mm."


class Importing(Struct, frozen=True):
    """Taking one part in from a model; the fields are the command's arguments."""

    session: Session
    name: str
    path: Path
    units: str | None
    up: str | None
    along: str | None
    all_shells: bool
    tolerance: float
    mass_g: float | None
    title: str | None
    terminals: tuple[str, ...]

    def run(self) -> int:
        """Write the part file and say what was written."""
        from chassis_gen.params.reading import read_bytes, shown_name
        from chassis_gen.parts.partfile import PartFile
        from chassis_gen.shapes.envelope import EXACT_TRIANGLES, envelope_of
        from chassis_gen.shapes.errors import GeometryError
        from chassis_gen.shapes.models import MOST_BYTES, read_model_bytes

        file = shown_name(self.path, self.session.root)
        # a bad name is said before a model is read, which may take a while
        target = self.session.workspace.new_shared_file("parts", self.name)
        terminals = self._terminal_rows()
        with self.session.progress() as progress:
            progress("reading the model")
            data = read_bytes(self.path, self.session.root, MOST_BYTES)
            model = read_model_bytes(data, self.path.suffix.lower(), file)
        unit, unit_words = self._unit(model, file)
        with self.session.progress() as progress:
            progress("making convex pieces")
            try:
                made = envelope_of(
                    model, unit, file, up=self.up, along=self.along, all_shells=self.all_shells
                )
            except GeometryError as error:
                raise InputError([Problem("model-format", error.why, file)]) from None
        exact = _exact(made) if len(made.faces) <= EXACT_TRIANGLES else None
        digest = hashlib.sha256(data).hexdigest()
        values = self._values(made, file, digest, terminals)
        if exact is not None:
            self._write_mesh(target, exact, values)
        else:
            values["mesh"] = None
        head = f"Made by chassis-gen parts from {self.name} {self.path.name}. Lengths in mm, in the part's own frame."
        written = write_shared(self.session, "parts", self.name, values, head, PartFile)
        sizes = {k: v["value"] for k, v in values["sizes"].items()}
        document = {
            "status": "written",
            "part": self.name,
            "file": written,
            "unit_mm": unit,
            "sizes": sizes,
            "pieces": len(made.pieces),
            "units": unit_words,
            "up": made.turn[2].round(4).tolist(),
            "along": made.turn[1].round(4).tolist(),
            "axes": self._axes(made),
            "triangles": len(made.faces),
            "exact_mesh": exact is not None,
            "volume_mm3": made.volume,
            "left_out_mm3": made.left_out,
            "waste_mm3": made.waste,
        }
        self.session.show(document, lambda: _imported_text(document))
        return PASS

    def _unit(self, model: Model, file: str) -> tuple[float, str]:
        """Return mm per unit of the model and who says so: the option, the file, or the maker at a terminal.

        Raises:
            InputError: nobody says it.
        """
        from chassis_gen.shapes.envelope import model_size, plausible
        from chassis_gen.shapes.models import UNITS

        if self.units is not None:
            return UNITS[self.units], f"{self.units}, as given"
        if model.unit is not None:
            name = next((u for u, factor in UNITS.items() if factor == model.unit), f"{model.unit:g} mm")
            return model.unit, f"{name}, as the file says"
        sizes = {u: model_size(model, factor) for u, factor in UNITS.items()}
        shown = {
            u: f"{u} ({' x '.join(f'{v:.4g}' for v in size)} mm large)"
            for u, size in sizes.items()
            if plausible(size)
        }
        if shown:
            asked = f"In which unit was it drawn: {', '.join(shown.values())}?"
            answer = prompted(asked, self.session.wants_json)
            if answer in shown:
                return UNITS[answer], f"{answer}, as typed"
        sure = f"--units with {', '.join(shown.values())}" if shown else "--units mm, cm, m or in"
        raise InputError(
            [Problem("model-units", "the file doesn't say in which unit it was drawn", file, allowed=sure)]
        )

    def _axes(self, made: Envelope) -> str:
        """Return which axes of the model became the part's, and why."""
        why = (
            "as given"
            if self.up
            else f"away from its largest face, {100 * made.stands_on:.0f} % of the surface"
            if made.stands_on
            else "as drawn, for no plane face has a fair share of the surface"
        )
        across = "as given" if self.along else "its longest side across that"
        return f"up is the model's {_axis_words(made.turn[2])} ({why}), along is {_axis_words(made.turn[1])} ({across})"

    def _terminal_rows(self) -> list[dict[str, Any]]:
        from chassis_gen.params.readings import named, read_numbers

        rows = []
        for name, text in named(self.terminals, "--terminal", '"plus=3,-10,1.6"').items():
            place = read_numbers(text, f"the place of terminal {name}", -500, 500)
            if len(place) != 3:
                raise InputError([Problem("wrong-count", f"the place of terminal {name} has three numbers",
                                          value=f'"{text}"', allowed="x,y,z")])  # fmt: skip
            rows.append({"name": name, "position": list(place)})
        return rows

    def _values(
        self, made: Envelope, file: str, digest: str, terminals: list[dict[str, Any]]
    ) -> dict[str, Any]:
        sizes = dict(zip(("width", "length", "height"), (made.high - made.low).tolist(), strict=True))
        values: dict[str, Any] = {"kind": "imported"}
        there = self.session.workspace.names("parts")
        if self.title or self.name not in there:
            values["title"] = self.title or self.name
        if self.mass_g is not None or self.name not in there:
            values["mass_g"] = (
                self.mass_g if self.mass_g is not None else round(made.volume * DENSITY / 1000, 2)
            )
        values["source"] = f"model {Path(file).name}, sha256 {digest[:16]}"
        values["sizes"] = {k: {"value": round(v, 4), "tolerance": self.tolerance} for k, v in sizes.items()}
        if terminals:
            values["terminal"] = terminals
        values["envelope"] = [
            {"points": [[_plain(v) for v in p] for p in piece.tolist()]} for piece in made.pieces
        ]
        return values

    def _write_mesh(self, target: Path, exact: ExactMesh, values: dict[str, Any]) -> None:
        from chassis_gen.params.writing import write_bytes_atomically
        from chassis_gen.parts.own import mesh_bytes

        data = mesh_bytes(exact)
        name = f"{self.name}.mesh.npz"
        target.parent.mkdir(parents=True, exist_ok=True)
        write_bytes_atomically(target.parent / name, data)
        values["mesh"] = {"file": name, "sha256": hashlib.sha256(data).hexdigest()}


DENSITY = 1.8
"""Of a part whose mass isn't given, g/cm3: glass-filled board material and plastics (estimate)."""


def _axis_words(axis: Any) -> str:
    """Return a direction in the model as an axis such as ``+z``, or as its three components."""
    values = [float(v) for v in axis]
    k = max(range(3), key=lambda i: abs(values[i]))
    if abs(values[k]) > 1.0 - 1e-6:
        return ("+" if values[k] > 0 else "-") + "xyz"[k]
    return "(" + ", ".join(f"{v:.3f}" for v in values) + ")"


def _plain(value: float) -> float:
    return round(value, 5) + 0.0


def _exact(made: Envelope) -> ExactMesh:
    from chassis_gen.parts.model import ExactMesh

    return ExactMesh(made.vertices.astype("<f8").tobytes(), made.faces.astype("<i4").tobytes())


def _imported_text(d: Mapping[str, Any]) -> str:
    sizes = d["sizes"]
    rows: list[tuple[str, str]] = [
        ("size x, y, z", f"{sizes['width']:.2f} x {sizes['length']:.2f} x {sizes['height']:.2f} mm"),
        ("drawn in", d["units"]),
        ("axes", d["axes"]),
        (
            "convex pieces",
            f"{d['pieces']}, {d['waste_mm3']:.1f} mm3 larger than the model's {d['volume_mm3']:.1f} mm3",
        ),
        ("left outside them", f"{d['left_out_mm3']:.2g} mm3"),
        (
            "model",
            f"{d['triangles']} triangles, {'kept for the checks' if d['exact_mesh'] else 'too many to keep'}",
        ),
    ]
    text = table((d["part"], ""), rows, terminal_width())
    return f"{text}\n\nWritten to {d['file']}. Measure the part in hand: a model isn't the part."
