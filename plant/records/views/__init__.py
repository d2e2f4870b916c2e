"""Pages of the trail and of keeping records."""
