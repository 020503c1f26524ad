"""How good were the chances: scores, tables and calibration, as mathematics on arrays alone."""
