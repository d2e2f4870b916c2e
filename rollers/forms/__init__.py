"""The shape of what is typed on the desk screens; what it means is judged by services and calcs."""
