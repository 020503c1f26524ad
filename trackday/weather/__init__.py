"""Open weather data: one adapter a provider, one frozen Weather."""
