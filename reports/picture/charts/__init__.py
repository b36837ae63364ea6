"""A control chart as a picture."""
