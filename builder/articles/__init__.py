"""Articles: Markdown as reviewers write it, to HTML that is safe to place in a page."""
