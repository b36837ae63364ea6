"""Small files and rules for the intake's tests."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from qc.domain.instants import to_us
from qc.domain.kinds import defect_kinds
from qc.intake import Parsed, parse, read_table, recognise

NOW_US = to_us(datetime(2026, 6, 1, 12, tzinfo=UTC))
LISBON = ZoneInfo("Europe/Lisbon")
KNOWN = {"presses": frozenset({"P1", "P2"}), "fabrics": frozenset({"tee", "fleece"}),
         "transfers": frozenset({"film", "foam"}), "kinds": frozenset(defect_kinds())}
HEADER = "piece_id,inspected_at,press,fabric,transfer,defects"
ROW = "a1,2026-03-01T10:00,P1,tee,film,"


def write(folder: Path, text: str | bytes, name: str = "file.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def parsed(path: Path, *, kind: str | None = None, new_codes: bool = False,
           as_read: bool = False, ignore: tuple[str, ...] = (),
           zone: ZoneInfo = LISBON) -> Parsed:
    raw = read_table(path)
    return parse(raw, kind or recognise(raw.columns), zone=zone, known=KNOWN,
                 new_codes=new_codes, now_us=NOW_US, as_read=as_read, ignore=ignore)


def reasons(path: Path, **more: object) -> dict[int, str]:
    """Reason by line of the file."""
    return dict(parsed(path, **more).rejects.values())  # type: ignore[arg-type]


def reason(folder: Path, columns: str, cells: str, **more: object) -> str:
    """The reason given for one row with some columns more; empty when it is accepted."""
    path = write(folder, f"{HEADER[:-8]},{columns}\n{ROW[:-1]},{cells}\n")
    return reasons(path, **more).get(2, "")
