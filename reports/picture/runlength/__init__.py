"""Run lengths of a chart as a picture: how soon it signals which change."""
