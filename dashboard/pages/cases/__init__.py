"""The flags with their evidence."""
