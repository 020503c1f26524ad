"""The commands, one module a moment of use; heavy imports stay inside the functions."""
