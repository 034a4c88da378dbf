"""estate: cabling-network graph analyser for camera systems on multi-building estates."""

__version__ = "0.1.0"
