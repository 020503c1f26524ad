"""What the logbook teaches: fits that begin at the labelled prior and leave it by readings."""
