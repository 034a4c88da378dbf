"""What the trade's cables, signals, feeds, methods and equipment are, with sources."""
