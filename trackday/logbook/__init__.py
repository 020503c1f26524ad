"""What was measured and decided, kept in one SQLite file, and what can be learned from it."""
