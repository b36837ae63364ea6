"""What a person can ask or do, by subject: the one door for every face."""
