"""Records on paper: the PDF engine and the files it made."""
