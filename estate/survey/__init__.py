"""Files in: the layers of an estate folder, checked and in metres."""
