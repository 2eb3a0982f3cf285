"""When a fixed-point iteration may stop: geometric series, whose rest is known in closed form."""

from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.stress.settling import is_settled


@settings(deadline=None)
@given(rate=st.floats(1e-6, 0.99), tolerance=st.floats(1e-12, 1e-3))
def test_what_is_left_of_a_geometric_series_is_within_tolerance_or_the_last_change_is(rate, tolerance):
    # Changes rate^k: after round k the rest is rate^(k+1) / (1 - rate), the closed form of the geometric series.
    before, change, rounds = 0.0, 1.0, 0
    while not is_settled(change, before, tolerance):
        before, change, rounds = change, change * rate, rounds + 1
        assert rounds < 10_000
    rest = change * rate / (1.0 - rate)
    assert rest <= tolerance * (1.0 + 1e-9) or change <= tolerance


def test_a_fast_series_is_spared_its_last_round_and_a_slow_one_is_not():
    # 1e-4 after 1e-2: the rest is 1e-4 * 1e-2 / (1 - 1e-2) = 1.0101e-6, by hand.
    assert is_settled(1e-4, 1e-2, 1.02e-6)
    assert not is_settled(1e-4, 1e-2, 1.0e-6)
    # Halving: the rest equals the change, and only the change itself counts.
    assert not is_settled(1e-4, 2e-4, 0.9e-4)
    # The first round foretells nothing, however small its change, unless it is within tolerance itself.
    assert not is_settled(1e-4, 0.0, 1e-5)
    assert is_settled(0.0, 0.0, 1e-12)
