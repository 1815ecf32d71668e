"""Names lead to files inside the workspace, or to a clear error."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chassis_gen.params.workspace import Workspace, name_rejection
from chassis_gen.problems import InputError

RULE = "allowed: up to 80 of a-z A-Z 0-9 - _, with spaces and points in between; no Windows device name"


@pytest.fixture
def workspace(tmp_path: Path) -> Workspace:
    root = tmp_path / "shop"
    for name in ("quay-lantern", "tide-baton", "empty"):
        (root / "profiles" / name).mkdir(parents=True)
    for kind in ("printers", "tubes", "parts"):
        (root / "profiles" / kind).mkdir()
    for file in (
        "quay-lantern/build.toml",
        "tide-baton/build.toml",
        "parts/speaker 32 mm.toml",
        "parts/note.txt",
    ):
        (root / "profiles" / file).write_text("")
    (root / "profiles" / "parts" / ".hidden.toml").write_text("")
    (tmp_path / "outside.toml").write_text("")
    return Workspace(root)


def refused(call: Callable[[], object]) -> str:
    with pytest.raises(InputError) as caught:
        call()
    (problem,) = caught.value.problems
    return problem.text()


def test_builds_and_shared_files_are_listed(workspace: Workspace) -> None:
    assert workspace.builds() == ("quay-lantern", "tide-baton")
    assert workspace.names("parts") == ("speaker 32 mm",)
    assert workspace.names("tubes") == ()
    assert Workspace(workspace.root / "nowhere").builds() == ()


def test_names_lead_to_files(workspace: Workspace) -> None:
    root = workspace.root
    assert workspace.build_file("quay-lantern") == root / "profiles/quay-lantern/build.toml"
    assert workspace.shared_file("parts", "speaker 32 mm") == root / "profiles/parts/speaker 32 mm.toml"
    assert workspace.out_dir("quay-lantern") == root / "out/quay-lantern"
    assert workspace.build_dir("new one") == root / "profiles/new one"


def test_a_path_may_lie_anywhere_and_names_the_build(workspace: Workspace) -> None:
    outside = workspace.root.parent / "outside.toml"
    assert workspace.build_file(str(outside)) == outside
    assert workspace.build_name(outside) == "outside"
    folder = workspace.root / "profiles/tide-baton"
    assert workspace.build_file(f"{folder}/") == folder / "build.toml"
    assert workspace.build_name(folder / "build.toml") == "tide-baton"


UNKNOWN = [
    (
        lambda w: w.build_file("quay-lantren"),
        '[unknown-name] there is no such build; read "quay-lantren"; allowed: quay-lantern, tide-baton; '
        'did you mean "quay-lantern"?',
    ),
    (
        lambda w: w.build_file("parts"),
        '[unknown-name] there is no such build; read "parts"; allowed: quay-lantern, tide-baton',
    ),
    (
        lambda w: w.build_file("empty"),
        '[unknown-name] there is no such build; read "empty"; allowed: quay-lantern, tide-baton',
    ),
    (
        lambda w: w.shared_file("parts", "speaker 31 mm"),
        '[unknown-name] there is no such part; read "speaker 31 mm"; allowed: speaker 32 mm; '
        'did you mean "speaker 32 mm"?',
    ),
    (
        lambda w: w.shared_file("tubes", "x"),
        '[unknown-name] there is no such tube; read "x"; allowed: none yet in profiles/tubes/',
    ),
    (
        lambda w: w.build_file("none/such.toml"),
        '[missing-file] there is no such parameter file; read "none/such.toml"',
    ),
    (
        lambda w: w.build_file("a\0b.toml"),
        '[missing-file] there is no such parameter file; read "a\\u0000b.toml"',
    ),
    (
        lambda w: w.build_dir("tubes"),
        '[bad-name] profiles/tubes/ holds shared files; read "tubes"; allowed: another name',
    ),
]


@pytest.mark.parametrize(("call", "expected"), UNKNOWN, ids=[u[1].partition(";")[2][:30] for u in UNKNOWN])
def test_unknown_names(workspace: Workspace, call: Callable[[Workspace], object], expected: str) -> None:
    assert refused(lambda: call(workspace)) == expected


@pytest.mark.parametrize("name", ["..", ".", "../x", "/etc/passwd", "a/b", "a\\b", "C:x", "c:\\x"])
def test_names_that_lead_elsewhere(workspace: Workspace, name: str) -> None:
    assert refused(lambda: workspace.shared_file("parts", name)).startswith(
        "[leaves-workspace] a name must not lead to another folder; read "
    )
    assert refused(lambda: workspace.out_dir(name)).endswith(RULE)


@pytest.mark.parametrize(
    "name",
    [
        "",
        " ",
        ".x",
        "x.",
        "x ",
        " x",
        "ab:c",
        "a\0b",
        "a\nb",
        "ü",
        "x" * 81,
        "CON",
        "nul.txt",
        "aux .b",
        "Com1",
        "lpt9.a.b",
    ],
)
def test_names_that_are_no_file_names(workspace: Workspace, name: str) -> None:
    text = refused(lambda: workspace.shared_file("parts", name))
    assert text.startswith("[bad-name] the name cannot be used as a file name; read ")
    assert text.endswith(RULE)


@pytest.mark.parametrize("name", ["a", "x" * 80, "speaker 32 mm", "M3_x.5-b", "console", "nullify", "com10"])
def test_safe_names(name: str) -> None:
    assert name_rejection(name) is None


@given(st.text(max_size=10))
def test_a_safe_name_is_one_plain_component(name: str) -> None:
    if name_rejection(name) is None:
        assert Path("a", name).parent == Path("a")
        assert Path("a", name).name == name


def test_links_out_of_the_workspace_are_refused(workspace: Workspace) -> None:
    root = workspace.root
    outside = root.parent / "outside.toml"
    (root / "profiles/parts/link.toml").symlink_to(outside)
    (root / "profiles/away").symlink_to(root.parent)
    (root.parent / "build.toml").write_text("")
    (root / "out").symlink_to(root.parent)
    expected = (
        "[leaves-workspace] a link leads out of the workspace; read {}; allowed: files inside the workspace"
    )
    assert refused(lambda: workspace.shared_file("parts", "link")) == expected.format('"link"')
    assert refused(lambda: workspace.build_file("away")) == expected.format('"away"')
    assert refused(lambda: workspace.out_dir("b")) == expected.format('"b"')


def test_links_within_the_workspace_and_to_it_are_followed(workspace: Workspace) -> None:
    (workspace.root / "profiles/parts/same.toml").symlink_to("speaker 32 mm.toml")
    assert workspace.shared_file("parts", "same").is_file()
    link = workspace.root.parent / "link"
    link.symlink_to(workspace.root)
    assert Workspace(link).build_file("tide-baton").is_file()


def test_a_link_in_a_circle_is_no_build(workspace: Workspace) -> None:
    (workspace.root / "profiles/loop").symlink_to("loop")
    assert refused(lambda: workspace.build_file("loop")).startswith("[unknown-name]")
    assert refused(lambda: workspace.build_dir("loop")).startswith("[leaves-workspace]")


def test_a_parameter_file_must_name_a_build(workspace: Workspace) -> None:
    assert refused(lambda: workspace.build_name(Path("/build.toml"))).startswith("[bad-name]")
    assert refused(lambda: workspace.build_name(Path("dir/aux.toml"))).startswith("[bad-name]")
