"""Control charts: points with limits, what the limits come from, and what points say."""
