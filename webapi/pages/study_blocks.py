"""The repeated blocks of the study form, histories and strategies, and what its buttons do to them."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from flask import render_template

from lifetime.errors import Fault
from lifetime.history.record import CLEANING
from lifetime.text import printable
from lifetime.units import known_units
from webapi.context import context
from webapi.errors import NotFoundError
from webapi.pages.base import moment
from webapi.pages.form_faults import place_words
from webapi.pages.recordings import PREVIEW_ROWS, preview_text, size_words
from webapi.pages.study_fields import ROLE_WORDS, SPLIT_FIELDS, WAYS, Group
from webapi.pages.study_form import (
    Values,
    input_numbers,
    renumbered,
    strategy_numbers,
    with_copy,
    with_history,
    with_strategy,
    without,
)
from webapi.pages.traces import number_names
from webapi.services import histories

_BUTTON: Final = re.compile(r"(offers|copy|drop|forget)-(\d{1,3})")
_STORED_SHOWN: Final = 100


def act(values: Values, action: str) -> dict[str, str]:
    """Do what a button says.

    Args:
        values: The form's fields.
        action: The button's value.

    Returns:
        The fields afterwards.
    """
    if action == "use":
        return with_history(values, values.get("stored", ""))
    if action == "strategy":
        return with_strategy(values)
    match = _BUTTON.fullmatch(action)
    if match is None:
        return dict(values)
    what, number = match[1], int(match[2])
    if what == "offers":
        return {**values, **_offers(values, number)}
    if what == "copy":
        return with_copy(values, number)
    return renumbered(without(values, "input" if what == "drop" else "strategy", number))


def shown_form(
    values: Values,
    groups: Sequence[Group],
    faults: Sequence[Fault] = (),
    *,
    remarks: Sequence[str] = (),
) -> str:
    """The page with the form.

    Args:
        values: Every field by name.
        groups: The groups of fields.
        faults: What needs mending.
        remarks: What else to say at the top.
    """
    held = context()
    with held.factory() as session:
        stored = histories.listed(session, limit=_STORED_SHOWN).items
    return render_template(
        "pages/new_study.html",
        values=values,
        groups=groups,
        found=[Fault(place_words(fault.place, groups), fault.message) for fault in faults],
        fault_at={fault.place: fault.message for fault in faults},
        remarks=remarks,
        stored=[
            {
                "key": one.id,
                "name": printable(one.file_name),
                "rows": f"{one.rows:,}",
                "uploaded": moment(one.created_at),
            }
            for one in stored
        ],
        inputs=[one for number in input_numbers(values) if (one := _input(values, number)) is not None],
        strategies=strategy_numbers(values),
        roles=ROLE_WORDS.items(),
        units={role: known_units(role) for role in ROLE_WORDS},
        ways=WAYS,
        split_fields=SPLIT_FIELDS,
        cleaning=list(CLEANING),
        most_bytes=size_words(held.settings.upload_bytes),
    )


def _input(values: Values, number: int) -> dict[str, Any] | None:
    """What the form shows of one history; None where it is not stored."""
    held, key = context(), values[f"input[{number}].history"]
    try:
        with held.factory() as session:
            row = histories.get(session, key)
            preview = histories.preview(session, held.store, key, PREVIEW_ROWS)
    except NotFoundError:
        return None
    names = number_names(row.columns)
    lead = f"input[{number}]"
    unstated = {one["name"] for one in row.columns if one["unit"] is None}
    return {
        "number": number,
        "needs_units": any(
            values.get(f"{lead}.{role}_unit") or values.get(f"{lead}.{role}") in unstated for role in ROLE_WORDS
        ),
        "key": key,
        "name": printable(row.file_name),
        "columns": [{"name": name} for name in names],
        "preview": preview_text(preview),
        "sign": _sign(row.report),
        "offers": [
            {"role": one["could_be"], "column": printable(one["name"]), "evidence": one["evidence"]}
            for one in row.columns
            if one["could_be"] and one["name"] in names
        ],
    }


def _sign(report: dict[str, Any] | None) -> str:
    """What voltage and state of charge say about the sign; empty where they say nothing."""
    if report is None or report["sign"] is None:
        return ""
    return printable(f"needed; {report['sign']['message']}")


def _offers(values: Values, number: int) -> Mapping[str, str]:
    """The fields that the offers of one history fill."""
    key = values.get(f"input[{number}].history", "")
    try:
        with context().factory() as session:
            row = histories.get(session, key)
    except NotFoundError:
        return {}
    names = number_names(row.columns)
    offered = {one["could_be"]: one["name"] for one in row.columns if one["could_be"] and one["name"] in names}
    if "current" in offered and "power" in offered:
        # A study takes one of the two; which of them drives it is for the user to say.
        del offered["power"]
    return {f"input[{number}].{role}": name for role, name in offered.items()}
