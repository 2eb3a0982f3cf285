"""Property tests draw new examples on a developer's machine, and the same ones every time in CI."""

import os

from hypothesis import settings

settings.register_profile("ci", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("here", deadline=None)
settings.register_profile("hard", deadline=None, max_examples=1500, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")
