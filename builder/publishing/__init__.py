"""From a catalogue to a folder of files: what is built, checked and swapped in."""
