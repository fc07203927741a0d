"""A reviewer's ten years at any size, invented: who was tested, what came out, what was written about it."""
