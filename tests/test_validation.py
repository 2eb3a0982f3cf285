"""What is wrong with given data, in words; the expected texts are written by hand."""

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from lifetime.validation import invalid_values


class Cat(BaseModel):
    rule: Literal["cat"]


class Dog(BaseModel):
    rule: Literal["dog"]


class Model(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)

    size: Annotated[float, Field(gt=0)] = 1.0
    kind: Literal["a", "b"] = "a"
    name: str = "x"
    rows: Annotated[list[int], Field(min_length=2)] = [1, 2]
    inner: Cat | None = None
    pet: Annotated[Cat | Dog, Field(discriminator="rule")] = Cat(rule="cat")

    @field_validator("name")
    @classmethod
    def _known(cls, name: str) -> str:
        if name == "it's unknown":
            raise ValueError("names it's not made for {any}")
        return name


def told(**data):
    with pytest.raises(ValidationError) as caught:
        Model.model_validate(data)
    return [(invalid.place, invalid.message + invalid.got) for invalid in invalid_values(caught.value)]


@pytest.mark.parametrize(
    ("data", "place", "words"),
    [
        ({"size": -2.0}, ("size",), "must be greater than 0, got -2.0"),
        ({"size": "x" * 100}, ("size",), "must be a valid number, got '" + "x" * 76 + "..."),
        ({"kind": "c"}, ("kind",), "must be one of 'a' or 'b', got 'c'"),
        ({"name": 3}, ("name",), "must be text, got 3"),
        ({"name": "it's unknown"}, ("name",), "names it's not made for {any}"),
        ({"rows": [1]}, ("rows",), "needs at least 2 entries"),
        ({"rows": {"a": 1}}, ("rows",), "must be a list"),
        ({"sise": 1.0}, ("sise",), "is not a key"),
        ({"inner": {}}, ("inner", "rule"), "is missing"),
        ({"inner": 4}, ("inner",), "must be a table, got 4"),
        ({"pet": {"rule": "cow"}}, ("pet", "rule"), "must be one of 'cat', 'dog', got 'cow'"),
        ({"pet": {}}, ("pet", "rule"), "is missing"),
    ],
)
def test_each_kind_in_words(data, place, words):
    assert told(**data) == [(place, words)]


def test_a_list_whose_entries_are_wrong_is_not_called_short_as_well():
    assert [place for place, _ in told(rows=[1, "two"])] == [("rows", 1)]
