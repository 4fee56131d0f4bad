"""A quantity's field is named for its unit, and its key is not."""

from __future__ import annotations

import pytest
from pydantic import BaseModel

from timing.design.design import Design
from timing.design.units import UNITS, Measure, key_of


def sections(model: type[BaseModel]) -> list[type[BaseModel]]:
    found = [model]
    for field in model.model_fields.values():
        for candidate in (field.annotation, *getattr(field.annotation, "__args__", ())):
            if isinstance(candidate, type) and issubclass(candidate, BaseModel):
                found += sections(candidate)
    return found


def measure_of(field) -> Measure | None:
    metadata = [
        *field.metadata,
        *(m for arg in getattr(field.annotation, "__args__", ()) for m in getattr(arg, "__metadata__", ())),
    ]
    return next((item for item in metadata if isinstance(item, Measure)), None)


def test_every_quantity_ends_in_its_unit_and_nothing_else_does():
    for section in set(sections(Design)):
        for name, field in section.model_fields.items():
            measure = measure_of(field)
            if measure is None:
                assert key_of(name) == name, f"{section.__name__}.{name} looks like a quantity"
            else:
                assert name.endswith(f"_{UNITS[measure.unit].suffix}"), f"{section.__name__}.{name}"
                assert field.alias == key_of(name)


def test_every_example_of_a_quantity_is_in_its_own_range():
    for section in set(sections(Design)):
        for field in section.model_fields.values():
            measure = measure_of(field)
            if measure is not None:
                read = measure.read(measure.example)
                numbers = read if isinstance(read, tuple) else (read,)
                assert all(measure.low <= number <= measure.high for number in numbers)


def test_a_bound_itself_is_in_range_after_conversion():
    assert Measure("F", 10e-6, 0.1, "1000 uF").read("10.000 uF") == pytest.approx(10e-6)
