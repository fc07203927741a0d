"""Whether a site is whole, and gives nothing away."""
