"""Lines to a graph: nodes, segments, paths and stretches near mains."""
