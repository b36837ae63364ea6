"""Peelcheck: quality control for shops that press heat transfers onto garments."""

__version__ = "0.1.0"
