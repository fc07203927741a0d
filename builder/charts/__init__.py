"""Charts: from series and labels to a specification, its words, its table and its picture."""
