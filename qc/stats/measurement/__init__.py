"""Measurement itself: what a gauge adds to variation, and how far judges agree."""
