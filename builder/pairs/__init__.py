"""Two subjects compared: at like loss, at like level or at one spot, one pair or all of them (method.md, sections 2 to 4)."""
