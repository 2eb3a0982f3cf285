"""Every split rule keeps the contract: what people read about it, and what study, README and pages take from it."""

import re
from pathlib import Path

import pytest
from pydantic import ValidationError
from pydantic.fields import FieldInfo

from lifetime.section import Section
from lifetime.split.losses import Loss
from lifetime.split.rules import RULES, LowPass, TableRow, read_rule
from lifetime.study.schema import Study

ROOT = Path(__file__).parents[2]
SOURCES = ROOT / "lifetime" / "split" / "rules"
SECTIONS = (*RULES, Loss, TableRow)
HAS_A_UNIT = re.compile(r"_(V|W|s|kg|ohm|fraction|W_per_s)$|efficiency$")


def described_fields():
    for section in SECTIONS:
        for name, field in section.model_fields.items():
            if name != "rule":
                yield pytest.param(section, name, field, id=f"{section.__name__}.{name}")


def unit_of(field: FieldInfo) -> str:
    return (field.json_schema_extra or {}).get("unit", "")


def readme_row(rule) -> str:
    """The row that README has for a rule."""
    keys = []
    for name in rule.parameters():
        unit = unit_of(rule.model_fields[name])
        keys.append(f"`{name}`" + (f" [{unit}]" if unit else ""))
    return f"| `{rule.key()}` | {', '.join(keys)} | {rule.summary} |"


def test_every_file_of_rules_has_one_rule_and_the_list_has_them_all():
    files = {path.stem for path in SOURCES.glob("*.py")} - {"__init__"}
    assert {rule.__module__.rpartition(".")[2] for rule in RULES} == files
    assert len(RULES) == len(files) == len({rule.key() for rule in RULES})


def test_the_readme_has_exactly_the_rules_in_their_order():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    table = text.split("| rule | parameters | what it does |\n|---|---|---|\n")[1].split("\n\n")[0].splitlines()
    assert table == [readme_row(rule) for rule in RULES]


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_has_a_name_and_a_sentence_for_people(rule):
    assert rule.title()[0].isupper()
    assert not rule.title().endswith(".")
    assert rule.summary.endswith(".")


def test_what_a_rule_needs_is_said_by_the_rule():
    def needing(what):
        return {rule.key() for rule in RULES if getattr(rule, what)}

    assert needing("needs_speed") == {"voltage_target"}
    assert needing("needs_function") == {"function"}
    assert {rule.key() for rule in RULES} - needing("has_ultracapacitor") == {"battery_only"}


@pytest.mark.parametrize(("section", "name", "field"), list(described_fields()))
def test_every_parameter_says_what_form_and_readme_show(section, name, field):
    assert field.title, f"{name} has no title"
    assert "[" not in field.title, "the unit has a place of its own"
    assert field.description.endswith("."), f"{name} has no hint"
    assert field.examples, f"{name} has no example"
    assert bool(unit_of(field)) == bool(HAS_A_UNIT.search(name)), f"{name}: unit {unit_of(field)!r}"


@pytest.mark.parametrize("rule", RULES)
def test_every_voltage_of_a_rule_may_be_given_by_cell(rule):
    """Or a study with voltages_of = "cell" would mix volts of a cell with volts of the bank."""
    volts = {name for name, field in rule.model_fields.items() if unit_of(field) == "V"}
    assert volts == set(rule.bank_voltages)


def test_voltages_of_one_cell_become_those_of_the_bank():
    """216 cells: 2.2 V are 475.2 V; a width is a voltage too, a fraction and a demand are none."""
    given = {"demand_W": [0.0, 1e4], "ultracapacitor_voltage_V": [1.25, 2.5], "battery_fraction": [[0, 1], [1, 0]]}
    bank = read_rule({"rule": "lookup", **given}).in_bank_volts(216)
    assert (bank.ultracapacitor_voltage_V, bank.demand_W) == ((270.0, 540.0), (0.0, 1e4))
    rows = [{"battery_fraction": 0.5}]
    table = {"rule": "state_table", "rows": rows, "low_voltage_V": 1.5, "high_voltage_V": 2.25, "hysteresis_V": 0.125}
    bank = read_rule(table).in_bank_volts(200)
    assert (bank.low_voltage_V, bank.high_voltage_V, bank.hysteresis_V) == (300.0, 450.0, 25.0)
    regulated = {"ultracapacitor_setpoint_V": 2.2, "ultracapacitor_setpoint_time_constant_s": 120.0}
    assert LowPass(time_constant_s=5.0, **regulated).in_bank_volts(216).ultracapacitor_setpoint_V == pytest.approx(
        475.2
    )
    assert LowPass(time_constant_s=5.0).in_bank_volts(216).ultracapacitor_setpoint_V is None


@pytest.mark.parametrize("rule", RULES)
def test_the_examples_make_a_sound_rule(rule):
    examples = {name: field.examples[0] for name, field in rule.model_fields.items() if name != "rule"}
    examples.pop("ultracapacitor_loss", None)
    if "topology" in examples:  # its example has an inverter for each source
        examples.pop("inverter_loss")
    made = read_rule({"rule": rule.key(), **examples})
    assert type(made) is rule
    # What a study states comes back from it.
    assert read_rule(made.model_dump(mode="json")) == made


def test_the_schema_of_a_study_has_every_rule_and_asks_for_its_key():
    definitions = Study.model_json_schema()["$defs"]
    for rule in RULES:
        described = definitions[rule.__name__]
        assert "rule" in described["required"]
        assert (described["title"], described["description"]) == (rule.title(), rule.summary)
    split = definitions["Strategy"]["properties"]["split"]
    assert set(split["anyOf"][0]["discriminator"]["mapping"]) == {rule.key() for rule in RULES}


def test_a_rule_is_taken_as_it_is():
    rule = LowPass(time_constant_s=20.0)
    assert read_rule(rule) is rule


def test_bounds_and_unknown_keys_are_held():
    with pytest.raises(ValidationError, match="greater than or equal to 0.000001"):
        LowPass(time_constant_s=0.0)
    with pytest.raises(ValidationError, match="Extra inputs"):
        LowPass(time_constant_s=1.0, time_constant_ms=1.0)
    assert issubclass(LowPass, Section)


def test_nobody_asks_which_rule_it_is():
    """Outside a rule's own file the contract is all there is."""
    names = "|".join(rule.__name__ for rule in RULES)
    for folder in ("lifetime", "webapi"):
        for path in (ROOT / folder).rglob("*.py"):
            assert not re.search(rf"isinstance\([^)]*\b({names})\b", path.read_text(encoding="utf-8")), path.name
