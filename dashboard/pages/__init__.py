"""One folder for each page: its layout and its callbacks."""
