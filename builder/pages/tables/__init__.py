"""Tables that several pages share."""
