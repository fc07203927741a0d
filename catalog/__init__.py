"""What was tested and what came out of it: reading, checking, storing and asking."""
