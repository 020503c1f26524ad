"""What the logbook teaches: fits that begin at the labeled prior and leave it by readings."""
