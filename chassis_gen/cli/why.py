"""``chassis-gen why``: one dimension as the labelled sum it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.outcome import TRUST
from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.cli.text import table, terminal_width

if TYPE_CHECKING:
    from chassis_gen.plan.sums import Dimension


@click.command("why")
@click.argument("build")
@click.argument("dimension", required=False)
@TRUST
@json_option
@click.pass_obj
def command(session: Session, build: str, dimension: str | None) -> int:
    """Print one dimension's labelled sum.

    Without DIMENSION, list the dimensions that the build has.
    """
    from chassis_gen.pipeline import load_build
    from chassis_gen.plan.planner import plan_build

    with session.progress() as progress:
        progress("planning")
        # without the remedies of findings, which cost a plan each
        loaded = load_build(session.workspace, build)
        plan = plan_build(loaded.inputs, loaded.kinds)
    if dimension is None:
        document = {"build": plan.build, "dimensions": [_total(d) for d in plan.dimensions.values()]}
        session.show(document, lambda: _list(list(plan.dimensions.values())))
        return PASS
    found = plan.dimensions.get(dimension)
    if found is None:
        from chassis_gen.problems import InputError, Problem, nearest_name, quoted

        nearest = nearest_name(dimension, plan.dimensions)
        message = f"{plan.build} has no such dimension"
        allowed = f"a name that `chassis-gen why {quoted(build)}` lists"
        raise InputError(
            [Problem("unknown-name", message, value=f'"{dimension}"', allowed=allowed, nearest=nearest)]
        )
    session.show({"build": plan.build, **_sum(found)}, lambda: _text(found))
    return PASS


def _total(d: Dimension) -> dict[str, Any]:
    return {
        "name": d.name,
        "note": d.note,
        "unit": d.unit,
        "total": d.total,
        "worst_case": d.worst_case,
        "root_sum_square": d.rss,
    }


def _sum(d: Dimension) -> dict[str, Any]:
    terms = [
        {"term": t.label, "value": t.value, "tolerance": t.tolerance, "source": t.source} for t in d.terms
    ]
    return {**_total(d), "terms": terms}


def _list(dimensions: list[Dimension]) -> str:
    rows = [(d.name, f"{d.total:.3f} {d.unit}", _plus_minus(d.worst_case), d.note) for d in dimensions]
    return table(("dimension", "total", "+-", "what it is"), rows, terminal_width(), right=(1, 2))


def _text(d: Dimension) -> str:
    rows = [(t.label, f"{t.value:+.3f}", _plus_minus(t.tolerance), t.source) for t in d.terms]
    spread = f"+-{d.worst_case:.3f} at worst, +-{d.rss:.3f} root sum square" if d.worst_case else "as chosen"
    rows.append(("total", f"{d.total:.3f}", _plus_minus(d.worst_case), spread))
    header = ("term", f"value {d.unit}", "+-", "source")
    return "\n".join(
        (f"{d.name}: {d.note}" if d.note else d.name, "", table(header, rows, terminal_width(), (1, 2)))
    )


def _plus_minus(value: float) -> str:
    return f"{value:.3f}" if value else ""
