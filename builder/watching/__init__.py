"""The bench day while it goes on: each log read as it lands, what is wrong named, and what the results say so far.

Nothing here writes a table or workbook that exists, or the catalogue: rows and answers go to files of the desk, after
a click that shows them.

    states    what a page shows, as plain data
    looks     one look at the batch, in a process of its own that is let go when nothing happens
    landed    the logs that came, tied to planned rows, and the batch as it would be with them
    kept_logs each log that was read once
    noting    what would be written into the files of the desk, and writing it
    senses    what a run, a station or a log says against its siblings, the plan, the clock and the catalogue
    so_far    the line until now, its verdict, the promise anew and what pays next
    page      the states as HTML
    serving   the page on this machine
"""
