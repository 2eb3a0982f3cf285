"""Working ahead: order, faults and an early end are those of a plain loop."""

import threading
from itertools import count, islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.history.formats.prefetch import THREADS, prefetched, prefetched_results

ITEMS = st.lists(st.integers(), max_size=30)


@settings(deadline=None)
@given(items=ITEMS)
def test_the_order_is_that_of_a_loop(items):
    assert list(prefetched(iter(items))) == items
    assert list(prefetched_results(lambda one: 2 * one, items)) == [2 * one for one in items]


def test_none_is_an_item_like_any_other():
    assert list(prefetched(iter([None, 1, None]))) == [None, 1, None]


def failing():
    yield 1
    yield 2
    raise ValueError("row 3")


def test_a_fault_comes_after_what_was_before_it():
    stream = prefetched(failing())
    assert [next(stream), next(stream)] == [1, 2]
    with pytest.raises(ValueError, match="row 3"):
        next(stream)


def test_no_more_is_fetched_than_one_ahead_and_no_thread_stays():
    fetched = []
    before = threading.active_count()

    def items():
        for one in count():
            fetched.append(one)
            yield one

    stream = prefetched(items())
    assert list(islice(stream, 3)) == [0, 1, 2]
    stream.close()
    assert fetched == [0, 1, 2, 3]
    assert threading.active_count() == before
    started = []
    work = prefetched_results(lambda one: started.append(one) or one, items())
    assert next(work) == 0
    work.close()
    assert len(started) <= THREADS + 1
    assert threading.active_count() == before
