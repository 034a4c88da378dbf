"""One camera's way to a recorder: its cables, budget lines and verdict."""
