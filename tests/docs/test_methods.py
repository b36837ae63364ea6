"""The table of methods says what is in the house: functions, published values, second ways."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.docs import reading

TITLE = "Statistics, and where they come from"
STATS = reading.ROOT / "qc" / "stats"
FIGURES, METHODS = (
    [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]
    for table in re.findall(r"^\|.*(?:\n\|.*)+", reading.section("DEVELOPERS.md", TITLE),
                            flags=re.MULTILINE)[:2]
)
TESTS = "\n".join(
    path.read_text(encoding="utf-8") for path in (reading.ROOT / "tests").rglob("test_*.py")
    if path.name != Path(__file__).name
)


def _sourced_functions() -> list[tuple[str, str]]:
    """Public functions of the statistics whose docstring names a source, with their files."""
    found = []
    for path in sorted(STATS.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                words = ast.get_docstring(node) or ""
                if re.search(r"^Source\n-+$", words, flags=re.MULTILINE):
                    found.append((node.name, path.relative_to(reading.ROOT).as_posix()))
    return found


def _named_functions() -> list[tuple[str, str]]:
    named = []
    for row in METHODS:
        for names, path in re.findall(r"((?:`\w+`,? ?)+) ?in `([\w/]+\.py)`", row[1]):
            named += [(name, path) for name in re.findall(r"`(\w+)`", names)]
    return named


def test_there_are_rows_to_hold() -> None:
    assert len(METHODS) > 40 and len(FIGURES) > 5
    assert all(len(row) == 5 for row in METHODS)


@pytest.mark.parametrize(("name", "path"), _named_functions())
def test_every_function_named_is_there(name: str, path: str) -> None:
    tree = ast.parse((reading.ROOT / path).read_text(encoding="utf-8"))
    assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_every_function_with_a_source_has_its_row() -> None:
    assert set(_sourced_functions()) <= set(_named_functions())


@pytest.mark.parametrize("row", METHODS, ids=lambda row: row[0])
def test_published_values_and_second_ways_exist_and_are_used(row: list[str]) -> None:
    for name in re.findall(r"`(\w+)`", row[3]):
        files = list((reading.ROOT / "tests" / "published").glob(f"{name}.*"))
        assert files, name
        assert f'"{name}"' in TESTS, f"no test reads {name}"
    for name in re.findall(r"`(\w+)`", row[4]):
        assert (reading.ROOT / "tests" / "reference" / f"{name}.py").exists(), name
    assert row[2] and (row[3] or row[4]), "a source and at least one check"


def test_every_published_file_is_named() -> None:
    named = {name for row in METHODS for name in re.findall(r"`(\w+)`", row[3])}
    kept = {path.stem for path in (reading.ROOT / "tests" / "published").iterdir()
            if path.suffix in {".json", ".csv"}}
    assert kept <= named


@pytest.mark.parametrize("row", FIGURES, ids=lambda row: row[0])
def test_every_figure_leads_to_a_method(row: list[str]) -> None:
    lines = " ".join(method[0] for method in METHODS)
    for method in row[1].split("; "):
        known = method in lines or method.startswith(("[", "the row that"))
        assert known, method
