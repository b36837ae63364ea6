"""Every press now."""
