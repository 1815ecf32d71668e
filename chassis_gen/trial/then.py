"""What a print was drawn with: a test fit counts from there, whatever the printer's file says by now."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

from chassis_gen.pipeline import Loaded
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.fitting import SAME_COMPENSATION
from chassis_gen.plan.sums import CORRECTION, TEST_FIT, Dimension
from chassis_gen.problems import InputError
from chassis_gen.trial.log import PrintRow, TrialLog
from chassis_gen.trial.revisions import Past, Revision, loaded_at


class Then(Struct, frozen=True):
    """A dimension as it was drawn for the print that something was seen on.

    Args:
        dimension: as drawn then; as now where nothing else is known.
        print: number of the print, or None.
        doubt: what the maker should know of how certain that is, or empty.
    """

    dimension: Dimension
    print: int | None = None
    doubt: str = ""

    def beyond(self, now: Dimension) -> float:
        """Return what the sum lacks now of what it made up for on the print, mm; 0 under one compensation.

        Args:
            now: the dimension as it is drawn now.
        """
        if abs(now.pair_made_up - self.dimension.pair_made_up) < SAME_COMPENSATION:
            return 0.0
        return _made_up(self.dimension) - _made_up(now)

    def remarks(self, now: Dimension, asked: float, value: float) -> tuple[str, ...]:
        """Return what a maker should know of a term that was reckoned so.

        Args:
            now: the dimension as it is drawn now.
            asked: what was seen asks for on the print, mm.
            value: the term, mm.
        """
        if self.doubt:
            return (self.doubt,)
        if not self.beyond(now):
            return ()
        return (
            f"print {self.print} was drawn with {_made_up(self.dimension):+.3f} mm of printer compensation and test "
            f"fits, and the sum has {_made_up(now):+.3f} mm now: of the {asked:+.3f} mm that it asked for, "
            f"{value:+.3f} mm is left",
        )


def as_drawn(
    dimension: Dimension,
    print_row: PrintRow | None,
    log: TrialLog,
    past: Past,
    now: Revision,
    loaded: Loaded,
    plan: Callable[[Loaded], ChassisPlan],
) -> Then:
    """Return a dimension as it was drawn for a print.

    Where an entry in effect was seen on the same print, the sum goes by that print already.

    Args:
        dimension: as it is drawn now.
        print_row: the print, or None where it isn't known.
        log: the trial log.
        past: the build's revisions.
        now: the revision as it is now.
        loaded: the build.
        plan: plans a build.
    """
    if print_row is None:
        return Then(dimension, None, _unknown(dimension, past, now, loaded, plan))
    seen = {e.print for e in log.readings() if e.dimension == dimension.name and e.term}
    if print_row.revision == now.number or print_row.number in seen:
        return Then(dimension, print_row.number)
    try:
        found = _at(past.numbered(print_row.revision), loaded, plan).get(dimension.name)
    except InputError as error:
        doubt = (
            f"what print {print_row.number} was drawn with isn't known ({error.problems[0].message}); "
            f"taken as drawn with today's printer compensation of {dimension.pair_made_up:+.3f} mm"
        )
        return Then(dimension, print_row.number, doubt)
    return Then(found or dimension, print_row.number)


def _unknown(
    dimension: Dimension, past: Past, now: Revision, loaded: Loaded, plan: Callable[[Loaded], ChassisPlan]
) -> str:
    """Return a doubt where no print is known and the revision before was drawn with another compensation."""
    earlier = [r for r in past.revisions if r.number < now.number]
    if not earlier:
        return ""
    try:
        was = _at(earlier[-1], loaded, plan).get(dimension.name)
    except InputError:
        return ""
    if was is None or abs(was.pair_made_up - dimension.pair_made_up) < SAME_COMPENSATION:
        return ""
    return (
        f"no print of it is logged, so this is taken as seen on a print of the build as it is now, with "
        f"{dimension.pair_made_up:+.3f} mm of printer compensation; revision {earlier[-1].number} had "
        f"{was.pair_made_up:+.3f} mm. Was it an older print, take this back and measure a new one"
    )


def _at(revision: Revision, loaded: Loaded, plan: Callable[[Loaded], ChassisPlan]) -> dict[str, Dimension]:
    """Return a revision's dimensions by name.

    Raises:
        InputError: when it can't be planned by this version.
    """
    then = loaded_at(revision, loaded.inputs.name, loaded.workspace.trusted)
    return dict(plan(then).dimensions)


def _made_up(dimension: Dimension) -> float:
    return dimension.pair_made_up + dimension.term(TEST_FIT) + dimension.term(CORRECTION)
