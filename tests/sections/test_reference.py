"""Reference pages: one for each section kind, its tables held against the model, its pictures there."""

from __future__ import annotations

from typing import Literal

import pytest
from pydantic import Field

from chassis_gen.params.quantities import PositiveLength
from chassis_gen.params.reading import FileModel
from chassis_gen.problems import InputError
from chassis_gen.sections import reference
from chassis_gen.sections.reference import (
    BEGIN,
    END,
    ReferenceError,
    further_pages,
    page,
    pages_folder,
    parameter_table,
    pictures,
    with_table,
)
from chassis_gen.sections.registry import section_kinds


@pytest.mark.parametrize("kind", section_kinds())
def test_every_kind_has_a_page_whose_table_is_the_models(kind: str) -> None:
    written = (pages_folder() / f"{kind}.md").read_text("utf-8")
    assert written == page(kind), "run: python -m chassis_gen.sections.reference"


@pytest.mark.parametrize("kind", section_kinds())
def test_every_page_shows_pictures_that_are_there(kind: str) -> None:
    shown = pictures(page(kind))
    assert shown
    for name in shown:
        assert (pages_folder() / name).stat().st_size > 1000


@pytest.mark.parametrize("name", further_pages())
def test_a_further_page_is_linked_from_a_kinds_page_and_has_its_picture(name: str) -> None:
    assert any(f"({name}.md)" in page(kind) for kind in section_kinds())
    assert all((pages_folder() / p).stat().st_size > 1000 for p in pictures(page(name)))


@pytest.mark.parametrize("kind", section_kinds())
def test_every_key_is_described(kind: str) -> None:
    rows = [line for line in parameter_table(kind).splitlines() if line.startswith("| `")]
    assert rows
    for row in rows:
        assert len(row.replace("\\|", "").split("|")) == 6
        assert row.split(" | ")[1].strip(), row


class Inner(FileModel):
    """A table in a table."""

    hole: PositiveLength = Field(2.0, description="hole")


class Outer(FileModel):
    """A section's keys."""

    kind: Literal["thing"] = "thing"
    words: Literal["a", "b"] = Field("a", description="either | or")
    length: PositiveLength | Literal["fill"] = Field(description="length")
    count: int = Field(3, ge=1, le=8, description="count")
    flag: bool = Field(False, description="flag")
    inner: Inner | None = Field(None, description="more")
    rows: tuple[Inner, ...] = Field((), max_length=4, description="rows")


class Kind:
    """A section kind that has only its parameters."""

    Params = Outer


def test_the_table_of_a_model(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reference, "section_kinds", lambda: {"thing": Kind})
    assert parameter_table("thing").splitlines() == [
        "| key | what | allowed | default |",
        "| --- | --- | --- | --- |",
        '| `kind` | the section\'s kind | `"thing"` | `"thing"` |',
        '| `words` | either \\| or | `"a"` or `"b"` | `"a"` |',
        '| `length` | length | 0 < mm <= 2000 or `"fill"` | required |',
        "| `count` | count | whole number 1 to 8 | `3` |",
        "| `flag` | flag | true or false | `false` |",
        "| `inner` | more | table | none |",
        "| `rows` | rows | list of tables, at most 4 long | `[]` |",
        "",
        "`inner`:",
        "",
        "| key | what | allowed | default |",
        "| --- | --- | --- | --- |",
        "| `hole` | hole | 0 < mm <= 2000 | `2` |",
        "",
        "`rows`:",
        "",
        "| key | what | allowed | default |",
        "| --- | --- | --- | --- |",
        "| `hole` | hole | 0 < mm <= 2000 | `2` |",
    ]


def test_the_table_is_put_between_the_marks_and_only_there() -> None:
    text = f"# Thing\n\n{BEGIN}\nold\n{END}\n\nafter\n"
    once = with_table(text, "new")
    assert once == f"# Thing\n\n{BEGIN}\n\nnew\n\n{END}\n\nafter\n"
    assert with_table(once, "new") == once
    with pytest.raises(ReferenceError):
        with_table("# Thing\n", "new")


def test_an_unknown_kind_is_met_with_the_nearest() -> None:
    with pytest.raises(InputError) as caught:
        page("cell_cradel")
    assert caught.value.problems[0].nearest == "cell_cradle"
