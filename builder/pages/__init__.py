"""Pages: from records and figures to view models that hold text only, and from those to HTML."""
