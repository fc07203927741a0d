"""What was measured, as cells and lines, and how sure each value is (method.md, sections 1 to 3, 8 and 9)."""
