"""Readings on a tube: stations, clocks and bores come back from readings made of a known truth."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.params.bore_measuring import read_bores
from chassis_gen.params.hole_measuring import Known, Outside, read_hole
from chassis_gen.problems import InputError

OD = 40.0
ROUND = Outside(Known(OD, 0.02), 0.1, 0.03, 0.25)


def arc(degrees: float, paper: float = 0.1) -> float:
    """Return the arc on a strip's middle layer (plane geometry)."""
    return math.pi * (OD + paper) * degrees / 360


def chord(degrees: float) -> float:
    return OD * math.sin(math.radians(degrees) / 2)


def test_published_figures() -> None:
    """By calculation: 90 degrees on 40.00 mm are an arc of 31.4159 mm and a chord of 28.2843 mm."""
    plain = Outside(Known(40.0, 0.0), 0.0, 0.03, 0.25)
    for reading in ("arc=31.4159", "chord=28.2843"):
        hole = read_hole(f"a: near=10 far=22 {reading}", plain)
        assert hole.clock is not None
        assert hole.clock.value == pytest.approx(90.0, abs=1e-3)
    # a flat offset of 12.0 mm along the surface of 40.00 mm is 34.3775 degrees
    hole = read_hole("a: near=10 far=22 arc=12", plain)
    assert hole.clock is not None
    assert hole.clock.value == pytest.approx(34.3775, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(
    station=st.floats(20, 200),
    clock=st.floats(21, 159),  # a hole of 14 mm is 41 degrees wide: nothing is read from before the mark
    diameter=st.floats(2, 14),
    way=st.sampled_from(["arc", "chord", "arc edges", "chord edges", "arc near", "chord far", "both"]),
    edges=st.sampled_from(["near far", "near width", "far width"]),
)
def test_a_hole_comes_back(station: float, clock: float, diameter: float, way: str, edges: str) -> None:
    half = math.degrees(math.asin(diameter / OD))
    along = {"near": station - diameter / 2, "far": station + diameter / 2, "width": diameter}
    read = {k: along[k] for k in edges.split()}
    places = {"": clock, "_near": clock - half, "_far": clock + half}
    for kind, make in (("arc", arc), ("chord", chord)):
        if way == kind or way == "both":
            read[kind] = make(clock)
        elif way == f"{kind} edges":
            read |= {f"{kind}{e}": make(places[e]) for e in ("_near", "_far")}
        elif way.startswith(kind):
            e = f"_{way.split()[1]}"
            read[f"{kind}{e}"] = make(places[e])
    text = " ".join(f"{k}={v:.9f}" for k, v in read.items())
    hole = read_hole(f"a: {text}", ROUND)
    assert hole.clock is not None
    assert hole.station.value == pytest.approx(station, abs=1e-3)
    assert hole.diameter.value == pytest.approx(diameter, abs=1e-3)
    assert hole.clock.value == pytest.approx(clock, abs=1e-2)


def test_ranges_by_root_sum_square() -> None:
    """JCGM 100:2008, 5.1.2: slopes 1/2 and 1/2 for the station, 1 and 1 for the diameter."""
    hole = read_hole("a: near=100 far=112 arc=31.5", ROUND)
    assert hole.station.range == pytest.approx(math.hypot(0.03, 0.03) / 2)
    assert hole.diameter.range == pytest.approx(math.hypot(0.03, 0.03))
    theta = 360 * 31.5 / (math.pi * 40.1)
    slopes = (360 / (math.pi * 40.1) * 0.25, theta / 40.1 * 0.02)
    assert hole.clock is not None
    assert hole.clock.range == pytest.approx(math.hypot(*slopes))


def test_ranges_hold_against_slopes_found_by_trying() -> None:
    """The chord's slopes by central differences."""
    hole = read_hole("a: near=100 far=112 chord=20", ROUND)

    def turned(c: float, d: float) -> float:
        return math.degrees(2 * math.asin(c / d))

    step = 1e-5
    by_chord = (turned(20 + step, OD) - turned(20 - step, OD)) / (2 * step)
    by_outside = (turned(20, OD + step) - turned(20, OD - step)) / (2 * step)
    assert hole.clock is not None
    assert hole.clock.range == pytest.approx(math.hypot(by_chord * 0.03, by_outside * 0.02), rel=1e-5)


def test_bore_ovality_and_taper_of_a_known_tube() -> None:
    """40 mm at mid-length of 200, 0.1 mm wider at the far end than at the near one, out of round by 0.06 mm."""
    options = [
        f"{z}@{a}={40.0 + 0.1 * (z / 200 - 0.5) + 0.03 * math.cos(2 * math.radians(a)):.6f}"
        for z in (0, 60, 140, 200)
        for a in (0, 45, 90, 135)
    ]
    (bore,) = read_bores(options, (), 200.0, 0.03)
    assert bore.diameter == pytest.approx(40.0, abs=1e-3)
    assert bore.ovality == pytest.approx(0.06, abs=1e-3)
    assert bore.taper == pytest.approx(0.1, abs=1e-3)
    assert bore.tolerance == pytest.approx(0.03)


def test_a_shoulder_makes_two_bores() -> None:
    near, far = read_bores(["10@0=40.02", "80=38.01,38.03"], (60.0,), 120.0, 0.03)
    assert (near.z0, near.z1, near.diameter) == (0.0, 60.0, 40.02)
    assert (far.z0, far.z1, far.diameter, far.tolerance) == (60.0, 120.0, 38.02, 0.04)
    assert not far.turns


WRONG = {
    "button": "[usage] a name and readings are wanted",
    "a: near=1 fer=3": '[unknown-key] hole a has no such reading; read "fer=3"; did you mean "far"?',
    "a: near=5 far=4": "[readings] hole a ends before it begins; read near 5, far 4 mm; allowed: far beyond near",
    "a: width=4": "[readings] hole a lacks readings along the tube; read "
    "width; allowed: near and far, or one of them and width",
    "a: near=10 far=22 width=13": "[readings] hole a: its diameter by width and by "
    "its edges are at odds; read 13.00 and 12.00 mm",
    "a: near=10 far=22 arc=200": "[readings] hole a: the arc doesn't fit round "
    "the tube; read 200 mm; allowed: below 125.98 mm",
    "a: near=10 far=22 chord=41": "[readings] hole a: the chord doesn't fit round "
    "the tube; read 41 mm; allowed: below 40.00 mm",
    "a: near=10 far=22 arc=31.5 chord=20": "[readings] hole a: its clock by arc and by "
    "chord are at odds; read 90.02 and 60.00 deg",
    "a: near=x far=22": '[bad-number] a reading of a near is no number; read "x"',
}


@pytest.mark.parametrize("text", WRONG)
def test_readings_that_cant_be_right(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_hole(text, ROUND)
    said = caught.value.problems[0].text()
    wanted, _, near = WRONG[text].partition("; did you mean ")
    assert said.startswith(wanted)
    assert near.strip('"?') in said


def test_bores_that_cant_be_right() -> None:
    with pytest.raises(InputError, match="a stretch of bore has no reading"):
        read_bores(["10@0=40"], (60.0,), 120.0, 0.03)
    with pytest.raises(InputError, match="a shoulder lies outside the tube"):
        read_bores(["10@0=40"], (130.0,), 120.0, 0.03)
    with pytest.raises(InputError, match="one place in the bore is given twice"):
        read_bores(["10@0=40", "10@180=40"], (), 120.0, 0.03)


def test_taper_and_ovality_are_told_apart_where_one_depth_was_read_at_one_angle() -> None:
    """By hand: at 90 deg the bore goes from 40.025 at 20 to 39.95 at 150, so -0.075 / 130 x 290 over the length.

    At 20 mm deep it is 40.10 at 0 deg and 40.025 at 90 deg: out of round by 0.075, mean 40.0625 there.
    """
    (bore,) = read_bores(["20@90=40.02,40.03", "20@0=40.10", "150@90=39.95"], (), 290.0, 0.03)
    taper = (39.95 - 40.025) / 130 * 290
    assert bore.taper == pytest.approx(taper, abs=1e-3)
    assert bore.ovality == pytest.approx(0.075, abs=1e-4)
    assert bore.diameter == pytest.approx(40.0625 + taper / 290 * (145 - 20), abs=1e-3)
    # three readings, each +-0.035, the far end 140 mm beyond the deepest: JCGM 100:2008, 5.1.2, slopes by hand
    share = 270 / 130
    slopes = (0.5, 0.5 - share, share)
    assert bore.tolerance == pytest.approx(0.035 * math.hypot(*slopes), abs=1e-4)
    assert bore.taper_range == pytest.approx(0.035 * math.hypot(1, 1) / 130 * 290, abs=1e-4)
    assert bore.doubt == ""


@settings(max_examples=40, deadline=None)
@given(
    mean=st.floats(20, 60),
    taper=st.floats(-0.3, 0.3),
    oval=st.floats(0, 0.2),
    clock=st.floats(0, 180),
    places=st.lists(
        st.tuples(st.sampled_from([0.0, 70.0, 130.0, 200.0]), st.sampled_from([0.0, 30.0, 60.0, 90.0, 135.0])),
        min_size=4, max_size=12, unique=True,
    ),
)  # fmt: skip
def test_a_bore_of_any_form_lies_within_its_plus_minus(
    mean: float, taper: float, oval: float, clock: float, places: list[tuple[float, float]]
) -> None:
    """Planted without noise: what comes back is exact where it can be told apart, and covered where it can't."""

    def across(z: float, a: float) -> float:
        return mean + taper * (z - 100) / 200 + oval / 2 * math.cos(2 * math.radians(a - clock))

    (bore,) = read_bores([f"{z}@{a}={across(z, a):.6f}" for z, a in places], (), 200.0, 0.03)
    depths, angles = ({p[i] for p in places} for i in (0, 1))
    if bore.doubt:
        assert "can't be told apart" in bore.doubt or len(angles) == 2
    elif len(angles) > 2:
        assert bore.ovality == pytest.approx(oval, abs=1e-3)
        if len(depths) > 1:
            assert bore.taper == pytest.approx(taper, abs=2e-3)
            assert bore.diameter == pytest.approx(mean, abs=bore.tolerance)


def test_readings_that_can_not_tell_taper_from_ovality_say_so() -> None:
    (bore,) = read_bores(["20@0=40.10", "150@90=39.95"], (), 290.0, 0.03)
    assert "depth and angle changed together (20@0, 150@90)" in bore.doubt
    assert (bore.taper, bore.ovality) == (0.0, pytest.approx(0.15))
    # were it all taper, the ends would lie 0.15 / 130 x 290 / 2 from the mean
    assert bore.tolerance == pytest.approx(0.15 / 130 * 290 / 2, abs=1e-4)
    (part,) = read_bores(["20@0=40.10", "20@30=40.00"], (), 290.0, 0.03)
    assert "read a quarter turn apart" in part.doubt


def test_a_hole_of_two_widths_is_remarked_and_one_beyond_reason_refused() -> None:
    """Arcs 13 mm apart on a 40.1 mm strip are 40 sin(13 / 40.1) = 12.75 mm across; 12 mm were read along."""
    hole = read_hole("a: near=100 far=112 arc_near=25 arc_far=38", ROUND)
    (remark,) = hole.remarks
    assert remark.startswith("hole a: 12.74 mm wide round the tube by its arcs and 12.00 mm along it")
    assert read_hole("a: near=100 far=112 arc_near=25 arc_far=37.2", ROUND).remarks == ()
    with pytest.raises(InputError, match="width round the tube by chord and along it are at odds"):
        read_hole("a: near=100 far=112 chord_near=20 chord_far=31", ROUND)
