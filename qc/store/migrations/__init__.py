"""The store's versions, oldest first; each file is written out and never changed afterwards."""
