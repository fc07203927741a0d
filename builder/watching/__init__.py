"""The bench day while it goes on: each log read as it lands, what is wrong named, and what the results say so far.

Nothing here writes a table or workbook that exists, or the catalogue: rows and answers go to files of the desk, after
a click that shows them.

    states    what a page shows, as plain data
    jobs      what the process that looks is asked and answers beside that
    watch     the state as the server has it: follows files, has them looked at, and passes on what clicks do
    child     how the server calls what follows, without importing it
    looks     one look at the batch, in a process of its own that is let go when nothing happens
    day_rows  the rows of the day in running order, planned, filled and noted
    landed    the logs that came, tied to planned rows, and the row of the desk that each makes
    drafts    the batch as it would be with those rows and answers
    noting    the files of the desk with new lines, and writing them
    kept_logs each log that was read once
    judging   what `check` says, as sentences of rows, and the questions that a click settles
    saying    all that is to be said of a day
    benches   what is known without the day and with it
    shown     rows and logs as the page has them
    senses    what a run, a station or a log says against its siblings, the plan, the clock and the catalogue
    so_far    the line until now, its verdict, the promise anew and what pays next
    forms     what a form of the page says, in words of the state
    deciding  what clicks decided and what is not written yet, to be taken back
    page      the states as HTML, of page_parts
    serving   the page on this machine
"""
