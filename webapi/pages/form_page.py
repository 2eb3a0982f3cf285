"""The page of the study form: what its buttons do, and all it shows."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from flask import render_template

from lifetime.errors import Fault
from lifetime.text import printable
from webapi.context import context
from webapi.errors import NotFoundError
from webapi.pages.base import moment
from webapi.pages.form_blocks import (
    Values,
    input_numbers,
    renumbered,
    strategy_numbers,
    with_copy,
    with_history,
    with_strategy,
    without,
)
from webapi.pages.form_faults import in_words
from webapi.pages.histories import PREVIEW_ROWS, other_fits, preview_text, sign_words, size_words
from webapi.pages.study_fields import FieldMaker, FormSection, anchor
from webapi.pages.study_form import ALREADY_SPLIT, history_section, roles_of, rules, strategy_section, study_section
from webapi.pages.traces import number_names
from webapi.services import histories

_BUTTON: Final = re.compile(r"(offers|copy|drop|forget)-(\d{1,3})")
_STORED_SHOWN: Final = 100
_LISTS: Final = ("charge_modes", "discharge_modes", "rest_modes", "phase_currents", "phase_voltages")


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


def shown_form(values: Values, faults: Sequence[Fault] = (), *, remarks: Sequence[str] = ()) -> str:
    """The page with the form.

    Args:
        values: Every field by name.
        faults: What is to be corrected, by the field's name.
        remarks: What else to say at the top.
    """
    held = context()
    with held.factory() as session:
        stored = histories.listed(session, limit=_STORED_SHOWN).items
    inputs = [one for number in input_numbers(values) if (one := _input(values, number)) is not None]
    columns = {one["lead"]: one["columns"] for one in inputs}
    maker = FieldMaker(values, {fault.place: fault.message for fault in faults}, lambda lead: columns.get(lead, ()))
    for one in inputs:
        one["sections"] = [
            replace(section, unfolded=section.unfolded or (one["needs_units"] and _is_of_units(section)))
            for section in maker.grouped(history_section(), one["lead"])
        ]
    study = maker.section(study_section())
    return render_template(
        "pages/new_study.html",
        study=study,
        title=study.fields[0],
        found=in_words(faults, values),
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
        inputs=inputs,
        strategies=[_strategy(maker, f"strategy[{number}]") for number in strategy_numbers(values)],
        blanks=[_blank(rule) for rule in (*rules(), ALREADY_SPLIT)],
        rule_words=_rule_words(),
        anchor=anchor,
        most_bytes=size_words(held.settings.upload_bytes),
    )


def _is_of_units(section: FormSection) -> bool:
    return all(field.name.endswith("_unit") for field in section.fields)


def _rule_words() -> dict[str, str]:
    return {**{rule: section.title for rule, section in rules().items()}, ALREADY_SPLIT: "already split: use histories"}


def _strategy(maker: FieldMaker, lead: str) -> dict[str, Any]:
    """What the form shows of one strategy: the fields of the chosen rule only."""
    rule = maker.values.get(f"{lead}.split.rule", "")
    name = next(key for key in strategy_section().keys if key.key == "name")
    texts = {section.key: section for section in strategy_section().sections}
    sections = [maker.section(rules()[rule], f"{lead}.split")] if rule in rules() else []
    return {
        "lead": lead,
        "name": maker.field(name, lead),
        "rule": rule,
        "rule_fault": maker.faults.get(f"{lead}.split.rule", ""),
        "roles": [
            {
                "name": f"{lead}.{role}",
                "id": anchor(f"{lead}.{role}"),
                "title": texts[role].title,
                "hint": texts[role].description,
                "value": maker.values.get(f"{lead}.{role}", ""),
                "needed": role != "ultracapacitor",
                "fault": maker.faults.get(f"{lead}.{role}", ""),
            }
            for role in roles_of(rule)
        ],
        "sections": sections,
    }


def _blank(rule: str) -> dict[str, Any]:
    """The empty fields of a rule, for a script that shows them as soon as the rule is chosen."""
    lead = "strategy[0]"
    maker = FieldMaker({f"{lead}.split.rule": rule}, {}, lambda _: ())
    return _strategy(maker, lead)


def _input(values: Values, number: int) -> dict[str, Any] | None:
    """What the form shows of one history; None where it is not stored."""
    held, key = context(), values[f"input[{number}].file"]
    try:
        with held.factory() as session:
            row = histories.get(session, key)
            preview = histories.preview(session, held.store, key, PREVIEW_ROWS)
    except NotFoundError:
        return None
    # Those that can be told apart; columns of words may hold modes and timestamps.
    every = [one["name"].strip() for one in row.columns]
    names = [name for name in every if name and every.count(name) == 1]
    lead = f"input[{number}]"
    unstated = {one["name"] for one in row.columns if one["kind"] == "numbers" and one["unit"] is None}
    return {
        "number": number,
        "needs_units": any(
            values.get(f"{lead}.{one.key}") in unstated for one in history_section().keys if one.more.get("column")
        ),
        "lead": lead,
        "key": key,
        "name": printable(row.file_name),
        "columns": names,
        "preview": preview_text(preview),
        "sign": sign_words(row.report),
        "offers": [
            {"role": one["could_be"], "column": printable(one["name"]), "evidence": one["evidence"]}
            for one in row.columns
            if one["could_be"]
        ],
        "others": other_fits(row.columns),
    }


def _offers(values: Values, number: int) -> Mapping[str, str]:
    """The fields that the offers of one history fill."""
    key = values.get(f"input[{number}].file", "")
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
    offered |= _offered_lists(row.report)
    return {f"input[{number}].{role}": name for role, name in offered.items()}


def _offered_lists(report: Mapping[str, Any] | None) -> dict[str, str]:
    """What takes several names: the words of a mode, without which an unsigned current would be all discharge; phases.

    The sign of discharge is stated by a person, and "?" stands for what nothing shows.
    """
    keys = (report or {}).get("study_keys") or {}
    lists = {name: keys[name] for name in _LISTS if name in keys and keys[name] != ["?"]}
    texts = {name: "\n".join(value) for name, value in lists.items()}
    return texts | ({"mode": keys["mode"]} if "mode" in keys else {})
