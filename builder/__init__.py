"""From a catalogue to a folder of files: figures, charts, pages and the command line."""
