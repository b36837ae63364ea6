"""The bench: every finished piece, recorded in two taps."""
