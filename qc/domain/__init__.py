"""Frozen records and vocabularies of the trade. No input or output."""
