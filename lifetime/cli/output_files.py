"""Files a command is to write: checked before the work begins, so that no long run is lost to a typing error."""

from pathlib import Path

from lifetime.errors import InputError


def check_output_file(path: Path | None, option: str) -> None:
    """Refuse a file that cannot be written where it is said to go.

    Args:
        path: Where a file is to be written, or None.
        option: The option that names it.

    Raises:
        InputError: Its folder does not exist, or it is a folder itself.
    """
    if path is None:
        return
    if path.is_dir():
        raise InputError(f"{option} {path}: this is a folder. Name a file in it.")
    if not path.parent.is_dir():
        raise InputError(f"{option} {path}: there is no folder {path.parent}. Make it first, or name another place.")
