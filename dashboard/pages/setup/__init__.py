"""Set-up: the shop's lists, limits and settings."""
