"""Checking and loading the files of a run, in a thread of its own: the page asks how far it is."""

from __future__ import annotations

import logging
import re
import threading

from dashboard import text
from dashboard.answers import Answers
from dashboard.receiving import Run
from dashboard.text import records as words
from qc.desk.loading import LoadReport, LoadRequest, load_files
from qc.errors import QcError

log = logging.getLogger(__name__)
MOST_ROWS_SHOWN = 200
_IGNORE = re.compile(r"--ignore (.+?)(?:; |$)")


def start(run: Run, answers: Answers, *, by: str, load: bool) -> None:
    """Begin to check the files, or to load them; returns at once. A busy run goes on as it is."""
    if run.is_busy:
        return
    run.state = "loading" if load else "checking"
    run.reading, run.error = (run.paths[0].name if run.paths else "", 0.0), ""
    threading.Thread(target=_work, args=(run, answers, by, load), daemon=True).start()


def _work(run: Run, answers: Answers, by: str, load: bool) -> None:
    try:
        run.report = _asked(run, answers, by, dry_run=not load, new_codes=run.new_codes)
        if not load and not run.new_codes:
            run.with_codes = _with_codes(run, answers, by)
        run.state = "loaded" if load else "checked"
    except QcError as refused:
        run.report, run.error, run.state = None, str(refused), "failed"
    except Exception:
        log.exception("files could not be read")
        run.report, run.error, run.state = None, text.ERROR_HELP.rstrip("."), "failed"


def _asked(
    run: Run, answers: Answers, by: str, *, dry_run: bool, new_codes: bool, keep: bool = True
) -> LoadReport:
    """``keep``: the rejected rows are kept and told, else only counted."""
    def progress(path: str, share: float) -> None:
        run.reading = (path.replace("\\", "/").rpartition("/")[2], min(share, 1.0))

    request = LoadRequest(
        paths=tuple(map(str, run.paths)), new_codes=new_codes, as_read=run.as_read,
        ignore=run.ignore, dry_run=dry_run, dry_rejects=keep,
        row_report=MOST_ROWS_SHOWN if keep else 0, say=words.reason_here)
    return load_files(answers.shop, request, by=by, at_us=answers.now_us(), progress=progress)


def _with_codes(run: Run, answers: Answers, by: str) -> LoadReport | None:
    """What would be added to the lists, where rows were rejected because of a code."""
    if run.report is None or not any(file.unknown_codes for file in run.report.files):
        return None
    return _asked(run, answers, by, dry_run=True, new_codes=True, keep=False)


def loadable(run: Run) -> int:
    """How many rows would be kept."""
    return sum(file.n_loaded for file in run.report.files) if run.report else 0


def columns_to_ignore(run: Run) -> tuple[str, ...]:
    """Columns that could be misspelt kinds of defect, and those left out already."""
    named = [found for file in (run.report.files if run.report else ())
             for found in _IGNORE.findall(file.error or "")]
    return tuple(dict.fromkeys((*run.ignore, *named)))
