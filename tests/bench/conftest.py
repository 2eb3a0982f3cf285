"""Benchmarks run in full where they are asked for; in the suite a small size shows that they still work."""

import pytest


@pytest.fixture
def full(request):
    """Whether benchmarks were asked for (``-m bench``)."""
    return request.config.getoption("-m") == "bench"
