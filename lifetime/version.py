"""The version of the installed program, which decides numbers and so is part of what identifies them."""

from functools import cache
from importlib.metadata import PackageNotFoundError, version


@cache  # reading it takes longer than anything else in a fingerprint
def program_version() -> str:
    """Version of the installed program."""
    try:
        return version("packwear")
    except PackageNotFoundError:  # a source tree that was never installed
        return "0.0.0+unknown"
