"""Pure functions on arrays: no input or output, no clock, SI units only."""
