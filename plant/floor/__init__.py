"""The plant as it stands: rooms, lines, positions, paths, products, shifts, runs."""
