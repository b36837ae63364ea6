"""Pulls of paper, or pressure film, at places of a platen: what their ranks say."""

from __future__ import annotations

from dataclasses import dataclass

PULL_STATES = ("uneven", "cannot_tell", "even")
"""The one that needs somebody first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PullCheck:
    """The latest rounds of pulls at one press and station by one method.

    ``grips``: (place, grip 0..3) of the latest round; ``n_rounds`` looked at; ``weakest`` the place
    that holds least over them; ``chance``: of ranks so unlike by luck (Friedman), None with fewer
    than three whole rounds. ``state``: of `PULL_STATES`.
    """

    press: str
    station: str | None
    method: str
    pulled_at_us: int
    grips: tuple[tuple[str, int], ...]
    n_rounds: int
    weakest: str
    chance: float | None
    state: str
