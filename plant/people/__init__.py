"""Persons, roles, badges and secrets."""
