"""Platen surveys: offset, spread, drift, decisions with uncertainty, and what needs service.

Pure: frames of records in, frozen results out. Never sees the store.
"""
