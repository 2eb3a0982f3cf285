"""What a user's Python function does, as a hash: its source, and the values that it uses from outside."""

import hashlib
import inspect
import sys
import textwrap
from collections.abc import Callable, Iterator
from types import CodeType, FunctionType, ModuleType
from typing import Any

import numpy as np

from lifetime.errors import InputError


def content_sha256(function: Callable[..., Any]) -> str:
    """SHA-256 of a function's source and of what it uses: another number in any of it gives another hash.

    Functions of the same module are followed; modules, and what comes from other modules, count by their names.

    Args:
        function: A plain function, made with ``def`` or ``lambda``.

    Returns:
        64 hexadecimal digits.

    Raises:
        InputError: It is no plain function, its source cannot be read, or it uses a value that has no plain content.
    """
    parts = _function_parts(function, getattr(function, "__name__", "function"), set())
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _function_parts(function: Any, name: str, seen: set[int]) -> Iterator[str]:
    if not isinstance(function, FunctionType):
        raise InputError(
            f"{name} is of type {type(function).__name__} and not a plain function, so no id can be made of what it "
            "does. Wrap it in a function with def."
        )
    if id(function) in seen:
        return
    seen.add(id(function))
    try:
        yield textwrap.dedent(inspect.getsource(function))
    except (OSError, TypeError):
        raise InputError(
            f"The source of the function {name} cannot be read, so no id can be made of what it does. Define it in a "
            "file or in a notebook cell."
        ) from None
    for key, value in sorted(_used(function).items()):
        yield from _parts(value, key, function, seen)


def _used(function: FunctionType) -> dict[str, Any]:
    """Values that a function has from outside: defaults, enclosing variables, and global names of all its code."""
    used: dict[str, Any] = {"defaults": [function.__defaults__, function.__kwdefaults__]}
    for name, cell in zip(function.__code__.co_freevars, function.__closure__ or (), strict=True):
        used[name] = cell.cell_contents
    names = {name for code in _codes(function.__code__) for name in code.co_names}
    return used | {name: function.__globals__[name] for name in names if name in function.__globals__}


def _codes(code: CodeType) -> Iterator[CodeType]:
    yield code
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _codes(constant)


def _parts(value: Any, key: str, function: FunctionType, seen: set[int]) -> Iterator[str]:
    if value is None or isinstance(value, bool | int | float | complex | str | bytes):
        yield f"{key} = {value!r}"
    elif isinstance(value, np.ndarray | np.generic) and value.dtype != object:
        array = np.ascontiguousarray(value)
        yield f"{key} = {array.dtype.str} {np.shape(value)} {hashlib.sha256(array.tobytes()).hexdigest()}"
    elif isinstance(value, list | tuple):
        yield f"{key} = {type(value).__name__} of {len(value)}"
        for item in value:
            yield from _parts(item, key, function, seen)
    elif isinstance(value, dict):
        yield f"{key} = dict of {len(value)}"
        for name, item in value.items():
            yield from _parts(name, key, function, seen)
            yield from _parts(item, key, function, seen)
    elif isinstance(value, ModuleType):
        yield f"{key} = module {value.__name__}"
    elif isinstance(value, FunctionType) and value.__module__ == function.__module__:
        yield from _function_parts(value, key, seen)
    elif _is_of_a_module(value):
        yield f"{key} = {value.__module__}.{value.__name__}"
    else:
        raise InputError(
            f"The function {function.__name__} uses {key}, which is of type {type(value).__name__}; its content cannot "
            "be made part of an id. Use numbers, text, lists, arrays, modules or functions."
        )


def _is_of_a_module(value: Any) -> bool:
    """Whether a value is a library's own, such as ``math.sqrt`` or ``numpy.clip``, found under its name."""
    module, name = getattr(value, "__module__", None), getattr(value, "__name__", None)
    if not isinstance(module, str) or not isinstance(name, str) or module == "__main__":
        return False
    return getattr(sys.modules.get(module), name, None) is value
