"""Where the shipped parameter sets are, installed or in a source tree."""

from functools import cache
from pathlib import Path
from typing import Literal

from lifetime.errors import ProfileError
from lifetime.packs.withdrawn import refuse_withdrawn

Folder = Literal["batteries", "ultracapacitors", "climates", "demo"]

_SUFFIX: dict[str, str] = {"batteries": ".toml", "ultracapacitors": ".toml", "climates": ".csv"}
_OWN_SUFFIXES: dict[str, tuple[str, ...]] = {"climates": (".csv", ".epw")}
"""Of the user's own files, where there are more than the shipped ones have; weather files come in capitals too."""


@cache
def profiles_folder() -> Path:
    """The folder that holds ``batteries``, ``ultracapacitors`` and ``climates``.

    Returns:
        ``lifetime/profiles`` where the package is installed from a wheel, ``profiles`` at the top of the repository
        otherwise.

    Raises:
        ProfileError: Neither exists, which means a broken installation.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "profiles", package.parent / "profiles"):
        if (folder / "batteries").is_dir():
            return folder
    raise ProfileError(
        "The shipped parameter sets are missing: expected a folder profiles/batteries next to the package. "
        "Install the program again."
    )


def shipped_ids(folder: Folder) -> tuple[str, ...]:
    """Ids of the parameter sets in one folder, sorted.

    Args:
        folder: ``batteries``, ``ultracapacitors`` or ``climates``.
    """
    suffix = _SUFFIX[folder]
    return tuple(sorted(path.stem for path in (profiles_folder() / folder).glob(f"*{suffix}")))


def find_file(name_or_path: str, folder: Folder, base_dir: Path) -> Path:
    """Turn what a study names into a file.

    Args:
        name_or_path: Id of a shipped set, or a path (recognised by its suffix or a slash) to the user's own.
        folder: Where shipped sets of this kind are.
        base_dir: Folder that relative paths start from.

    Raises:
        ProfileError: No such file or id, or a set that is withdrawn; the message lists the ids and the nearest.
    """
    suffix = _SUFFIX[folder]
    own = _OWN_SUFFIXES.get(folder, (suffix,))
    if name_or_path.lower().endswith(own) or "/" in name_or_path or "\\" in name_or_path:
        path = base_dir / name_or_path
        if not path.is_file():
            raise ProfileError(f"{name_or_path}: no such file. Relative paths start at the study file's folder.")
        return path
    ids = shipped_ids(folder)
    refuse_withdrawn(name_or_path, ids)
    if name_or_path not in ids:
        from difflib import get_close_matches  # noqa: PLC0415 - only needed for the message

        near = get_close_matches(name_or_path, ids, n=1, cutoff=0.0)
        hint = f'The nearest is "{near[0]}". ' if near else ""
        raise ProfileError(
            f'"{name_or_path}" is not one of the shipped {folder}. {hint}Shipped: {", ".join(ids)}. '
            f"For your own file give its path, ending in {' or '.join(own)}."
        )
    return profiles_folder() / folder / f"{name_or_path}{suffix}"
