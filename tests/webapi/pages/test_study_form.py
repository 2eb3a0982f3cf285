"""The study form and the study document say the same, and what cannot be read finds its field."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.history.spec import HistoryInput
from lifetime.packs.locate import profiles_folder
from lifetime.study.outline import outline
from lifetime.study.schema import Study
from webapi.pages.field_text import parsed, shown
from webapi.pages.form_blocks import input_numbers, strategy_numbers
from webapi.pages.study_fields import FieldMaker, anchor
from webapi.pages.study_form import (
    ALREADY_SPLIT,
    fill_form,
    history_section,
    read_form,
    rules,
    study_section,
)

KEYS = dict(study_section().walk())


def _number_within(key, part):
    low = max(key.bounds.get("ge", 0.0), key.bounds.get("gt", 0.0))
    return low + (key.bounds.get("le", key.bounds.get("lt", 3.0)) - low) * part


def _sample(key):
    """A value within bounds that is not the default."""
    other = next((choice for choice in reversed(key.choices) if choice != key.default), None)
    return {
        "choice": lambda: other,
        "choices": lambda: [other],
        "yes_no": lambda: not key.default,
        "text": lambda: "some words",
        "texts": lambda: ["Word one", "Word two"],
        "integer": lambda: 7,
        "number": lambda: _number_within(key, 0.333),
        "numbers": lambda: [_number_within(key, 0.333), _number_within(key, 0.7)],
        "matrix": lambda: [[0.25, 0.333], [-1.5, 1e-7]],
        "rows": lambda: [{column.key: _sample(column) for column in key.columns} for _ in range(2)],
    }[key.kind]()


def _filled(section):
    """A document with every key of a section."""
    document = {key.key: _sample(key) for key in section.keys}
    return document | {inner.key: _filled(inner) for inner in section.sections}


@pytest.fixture
def study():
    data = tomllib.loads((profiles_folder() / "demo" / "yard_tractor.toml").read_text(encoding="utf-8"))
    for strategy in data["strategy"]:
        strategy["demand"]["discharge_is"] = "positive"
        strategy.pop("design", None)  # left to study files
    return data


def _as_checked(document):
    return Study.model_validate(document).model_dump(mode="json")


def test_a_study_goes_through_the_form_unchanged(study):
    values, left = fill_form(study)
    read = read_form(values)
    assert read.faults == ()
    assert left == []
    assert _as_checked(read.document) == _as_checked(study)
    # One file with one mapping stands in the form once.
    assert input_numbers(values) == [1]
    assert strategy_numbers(values) == [1, 2, 3, 4, 5]


def test_every_key_of_the_schema_goes_through_the_form_unchanged():
    """Not a sound study, as it gives alternatives at once; the form is not the one to judge that."""
    history = {"file": "f" * 64, **{key: value for key, value in _filled(history_section()).items() if key != "file"}}
    document = _filled(study_section())
    document["strategy"] = [
        *(
            {"name": rule, "demand": history, "split": {"rule": rule, **_filled(section)}}
            for rule, section in rules().items()
        ),
        {"name": "split", "battery": history, "ultracapacitor": {**history, "time": "other"}},
    ]
    values, left = fill_form(document)
    read = read_form(values)
    assert left == []
    assert read.faults == ()
    assert read.document == document


def _published(schema, node, lead):
    """Every key of the published JSON Schema below a node, with its path; a table of rows is one key."""
    for key, value in node["properties"].items():
        inner = [one["$ref"] for one in [value, *value.get("anyOf", [])] if "$ref" in one]
        if inner:
            yield from _published(schema, schema["$defs"][inner[0].rpartition("/")[2]], f"{lead}{key}.")
        else:
            yield f"{lead}{key}"


def test_every_key_of_the_published_schema_has_a_field():
    schema = Study.model_json_schema()
    assert set(_published(schema, schema, "")) - {"strategy"} == set(KEYS)
    only_for_files = {"files_follow", "header_row", "decimal", "sheet", "bus_database"}
    history = set(_published(schema, schema["$defs"]["HistoryInput"], ""))
    assert history - only_for_files == {name for name, _ in history_section().walk()}
    split = next(one for one in schema["$defs"]["Strategy"]["properties"]["split"]["anyOf"] if "discriminator" in one)
    for rule, reference in split["discriminator"]["mapping"].items():
        keys = set(_published(schema, schema["$defs"][reference.rpartition("/")[2]], ""))
        # A stranger's code is not run by the service.
        assert rule == "function" or keys - {"rule"} == {name for name, _ in rules()[rule].walk()}
    assert set(rules()) == set(split["discriminator"]["mapping"]) - {"function"}


def test_histories_already_split_and_monthly_means(study):
    del study["service"]["climate"]
    study["service"]["ambient_C"] = [1.0, 2.5, 6, 10, 14, 18, 20, 19, 15, 10, 5, 2]
    study["cost"]["residual_value"] = "none"
    run = {"file": "f" * 64, "time": "Time [s]", "current": "I_bat [A]", "discharge_is": "negative"}
    run |= {"interpolation": "zero_order_hold", "clean": ["bridge_gaps"], "ambient_C": 21.5}
    bank = {**run, "current": "I_uc [A]", "current_unit": "mA"}
    study["strategy"] = [{"name": "Bench", "battery": run, "ultracapacitor": bank}]
    values, _ = fill_form(study)
    assert values["strategy[1].split.rule"] == ALREADY_SPLIT
    assert input_numbers(values) == [1, 2]
    read = read_form(values)
    assert read.faults == ()
    assert _as_checked(read.document) == _as_checked(study)


def test_a_cycler_file_with_modes_in_words_goes_through_the_form(study):
    run = {"file": "f" * 64, "time": "Time", "time_format": "duration", "current": "I [A]", "mode": "Step"}
    run |= {"charge_modes": ["CC charge", "CV charge"], "discharge_modes": ["DCH"], "rest_modes": ["Pause"]}
    run |= {"discharge_is": "positive", "quantities_of": "cell"}
    study["strategy"] = [{"name": "Bench", "battery": run}]
    read = read_form(fill_form(study)[0])
    assert read.faults == ()
    assert read.document["strategy"][0]["battery"] == run


def test_keys_without_a_field_are_named(study):
    study["strategy"][0]["demand"]["sheet"] = "Data"
    study["strategy"][1]["split"] = {"rule": "function", "file": "x.py", "name": "f"}
    assert fill_form(study)[1] == ["strategy[2].split", "input[1].sheet"]


def test_what_cannot_be_read_is_named_by_its_field(study):
    values, _ = fill_form(study)
    values |= {"service.years": "ten", "battery.series": "1.5", "strategy[4].split.time_constant_s": "5,5"}
    del values["input[1].discharge_is"]
    faults = {fault.place: fault.message for fault in read_form(values).faults}
    assert set(faults) == {
        "service.years",
        "battery.series",
        "strategy[4].split.time_constant_s",
        "input[1].discharge_is",
    }
    assert "ten" in faults["service.years"]


def test_a_strategy_without_a_rule_is_a_fault():
    values = {"strategy[1].name": "x", "strategy[1].split.rule": ""}
    places = [fault.place for fault in read_form(values).faults]
    assert [one for one in places if one.startswith("strategy")] == ["strategy[1].split.rule"]


def test_an_empty_form_asks_for_what_the_schema_requires_and_for_no_section_that_may_be_left_out():
    places = {fault.place for fault in read_form({}).faults}
    assert places == {
        "title",
        "service.years",
        "battery.cell",
        "battery.series",
        "battery.parallel",
        "battery.start_soc",
        "cost.currency",
        "cost.discount_rate",
    }
    # One field filled in brings the section with it.
    places = {fault.place for fault in read_form({"vehicle.mass_kg": "1500"}).faults}
    assert {"vehicle.rolling_resistance", "vehicle.drag_area_m2"} <= places


def test_a_default_in_a_choice_does_not_bring_its_section(study):
    study["ultracapacitor"]["fade_shape"] = "linear"
    values, _ = fill_form(study)
    values["service.histories_cover"] = "driving"
    assert "histories_cover" not in read_form(values).document["service"]
    assert read_form(values).document["ultracapacitor"]["fade_shape"] == "linear"


def test_fields_of_another_rule_are_ignored(study):
    values, _ = fill_form(study)
    values["strategy[1].split.time_constant_s"] = "7"
    assert read_form(values).document["strategy"][0]["split"] == {"rule": "battery_only"}


@settings(deadline=None)
@given(st.floats(min_value=0.0, max_value=1.0))
def test_a_percentage_is_the_fraction_to_the_last_bit(fraction):
    key = KEYS["battery.start_soc"]
    assert parsed(key, shown(key, fraction)) == fraction


@pytest.mark.parametrize(("text", "fraction"), [("90", 0.9), ("33.3", 0.333), ("0.7", 0.007), ("100", 1.0), ("0", 0.0)])
def test_percentages_as_people_write_them(text, fraction):
    key = KEYS["battery.start_soc"]
    assert parsed(key, text) == fraction
    assert shown(key, fraction) == text


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("battery.start_soc", "101", "at least 0 and at most 100 %, got 101"),
        ("battery.start_soc", "-0.1", "at least 0 and at most 100 %, got -0.1"),
        ("end_of_life.battery_capacity", "20", "above 20 and below 100 %, got 20"),
        ("end_of_life.battery_capacity", "100", "above 20 and below 100 %, got 100"),
        ("service.years", "0", "at least 0.01 and at most 50 years, got 0"),
        ("service.years", "nan", "at least 0.01 and at most 50 years, got nan"),
        ("battery.resistance_ohm", "1e999", "at least 0.000000001 and at most 1000000 ohm, got 1e999"),
        ("service.years", "1,5", "a number with a decimal point, got “1,5”"),
        ("battery.series", "1e3", "a whole number, got “1e3”"),
        ("ultracapacitor.fade_shape", "cubic", "one of linear, square_root, burn_in_linear, got “cubic”"),
    ],
)
def test_what_a_field_refuses_it_refuses_in_its_own_unit(name, text, words):
    with pytest.raises(ValueError, match=words):
        parsed(KEYS[name], text)


def test_a_row_that_is_too_short_is_named_by_its_line():
    rows = next(key for key in rules()["state_table"].keys if key.kind == "rows")
    assert [len(row) for row in parsed(rows, "traction low 0\n\nany any 1")] == [3, 3]
    with pytest.raises(ValueError, match="line 3 needs 3 entries with spaces between, got 2"):
        parsed(rows, "traction low 0\n\nany any")
    with pytest.raises(ValueError, match=r"line 1 must be one of traction, braking, any, got “up”"):
        parsed(rows, "up low 0")


def test_one_ambient_temperature_is_a_number_and_twelve_are_a_list():
    key = KEYS["service.ambient_C"]
    assert parsed(key, "20") == 20.0
    assert parsed(key, "1 2") == [1.0, 2.0]
    # A curve of one point stays a list, for the schema to refuse.
    assert parsed(KEYS["battery.open_circuit.soc"], "50") == [0.5]


def test_a_field_shows_title_unit_hint_default_and_choices():
    maker = FieldMaker({"battery.start_soc": "90"}, {"battery.start_soc": "is wrong."}, lambda _: ())
    section = {one.title: one for one in maker.section(study_section()).sections}
    battery = {one.name: one for one in section["Battery pack"].fields}
    soc = battery["battery.start_soc"]
    assert (soc.label, soc.value, soc.fault, soc.needed) == (
        "State of charge at the start of the day [%]",
        "90",
        "is wrong.",
        True,
    )
    assert battery["battery.minimum_soc"].hint.endswith("Default: 0.")
    assert ("lfp_naumann_2020", "lfp_naumann_2020") in battery["battery.cell"].options
    life = {one.name: one for one in section["End of life"].fields}
    assert "Default: 80." in life["end_of_life.battery_capacity"].hint


def test_a_parameter_set_that_is_not_shipped_stays_chosen():
    key = next(key for key in outline(HistoryInput).keys if key.key == "time")
    field = FieldMaker({"input[1].time": "old"}, {}, lambda _: ["t"]).field(key, "input[1]")
    assert [value for value, _ in field.options] == ["", "t", "old"]


def test_an_anchor_is_fit_for_a_link():
    assert anchor("strategy[4].split.time_constant_s") == "strategy-4-split-time_constant_s"
    assert anchor("input[1]") == "input-1"
    assert anchor("") == "study"
