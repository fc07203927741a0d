"""What changes between two publications, why, and how one folder takes the place of another."""
