"""Charts: any stream as a control chart."""
