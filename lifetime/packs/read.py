"""Reading a parameter set file: all faults at once, each with its key."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from lifetime.errors import ProfileError
from lifetime.packs.profile import Profile
from lifetime.toml_text import TomlError, read_toml_text
from lifetime.validation import invalid_values

_HINTS = {
    "extra_forbidden": " of a parameter set. Check its spelling, or remove it",
    "model_type": " such as { value = 1.0, unit = ..., source = ..., grade = ... }",
}


def _faults(error: ValidationError) -> Iterator[str]:
    for invalid in invalid_values(error):
        place = ".".join(str(step) for step in invalid.place)
        if invalid.kind == "section":
            for key, fault in invalid.context["faults"].items():
                yield f"{place}.{key} {fault}" if place else f"{key} {fault}"
        else:
            yield f"{place} {invalid.message}{_HINTS.get(invalid.kind, '')}{invalid.got}"


def parse_profile(text: str, file: str) -> Profile:
    """Check the text of a parameter set.

    Args:
        text: TOML text.
        file: The file's name as the user gave it, for messages.

    Raises:
        ProfileError: The text is not TOML, or keys are missing, unknown or wrong; every fault is listed, one a line,
            as ``file: key must be ..., got ...``.
    """
    try:
        raw = read_toml_text(text)
    except TomlError as error:
        raise ProfileError(f"{file}: must be a TOML file, got a syntax error: {error}.") from None
    try:
        return Profile.model_validate(raw)
    except ValidationError as error:
        raise ProfileError("\n".join(f"{file}: {fault}" for fault in _faults(error))) from None


def read_profile(path: Path, file: str) -> tuple[Profile, str]:
    """Read and check a parameter set file.

    Args:
        path: The file.
        file: Its name as the user gave it, for messages.

    Returns:
        The checked set, and the SHA-256 of the file's bytes as hexadecimal text.

    Raises:
        ProfileError: The file cannot be read or has faults.
    """
    try:
        content = path.read_bytes()
        text = content.decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError(f"{file}: cannot be read as UTF-8 text ({error}).") from None
    return parse_profile(text, file), hashlib.sha256(content).hexdigest()
