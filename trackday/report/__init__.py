"""One Plan, several renderings; nothing is computed here."""
