"""The longest run of missing values does not depend on how a file is cut into stretches; counted here one by one."""

from itertools import groupby, pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.history.inspection.missing_values import MissingRun


@settings(deadline=None)
@given(missing=st.lists(st.booleans(), max_size=60), cuts=st.lists(st.integers(0, 60), max_size=6))
def test_the_longest_run_across_stretches(missing, cuts):
    run = MissingRun()
    edges = sorted({0, len(missing), *(cut for cut in cuts if cut < len(missing))})
    for start, end in pairwise(edges):
        run.add(np.flatnonzero(missing[start:end]), np.arange(start, end))
    assert run.longest == max((len(list(same)) for absent, same in groupby(missing) if absent), default=0)
