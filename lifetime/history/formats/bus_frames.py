"""Logs of raw frames of a vehicle bus, as text: known by their lines, and refused with what to do instead."""

import re
from collections.abc import Sequence
from typing import Final

from lifetime.errors import HistoryError

_LINES: Final = (
    # candump of the Linux can-utils, as a log and as on the screen
    re.compile(rb"\A\(\d++\.\d++\) ++[!-~]++ ++[0-9A-Fa-f]{3,8}#[!-~]*+(?: [RT])?"),
    re.compile(rb"\A(?:\([^()]{1,40}\) ++)?[a-z]++\d++ ++(?:[RT]X [-BE] ++[-BE] ++)?[0-9A-F]{3,8} ++\[\d++\](?: .*+)?"),
    # ASC, with classic and flexible frames
    re.compile(rb"\A\d++\.\d++ ++\d++ ++[0-9A-Fa-f]++x?[ \t]++(?:Rx|Tx)[ \t]++[dr](?:[ \t].*+)?"),
    re.compile(rb"\A\d++\.\d++ ++CANFD ++\d++ ++(?:Rx|Tx)[ \t].*+"),
    # TRC, versions 1 and 2
    re.compile(rb"\A\d++\) ++\d++(?:\.\d++)? ++(?:\d ++)?(?:Rx|Tx|Error|Warng) ++[0-9A-F]{4,8} .*+"),
    re.compile(rb"\A\d++ ++\d++\.\d++ ++[A-Z]{2} ++(?:\d ++)?[0-9A-F]{4,8} ++(?:Rx|Tx) .*+"),
)
_COMMENT: Final = (b";", b"//", b"#")
_LOOKED_AT: Final = 50
_SHARE: Final = 0.5

_IDENTIFIER: Final = re.compile(
    r"\A(?:can|frame|msg|message|arbitration)?[ _-]?id(?:entifier)?(?: ?\(hex\))?", re.IGNORECASE
)
_LENGTH: Final = re.compile(r"\A(?:len(?:gth)?|dlc|data ?length)", re.IGNORECASE)
_DATA: Final = re.compile(
    r"\A(?:d(?:ata)?[ _]?\[?\d{0,2}\]?|data ?bytes?|b(?:yte)?[ _]?\d{1,2}|payload)", re.IGNORECASE
)


def are_frames(head: bytes) -> bool:
    """Tell whether a text's first lines are raw frames in one of the common layouts; common practice, no source.

    Args:
        head: The first bytes.
    """
    lines = [line.strip() for line in head.split(b"\n")]
    if len(lines) > 1 and not head.endswith(b"\n"):
        lines.pop()  # it may have been cut
    if b"base hex" in head[:400] and head.lstrip()[:5].lower() == b"date ":
        return True
    header = lines[0].decode("latin-1").replace(";", ",").replace("\t", ",").split(",")
    if are_frame_columns([name.strip(' "') for name in header]):
        return True
    rows = [line for line in lines if line and not line.startswith(_COMMENT)][:_LOOKED_AT]
    fitting = sum(any(pattern.fullmatch(line) for pattern in _LINES) for line in rows)
    return bool(rows) and fitting > _SHARE * len(rows)


def are_frame_columns(columns: Sequence[str]) -> bool:
    """Tell whether the columns of a table are those of raw frames: an identifier, a length and bytes.

    Args:
        columns: Their names.
    """
    return all(any(pattern.fullmatch(name) for name in columns) for pattern in (_IDENTIFIER, _LENGTH, _DATA))


def frames_refused(label: str) -> HistoryError:
    """The error that says what to do with raw frames.

    Args:
        label: The file's name as the user gave it.
    """
    return HistoryError(
        "this is a log of raw frames of a vehicle bus, as text.",
        file=label,
        remedy="Decode it with the bus's data base to signals first, and export them as MDF 4 or CSV; or give the log "
        'as MDF 4 and add bus_database = "FILE.dbc" to the history.',
    )
