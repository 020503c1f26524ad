"""Outlooks and garage in, decisions out: one module a decision."""
