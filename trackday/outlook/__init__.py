"""Weather, venue and one session in, distributions out."""
