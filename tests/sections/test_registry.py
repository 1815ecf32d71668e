"""The registry: a build loads the kinds it uses and no other."""

from __future__ import annotations

import subprocess
import sys

from chassis_gen.sections.registry import kinds_named, section_kinds


def test_each_kind_has_the_module_of_its_name() -> None:
    kinds = section_kinds()
    assert {n: type(k).__module__.rpartition(".")[2] for n, k in kinds.items()} == {n: n for n in kinds}
    assert {n: k for n in kinds for k in kinds_named([n, n]).values()} == kinds


def test_an_unknown_kind_brings_all_so_that_they_can_be_named() -> None:
    for names in (["lead_bay", "led_bay"], ["lead_bay", None], ["base"], []):
        assert kinds_named(names) == section_kinds()


def test_no_other_kind_is_imported() -> None:
    code = (
        "import sys; from chassis_gen.sections.registry import kinds_named; kinds_named(['lead_bay'])\n"
        "assert 'chassis_gen.sections.speaker_cup' not in sys.modules"
    )
    subprocess.run((sys.executable, "-c", code), check=True)
