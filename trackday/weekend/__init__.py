"""Files the racer writes: garage, venue, event."""
