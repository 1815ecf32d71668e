"""Drawing prints at random gives the closed form's share; worst case and RSS of a textbook stack."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace
from scipy import stats

from chassis_gen.checks.fits import likely, share_that_fits, worst_case
from chassis_gen.checks.yields import DRAWS, is_normal, simulated_share
from tests.checks.support import seat_fit


@pytest.mark.parametrize(
    ("as_printed", "terms"), [(0.15, (0.03, 0.04)), (0.20, (0.09,)), (0.11, (0.1, 0.05))]
)
def test_a_normal_stacks_yield_is_the_closed_form(as_printed: float, terms: tuple[float, ...]) -> None:
    fit = replace(seat_fit(), as_printed=as_printed, tolerance_terms=terms, uniform_terms=())
    low, high = fit.required
    spread = stats.norm(as_printed, math.hypot(*terms) / 3)
    expected = spread.cdf(high) - spread.cdf(low)
    assert is_normal(fit)
    assert share_that_fits(fit) == pytest.approx(expected, abs=1e-12)
    # Five standard errors of a binomial share.
    assert simulated_share(fit) == pytest.approx(
        expected, abs=5 * math.sqrt(expected * (1 - expected) / DRAWS) + 1e-5
    )


def test_with_a_uniform_bore_both_ways_agree_and_the_normal_form_would_not() -> None:
    fit = replace(seat_fit(), as_printed=0.15, tolerance_terms=(0.06,), uniform_terms=(0.09,))
    # The convolution of a normal and a uniform variable by numerical integration, scipy.
    low, high = fit.required
    inner = stats.norm(0.15, 0.02)
    from scipy.integrate import quad

    expected = quad(lambda u: inner.cdf(high - u) - inner.cdf(low - u), -0.09, 0.09)[0] / 0.18
    assert not is_normal(fit)
    assert share_that_fits(fit) == pytest.approx(expected, abs=1e-9)
    assert simulated_share(fit) == pytest.approx(expected, abs=0.003)
    assert simulated_share(fit) == simulated_share(fit)
    normal = share_that_fits(replace(fit, tolerance_terms=(0.06, 0.09), uniform_terms=()))
    assert abs(normal - expected) > 0.005


def test_worst_case_and_rss_of_a_textbook_stack() -> None:
    # Bore 32.00 +-0.12 less cell 18.35 +-0.15, two walls 2.40 +-0.20, board 1.60 +-0.16, plug 6.50 +-0.20:
    # gap 0.75, worst case -0.280 to 1.780, RSS 0.323 to 1.177 (T = sum |t|, T = sqrt(sum t2), as in any
    # tolerance-analysis textbook; the stack is worked by hand).
    terms = (0.12, 0.15, 0.20, 0.20, 0.16, 0.20)
    gap = 32.00 - 18.35 - 2 * 2.40 - 1.60 - 6.50
    fit = replace(seat_fit(), as_printed=gap, tolerance_terms=terms)
    assert worst_case(fit) == pytest.approx((-0.280, 1.780), abs=5e-4)
    assert likely(fit) == pytest.approx((0.323, 1.177), abs=5e-4)
