"""Reading the trail, reviewing it, how long records are kept, and what may then be removed."""
