"""Names in a build file that must be unique, or must be there."""

from __future__ import annotations

import itertools

from chassis_gen.params.codes import Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.pieces import file_safe
from chassis_gen.problems import nearest_name

_OWN_FILE = "the same name for the same piece, another file name for another"
_ONE_RUN = "a piece whose sections follow each other, or a piece of its own"


def check_names(inputs: BuildInputs, gathering: Gathering) -> None:
    """Gather names that occur twice, openings that there are not, and pieces that are no one run.

    Args:
        inputs: the build's files.
        gathering: takes what is wrong.
    """
    shared = [o.name for o in (inputs.tube_file.opening if inputs.tube_file else ())]
    own = [o.name for o in inputs.build.tube.opening]
    openings = {*shared, *own}
    names = [s.name for s in inputs.build.section]
    for i, s in enumerate(inputs.build.section):
        if s.name in names[:i]:
            rejection = Rejection(
                "duplicate-name", f'two sections are called "{s.name}"', "a name of its own"
            )
            gathering.reject(inputs, ("section", i, "name"), rejection)
        if s.at_opening is not None and s.at_opening not in openings:
            rejection = Rejection(
                "unknown-name",
                f'the tube has no opening "{s.at_opening}"',
                ", ".join(sorted(openings)) or "none yet: add [[tube.opening]]",
                nearest_name(s.at_opening, openings),
            )
            gathering.reject(inputs, ("section", i, "at_opening"), rejection)
        if s.at_opening is not None and s.station is not None:
            rejection = Rejection("not-allowed", "at_opening and station both pin the section", "one of them")
            gathering.reject(inputs, ("section", i, "station"), rejection)
    for i, name in enumerate(own):
        if name in (*shared, *own[:i]):
            rejection = Rejection("duplicate-name", f'two openings are called "{name}"', "a name of its own")
            gathering.reject(inputs, ("tube", "opening", i, "name"), rejection)
    _check_pieces(inputs, gathering)


def _check_pieces(inputs: BuildInputs, gathering: Gathering) -> None:
    """Gather pieces that share a file name and those that aren't one run."""
    called: dict[str, list[str]] = {}
    for i, s in enumerate(inputs.build.section):
        names = called.setdefault(file_safe(s.piece), [])
        if names and s.piece not in names:
            why = f'pieces "{names[0]}" and "{s.piece}" would both be written as "{file_safe(s.piece)}"'
            gathering.reject(inputs, ("section", i, "piece"), Rejection("duplicate-name", why, _OWN_FILE))
        names.append(s.piece)
    pieces = [file_safe(s.piece) for s in inputs.build.section if s.beside is None]
    order = [k for k, _ in itertools.groupby(pieces)]
    for name in sorted({n for n in order if order.count(n) > 1}):
        i = max(k for k, s in enumerate(inputs.build.section) if file_safe(s.piece) == name)
        why = f'the sections of piece "{inputs.build.section[i].piece}" don\'t follow each other'
        gathering.reject(inputs, ("section", i, "piece"), Rejection("not-allowed", why, _ONE_RUN))
