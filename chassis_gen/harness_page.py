"""The page of the package that shows a harness: drawing and cut list of one of the demo builds.

``python -m chassis_gen.harness_page``, run where ``profiles/`` lies, puts both into ``chassis_gen/docs``.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from chassis_gen.output.harness_drawing import harness_svg
from chassis_gen.output.markdown import cut_list_markdown
from chassis_gen.output.report import harness_report
from chassis_gen.output.test_table import measurements_markdown
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.planner import plan_build
from chassis_gen.sections.registry import section_kinds

BUILD = "tide-baton"
PAGE, DRAWING, TESTS = "harness.md", "harness.svg", "harness-tests.md"
BEGIN, END = "<!-- cut list -->", "<!-- /cut list -->"


def docs_folder() -> Path:
    """Return the folder of the package's pages."""
    from importlib.resources import files

    return Path(str(files("chassis_gen").joinpath("docs")))


def shown_plan(root: Path) -> ChassisPlan:
    """Return the plan of the build that the page shows.

    Args:
        root: the folder that holds ``profiles/``.
    """
    return plan_build(load_build(Workspace(root), BUILD).inputs, section_kinds())


def page_files(plan: ChassisPlan, page: str) -> Mapping[str, str]:
    """Return the texts of the page, its drawing and its test table by file name.

    Args:
        plan: the build that is shown.
        page: the page as it stands, whose text between the markers is replaced.

    Raises:
        ValueError: when the page lacks its markers.
    """
    cuts = cut_list_markdown(harness_report(plan)).partition("\n")[2].strip()
    return {
        PAGE: with_cut_list(page, cuts.replace("\n## ", "\n### ").removeprefix("## Wires to cut").strip()),
        DRAWING: harness_svg(plan),
        TESTS: measurements_markdown(plan),
    }


def with_cut_list(page: str, cuts: str) -> str:
    """Return a page with what lies between its marker lines replaced.

    Args:
        page: Markdown with both marker lines.
        cuts: what to put there.

    Raises:
        ValueError: when a marker lacks.
    """
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise ValueError(f"{PAGE}: lacks {BEGIN} or {END}")
    return f"{before}{BEGIN}\n\n{cuts}\n\n{END}{after}"


def rewrite_page(root: Path) -> tuple[str, ...]:
    """Write what the page shows and return the names of the files that changed.

    Args:
        root: the folder that holds ``profiles/``.
    """
    folder = docs_folder()
    texts = page_files(shown_plan(root), (folder / PAGE).read_text(encoding="utf-8"))
    old = {n: (folder / n).read_text(encoding="utf-8") if (folder / n).is_file() else None for n in texts}
    for name, text in texts.items():
        if text != old[name]:
            (folder / name).write_text(text, encoding="utf-8")
    return tuple(n for n, text in texts.items() if text != old[n])


if __name__ == "__main__":
    for written in rewrite_page(Path.cwd()):
        print(written)
