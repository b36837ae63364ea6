"""The README's pictures are those its commands make now."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import qc.cli
from tests.docs import reading

PICTURES = reading.ROOT / "demo_data" / "pictures"


def test_the_picture_of_a_command_is_the_one_it_makes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = {path.name for path in PICTURES.glob("*.svg")}
    drawing = [line for line in reading.command_lines("README.md") if kept & set(line)]
    assert drawing
    for name, text in reading.example_files("README.md").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for line in drawing:
        name = line[line.index("--picture") + 1]
        monkeypatch.setattr(sys, "argv", line)
        with pytest.raises(SystemExit) as left:
            qc.cli.main()
        assert not left.value.code
        assert (tmp_path / name).read_bytes() == (PICTURES / name).read_bytes(), (
            f"make demo_data/pictures/{name} anew: {' '.join(line)}")
