"""The fair peer of a build, in parts: what to write, the arrays, the drawings, the pages."""
