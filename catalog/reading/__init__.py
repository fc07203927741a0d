"""From a batch folder to raw text that remembers file and row. Nothing here knows what a value means."""
