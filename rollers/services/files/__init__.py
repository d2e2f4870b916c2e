"""What a plant brings along as CSV: how each kind of file is read, entered and written again."""
