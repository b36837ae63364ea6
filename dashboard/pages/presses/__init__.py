"""Health, map and drift of each platen."""
