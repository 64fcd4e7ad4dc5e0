"""The laser half: beams, and the energy that lands."""
