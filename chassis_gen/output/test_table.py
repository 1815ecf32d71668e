"""What to measure before the cell goes in: the parts on the bench, the wires, the tube, the cradle.

Terminals of one net must beep, or show the resistance of the resistors between them; those of two nets must not.
Two nets that end at one part may beep through the part itself; which it is, the same part showed on the bench
before anything was joined.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.electrics.network import groups_of
from chassis_gen.electrics.poles import resists
from chassis_gen.output.markdown import aligned
from chassis_gen.output.nets import (
    JoinedNet,
    Site,
    all_wires,
    beeping_with,
    joined_nets,
    resistance,
    sites_of,
)
from chassis_gen.output.words import ohm_words
from chassis_gen.plan.chassis import ChassisPlan, Wire
from chassis_gen.plan.model import PlacedPart
from chassis_gen.plan.tube_metal import leads, metal_runs
from chassis_gen.tables.cautions import cautions
from chassis_gen.tables.electrical import ContactRow, contact_rows, electrical_rule
from chassis_gen.tables.harness import (
    CellVoltage,
    bench_steps,
    between_contacts,
    cell_voltage,
    part_kinds_that_are,
)

TUBE = "tube"
_FUSE = "fuse"
BEEP, NO_BEEP, AS_ON_BENCH = "beep", "no beep", "as on the bench"
_CAUTIONS = ("lithium_cell", "primary_cell", "charging", "soldering", "bright_light")


class BenchTest(Struct, frozen=True):
    """One test of a part before it is joined to anything.

    Args:
        part: part id.
        title: what it is.
        what: what to do.
        expected: what a sound part shows.
    """

    part: str
    title: str
    what: str
    expected: str


class PairTest(Struct, frozen=True):
    """One test between two terminals, or a terminal and the tube.

    Args:
        a: terminal id.
        b: terminal id, or ``tube``.
        nets: names of their nets.
        expected: ``beep``, a resistance, ``no beep``, or ``as on the bench`` where one part joins both nets.
        note: why, or "".
        through: id of the part whose own terminals the meter may beep through, or None.
    """

    a: str
    b: str
    nets: tuple[str, str]
    expected: str
    note: str = ""
    through: str | None = None


class CradleTest(Struct, frozen=True):
    """What to find at the contacts of one cell's cradle.

    Args:
        part: part id of the cell.
        voltage: of its kind of cell, or None where its chemistry isn't known.
        plus: terminal id of its plus, or None where no wire ends there.
        minus: terminal id of its minus, or None.
        feeds: terminals of other parts that share the net of its plus with no resistor between.
        returns: terminals of other parts that share the net of its minus with no resistor between.
        alone: False where another cell shares one of those nets: cells in series or side by side.
    """

    part: str
    voltage: CellVoltage | None
    plus: str | None
    minus: str | None
    feeds: tuple[str, ...]
    returns: tuple[str, ...]
    alone: bool = True


class Measurements(Struct, frozen=True):
    """Everything to measure before the cell goes in.

    Args:
        bench: per part, in order of sections.
        joined: pairs of one net; every terminal of a net against its first.
        apart: pairs of two nets, by one terminal of each, those that matter most first.
        tube: every net against the tube.
        cradles: per cell.
    """

    bench: tuple[BenchTest, ...]
    joined: tuple[PairTest, ...]
    apart: tuple[PairTest, ...]
    tube: tuple[PairTest, ...]
    cradles: tuple[CradleTest, ...]


def measurements(plan: ChassisPlan) -> Measurements:
    """Return what to measure in a build before its cell goes in.

    Args:
        plan: the build.
    """
    nets, sites = joined_nets(all_wires(plan)), sites_of(plan)
    return Measurements(
        tuple(t for p in plan.parts for t in _bench(p)),
        tuple(_together(n, other) for n in nets for other in n.terminals[1:]),
        _apart(plan, nets, sites),
        tuple(_against_tube(plan, n) for n in nets if metal_runs(plan.tube)),
        tuple(_cradle(p, nets, sites) for p in plan.parts if p.part.kind in part_kinds_that_are("changed")),
    )


def _bench(placed: PlacedPart) -> tuple[BenchTest, ...]:
    part = placed.part
    voltage = cell_voltage(part.cautions)
    figures = (
        {"low": f"{voltage.low:.1f}", "high": f"{voltage.high:.1f}"} if voltage else {"low": "?", "high": "?"}
    )
    return tuple(
        BenchTest(placed.id, part.title, step.what, step.expected.format(**figures))
        for step in bench_steps(part.kind)
    )


def _together(net: JoinedNet, other: str) -> PairTest:
    """Return the test of two terminals of one net: a beep, or the resistance between them."""
    first = net.terminals[0]
    names = (net.name, net.name)
    if other in beeping_with(net, first):
        fuses = [w for w in net.wires if any(b.kind == _FUSE for b in w.in_line)]
        past = groups_of(
            net.terminals, ((w.start, w.end) for w in net.wires if w not in fuses and not resists(w))
        )
        note = "" if past[first] == past[other] else _fuse_words(fuses)
        return PairTest(first, other, names, BEEP, note)
    ohm = resistance(net, first, other)
    wires = ", ".join(f'"{w.id}"' for w in net.wires if resists(w))
    if ohm is None:
        return PairTest(first, other, names, "its resistor's value", f"through the resistor in {wires}")
    beeps = " and beeps" if ohm < electrical_rule("meter_beep").value else ", no beep"
    words = f"through the resistor in {wires}, within its tolerance (usually 5 %)"
    return PairTest(first, other, names, f"{ohm_words(ohm)}{beeps}", words)


def _fuse_words(wires: Sequence[Wire]) -> str:
    names = ", ".join(f'"{w.id}"' for w in wires)
    return (
        f"through the fuse in {names}: one of under 100 mA shows some ohm; no reading means that it has blown"
    )


def _apart(plan: ChassisPlan, nets: Sequence[JoinedNet], sites: Mapping[str, Site]) -> tuple[PairTest, ...]:
    """Return every pair of nets: supply against return first, then by how near they come to each other."""
    lanes = [set(lane.wires) for lane in plan.lanes]
    made = [_pair(a, b, sites, lanes) for a, b in itertools.combinations(nets, 2)]
    return tuple(test for _, test in sorted(made, key=lambda m: m[0]))


def _pair(
    a: JoinedNet, b: JoinedNet, sites: Mapping[str, Site], lanes: Sequence[set[str]]
) -> tuple[int, PairTest]:
    """Return the test of two nets, and how early it comes: 0 first."""
    shared = [p for p in _parts(a, sites) if p in _parts(b, sites)]
    names = (a.name, b.name)
    cell = next((i for i, kind in shared if kind in part_kinds_that_are("changed")), None)
    if cell is not None:
        x, y = (_at_part(n, cell, sites) for n in (a, b))
        return 0, PairTest(x, y, names, NO_BEEP, "short of the cell: go no further if it beeps")
    for part, kind in shared:
        x, y = (_at_part(n, part, sites) for n in (a, b))
        if any({f"{part}.{row.a}", f"{part}.{row.b}"} == {x, y} for row in _cut_offs(kind)):
            note = f"{part}: its cut-off, open while the plug is in; take the plug out, and it beeps"
            return 1, PairTest(x, y, names, NO_BEEP, note)
    x, y = a.terminals[0], b.terminals[0]
    if shared:
        # a coil or a button says more of what the meter shows than a board does
        part, kind = min(shared, key=lambda p: between_contacts(p[1]) is None)
        known = between_contacts(kind)
        x, y = (_at_part(n, part, sites) for n in (a, b))
        if known:
            return 1, PairTest(x, y, names, AS_ON_BENCH, f"{part}: {known.expected}", part)
        return 2, PairTest(x, y, names, AS_ON_BENCH, through=part)
    wires = ({w.id for w in a.wires}, {w.id for w in b.wires})
    if any(lane & wires[0] and lane & wires[1] for lane in lanes):
        return 3, PairTest(x, y, names, NO_BEEP, "their wires share a lane")
    return 4, PairTest(x, y, names, NO_BEEP)


def _cut_offs(kind: str) -> tuple[ContactRow, ...]:
    """Return the contacts of a part kind that are closed until a plug goes in."""
    return tuple(row for row in contact_rows() if row.kind == kind and row.closed_at_rest)


def _parts(net: JoinedNet, sites: Mapping[str, Site]) -> list[tuple[str, str]]:
    """Return id and kind of the parts at which a net ends."""
    placed = (sites[t].part for t in net.terminals)
    return list(dict.fromkeys((p.id, p.part.kind) for p in placed if p is not None))


def _at_part(net: JoinedNet, part: str, sites: Mapping[str, Site]) -> str:
    """Return the first terminal of a net at a part."""
    return next(t for t in net.terminals if (p := sites[t].part) is not None and p.id == part)


def _against_tube(plan: ChassisPlan, net: JoinedNet) -> PairTest:
    wired = any(plan.own_terminals.get(t) == TUBE for t in net.terminals)
    expected, note = (BEEP, "this net is joined to the tube") if wired else (NO_BEEP, "")
    return PairTest(net.terminals[0], TUBE, (net.name, TUBE), expected, note)


def _cradle(placed: PlacedPart, nets: Sequence[JoinedNet], sites: Mapping[str, Site]) -> CradleTest:
    """Return what to find at a cell's contacts; their terminals are called plus and minus."""
    ends = []
    for sign in ("plus", "minus"):
        terminal = f"{placed.id}.{sign}"
        net = next((n for n in nets if terminal in n.terminals), None)
        others = tuple(t for t in beeping_with(net, terminal) if t != terminal) if net else ()
        ends.append((terminal if net else None, others))
    (plus, feeds), (minus, returns) = ends
    alone = not any(sites[t].kind in part_kinds_that_are("changed") for t in (*feeds, *returns))
    return CradleTest(placed.id, cell_voltage(placed.part.cautions), plus, minus, feeds, returns, alone)


def measurements_markdown(plan: ChassisPlan) -> str:
    """Return the test table of a build as Markdown, to be worked through before its cell goes in.

    Args:
        plan: the build.
    """
    table = measurements(plan)
    blocks = [
        f"# Tests before the cell goes in: {plan.title}",
        "Work through this from top to bottom with a multimeter, the cell out of the chassis. Tick each box; "
        "stop at the first that fails, find out why, and begin again at its section.",
        *_cautions(plan),
        *_bench_block(table),
        *_joined_block(table),
        *_apart_block(plan, table),
        *_tube_block(plan, table),
        *(block for c in table.cradles for block in _cradle_block(c)),
    ]
    return "\n\n".join(blocks) + "\n"


def _cautions(plan: ChassisPlan) -> tuple[str, ...]:
    known = {topic for p in plan.parts for topic in p.part.cautions} | set(plan.cautions) | {"soldering"}
    shown = cautions(t for t in _CAUTIONS if t in known)
    return ("## Cautions", *(f"**{c.title}.** {c.text}" for c in shown))


def _boxed(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    return aligned(("ok", *headings), [("[ ]", *row) for row in rows])


def _bench_block(table: Measurements) -> tuple[str, ...]:
    if not table.bench:
        return ()
    rows = [(f"{t.part}: {t.title}", t.what, t.expected) for t in table.bench]
    return (
        "## Each part on the bench",
        "Before anything is glued or soldered: a part that fails now costs nothing but itself.",
        _boxed(("part", "do", "sound if"), rows),
    )


def _joined_block(table: Measurements) -> tuple[str, ...]:
    how = "With every wire soldered, buttons let go, no plug in. Pull lightly at each wire while it beeps."
    plain = [(t.nets[0], t.a, t.b) for t in table.joined]
    if not any(t.note for t in table.joined):
        return ("## These pairs must beep", how, _boxed(("net", "from", "to"), plain))
    rows = [(*row, t.expected, t.note or "-") for row, t in zip(plain, table.joined, strict=True)]
    return (
        "## These pairs must beep",
        f"{how} Where a resistor lies between, measure in ohm and hold it against the figure.",
        _boxed(("net", "from", "to", "expected", "note"), rows),
    )


def _apart_block(plan: ChassisPlan, table: Measurements) -> tuple[str, ...]:
    if not table.apart:
        return ()
    rows = [(t.a, t.b, t.expected, t.note) for t in table.apart if t.note]
    jacks = [p.id for p in plan.parts if _cut_offs(p.part.kind)]
    plugged = f"With a plug that leads to nothing in {' and '.join(jacks)}. " if jacks else ""
    blocks = [
        "## These pairs must not beep",
        plugged
        + "One terminal of each net is enough. Where both nets end at one part the meter shows what that part "
        "alone showed on the bench (a speaker's coil counts as wire); anything else is a solder bridge or a "
        "bared wire. A short chirp that dies away is a capacitor.",
    ]
    blocks += [_boxed(("from", "to", "expected", "note"), rows)] if rows else []
    plain = [t for t in table.apart if not t.note]
    for part in dict.fromkeys(t.through for t in plain):
        heading = (
            f"As {part} alone showed on the bench:"
            if part
            else "No beep, with neither part nor lane in common:"
        )
        blocks += [heading, _one_to_many([t for t in plain if t.through == part])]
    return tuple(blocks)


def _one_to_many(tests: Sequence[PairTest]) -> str:
    others: dict[str, list[str]] = {}
    for t in tests:
        others.setdefault(t.a, []).append(t.b)
    return "\n".join(f"- [ ] {a} against: {'; '.join(them)}" for a, them in others.items())


def _tube_block(plan: ChassisPlan, table: Measurements) -> tuple[str, ...]:
    if not table.tube:
        return ()
    materials = ", ".join(dict.fromkeys(s.material for s in plan.tube.segments if leads(s)))
    rows = [(t.nets[0], t.a, t.expected, t.note or "-") for t in table.tube]
    return (
        "## The tube",
        f"Slide the chassis home without its cell and measure each net against bare metal of the tube "
        f"({materials}); scratch an anodised or painted spot bare first. Turn and shake it while you measure.",
        _boxed(("net", "from", "tube", "note"), rows),
    )


def _beeps_with(terminals: Sequence[str]) -> str:
    return f", which beeps with {'; '.join(terminals)}" if terminals else ""


def _cradle_block(test: CradleTest) -> tuple[str, ...]:
    if test.plus is None or test.minus is None:
        return (
            f"## The cradle: {test.part}",
            f"No wire ends at both contacts of {test.part}: it feeds nothing.",
        )
    volts = test.voltage
    span = f"{volts.low:.1f} to {volts.high:.1f} V" if volts else "within its data sheet's limits"
    why = f" {span}: {volts.what}, {volts.source}." if volts else ""
    nominal = f"{volts.nominal:g} V" if volts else "the cell's voltage"
    feeds = "; ".join(test.feeds)
    rows = [
        ("the mark + in the cradle", f"stands at the contact of {test.plus}{_beeps_with(test.feeds)}"),
        ("the mark - in the cradle", f"stands at the contact of {test.minus}{_beeps_with(test.returns)}"),
        ("the cell, still out, red lead on its plus", f"positive, {span}"),
        (
            f"the cell in, red lead at {test.plus}, black at {test.minus}",
            "the same voltage within 0.1 V, with no minus sign; nothing grows warm within five minutes",
        ),
    ]
    if test.alone and test.feeds and test.returns:
        supplied = (
            f"a supply of {nominal} limited to 100 mA, red at {test.plus}, black at {test.minus}",
            f"+{nominal} at each of {feeds}, the black lead at {test.returns[0]}; the current settles",
        )
        rows.insert(2, supplied)
    return (
        f"## The cradle: {test.part}",
        "Only when all above is ticked. A cell the wrong way round destroys boards and may burn." + why,
        _boxed(("what", "find"), rows),
    )
