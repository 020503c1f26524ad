"""What was said against what came: pairs from the logbook, their scores, a venue's calibration."""
