"""Work on the next pieces while the present one is being used; results come in order."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Final, TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

THREADS: Final = 2
"""Pieces worked on at a time. More would only cost memory: counting the samples takes as long as parsing them."""


def prefetched_results(work: Callable[[Item], Result], items: Iterable[Item]) -> Iterator[Result]:
    """Apply a function that lets go of the interpreter's lock to items, two at a time, results in the items' order.

    Args:
        work: The function.
        items: What to work on; drawn from only as far as the work has come.
    """
    waiting: deque[Future[Result]] = deque()
    with ThreadPoolExecutor(THREADS, thread_name_prefix="history") as pool:
        try:
            for item in items:
                waiting.append(pool.submit(work, item))
                if len(waiting) > THREADS:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def prefetched(items: Iterator[Item]) -> Iterator[Item]:
    """The same items in the same order, the next one fetched while the present one is being used.

    Args:
        items: Whose next one lets go of the interpreter's lock while it is fetched.
    """
    ended = object()
    with ThreadPoolExecutor(1, thread_name_prefix="history") as pool:
        waiting: Future[Item | object] = pool.submit(next, items, ended)
        while (item := waiting.result()) is not ended:
            waiting = pool.submit(next, items, ended)
            yield item  # type: ignore[misc]  # what is not the end is an item
