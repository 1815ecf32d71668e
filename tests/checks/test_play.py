"""Play measured on solids against gaps that were built in (plane geometry)."""

import math

import pytest
from msgspec.structs import replace

from chassis_gen.checks.play import Way, check_play, free_ways, measure_plays
from chassis_gen.plan.model import Play
from chassis_gen.shapes.frame import IDENTITY, clocked, shifted
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Box, Cylinder, Ring
from chassis_gen.shapes.recipe import cut
from tests.checks import support as s


def measured(build, made):
    return {p.direction: p.measured for p in measure_plays(build, made)}


def free(seat, mover, direction, limit):
    found = free_ways(seat, (mover,), [Way(direction, limit)])
    return None if found is None else found[0]


def test_a_sound_seat_shows_its_planned_play_in_every_direction():
    build = s.plan()
    made = s.solids(build)
    found = measured(build, made)
    for d in (s.X, s.neg(s.X), s.neg(s.Y)):
        assert found[d] == pytest.approx(0.15, abs=0.012)
    for d in (s.Z, s.neg(s.Z)):
        assert found[d] == pytest.approx(0.15, abs=1e-6)
    assert found[s.Y] == 2.0
    assert check_play(build, made) == ()


@pytest.mark.parametrize("seat", [9.35, 9.45, 9.6])
def test_a_seat_of_another_width_is_told_with_planned_and_measured_figures(seat):
    build = s.plan()
    findings = check_play(build, s.solids(build, cradle=s.cradle_steps(seat)))
    assert {f.code for f in findings} == {"play-differs"}
    assert len(findings) == 3
    for f in findings:
        assert f.numbers["planned"] == 0.15
        assert f.numbers["measured"] == pytest.approx(seat - 9.25, abs=0.012)


def test_a_seat_cut_too_long_shows_at_that_end_alone():
    build = s.plan()
    pocket = (*s.cradle_steps(), *cut("pocket", Box((-5.0, -5.0, 59.0), (5.0, 5.0, 60.25))))
    assert check_play(build, s.solids(build, cradle=pocket)) == ()
    longer = (*s.cradle_steps(), *cut("too long", Cylinder(9.4, 59.0, 60.25)))
    (finding,) = check_play(build, s.solids(build, cradle=longer))
    assert "+z" in finding.message
    assert finding.numbers["measured"] == pytest.approx(0.4, abs=1e-6)


def test_a_part_that_starts_inside_material_has_no_play():
    sunk = s.cell(frame=shifted(y=-0.3, z=20.15))
    build = s.plan(sections=s.sections(parts=(sunk,)))
    found = measured(build, s.solids(build))
    assert set(found.values()) == {0.0}
    assert len(check_play(build, s.solids(build))) == 5


def test_a_press_fit_is_measured_as_squeeze():
    pressed = s.cell(squeeze=0.1, plays=(Play(s.X, -0.05), Play(s.neg(s.Y), -0.05), Play(s.Z, 0.15)))
    build = s.plan(sections=s.sections(parts=(pressed,)))
    made = s.solids(build, cradle=s.cradle_steps(seat=9.2))
    assert check_play(build, made) == ()
    assert measured(build, made)[s.X] == pytest.approx(-0.05, abs=0.012)


def test_a_snap_lip_that_the_part_clears_at_rest_doesnt_shrink_the_probe():
    build = s.plan(sections=s.sections(parts=(s.cell(squeeze=0.3),)))
    assert measured(build, s.solids(build))[s.X] == pytest.approx(0.15, abs=0.012)


def test_play_is_measured_in_a_turned_seats_own_frame():
    part = s.cell().part
    box = replace(part, envelope=(Box((-5.0, -5.0, 0.0), (5.0, 5.0, 10.0)),))
    frame = clocked(30.0, 40.0)
    seat = Box((-5.2, -5.3, -0.1), (5.2, 5.3, 10.4), frame)
    directions = (frame.x_axis, frame.y_axis, frame.z_axis)
    plays = tuple(Play(d, e) for d, e in zip(directions, (0.2, 0.3, 0.4), strict=True))
    placed_part = s.cell(part=box, frame=frame, plays=plays)
    build = s.plan(sections=s.sections(parts=(placed_part,), holes=()), fits=())
    steps = (*s.add("bar", Cylinder(s.RADIUS, 16.0, 66.0625)), *cut("seat", seat))
    made = s.solids(build, cradle=steps)
    assert check_play(build, made) == ()
    assert sorted(measured(build, made).values()) == pytest.approx([0.1, 0.2, 0.2, 0.3, 0.3, 0.4], abs=1e-6)


def test_a_cap_counts_as_part_of_the_seat():
    build = s.plan()
    lid = solid(Box((-8.0, 9.75, 22.0), (8.0, 12.0, 58.0)))
    assert measured(build, s.solids(build, lid=lid))[s.Y] == pytest.approx(0.5, abs=0.012)


def test_crossing_edges_that_no_ray_from_a_corner_meets_still_stop_a_part():
    # A ridge along x under a ridge along y: their edges cross 0.7 mm apart, away from every corner.
    turned = math.sqrt(0.5)
    mover = solid(Box((-1.0, -1.0, -20.0), (1.0, 1.0, 20.0), _tilted(turned)))
    seat = solid(
        Box(
            (-20.0, -1.0, -1.0),
            (20.0, 1.0, 1.0),
            replace(IDENTITY, y_axis=(0, turned, turned), z_axis=(0, -turned, turned)),
        )
    )
    apart = 2 * math.sqrt(2) + 0.7
    found = free(seat, mover.moved((0.0, 0.0, apart)), (0.0, 0.0, -1.0), 3.0)
    assert found == pytest.approx(0.7, abs=0.15)
    assert found >= 0.7


def _tilted(t):
    return replace(IDENTITY, x_axis=(t, 0.0, t), y_axis=(-t, 0.0, t), z_axis=(0.0, -1.0, 0.0))


def test_a_hollow_mover_over_a_peg_is_stopped_by_its_hole():
    peg = solid(Cylinder(2.0, 0.0, 5.0))
    ring = solid(Ring(2.2, 6.0, 1.0, 4.0))
    assert free(peg, ring, s.X, 2.0) == pytest.approx(0.2, abs=0.012)
    assert free(peg, ring, s.Z, 2.0) == 2.0
