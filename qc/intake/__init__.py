"""Files to validated records and rejects: the one way in."""

from qc.intake.columns import Plan, plan_columns, recognise
from qc.intake.numbers import column_numbers
from qc.intake.parsing import Parsed, parse, parse_part, united
from qc.intake.reading import read_chunks, read_columns, read_table
from qc.intake.rows import Rules
from qc.intake.table import RawTable

__all__ = [
    "Parsed", "Plan", "RawTable", "Rules", "column_numbers", "parse", "parse_part",
    "plan_columns", "read_chunks", "read_columns", "read_table", "recognise", "united",
]
