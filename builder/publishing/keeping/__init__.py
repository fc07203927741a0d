"""What a build keeps for the next one."""
