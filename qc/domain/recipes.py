"""Settings against recipe: what was set at the pieces, beside what their recipes ask."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SETTING_QUANTITIES = (
    "temperature_c", "actual_temperature_c", "dwell_s", "second_press_s", "pressure_kpa",
    "pressure_dial", "pressure_class", "peel_wait_s", "cover",
)
"""What is held against a recipe. ``temperature_c`` is what the press displayed,
``actual_temperature_c`` that plus the platen's surveyed offset; neither stands for the other. A
gauge reading, a dial and a class are three kinds of pressure and never become each other."""

PRESSURE_KINDS = ("pressure_kpa", "pressure_dial", "pressure_class")
NAMED_QUANTITIES = ("pressure_class", "cover")
"""These are names: they have no distance from a target and no drift."""

SETTING_STATES = (
    "below", "above", "other", "inside", "not_shown", "not_recorded", "other_kind", "no_window",
    "no_survey", "no_recipe", "not_asked",
)
"""Of one quantity at one piece. ``other``: another cover than the recipe's. ``not_shown``: the
actual temperature is too near a limit for the uncertainty of its survey. ``other_kind``: the
pressure was recorded in another kind than the recipe's. ``not_asked``: the recipe does not speak
of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorPart:
    """A person's pieces of one row; ``operator`` None where nobody is named."""

    operator: str | None
    n_outside: int
    n_told: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PairPart:
    """The pieces of one fabric and transfer of one row."""

    fabric: str
    transfer: str
    n_outside: int
    n_told: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingDrift:
    """How what is set moves against its target, in the stored unit a day, with its 95 % interval.

    From the medians of ``n_days`` days with pieces. ``stands_out``: more than chance has it, all
    rows of the answer together.
    """

    per_day: float
    low: float
    high: float
    n_days: int
    stands_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow:
    """One quantity at one press in a period. All ``n_...`` count pieces.

    ``n_below`` to ``n_no_recipe`` : pieces by state, see `SETTING_STATES`. ``n_hidden`` : actual
    temperature outside beyond its uncertainty though the display was inside. ``n_as_before`` :
    outside the recipe's valid version but inside the version before it. ``n_by_default`` : told by
    a window from the shop's settings, not the recipe's own. ``share`` of those told that are
    outside, with its 95 % interval. ``off_*`` : set less target in the stored unit, median and the
    ends of the middle 90 % of the pieces. ``most_set``, ``most_asked`` : of a quantity that is a
    name, the commonest of the pieces outside. ``first_us``, ``last_us`` : first and last piece
    outside, ``n_before_first`` : pieces told before that. None is unknown, never 0.
    """

    press: str
    quantity: str
    n_below: int
    n_above: int
    n_other: int
    n_inside: int
    n_not_shown: int
    n_not_recorded: int
    n_other_kind: int
    n_no_window: int
    n_no_survey: int
    n_no_recipe: int
    n_hidden: int
    n_as_before: int
    n_by_default: int
    share: float | None
    share_low: float | None
    share_high: float | None
    off_median: float | None
    off_low: float | None
    off_high: float | None
    most_set: str | None
    most_asked: str | None
    first_us: int | None
    last_us: int | None
    n_before_first: int
    operators: tuple[OperatorPart, ...]
    pairs: tuple[PairPart, ...]
    drift: SettingDrift | None

    @property
    def n_outside(self) -> int:
        return self.n_below + self.n_above + self.n_other

    @property
    def n_told(self) -> int:
        """Pieces held against a window; the share is one of these."""
        return self.n_outside + self.n_inside + self.n_not_shown

    @property
    def needs_a_look(self) -> bool:
        return self.n_outside > 0 or (self.drift is not None and self.drift.stands_out)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairWithout:
    """Pieces that cannot be held against a recipe. ``why`` : 'no_recipe', 'not_yet_valid' (its
    recipe counts only from later on) or 'nothing_recorded'."""

    fabric: str
    transfer: str
    why: str
    n_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeFault:
    """What is wrong with a version of a recipe. ``what`` : 'inverted' (no value is inside its
    window, which does not count), 'target_outside' its own window, 'same_moment' (another version
    counts from the same moment; the one entered last is taken). ``quantity`` None: of the whole
    version."""

    fabric: str
    transfer: str
    version: str | None
    quantity: str | None
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsAgainstRecipe:
    """Settings against recipe in a period, microseconds UTC, ``since_us`` inclusive, ``until_us``
    the moment it was asked as of.

    ``rows`` : what could be told, most pieces outside first; ``untold`` : quantities of a press
    that recipes ask for and of which nothing could be told.
    """

    since_us: int
    until_us: int
    n_recipes: int
    n_pieces: int
    n_with_recipe: int
    rows: tuple[SettingRow, ...]
    untold: tuple[SettingRow, ...]
    without: tuple[PairWithout, ...]
    faults: tuple[RecipeFault, ...]
    survey_valid_days: float


def version_that_counts(valid_from_us: Sequence[int | None], at_us: int) -> int | None:
    """Which of a recipe's versions counts at a moment, as its place in the order of entry.

    The newest of those valid by then; one without a date counts from the beginning; of two from
    one moment the one entered last. None: they all count only later.
    """
    begun = [(since if since is not None else -1, place)
             for place, since in enumerate(valid_from_us) if since is None or since <= at_us]
    return max(begun)[1] if begun else None
