"""Change in time: when a step began, whether there is a trend and how steep."""
