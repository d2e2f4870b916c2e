"""Periodic work and one-off jobs by one mechanism: rows in a table that `tick` claims."""
