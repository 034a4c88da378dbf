"""Numbers in, numbers out: the physics, with no graph, file or table."""
