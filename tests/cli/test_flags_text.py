"""The flags as text: readable at 80 columns and when piped, colour never alone."""

from __future__ import annotations

import io
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console

from qc.cli.flags import delay_json
from qc.cli.flags_text import show_delays, show_flags
from qc.domain.flags import FactorShare, Flag, FlagList, StreamDelay
from qc.domain.instants import DAY_US

LISBON = ZoneInfo("Europe/Lisbon")
FLAG = Flag(
    id="f0", kind="defect_rate", characteristic="lifted_edge", direction="up", press="P4",
    platen=None, zone=None, signalled_at_us=40 * DAY_US, changed_at_us=38 * DAY_US,
    changed_between_us=(36 * DAY_US, 39 * DAY_US), ended_at_us=None,
    factor=FactorShare(name="press", level="P4", weight=0.97), other_factors=(), before=0.011,
    after=0.03, expected_after=0.011, unit="per piece", pieces_at_risk=1408, also=(),
    message="Lifted edge or corner on press P4: 3.0 % of pieces where 1.1 % would be usual, since "
            "about 08 Feb 1970.",
    next_step="Check first: paper pull test, pressure film (suspect: pressure uneven); pieces: "
              "re-press through a cover sheet, then re-check; pressing again usually helps.",
    urgency=1.0, sure="More than luck; almost certainly press P4 (97 % of the evidence).",
)
DELAYS = tuple(
    StreamDelay(factor=factor, level=level, kind=kind, expected_per_day=per_day, days=days)
    for factor, level, kind, per_day, days in (
        ("press", "P1", "scorch", 0.2, 40.0), ("press", "P2", "scorch", 0.1, None),
        ("press", "P3", "scorch", 0.1, None), ("press", "P1", "lifted_edge", 2.0, 12.0),
        ("press", "P2", "lifted_edge", 1.0, 21.0), ("press", "P3", "lifted_edge", 1.0, 33.0),
        ("shop", None, "lifted_edge", 4.0, 9.0), ("shop", None, "scorch", 0.4, 30.0),
    )
)


def listed(*flags: Flag, **more) -> FlagList:
    return FlagList(**{
        "flags": flags, "as_of_us": 50 * DAY_US, "baseline_us": None, "n_pieces": 12000,
        "n_streams": 2040, "false_flags_per_week": 0.25, "doubling_delay_days": 27.0,
        "cautions": (), **more,
    })


def text_of(found: FlagList, *, width: int = 80, colour: bool = False) -> str:
    out = io.StringIO()
    console = Console(file=out, width=width, force_terminal=colour, color_system=(
        "standard" if colour else None))
    show_flags(found, LISBON, console)
    return out.getvalue()


def table_of(found: FlagList, width: int = 80) -> str:
    out = io.StringIO()
    show_delays(found, Console(file=out, width=width))
    return out.getvalue()


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_wider_than_the_terminal_and_nothing_is_lost(width):
    said = text_of(listed(FLAG), width=width)
    assert max(map(len, said.splitlines())) <= width
    flat = " ".join(said.split())
    assert all(words in flat for words in (FLAG.message, FLAG.sure, FLAG.next_step, "flag f0"))


def test_a_number_keeps_its_unit_on_its_line():
    for width in range(50, 100):
        assert not any(line.strip().startswith("%") for line in text_of(
            listed(FLAG), width=width).splitlines())


def test_six_flags_fit_a_tall_terminal():
    six = [replace(FLAG, id=f"f{number}") for number in range(6)]
    assert len(text_of(listed(*six)).splitlines()) <= 54


def test_colour_says_nothing_that_words_do_not():
    over = replace(FLAG, id="f1", ended_at_us=45 * DAY_US)
    plain = text_of(listed(FLAG, over))
    coloured = text_of(listed(FLAG, over), colour=True)
    assert "\x1b[" in coloured and "\x1b" not in plain
    assert plain.index("f0") < plain.index("Ended, not yet closed") < plain.index("f1")
    assert plain.startswith("Off now: 1 flag, most urgent first.")


def test_markup_in_a_code_is_shown_as_it_is():
    odd = replace(FLAG, message="Scorch on press [bold]P4[/bold]: 3.0 %.")
    assert "[bold]P4[/bold]" in text_of(listed(odd))


@pytest.mark.parametrize(("per_week", "words"), [
    (0.25, "about one false flag in four weeks."), (0.5, "about one false flag in two weeks."),
    (1.0, "about one false flag a week."), (3.0, "about 3 false flags a week."),
    (0.04, "about one false flag in 25 weeks."), (0.8, "about 0.8 false flags a week."),
])
def test_the_budget_in_words(per_week, words):
    said = " ".join(text_of(listed(FLAG, false_flags_per_week=per_week)).split())
    assert words in said


def test_the_comparison_that_settles_it_is_shown():
    settle = "To tell them apart, let another person work press P4."
    assert settle in " ".join(text_of(listed(replace(FLAG, settle=settle))).split())
    assert "tell them apart" not in text_of(listed(FLAG))


def test_a_flag_that_another_explains_points_there():
    part = replace(FLAG, id="f1", ended_at_us=45 * DAY_US, part_of="f0")
    said = text_of(listed(FLAG, part))
    assert "Explained since then by flag f0: see there." in said
    assert said.count("To do:") == 1


def test_delays_are_the_middle_of_the_levels_busiest_kind_first():
    said = table_of(listed(delays=DELAYS))
    lines = [line.split() for line in said.splitlines()]
    assert ["seen", "by", "lifted", "edge", "scorch"] in lines
    assert ["press", "21", ">", "90"] in lines and ["shop", "9", "30"] in lines
    assert max(map(len, said.splitlines())) <= 80
    assert "about one false flag in four weeks" in " ".join(said.split())


def test_a_narrow_terminal_shows_fewer_kinds_whole():
    said = table_of(listed(delays=DELAYS), width=40)
    assert max(map(len, said.splitlines())) <= 40
    assert "lifted edge" in said and "scorch" not in said


def test_delays_that_are_not_known_are_said_so():
    assert "Too little is known yet" in table_of(listed())


def test_a_delay_as_json():
    assert delay_json(DELAYS[1]) == {
        "factor": "press", "level": "P2", "characteristic": "scorch", "expected_per_day": 0.1,
        "days_to_see_doubling": None,
    }
