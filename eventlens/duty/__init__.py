"""How hard the machine works: starts per hour, cyclic duration, and the limits of its group."""
