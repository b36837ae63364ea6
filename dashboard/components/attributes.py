"""Attributes that say what a part is to a person who does not see it."""

from __future__ import annotations

from typing import Any

UNSEEN: dict[str, Any] = {"aria-hidden": "true"}
"""For a part that only repeats, in form or colour, what words beside it say."""


def named(label: str) -> dict[str, Any]:
    """The name a part is announced by."""
    return {"aria-label": label}


def saving(form: str) -> dict[str, Any]:
    """Marks a button that saves the chart it stands in."""
    return {"data-save": form}


def headed(heading: str) -> dict[str, Any]:
    """The heading a cell shows beside itself where a row is stacked."""
    return {"data-label": heading}


def flags_shown(mark: str) -> dict[str, Any]:
    """Which flags a part shows (`assets/charts.js`)."""
    return {"data-flags": mark}
