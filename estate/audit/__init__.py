"""The audit of an installed estate: what stands, what doesn't and why, what to find out first, and what cures cost."""
