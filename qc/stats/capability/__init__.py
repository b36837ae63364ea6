"""Capability: does a measured characteristic keep its limits, and how sure is that."""
