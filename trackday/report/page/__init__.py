"""A plan as one self-contained HTML page."""
