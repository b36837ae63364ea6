"""Records: find looks, correct them, bring files in, take lists out."""
