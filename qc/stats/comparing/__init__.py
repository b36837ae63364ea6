"""Shares and rates: their intervals, and groups held against each other."""
