"""The list of backups that lies beside a store, so that a damaged one can name the last good."""

from __future__ import annotations

from pathlib import Path


def note_file(where: str) -> Path:
    """The file beside a store that lists its backups, oldest first."""
    return Path(f"{where}.backups")


def last_backup(where: str) -> str | None:
    """The newest backup on record for a store that is still there."""
    try:
        listed = note_file(where).read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError):
        return None
    return next((path for path in reversed(listed) if Path(path).is_file()), None)
