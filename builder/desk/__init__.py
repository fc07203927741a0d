"""What runs beside the bench: the live preview."""
