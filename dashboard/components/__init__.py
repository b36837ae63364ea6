"""Parts that several pages are put together from."""
