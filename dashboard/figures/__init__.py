"""Figures, as pure functions of results."""
