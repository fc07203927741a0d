"""From raw text to rows of the catalogue. Every check returns problems; none raises, none writes."""
