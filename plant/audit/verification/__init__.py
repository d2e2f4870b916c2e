"""Finding what does not fit: events, streams, roots, signatures, files, and what the applications promise."""
