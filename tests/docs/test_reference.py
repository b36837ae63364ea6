"""Settings, pages, kinds of file and links of the documents hold."""

from __future__ import annotations

import re

import pytest

from dashboard import text
from qc.config import SETTINGS, STORE_VARIABLE, USER_VARIABLE, Setting
from qc.domain.records import RECORD_KINDS
from tests.browser.finding import VARIABLE
from tests.docs import reading

DEVELOPERS = reading.text_of("DEVELOPERS.md")
BOTH = "\n".join(map(reading.text_of, reading.DOCUMENTS))


def _table_row(name: str) -> list[str]:
    found = re.search(rf"^\| *`{re.escape(name)}` *\|(.+)\|$", DEVELOPERS, re.MULTILINE)
    assert found, f"no table row for {name}"
    return [cell.strip() for cell in found[1].split("|")]


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.name)
def test_every_setting_is_documented_with_its_default(setting: Setting) -> None:
    default, *rest = _table_row(setting.name)
    assert default.strip("`") == (setting.default or "(empty)")
    assert setting.help in rest


@pytest.mark.parametrize("name", [STORE_VARIABLE, USER_VARIABLE, VARIABLE])
def test_every_environment_variable_is_documented(name: str) -> None:
    assert f"`{name}`" in BOTH


@pytest.mark.parametrize(("address", "title"), text.PAGES.items())
def test_every_page_is_documented(address: str, title: str) -> None:
    assert re.search(rf"^\| *{title} *\| *`{re.escape(address)}` *\|", BOTH, re.MULTILINE)


@pytest.mark.parametrize("kind", RECORD_KINDS)
def test_every_kind_of_file_is_documented_with_its_required_columns(kind: str) -> None:
    row = " ".join(_table_row(kind))
    for field in RECORD_KINDS[kind].fields:
        if field.required:
            assert field.base in row, field.name


@pytest.mark.parametrize("document", reading.DOCUMENTS)
def test_links_lead_somewhere(document: str) -> None:
    for target in reading.links(document):
        assert "://" not in target, "documents link inside the project only"
        path, _, anchor = target.partition("#")
        assert (reading.ROOT / path).exists(), target
        if anchor:
            assert anchor in reading.anchors(path or document), target


def test_the_picture_is_a_picture() -> None:
    pictures = [name for name in reading.links("README.md") if name.endswith(".png")]
    assert pictures
    for name in pictures:
        assert (reading.ROOT / name).read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


@pytest.mark.parametrize("document", reading.DOCUMENTS)
def test_paths_in_the_text_exist(document: str) -> None:
    tops = ("qc/", "dashboard/", "reports/", "demo_data/", "tests/", ".ci/")
    for code in reading.inline_code(document):
        if code.startswith(tops) and not set(code) & set("<>*{} "):
            assert (reading.ROOT / code).exists(), code


@pytest.mark.parametrize("document", reading.DOCUMENTS)
def test_decisions_are_short(document: str) -> None:
    for decision in re.split(r"^### ", reading.prose(document), flags=re.MULTILINE):
        if re.match(r"\d+\. ", decision):
            body = re.split(r"^## ", decision, flags=re.MULTILINE)[0]
            n_lines = len([line for line in body.splitlines() if line.strip()])
            assert n_lines <= 15, decision.splitlines()[0]
