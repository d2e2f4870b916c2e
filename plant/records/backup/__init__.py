"""A copy of everything on record in one file, and the way back from it."""
