"""How numbers and dates are written in each language of the screens."""
