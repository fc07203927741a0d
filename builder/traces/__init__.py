"""Any figure back to its formula and its inputs, down to file and row."""
