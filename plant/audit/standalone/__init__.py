"""What works without this program, for auditors."""
