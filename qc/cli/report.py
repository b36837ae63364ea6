"""`qc report`: documents for the file and for people outside the shop."""

from __future__ import annotations

from typing import Annotated

import typer

from qc.cli import shared

Press = Annotated[str, typer.Argument(
    metavar="PRESS", show_default=False, help="Code of the press, as qc presses names it.")]
Job = Annotated[str, typer.Argument(
    metavar="JOB", show_default=False, help="Number of the job.")]
Moment = Annotated[str | None, typer.Argument(
    metavar="TIME", show_default=False,
    help="A moment in the shift, as 2026-03-01T14:30; default: the shift as of --as-of.")]
Month = Annotated[str | None, typer.Argument(
    metavar="MONTH", show_default=False,
    help="As 2026-03; default: the month as of --as-of.")]
Since = Annotated[str | None, typer.Option(
    "--since", metavar="TIME", show_default=False, help="From when on; default the first record.")]
Out = Annotated[str, typer.Option(
    "--out", metavar="FILE", show_default=False,
    help="Where to: .pdf or .html to read and print, .xlsx or .csv for spreadsheets.")]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    reports = typer.Typer(no_args_is_help=True, help="Write a report as PDF, HTML, XLSX or CSV.")
    reports.command("press")(press_report)
    reports.command("job")(job_report)
    reports.command("shift")(shift_report)
    reports.command("month")(month_report)
    reports.command("job-sheet")(job_sheet_report)
    app.add_typer(reports, name="report")


def shift_report(
    out: Out, moment: Moment = None, store: shared.Store = None, as_of: shared.AsOf = None
) -> None:
    """A shift for the hand-over: its pieces, what is off, what waits for somebody."""
    from qc.desk.shift_record import shift_record
    from qc.domain.instants import parse_instant
    from reports.shift_record import shift_document
    from reports.writing import check_place, write_document

    check_place(out)
    shop = shared.open_store(store)
    as_of_us = shared.as_of_us(as_of, shop)
    moment_us = as_of_us if moment is None else parse_instant(moment, shop.zone)
    record = shift_record(shop, moment_us=moment_us, as_of_us=as_of_us)
    document = shift_document(record, shop_name=shop.name, zone=shop.zone)
    shared.say(f"qc: the shift of {shop.minute(record.start_us)} is in "
               f"{write_document(document, out)}")


def month_report(
    out: Out, month: Month = None, store: shared.Store = None, as_of: shared.AsOf = None
) -> None:
    """A month for the review: against the month before, what was off, what was done about it."""
    from qc.desk.month_record import month_record
    from qc.domain.days import parse_month
    from reports.month_record import month_document
    from reports.writing import check_place, write_document

    check_place(out)
    shop = shared.open_store(store)
    as_of_us = shared.as_of_us(as_of, shop)
    moment_us = as_of_us if month is None else parse_month(month, shop.zone)
    record = month_record(shop, moment_us=moment_us, as_of_us=as_of_us)
    document = month_document(record, shop_name=shop.name, zone=shop.zone)
    shared.say(f"qc: the month {shop.iso(record.start_us)[:7]} is in "
               f"{write_document(document, out)}")


def press_report(
    press: Press, out: Out, since: Since = None, store: shared.Store = None,
    as_of: shared.AsOf = None,
) -> None:
    """The calibration record of a press: surveys, instruments, decisions, service orders."""
    from qc.desk.press_record import press_record
    from qc.domain.instants import parse_instant
    from reports.press_record import record_document
    from reports.writing import check_place, write_document

    check_place(out)
    shop = shared.open_store(store)
    since_us = None if since is None else parse_instant(since, shop.zone)
    record = press_record(shop, press, since_us=since_us, until_us=shared.as_of_us(as_of, shop))
    document = record_document(record, shop_name=shop.name, zone=shop.zone,
                               heat_unit=shop.settings["temperature_unit"])
    shared.say(f"qc: the record of press {press} is in {write_document(document, out)}")


def job_report(
    job: Job, out: Out, store: shared.Store = None, as_of: shared.AsOf = None
) -> None:
    """The release record of a job: its pieces, what was found, what speaks against release."""
    from qc.desk.job_record import job_record
    from reports.job_record import release_document
    from reports.writing import check_place, write_document

    check_place(out)
    shop = shared.open_store(store)
    record = job_record(shop, job, as_of_us=shared.as_of_us(as_of, shop))
    document = release_document(record, shop_name=shop.name, zone=shop.zone)
    shared.say(f"qc: the release record of job {job} is in {write_document(document, out)}")


def job_sheet_report(
    job: Job, out: Out, store: shared.Store = None, as_of: shared.AsOf = None
) -> None:
    """The sheet of a job: what is pressed, on what, where and how, with a code to scan."""
    from qc.desk.job_sheet import job_sheet
    from reports.job_sheet import sheet_document
    from reports.writing import check_place, write_document

    check_place(out)
    shop = shared.open_store(store)
    sheet = job_sheet(shop, job, as_of_us=shared.as_of_us(as_of, shop))
    document = sheet_document(sheet, shop_name=shop.name, zone=shop.zone)
    shared.say(f"qc: the sheet of job {job} is in {write_document(document, out)}")
