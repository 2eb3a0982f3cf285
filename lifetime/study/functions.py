"""The user's own split functions, loaded from Python files. Loading runs the file: at the command line only."""

import hashlib
import importlib.util
from pathlib import Path

from lifetime.errors import InputError
from lifetime.split.rule import BatteryFunction
from lifetime.split.rules.user_function import GIVEN


def load_function(path: Path, name: str, sha256: str | None = None) -> tuple[BatteryFunction, str]:
    """Run a Python file and take a function from it.

    Args:
        path: The file.
        name: The function's name.
        sha256: Hash that the file must have, in hexadecimal; another file is not run. None takes any.

    Returns:
        The function, and the SHA-256 of the file in hexadecimal.

    Raises:
        InputError: The file is missing, is another than asked for, or fails, or has no such function.
    """
    if path.name.startswith(GIVEN):
        raise InputError(
            f"The split function {name} was given in Python when the study was made, and is not part of it. Put the "
            "function into a Python file and name the file."
        )
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path.name}: the file cannot be read ({error.strerror}). Check the path.") from None
    found = hashlib.sha256(content).hexdigest()
    if sha256 not in (None, found):
        raise InputError(
            f"{path.name}: the file is not the one that the record was made with; its content has changed. Put the "
            "former file in its place, or assess the study anew."
        )
    spec = importlib.util.spec_from_file_location(f"packwear_split_{found[:12]}", path)
    if spec is None or spec.loader is None:
        raise InputError(f"{path.name}: this is not a Python file. Give a file that ends in .py.")
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except Exception as error:  # noqa: BLE001 - whatever the user's own code raises
        raise InputError(f"{path.name}: running the file failed ({type(error).__name__}: {error}).") from None
    function = getattr(module, name, None)
    if not callable(function):
        raise InputError(f"{path.name}: it has no function {name}. Check the name.")
    return function, found
