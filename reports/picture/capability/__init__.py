"""Capability as a picture: a histogram of one value, placements of two."""
