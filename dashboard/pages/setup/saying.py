"""From the fields of a form to texts, and from what is wrong back to its fields."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dashboard import text
from dashboard.answers import Answers
from dashboard.formats import Clock
from dashboard.pages.setup.fields import NOT_SAID
from dashboard.text import setup as setup_text
from qc.desk.lists import list_kind
from qc.domain.records import Field
from qc.errors import FormError


def named_texts(ids: Sequence[Mapping[str, str]], values: Sequence[Any]) -> dict[str, str]:
    """What is written in each field; the choice of none is an empty text."""
    return {at["name"]: "" if value in (None, NOT_SAID) else str(value)
            for at, value in zip(ids, values, strict=True)}


def as_of_words(answers: Answers) -> str:
    """The moment in the head of every page, in the shop's zone as it is now."""
    return text.AS_OF.format(Clock(answers.shop.zone).minute(answers.quick_as_of_us()))


def errors_of(
    refused: FormError, ids: Sequence[Mapping[str, str]], *kinds: str
) -> list[str | None]:
    """What stands beside each field, in the form's own names for the fields of these lists."""
    labels = _labels(kinds)
    told = {field: " ".join(_sentence(setup_text.in_form(words, labels)) for words in wrong)
            for field, wrong in refused.by_field.items()}
    return [told.get(at["name"]) for at in ids]


def _labels(kinds: Sequence[str]) -> dict[str, str]:
    """The name of every column a field may be written in."""
    return {column: setup_text.field_label(field.name)
            for kind in kinds if kind != "kinds" for field in list_kind(kind).fields
            for column in _columns(field)}


def _columns(field: Field) -> tuple[str, ...]:
    return (field.name, *(f"{field.base}_{unit.suffix}" for unit in field.units))


def _sentence(words: str) -> str:
    return words if words.endswith(".") else f"{words}."
