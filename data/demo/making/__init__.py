"""The pieces from which make_demo.py builds the invented bench: link budget, devices, days, logs, drawings."""
