"""``chassis-gen sections``: the section kinds, their reference pages, and the schema of the build file."""

from __future__ import annotations

import click

from chassis_gen.cli.session import PASS, Session, json_option, json_text
from chassis_gen.cli.text import table, terminal_width


@click.command("sections")
@click.argument("name", required=False)
@click.option("--schema", is_flag=True, help="Print the JSON Schema of a build's parameter file.")
@json_option
@click.pass_obj
def command(session: Session, name: str | None, schema: bool) -> int:
    """List the section kinds, or print one's reference page.

    With --schema, print the JSON Schema by which an editor completes the keys of a build's file.
    """
    from chassis_gen.problems import InputError, Problem

    if schema:
        if name is not None:
            raise InputError([Problem("usage", "--schema is of the whole file", value=f'"{name}"')])
        _show_schema(session)
    elif name is not None:
        _show_page(session, name)
    else:
        _show_list(session)
    return PASS


def _show_schema(session: Session) -> None:
    from chassis_gen.pipeline import model_of_builds

    document = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **model_of_builds().model_json_schema(by_alias=True),
    }
    session.show(document, lambda: json_text(document))


def _show_page(session: Session, name: str) -> None:
    from chassis_gen.sections.reference import BEGIN, END, page

    text = page(name)
    shown = "\n".join(line for line in text.splitlines() if line not in (BEGIN, END))
    session.show({"name": name.casefold(), "page": text}, lambda: shown)


def _show_list(session: Session) -> None:
    from chassis_gen.sections.reference import further_pages
    from chassis_gen.sections.registry import section_kinds

    rows = [(k.kind, k.title) for k in section_kinds().values()]
    further = further_pages()
    document = {"sections": [{"kind": kind, "title": title} for kind, title in rows], "pages": list(further)}
    text = table(("kind", "what it is"), rows, terminal_width())
    session.show(document, lambda: f"{text}\n\nFurther pages: {', '.join(further)}." if further else text)
